"""Reasons in numbers: what would do is really enough."""

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.facts import replace
from service.market.matching.candidates import LotColumns, columns_of
from service.market.matching.combination_infeasibility import _clash, why_none
from service.market.matching.combinations import CombinationOrder, LetGo
from service.market.matching.combining import Combined, combine
from service.market.matching.requests import Delivery, Request
from tests.factories import TODAY
from tests.market.matching.test_combining import priced
from tests.market.planning.allocation_regions import ON, an_asker

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
        found = combined(mended(request, one)).mixed
        assert found is not None
        assert found.is_possible, one


def mended(request: Request, *lets: LetGo) -> Request:
    """The request with what would do in place of what is wanted."""
    for one in lets:
        if one.limit == "mass_kg":
            wanted = (Delivery(needed_on=ON, mass_kg=Decimal(repr(one.would_do))),)
            request = replace(request, deliveries=wanted)
        elif one.limit == "lots_max":
            request = replace(request, lots_max=int(one.would_do))
        else:
            exact = "price" in one.limit or "kg" in one.limit
            value = Decimal(repr(one.would_do)) if exact and one.limit != "within_km" else one.would_do
            request = replace(request, **{one.limit: value})
    return request


@st.composite
def hard_requests(draw: st.DrawFn) -> tuple[Request, LotColumns]:
    """A few lots, and a request that they may well not meet."""
    lots = [
        priced(
            f"ALDER-2026-{n:02d}",
            str(draw(st.integers(5, 120))),
            str(draw(st.integers(10, 40))),
            draw(st.floats(4, 16)),
        )
        for n in range(draw(st.integers(1, 5)))
    ]
    told = draw(
        st.fixed_dictionaries(
            {},
            optional={
                "alpha_percent_min": st.floats(8, 17).map(lambda one: round(one, 2)),
                "alpha_percent_max": st.floats(3, 9).map(lambda one: round(one, 2)),
                "price_per_kg_max": st.integers(8, 30).map(Decimal),
                "within_km": st.integers(20, 80).map(float),
                "lots_max": st.integers(1, 3),
                "parcel_kg_min": st.integers(1, 60).map(Decimal),
            },
        )
    )
    mass = draw(st.sampled_from(["20", "150", "600", "5000"]))
    if Decimal(mass) < told.get("parcel_kg_min", 0):
        del told["parcel_kg_min"]
    return an_asker(1, mass, currency="CAD", **told).request, columns_of(lots)


@given(hard_requests())
@settings(max_examples=60, deadline=None)
def test_whatever_is_advised_when_followed_lets_a_combination_in(case: tuple[Request, LotColumns]) -> None:
    request, lots = case

    def looked_for(wanted: Request) -> Combined:
        return combine(wanted, lots, CombinationOrder(), cultivar_keys=(), today=TODAY)

    before = looked_for(request)
    if before.mixed is None or before.mixed.mass_kg is not None:
        return

    why = why_none(request, before, seconds=30)

    ways = [(one,) for one in why.any_one] + ([why.together] if why.together else [])
    for lets in ways:
        after = looked_for(mended(request, *lets)).mixed
        assert after is not None
        assert after.is_possible, lets
        # A trifle of what was asked helps nobody.
        assert all(one.would_do >= 0.099 * one.wanted for one in lets if one.limit == "mass_kg")
    held = float((lots.free_kg / float(request.mass_kg)).sum())
    assert ways or held < 0.1


def test_a_trifle_is_no_advice() -> None:
    """All that keeps the alpha is 40 kg; of 5,000 kg that is under a tenth."""
    request = an_asker(1, "5000", alpha_percent_min=10.9, lots_max=1).request

    why = why_none(request, combined(request), seconds=10)

    assert why.any_one == ()
    assert (why.together, "hold 115 kg together, which is under a tenth of what is wanted" in why.words) == (
        (),
        True,
    )


def test_one_limit_is_spoken_of_as_one() -> None:
    assert "these 2 limits clash" in str(_clash(2))
    assert "one limit is in the way" in str(_clash(1))


def test_lots_that_fail_one_limit_alone_are_counted_beside() -> None:
    request = an_asker(1, lots_max=1).request

    why = why_none(request, combined(request), seconds=10, others={"forms": 4, "cultivars": 1})

    assert why.words.endswith(
        "; beside the lots that were combined, 4 lots fail only forms, 1 lot fails only cultivars"
    )


def test_what_was_not_found_in_time_is_not_called_impossible() -> None:
    request = an_asker(1).request
    stopped = combined(request)
    assert stopped.mixed is not None
    unknown = replace(stopped, mixed=replace(stopped.mixed, mass_kg=None, is_possible=None))

    assert "that there is none is not proven" in why_none(request, unknown, seconds=1).words


def test_the_mass_that_would_do_is_of_what_has_not_passed() -> None:
    """500 kg were due last month; of the 160 kg to come the lots hold 115."""
    passed = Delivery(needed_on=TODAY - timedelta(days=30), mass_kg=Decimal(500))
    request = an_asker(1, deliveries=(passed, Delivery(needed_on=ON, mass_kg=Decimal(160)))).request

    why = why_none(request, combined(request), seconds=10)

    assert [(one.limit, one.wanted, one.would_do) for one in why.any_one] == [("mass_kg", 160.0, 115.0)]
