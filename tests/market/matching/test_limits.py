"""Limits: kept, failed, or never measured."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.goods.provenance import Certification
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.limit_facts import Failure, failures_of
from service.market.matching.limits import limits_of
from service.market.matching.needs import needs_of
from service.market.matching.requests import Delivery, Request
from service.market.matching.search import SearchFigures
from service.science.storage_index import resin_loss_percent
from tests.factories import TODAY

ON = date(2027, 2, 1)


def figures(**told: object) -> SearchFigures:
    plain = {
        "day": TODAY.toordinal(),
        "log_alpha": float(np.log(10.0)),
        "log_resin": float(np.log(1 - resin_loss_percent(hop_storage_index=0.30) / 100)),
        "rate_per_day": 0.0,
        "moisture_percent": 9.0,
        "oil_ml_per_100g": 1.5,
    }
    return SearchFigures(**{**plain, **told})


def a_candidate(**told: object) -> Candidate:
    plain = {
        "code": "ALDER-2026-01",
        "grower_code": "ALDER",
        "cultivar": "Nugget",
        "cultivar_key": "NUGGET",
        "role": "bittering",
        "form": "pellet",
        "packing": "barrier_vacuum",
        "free_kg": Decimal(100),
        "price_per_kg": Decimal(24),
        "currency": "CAD",
        "distance_km": 84.4,
        "figures": figures(),
    }
    return Candidate(**{**plain, **told})


def fails(told: dict[str, object], *, keys: tuple[str, ...] = (), **candidate: object) -> tuple[Failure, ...]:
    plain: dict[str, object] = {
        "role": "bittering",
        "deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(60)),),
    }
    request = Request(**{**plain, **told})
    lots = columns_of([a_candidate(**candidate)])
    needs = needs_of(request, lots, today=TODAY)
    return failures_of(limits_of(request, lots, needs, cultivar_keys=keys), 0)


UNSAID = "the grower's own word on it"
ORGANIC = Certification(
    kind="organic",
    scheme="River Organic",
    certifier="Valley Inspection",
    number="VI-1",
    valid_until=date(2027, 2, 1),
)


@pytest.mark.parametrize(
    ("told", "candidate"),
    [
        ({"origins": ("CA",)}, {"origin_country": "CA", "origin_subdivision": "CA-NS"}),
        ({"origins": ("US", "CA-NS")}, {"origin_country": "CA", "origin_subdivision": "CA-NS"}),
        ({"certifications": ("organic", "river organic")}, {"certifications": (ORGANIC,)}),
        # The goods are taken before the last day needed, and before the certification ends.
        (
            {
                "certifications": ("organic",),
                "kept_from": date(2026, 12, 20),
                "kept_at_c": 2.0,
                "kept_packing": "open",
            },
            {"certifications": (replace(ORGANIC, valid_until=date(2026, 12, 20)),)},
        ),
    ],
    ids=str,
)
def test_what_is_wanted_of_a_place_and_a_certifier_is_found(
    told: dict[str, object], candidate: dict[str, object]
) -> None:
    assert fails(told, **candidate) == ()


def test_a_request_without_limits_lets_every_lot_in() -> None:
    assert fails({}) == ()
    assert fails({}, figures=SearchFigures(), price_per_kg=None, currency=None, packing=None) == ()


@pytest.mark.parametrize(
    ("told", "candidate", "failure"),
    [
        (
            {"role_strict": True},
            {"role": "aroma"},
            ("role", "bittering", "aroma", "role_strict false"),
        ),
        (
            {"cultivars": ("Magnum",), "accept_others": False},
            {},
            ("cultivars", ["Magnum"], "Nugget", "accept Nugget"),
        ),
        ({"forms": ("whole_cone",)}, {}, ("forms", ["whole_cone"], "pellet", "add pellet to forms")),
        (
            {"packings": ("barrier_nitrogen",)},
            {},
            ("packings", ["barrier_nitrogen"], "barrier_vacuum", "add barrier_vacuum to packings"),
        ),
        (
            {"packings": ("open",)},
            {"packing": None},
            ("packings", ["open"], None, "the grower's own word on it"),
        ),
        ({"origins": ("CA", "US-WA")}, {"origin_country": "US"}, ("origins", ["CA", "US-WA"], None, UNSAID)),
        ({"origins": ("CA",)}, {}, ("origins", ["CA"], None, UNSAID)),
        (
            {"origins": ("CA-NS",)},
            {"origin_country": "CA", "origin_subdivision": "CA-ON"},
            ("origins", ["CA-NS"], "CA-ON", "add CA-ON to origins"),
        ),
        (
            {"certifications": ("organic", "Valley Green")},
            {"certifications": (ORGANIC,)},
            (
                "certifications",
                ["organic", "Valley Green"],
                ["River Organic"],
                "leave Valley Green out of certifications",
            ),
        ),
        (
            {"certifications": ("organic",)},
            {"certifications": (replace(ORGANIC, valid_until=date(2027, 1, 31)),)},
            ("certifications", ["organic"], [], "leave organic out of certifications"),
        ),
        (
            {"alpha_percent_min": 10.5},
            {},
            ("alpha_percent_min", 10.5, 10.0, "alpha_percent_min 10"),
        ),
        ({"alpha_percent_max": 9.5}, {}, ("alpha_percent_max", 9.5, 10.0, "alpha_percent_max 10")),
        (
            {"hop_storage_index_max": 0.28},
            {},
            ("hop_storage_index_max", 0.28, 0.3, "hop_storage_index_max 0.3"),
        ),
        ({"moisture_percent_max": 8.5}, {}, ("moisture_percent_max", 8.5, 9.0, "moisture_percent_max 9")),
        ({"oil_ml_per_100g_min": 2.0}, {}, ("oil_ml_per_100g_min", 2.0, 1.5, "oil_ml_per_100g_min 1.5")),
        ({"within_km": 80.0}, {}, ("within_km", 80.0, 84.0, "within_km 85")),
        (
            {"price_per_kg_max": Decimal(20), "currency": "CAD"},
            {},
            ("price_per_kg_max", 20.0, 24.0, "price_per_kg_max 24"),
        ),
        (
            {"price_per_kg_alpha_max": Decimal(200), "currency": "CAD"},
            {},
            ("price_per_kg_alpha_max", 200.0, 240.0, "price_per_kg_alpha_max 240"),
        ),
        (
            {"price_per_kg_max": Decimal(20), "currency": "CAD"},
            {"currency": "USD"},
            ("currency", "CAD", "USD", "a price in CAD, or one by agreement"),
        ),
        (
            {"price_per_kg_max": Decimal(20), "currency": "JPY"},
            {"price_per_kg": Decimal("12345.678"), "currency": "JPY"},
            ("price_per_kg_max", 20.0, 12345.678, "price_per_kg_max 12345.68"),
        ),
        (
            {"parcel_kg_min": Decimal(50)},
            {"free_kg": Decimal(40)},
            ("free_kg", 50.0, 40.0, "parcel_kg_min 40"),
        ),
    ],
    ids=lambda value: str(value)[:40],
)
def test_each_limit_names_what_was_wanted_found_and_the_smallest_change(
    told: dict[str, object], candidate: dict[str, object], failure: tuple[object, ...]
) -> None:
    limit, wanted, found, change = failure

    assert fails(told, keys=("MAGNUM",), **candidate) == (
        Failure(limit=limit, wanted=wanted, found=found, change=change),
    )


@pytest.mark.parametrize(
    "told",
    [
        {"alpha_percent_min": 0.0},
        {"alpha_percent_max": 100.0},
        {"hop_storage_index_max": 2.03},
        {"moisture_percent_max": 100.0},
        {"oil_ml_per_100g_min": 0.0},
        {"price_per_kg_alpha_max": Decimal(9999), "currency": "CAD"},
    ],
    ids=lambda told: next(iter(told)),
)
def test_what_was_never_measured_passes_no_limit_and_is_not_a_value(told: dict[str, object]) -> None:
    (failure,) = fails(told, figures=SearchFigures())

    assert (failure.limit, failure.found, failure.change) == (next(iter(told)), None, "a laboratory figure")


def test_a_price_by_agreement_neither_passes_nor_fails() -> None:
    told = {"price_per_kg_max": Decimal(1), "price_per_kg_alpha_max": Decimal(1), "currency": "EUR"}

    assert fails(told, price_per_kg=None, currency=None) == ()


def test_the_least_alpha_is_judged_on_the_last_day_and_the_most_on_the_first() -> None:
    losing = figures(rate_per_day=0.005)
    deliveries = (
        Delivery(needed_on=TODAY, mass_kg=Decimal(1)),
        Delivery(needed_on=date.fromordinal(TODAY.toordinal() + 100), mass_kg=Decimal(1)),
    )

    (low,) = fails({"deliveries": deliveries, "alpha_percent_min": 7.0}, figures=losing)
    (high,) = fails({"deliveries": deliveries, "alpha_percent_max": 9.0}, figures=losing)

    assert (low.found, high.found) == (pytest.approx(10 * np.exp(-0.5), abs=1e-3), 10.0)


@given(st.floats(0.5, 20), st.floats(0.5, 20))
def test_a_limit_holds_by_the_point_estimate(alpha_percent: float, limit: float) -> None:
    kept = figures(log_alpha=float(np.log(alpha_percent)))

    failed = fails({"alpha_percent_min": limit}, figures=kept)

    assert (failed == ()) == (np.log(alpha_percent) >= np.log(limit))
