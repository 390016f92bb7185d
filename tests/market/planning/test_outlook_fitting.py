"""Free lots beside open requests: what fits, and how far it reaches, no kilogram twice."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.goods.lots import UNMEASURED_PACKINGS
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.matching import rank_lots
from service.market.matching.requests import Delivery
from service.market.planning.gathering import Asker, Promised
from service.market.planning.outlook_fitting import Fitting, fit_requests, share_out
from tests.factories import TODAY
from tests.market.planning.allocation_regions import ON, YARDS, a_lot, an_asker


def fitted(askers: list[Asker], lots: list[Candidate]) -> list[Fitting]:
    return fit_requests(askers, columns_of(lots), YARDS, today=TODAY)


def keeping(code: str, alpha_percent: float) -> Candidate:
    """A lot that its grower keeps cold: it would lose 0.2 % a day unprotected at 20 °C, and loses a tenth of it."""
    lot = a_lot(code, alpha_percent=alpha_percent)
    return replace(lot, figures=replace(lot.figures, rate_per_day=0.0002, base_rate_per_day=0.002))


def test_a_request_fits_what_its_matches_show() -> None:
    lots = [
        a_lot("ALDER-2026-01", alpha_percent=5.0),
        a_lot("ALDER-2026-02", alpha_percent=9.0),
        a_lot("BIRCH-2026-01"),
        a_lot("BIRCH-2026-02", "3", alpha_percent=12.0),
    ]
    asker = an_asker(1, alpha_percent_min=6.0, parcel_kg_min=Decimal(5))

    (one,) = fitted([asker], lots)

    ranking = rank_lots(asker.request, columns_of(lots), cultivar_keys=(), today=TODAY)
    assert one.fits.tolist() == sorted(ranking.order) == [1]
    assert (one.standing, one.kg_left, one.need_kg.tolist()) == ("met", 60, [60.0])


@given(
    st.integers(0, 68),
    st.floats(-25, 35),
    st.sampled_from(UNMEASURED_PACKINGS),
    st.sampled_from(
        [{"alpha_percent_min": 8.0}, {"deliveries": (Delivery(needed_on=ON, alpha_kg=Decimal(4)),)}]
    ),
)
def test_a_request_fits_what_is_left_in_its_brewerys_store(
    days: int, kept_at_c: float, packing: str, told: dict[str, Any]
) -> None:
    lots = [keeping(f"ALDER-2026-0{n}", 7.0 + n / 2) for n in range(8)]
    store = {"kept_from": TODAY + timedelta(days=days), "kept_at_c": kept_at_c, "kept_packing": packing}
    asker = an_asker(1, **told, **store)

    (one,) = fitted([asker], lots)

    ranking = rank_lots(asker.request, columns_of(lots), cultivar_keys=(), today=TODAY)
    assert one.fits.tolist() == sorted(ranking.order)
    assert one.need_kg.tolist() == ranking.needs.needed_kg[one.fits].tolist()


def test_a_warm_store_of_the_brewery_leaves_too_little_alpha() -> None:
    store = {"kept_from": TODAY, "kept_at_c": 30.0, "kept_packing": "open"}
    lots = [keeping("ALDER-2026-01", 9.0)]

    cold, warm = fitted(
        [an_asker(1, alpha_percent_min=8.0), an_asker(2, alpha_percent_min=8.0, **store)], lots
    )

    assert (cold.fits.tolist(), warm.fits.tolist()) == ([0], [])
    assert [kept.limit for kept in warm.kept_out] == ["alpha_percent_min"]


@pytest.mark.parametrize(
    ("told", "free_kg", "standing", "alone"),
    [
        ({}, "100", "met", 1.0),
        ({}, "59", "met", 59 / 60),
        ({}, "30", "too_little", 0.5),
        ({"forms": ("wet_hop",)}, "100", "none_fits", 0.0),
        ({"lots_max": 1}, "59", "none_fits", 0.0),
    ],
)
def test_a_request_stands_by_what_fits_it_alone(
    told: dict[str, object], free_kg: str, standing: str, alone: float
) -> None:
    (one,) = fitted([an_asker(1, **told)], [a_lot("ALDER-2026-01", free_kg)])

    assert (one.standing, one.alone_share) == (standing, pytest.approx(alone))


def test_only_so_many_lots_count_as_a_request_takes() -> None:
    lots = [a_lot(f"ALDER-2026-0{n}", kg) for n, kg in ((1, "10"), (2, "20"), (3, "15"))]

    (two,) = fitted([an_asker(1, lots_max=2)], lots)
    (one,) = fitted([an_asker(1, lots_max=3, promised=Promised(held_kg=Decimal(15), lots=2))], lots)
    (none,) = fitted([an_asker(1, lots_max=2, promised=Promised(held_kg=Decimal(15), lots=2))], lots)

    assert two.alone_share == two.together_share == pytest.approx(35 / 60)
    assert one.alone_share == one.together_share == pytest.approx(20 / 45)
    assert (none.alone_share, none.standing) == (0.0, "too_little")


def test_a_request_that_promises_cover_is_not_looked_at() -> None:
    covered = an_asker(1, promised=Promised(confirmed_kg=Decimal(59), lots=1))

    assert fitted([covered], [a_lot("ALDER-2026-01")]) == []


def test_two_who_want_the_same_lot_contest_it_and_the_firmer_of_equals_goes_first() -> None:
    askers = [an_asker(1, firmness="interest"), an_asker(2, firmness="firm")]

    first, second = fitted(askers, [a_lot("ALDER-2026-01", "90")])

    assert (first.together_share, second.together_share) == (pytest.approx(0.5), 1.0)
    assert (first.standing, second.standing) == ("contested", "met")


def test_whoever_has_least_to_choose_from_goes_first_and_others_take_what_is_less_asked_for() -> None:
    lots = [a_lot("ALDER-2026-01", "60", alpha_percent=9.0), a_lot("ALDER-2026-02", "60", alpha_percent=5.0)]
    easy, picky = an_asker(1), an_asker(2, alpha_percent_min=8.0)

    assert [one.together_share for one in fitted([easy, picky], lots)] == [1.0, 1.0]


def test_alpha_is_taken_from_each_lot_by_what_it_holds() -> None:
    asker = an_asker(1, deliveries=(Delivery(needed_on=ON, alpha_kg=Decimal(3)),))
    lots = [a_lot("ALDER-2026-01", "10", alpha_percent=10.0), a_lot("ALDER-2026-02", "30", alpha_percent=5.0)]

    (one,) = fitted([asker], [*lots, a_lot("ALDER-2026-03", "500")])

    assert one.fits.tolist() == [0, 1]
    assert one.alone_share == one.together_share == pytest.approx((1.0 + 1.5) / 3)
    assert [(kept.limit, kept.alone, len(kept.unmeasured)) for kept in one.kept_out] == [
        ("alpha_kg", True, 1)
    ]


def test_the_nearest_lots_are_named_under_each_limit_that_they_fail() -> None:
    asker = an_asker(1, forms=("wet_hop",), moisture_percent_max=11.0, within_km=1.0)

    (one,) = fitted([asker], [a_lot("ALDER-2026-01"), a_lot("BIRCH-2026-01")])

    assert [
        (kept.limit, kept.alone, kept.lots.tolist(), kept.unmeasured.tolist()) for kept in one.kept_out
    ] == [
        ("forms", False, [0, 1], []),
        ("moisture_percent_max", False, [0, 1], [0, 1]),
        ("within_km", False, [0, 1], []),
    ]


def test_no_lots_at_all_leave_nothing_to_say() -> None:
    (one,) = fitted([an_asker(1)], [])

    assert (one.standing, one.kept_out, one.alone_share) == ("none_fits", (), 0.0)


@given(
    free=st.lists(st.integers(1, 200), min_size=1, max_size=6),
    wants=st.lists(
        st.tuples(st.integers(1, 200), st.integers(0, 63), st.sampled_from([None, 1, 2])),
        min_size=1,
        max_size=6,
    ),
)
def test_no_kilogram_is_shared_out_twice_and_nobody_gets_more_than_alone(
    free: list[int], wants: list[tuple[int, int, int | None]]
) -> None:
    free_kg = np.array(free, dtype=float)
    found = []
    for number, (kg, mask, lots_max) in enumerate(wants):
        fits = np.array([place for place in range(len(free)) if mask >> place & 1], dtype=np.int64)
        need = np.full(len(fits), float(kg))
        cover = np.sort(np.minimum(1.0, free_kg[fits] / need))[::-1][:lots_max].sum()
        found.append(
            Fitting(
                asker=an_asker(number, str(kg), lots_max=lots_max),
                kg_left=Decimal(kg),
                alpha_kg_left=0.0,
                fits=fits,
                need_kg=need,
                times=float((free_kg[fits] / need).sum()),
                alone_share=min(1.0, float(cover)),
            )
        )

    shared = share_out(found, free_kg)

    assert all(0 <= one.together_share <= one.alone_share for one in shared)
    taken = sum(one.together_share * float(one.kg_left) for one in shared)
    reached = {place for one in shared for place in one.fits.tolist()}
    assert taken <= sum(free[place] for place in reached) + 1e-6
    if len(found) == 1:
        assert shared[0].together_share == pytest.approx(shared[0].alone_share)
    assert free_kg.tolist() == [float(kg) for kg in free]
