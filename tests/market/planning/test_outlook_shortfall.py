"""What is short, between two figures that hold."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.requests import Delivery
from service.market.planning.gathering import Asker, Promised
from service.market.planning.outlook_shortfall import UNMET_SHOWN, Shortfall, look_at_shortfall
from tests.factories import TODAY
from tests.market.planning.allocation_regions import ON, YARDS, a_lot, an_asker


def short_of(askers: list[Asker], lots: list[Candidate]) -> Shortfall:
    return look_at_shortfall(askers, columns_of(lots), YARDS, today=TODAY)


def test_what_ten_breweries_want_of_one_lot_is_short_exactly() -> None:
    found = short_of([an_asker(n) for n in range(10)], [a_lot("ALDER-2026-01", "100")])

    (row,) = found.rows
    assert (row.short_kg.at_least, row.short_kg.at_most) == (500.0, 500.0)
    assert (row.fitting_kg, row.named_kg, row.standings["met"], row.standings["contested"]) == (
        100,
        None,
        1,
        9,
    )
    assert found.totals.short_kg == row.short_kg
    assert [one.standing for one in found.unmet] == ["contested"] * 9


def test_alpha_wanted_over_all_that_fits_is_short_too() -> None:
    wants = [an_asker(n, deliveries=(Delivery(needed_on=ON, alpha_kg=Decimal(4)),)) for n in range(3)]

    found = short_of(wants, [a_lot("ALDER-2026-01", "100", alpha_percent=5.0)])

    (row,) = found.rows
    assert (row.short_alpha_kg.at_least, row.short_alpha_kg.at_most) == (7.0, 7.0)
    assert (row.short_kg.at_most, row.still_wanted_kg) == (0.0, 0)


def test_a_request_that_wants_both_is_short_by_its_own_share() -> None:
    both = an_asker(
        1,
        deliveries=(Delivery(needed_on=ON, mass_kg=Decimal(60)), Delivery(needed_on=ON, alpha_kg=Decimal(3))),
    )

    (row,) = short_of([both], [a_lot("ALDER-2026-01", "60", alpha_percent=5.0)]).rows

    assert (row.short_kg.at_least, row.short_alpha_kg.at_least) == (30.0, 1.5)


def test_named_cultivars_are_shown_beside_what_fits() -> None:
    asker = an_asker(1, cultivars=("Willamette",), accept_others=False, forms=("whole_cone",))
    known = Asker(request=asker.request, brewery_name="Finch", near=asker.near, cultivar_keys=("WILLAMETTE",))

    (row,) = short_of([known], [a_lot("ALDER-2026-01", "80")]).rows

    assert (row.named_kg, row.fitting_kg, row.short_kg.at_least) == (80, 0, 60.0)
    assert [why.words for why in row.why] == ["1 lot fails forms"]


def test_roles_and_totals_stand_over_the_rows() -> None:
    askers = [
        an_asker(1),
        an_asker(2, forms=("wet_hop",)),
        an_asker(3, promised=Promised(held_kg=Decimal(60))),
    ]

    found = short_of(askers, [a_lot("ALDER-2026-01", "30"), a_lot("BIRCH-2026-01", "20")])

    assert [(row.role, row.requests) for row in found.by_role] == [("aroma", 2)]
    assert found.totals.short_kg.at_least == 70.0
    assert (found.free_lots, found.free_kg) == (2, 50)
    assert found.cautions == ("1 open requests are covered by promises and not looked at",)
    assert [(one.request_code, one.standing, one.why) for one in found.unmet] == [
        ("FINCH-REQ-02", "none_fits", ("2 lots fail only forms",)),
        ("FINCH-REQ-01", "too_little", ()),
    ]


def test_how_many_lots_a_request_takes_is_told_where_it_matters() -> None:
    (one,) = short_of([an_asker(1, lots_max=2)], [a_lot(f"ALDER-2026-0{n}", "20") for n in range(5)]).unmet

    assert one.why == ("it takes from 2 lots at most",)


def test_no_more_unmet_requests_are_named_than_a_reader_reads() -> None:
    found = short_of(
        [an_asker(n, forms=("wet_hop",)) for n in range(UNMET_SHOWN + 2)], [a_lot("ALDER-2026-01")]
    )

    assert len(found.unmet) == UNMET_SHOWN
    assert found.cautions[0].startswith(f"{UNMET_SHOWN + 2} requests are not met")


def test_a_region_that_wants_nothing_lacks_nothing() -> None:
    found = short_of([], [a_lot("ALDER-2026-01")])

    assert (found.rows, found.by_role, found.unmet, found.totals.short_kg.at_most) == ((), (), (), 0.0)


def true_short_kg(wants: list[tuple[int, int]], free: list[int], pairs: list[tuple[int, int]]) -> float:
    """The least that can go unmet, by a linear programme over all ways to share."""
    if not pairs:
        return float(sum(kg for kg, _ in wants))
    rows = [[float(request == one) for request, _ in pairs] for one in range(len(wants))]
    rows += [[float(lot == one) for _, lot in pairs] for one in range(len(free))]
    most = [*(kg for kg, _ in wants), *free]
    return float(sum(kg for kg, _ in wants) + linprog(-np.ones(len(pairs)), A_ub=rows, b_ub=most).fun)


@given(
    free=st.lists(st.integers(1, 120), min_size=1, max_size=5),
    wants=st.lists(st.tuples(st.integers(1, 150), st.integers(1, 12)), min_size=1, max_size=6),
)
def test_the_least_that_can_go_unmet_is_told_and_one_way_to_share_stands_above_it(
    free: list[int], wants: list[tuple[int, int]]
) -> None:
    # Lots grow in alpha; each request takes those from its limit on.
    lots = [a_lot(f"ALDER-2026-{n:02d}", str(kg), alpha_percent=2.0 + n) for n, kg in enumerate(free)]
    askers = [an_asker(n, str(kg), alpha_percent_min=float(low) - 0.5) for n, (kg, low) in enumerate(wants)]
    pairs = [
        (request, lot)
        for request, (_, low) in enumerate(wants)
        for lot in range(len(free))
        if 2.0 + lot >= low - 0.5
    ]

    found = short_of(askers, lots)

    least = true_short_kg(wants, free, pairs)
    total = found.totals.short_kg
    assert total.at_least == pytest.approx(least, abs=0.01)
    assert least <= total.at_most + 0.01
    assert total.at_least >= max(row.short_kg.at_least for row in found.rows)
    assert sum(row.short_kg.at_most for row in found.rows) == pytest.approx(total.at_most, abs=0.01)
    assert sum(row.still_wanted_kg for row in found.rows) == found.totals.still_wanted_kg
    assert sum(found.totals.standings.values()) == found.totals.requests == len(wants)
