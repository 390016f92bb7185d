"""What the region wants: each request once, and what promises cover."""

from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.matching.requests import Delivery
from service.market.planning.gathering import Asker, Promised, alpha_left_kg, mass_left
from service.market.planning.outlook_demand import (
    Wanted,
    WishKind,
    _needs,
    add_wanted,
    kind_of,
    look_at_demand,
)
from tests.factories import TODAY
from tests.market.planning.allocation_regions import an_asker

KG = st.decimals(Decimal("0.001"), Decimal(500), places=3)


def on(days: int, mass_kg: str | Decimal) -> Delivery:
    return Delivery(needed_on=TODAY + timedelta(days=days), mass_kg=Decimal(mass_kg))


@st.composite
def askers(draw: st.DrawFn) -> Asker:
    days, kinds = st.integers(-60, 300), st.sampled_from(["mass_kg", "alpha_kg"])
    deliveries = [
        Delivery(needed_on=TODAY + timedelta(days=draw(days)), **{draw(kinds): draw(KG)})
        for _ in range(draw(st.integers(1, 4)))
    ]
    promised = Promised(held_kg=draw(KG), confirmed_kg=draw(KG), alpha_kg=draw(st.floats(0, 100)), lots=2)
    return an_asker(
        draw(st.integers(1, 99)),
        deliveries=tuple(deliveries),
        promised=draw(st.sampled_from([promised, Promised()])),
        firmness=draw(st.sampled_from(["interest", "intent", "firm"])),
        cultivars=draw(st.sampled_from([(), ("Cascade",), ("Nugget", "Cascade")])),
    )


@given(askers())
def test_wanted_is_covered_and_still_wanted_and_agrees_with_what_a_plan_takes_as_need(asker: Asker) -> None:
    found = add_wanted(need.wanted for need in _needs(asker, TODAY))

    assert found.wanted_kg == found.covered_kg + found.still_wanted_kg
    assert min(found.covered_kg, found.still_wanted_kg) >= 0
    assert found.still_wanted_kg == mass_left(asker.request, asker.promised, today=TODAY)
    assert found.wanted_alpha_kg == pytest.approx(found.covered_alpha_kg + found.still_wanted_alpha_kg)
    left = alpha_left_kg(asker.request, asker.promised, today=TODAY)
    assert found.still_wanted_alpha_kg == pytest.approx(left, abs=1e-9)


@given(st.lists(askers(), max_size=8, unique_by=lambda asker: asker.request.code))
def test_each_request_counts_in_one_row_and_totals_are_the_sum_of_rows(many: list[Asker]) -> None:
    demand = look_at_demand(many, today=TODAY)

    assert sum(row.requests for row in demand.rows) == demand.totals.requests == len(many)
    for row in (*demand.rows, demand.totals):
        for parts in (row.by_firmness, row.by_month):
            assert add_wanted(part.wanted for part in parts).wanted_kg == row.wanted.wanted_kg
    summed = add_wanted(row.wanted for row in demand.rows)
    assert (summed.wanted_kg, summed.covered_kg) == (
        demand.totals.wanted.wanted_kg,
        demand.totals.wanted.covered_kg,
    )
    assert summed.wanted_alpha_kg == pytest.approx(demand.totals.wanted.wanted_alpha_kg)
    assert sum(row.promised.mass_kg for row in demand.rows) == demand.totals.promised.mass_kg


def test_promises_fill_the_earliest_deliveries_first_and_what_passed_before_all() -> None:
    asker = an_asker(
        1,
        deliveries=(on(90, "40"), on(-10, "20"), on(30, "30")),
        promised=Promised(delivered_kg=Decimal(20), confirmed_kg=Decimal(35), lots=1),
    )

    (row,) = look_at_demand([asker], today=TODAY).rows

    assert [(m.month, m.wanted.covered_kg, m.wanted.still_wanted_kg) for m in row.by_month] == [
        ("2026-12", 30, 0),
        ("2027-02", 5, 35),
    ]
    assert (row.promised.delivered_kg, row.promised.confirmed_kg) == (20, 35)


def test_a_bitterness_counts_by_its_alpha_acids() -> None:
    target = BitternessTarget(ibu=35.0, volume_l=4000.0, gravity_sg=1.052)
    asker = an_asker(1, deliveries=(Delivery(needed_on=TODAY, bitterness=target),))

    assert add_wanted(need.wanted for need in _needs(asker, TODAY)) == Wanted(
        wanted_alpha_kg=target.alpha_kg, still_wanted_alpha_kg=target.alpha_kg
    )


def test_requests_that_take_others_stand_apart_from_those_that_do_not() -> None:
    told = [
        an_asker(1, cultivars=("Nugget", "Cascade")),
        an_asker(2, cultivars=("Cascade", "Nugget")),
        an_asker(3, cultivars=("Nugget", "Cascade"), accept_others=False),
        an_asker(4, "100"),
    ]

    rows = look_at_demand(told, today=TODAY).rows

    assert [(row.kind, row.requests) for row in rows] == [
        (WishKind(cultivars=("Cascade", "Nugget"), accepts_others=True, role="aroma"), 2),
        (WishKind(cultivars=(), accepts_others=True, role="aroma"), 1),
        (WishKind(cultivars=("Cascade", "Nugget"), accepts_others=False, role="aroma"), 1),
    ]
    assert kind_of(told[0].request) == rows[0].kind


def test_older_requests_that_are_not_read_are_spoken_of() -> None:
    assert look_at_demand([an_asker(1)], today=TODAY, is_cut=True).cautions == (
        "only the 1 newest open requests are counted",
    )
