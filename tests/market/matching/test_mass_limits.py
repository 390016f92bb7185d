"""What a lot's own terms let in: what is free, the smallest order, whole packages."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from service.market.goods.lots import Package
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.limit_facts import Failure, failures_of
from service.market.matching.mass_limits import mass_limits
from service.market.matching.needs import needs_of
from service.market.matching.requests import Delivery, Request
from service.market.matching.search import SearchFigures
from tests.factories import TODAY

ON = date(2027, 2, 1)
ALPHA_10 = SearchFigures(day=TODAY.toordinal(), log_alpha=float(np.log(10.0)), rate_per_day=0.0)


def fails(asked: dict[str, object], **candidate: object) -> tuple[Failure, ...]:
    plain: dict[str, object] = {
        "role": "bittering",
        "deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(60)),),
    }
    lot: dict[str, object] = {
        "code": "ALDER-2026-01",
        "grower_code": "ALDER",
        "cultivar": "Nugget",
        "cultivar_key": "NUGGET",
        "role": "bittering",
        "form": "pellet",
        "free_kg": Decimal(100),
        "distance_km": 10.0,
        "figures": ALPHA_10,
    }
    request = Request(**{**plain, **asked})
    lots = columns_of([Candidate(**{**lot, **candidate})])
    return failures_of(list(mass_limits(request, lots, needs_of(request, lots, today=TODAY))), 0)


@pytest.mark.parametrize(
    ("asked", "candidate", "failure"),
    [
        ({"lots_max": 1}, {"free_kg": Decimal(40)}, ("free_kg", 60.0, 40.0, "a need of 40 kg or less")),
        (
            {"parcel_kg_min": Decimal(50)},
            {"free_kg": Decimal(40)},
            ("free_kg", 50.0, 40.0, "parcel_kg_min 40"),
        ),
        (
            {"lots_max": 1},
            {"free_kg": Decimal(0)},
            ("free_kg", 60.0, 0.0, "something of it free again"),
        ),
        (
            {"lots_max": 1, "deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(2000)),)},
            {"free_kg": Decimal("1234.567")},
            ("free_kg", 2000.0, 1234.567, "a need of 1234.567 kg or less"),
        ),
        ({}, {"order_kg_min": Decimal(75)}, ("order_kg_min", 60.0, 75.0, "an order of 75 kg or more")),
    ],
    ids=str,
)
def test_each_limit_names_what_was_wanted_found_and_the_smallest_change(
    asked: dict[str, object], candidate: dict[str, object], failure: tuple[object, ...]
) -> None:
    limit, wanted, found, change = failure

    assert fails(asked, **candidate) == (Failure(limit=limit, wanted=wanted, found=found, change=change),)


def test_alpha_that_nobody_measured_cannot_meet_a_need_for_alpha() -> None:
    told = {"deliveries": (Delivery(needed_on=ON, alpha_kg=Decimal(3)),)}

    assert fails(told) == ()
    (failure,) = fails(told, figures=SearchFigures())
    assert (failure.limit, failure.wanted, failure.found) == ("alpha_kg", 3.0, None)


def test_whole_packages_that_do_not_fit_the_need_are_named() -> None:
    boxes = {"sold_in": "whole_packages", "packages": (Package(kind="box", count=5, net_kg=Decimal(20)),)}

    small = {"deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(15)),)}
    assert fails(small, **boxes) == (
        Failure(limit="whole_packages", wanted=15.0, found=20.0, change="20 kg in whole packages"),
    )
    odd = {"deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(50)),)}
    assert fails(odd, **boxes) == ()
    assert [f.found for f in fails({**odd, "lots_max": 1}, **boxes)] == [60.0]
    assert [f.limit for f in fails({**odd, "parcel_kg_min": Decimal(45)}, **boxes)] == ["whole_packages"]
    assert fails({"lots_max": 1}, **boxes) == ()


def test_the_whole_rest_is_let_in_though_packages_do_not_make_it() -> None:
    drawn = {
        "sold_in": "whole_packages",
        "packages": (Package(kind="box", count=5, net_kg=Decimal(20)),),
        "free_kg": Decimal(99),
    }
    almost = {"deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(95)),), "lots_max": 1}

    assert [f.change for f in fails(almost, **drawn)] == ["99 kg, all that is free"]
    assert fails({"deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(99)),), "lots_max": 1}, **drawn) == ()
    small = {"deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(30)),)}
    assert [f.change for f in fails(small, **drawn, order_kg_min=Decimal(50))] == [
        "an order of 60 kg or more"
    ]
