"""Why requests go unmet, counted and in words."""

from decimal import Decimal

import pytest

from service.market.matching.candidates import columns_of
from service.market.matching.limits import limits_of
from service.market.matching.needs import needs_of
from service.market.matching.requests import Delivery
from service.market.planning.outlook_fitting import fit_requests
from service.market.planning.outlook_reasons import (
    LACKS,
    UNMEASURED,
    Why,
    lots_in_words,
    reasons_of,
    why_unmet,
    words_of,
)
from tests.factories import TODAY
from tests.market.planning.allocation_regions import ON, YARDS, a_lot, an_asker


def test_each_limit_there_is_says_what_the_region_lacks() -> None:
    everything = an_asker(
        1,
        role_strict=True,
        cultivars=("Nugget",),
        accept_others=False,
        forms=("pellet",),
        packings=("open",),
        certifications=("organic",),
        origins=("CA",),
        alpha_percent_min=1.0,
        alpha_percent_max=20.0,
        hop_storage_index_max=0.4,
        moisture_percent_max=11.0,
        oil_ml_per_100g_min=1.0,
        within_km=50.0,
        price_per_kg_max=Decimal(10),
        price_per_kg_alpha_max=Decimal(100),
        currency="CAD",
        deliveries=(Delivery(needed_on=ON, alpha_kg=Decimal(1)),),
    ).request
    lots = columns_of([a_lot("ALDER-2026-01")])
    limits = limits_of(everything, lots, needs_of(everything, lots, today=TODAY), cultivar_keys=("NUGGET",))

    assert {limit.name for limit in limits} == set(LACKS)


def test_lots_are_counted_once_over_requests_and_those_not_measured_apart() -> None:
    lots = columns_of(
        [
            a_lot("ALDER-2026-01", "30", alpha_percent=5.0),
            a_lot("ALDER-2026-02", "20"),
            a_lot("ALDER-2026-03", "0.5"),
        ]
    )
    askers = [an_asker(n, alpha_percent_min=6.0) for n in (1, 2)]
    askers.append(an_asker(3, oil_ml_per_100g_min=1.0, moisture_percent_max=12.0))

    found = fit_requests(askers, lots, YARDS, today=TODAY)

    assert list(why_unmet(found, lots)) == [
        Why(
            limit="alpha_percent_min",
            lacks="quality",
            requests=2,
            lots=3,
            free_kg=Decimal("50.5"),
            not_measured_lots=2,
            words="3 lots fail alpha_percent_min, 2 of them not measured",
        ),
        *(
            Why(
                limit=limit,
                lacks=UNMEASURED,
                requests=1,
                lots=3,
                free_kg=Decimal("50.5"),
                not_measured_lots=3,
                words=f"3 lots fail {limit}: not measured",
            )
            for limit in ("moisture_percent_max", "oil_ml_per_100g_min")
        ),
    ]
    assert reasons_of(found[0]) == ["3 lots fail only alpha_percent_min, 2 of them not measured"]
    assert reasons_of(found[2])[0] == "3 lots fail among others moisture_percent_max: not measured"


@pytest.mark.parametrize(
    ("lots", "unmeasured", "words"),
    [
        (1, 0, "1 lot fails forms"),
        (3, 1, "3 lots fail forms, 1 of them not measured"),
        (1, 1, "1 lot fails forms: not measured"),
    ],
)
def test_words_tell_how_many(lots: int, unmeasured: int, words: str) -> None:
    assert words_of("forms", lots=lots, unmeasured=unmeasured) == words
    assert lots_in_words(lots) in words
