"""Reasons in numbers: what would do is really enough."""

from decimal import Decimal

import pytest

from service.facts import replace
from service.market.candidates import columns_of
from service.market.combination_reasons import why_none
from service.market.combinations import CombinationOrder
from service.market.combining import Combined, combine
from service.market.requests import Request
from tests.factories import TODAY
from tests.market.allocation_regions import an_asker
from tests.market.test_combining import priced

LOTS = columns_of(
    [
        priced("ALDER-2026-01", "40", "30", 11.0),
        priced("ALDER-2026-02", "50", "18", 8.0),
        priced("BIRCH-2026-01", "25", "14", 6.0),
    ]
)


def combined(request: Request) -> Combined:
    return combine(request, LOTS, CombinationOrder(), cultivar_keys=(), today=TODAY)


@pytest.mark.parametrize(
    "told",
    [
        {"alpha_percent_min": 10.5},
        {"price_per_kg_max": Decimal(15), "currency": "CAD"},
        {"price_per_kg_alpha_max": Decimal(210), "currency": "CAD"},
        {"lots_max": 1},
        {"alpha_percent_min": 10.2, "lots_max": 2},
    ],
)
def test_a_request_with_what_would_do_is_met(told: dict[str, object]) -> None:
    request = an_asker(1, **told).request
    why = why_none(request, combined(request), seconds=10)

    assert why.any_one
    for one in why.any_one:
        if one.limit == "mass_kg":
            mended = an_asker(1, str(one.would_do), **told).request
        else:
            kind = int if one.limit == "lots_max" else float
            value = Decimal(str(one.would_do)) if "price" in one.limit else kind(one.would_do)
            mended = replace(request, **{one.limit: value})
        found = combined(mended).mixed
        assert found is not None
        assert found.is_possible, one


def test_what_was_not_found_in_time_is_not_called_impossible() -> None:
    request = an_asker(1).request
    stopped = combined(request)
    assert stopped.mixed is not None
    unknown = replace(stopped, mixed=replace(stopped.mixed, mass_kg=None, is_possible=None))

    assert "that there is none is not proven" in why_none(request, unknown, seconds=1).words
