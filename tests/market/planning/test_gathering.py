"""Needs beside the lots that keep their limits."""

import math
from datetime import timedelta
from decimal import Decimal

import pytest

from service.facts import replace
from service.market.goods.lots import Package
from service.market.goods.provenance import Certification
from service.market.matching.oil_similarity import OilShares, OilWish, oil_table
from service.market.matching.requests import Delivery, OilLike
from service.market.planning.allocations import AllocationOrder
from service.market.planning.gathering import (
    BEST_PAIRS,
    SPREAD_PAIRS,
    Promised,
    arrival_of,
    mass_left,
    model_of,
    share_left,
)
from service.science.oil_profile import OilProfile
from tests.factories import NOW, TODAY
from tests.market.planning.allocation_regions import ON, a_lot, a_region, an_asker


def test_a_need_is_paired_with_the_lots_that_keep_its_limits_at_its_own_distance() -> None:
    region = a_region(
        [an_asker(1, forms=("pellet",), within_km=60.0), an_asker(2, forms=("wet_hop",))],
        [a_lot("ALDER-2026-01"), a_lot("BIRCH-2026-01")],
    )

    assert [(p.need, p.lot, p.distance_km, p.covers) for p in region.pairs] == [
        (0, 0, 56, 1.0),
        (0, 1, 56, 1.0),
    ]
    assert region.needs[0].without == ()
    assert region.needs[1].without == ("no free lot keeps all its limits: 2 lots fail only forms",)


def test_each_request_sees_lots_as_they_will_be_in_its_own_brewerys_store() -> None:
    store = {"kept_from": TODAY, "kept_at_c": 20.0, "kept_packing": "open"}
    alpha = {"deliveries": (Delivery(needed_on=ON, alpha_kg=Decimal(3)),)}
    asked = [{}, store, alpha, {**alpha, **store}]
    askers = [an_asker(n, alpha_percent_min=8.0 if n < 2 else None, **told) for n, told in enumerate(asked)]
    lot = a_lot("ALDER-2026-01", alpha_percent=9.0)
    kept = replace(lot, figures=replace(lot.figures, base_rate_per_day=0.004))

    region = a_region(askers, [kept])

    assert [(pair.need, pair.lot) for pair in region.pairs] == [(0, 0), (2, 0), (3, 0)]
    assert region.needs[1].without == (
        "no free lot keeps all its limits: 1 lots fail only alpha_percent_min",
    )
    # 3 kg of alpha out of 9 %, and out of what 68 days at 20 °C unprotected leave of it.
    left = math.exp(-0.004 * (ON - TODAY).days)
    assert [float(need.need_kg) for need in region.needs[2:]] == pytest.approx(
        [3 / 0.09, 3 / (0.09 * left)], abs=0.1
    )


def test_a_plan_pairs_only_lots_with_the_certifications_and_the_place_that_are_wanted() -> None:
    held = Certification(
        kind="organic", scheme="River Organic", certifier="Valley", number="1", valid_until=ON
    )
    lots = [
        a_lot("ALDER-2026-01", origin_country="CA", certifications=(held,)),
        a_lot("ALDER-2026-02", origin_country="CA"),
        a_lot("BIRCH-2026-01", origin_country="US", certifications=(held,)),
    ]
    askers = [
        an_asker(1, certifications=("organic",)),
        an_asker(2, origins=("CA",)),
        an_asker(3, certifications=("River Organic",), origins=("US",)),
    ]

    region = a_region(askers, lots)

    assert [(pair.need, pair.lot) for pair in region.pairs] == [(0, 0), (0, 2), (1, 0), (1, 1), (2, 2)]


def test_each_request_is_scored_with_its_own_wish_for_an_oil_profile() -> None:
    rich, poor = ({"myrcene": myrcene, "humulene": 10.0, "caryophyllene": 5.0} for myrcene in (60.0, 15.0))
    like = OilLike(lot_code="X")
    askers = [
        replace(
            an_asker(number, oil_like=like, weights={"profile": 1.0}),
            oil_wish=OilWish(of="lot X", profile=OilProfile(basis="mass", shares_percent=shares)),
        )
        for number, shares in ((1, rich), (2, poor))
    ]
    lots = [a_lot("ALDER-2026-01"), a_lot("BIRCH-2026-01")]
    table = oil_table([OilShares(basis="mass", percent=shares) for shares in (rich, poor)])

    region = a_region([*askers, an_asker(3)], lots, oil=table)

    score = {(pair.need, pair.lot): pair.score for pair in region.pairs}
    assert score[0, 0] == score[1, 1] > score[0, 1] == score[1, 0]
    assert score[2, 0] == score[2, 1]
    assert [said.split(":")[0] for said in region.cautions] == ["2 requests wish for an oil profile"]


def test_promises_come_off_the_need_and_off_the_lots_a_request_may_take() -> None:
    half = Promised(held_kg=Decimal(25), lots=1)
    region = a_region([an_asker(1, promised=half, lots_max=3)], [a_lot("ALDER-2026-01")])

    assert (region.needs[0].need_kg, region.needs[0].lots_max) == (Decimal(35), 2)


def test_a_request_whose_need_is_promised_but_for_a_bale_s_scatter_is_left_out() -> None:
    region = a_region([an_asker(1, promised=Promised(held_kg=Decimal(59), lots=1))], [a_lot("ALDER-2026-01")])

    assert region.needs == ()


def test_a_request_with_promises_on_as_many_lots_as_it_takes_gets_no_more_and_is_told_so() -> None:
    region = a_region(
        [an_asker(1, promised=Promised(held_kg=Decimal(20), lots=2), lots_max=2)], [a_lot("ALDER-2026-01")]
    )

    assert region.needs[0].lots_max == 0
    assert region.needs[0].without == ("it takes from at most 2 lots and has promises on as many",)


def test_a_need_of_alpha_counts_as_mass_of_the_middle_lot_and_a_richer_lot_covers_more() -> None:
    asker = an_asker(1, deliveries=(Delivery(needed_on=ON, alpha_kg=Decimal(3)),))
    lots = [a_lot(f"ALDER-2026-0{n}", alpha_percent=a) for n, a in ((1, 5.0), (2, 10.0), (3, 15.0))]

    region = a_region([asker], lots)

    assert (region.needs[0].need_kg, region.needs[0].by_alpha) == (Decimal(30), True)
    assert {p.lot: pytest.approx(p.covers, rel=1e-4) for p in region.pairs} == {0: 0.5, 1: 1.0, 2: 1.5}


def test_packages_are_counted_from_the_largest_by_size() -> None:
    packages = (
        Package(kind="foil", count=9, net_kg=Decimal(5)),
        Package(kind="box", count=4, net_kg=Decimal(20)),
    )
    lot = a_lot("ALDER-2026-01", "93", sold_in="whole_packages", packages=packages)

    region = a_region([an_asker(1, "85")], [lot])

    assert [(g.free_kg, g.size_kg) for g in region.lots[0].goods] == [(80, 20), (10, 5)]
    assert region.lots[0].free_kg == 90
    assert [p.lot for p in region.pairs] == [0]


def test_the_smallest_parcel_is_the_larger_of_grower_s_and_brewery_s_and_the_whole_rest_is_always_had() -> (
    None
):
    lots = [
        a_lot("ALDER-2026-01", order_kg_min=Decimal(25)),
        a_lot("ALDER-2026-02", "10", order_kg_min=Decimal(25)),
        a_lot("ALDER-2026-03"),
    ]
    region = a_region([an_asker(1)], lots, AllocationOrder(parcel_kg_min=Decimal(8)))

    assert {p.lot: p.least_kg for p in region.pairs} == {0: 25, 1: 10, 2: 8}


def test_no_parcel_is_small_where_nobody_names_one_unless_the_need_is() -> None:
    # House figure: 5 kg.
    lots = [a_lot("ALDER-2026-01"), a_lot("ALDER-2026-02", "3")]
    named = an_asker(3, parcel_kg_min=Decimal(2))

    region = a_region([an_asker(1), an_asker(2, "1.5"), named], lots)

    assert {(p.need, p.lot): p.least_kg for p in region.pairs} == {
        (0, 0): 5.0,
        (1, 0): 1.5,
        (1, 1): 1.5,
        (2, 0): 2.0,
        (2, 1): 2.0,
    }


def test_a_small_need_of_alpha_can_be_met_whole() -> None:
    asker = an_asker(1, deliveries=(Delivery(needed_on=ON, alpha_kg=Decimal("0.2")),))
    region = a_region([asker], [a_lot("ALDER-2026-01", alpha_percent=9.3)])

    model = model_of(region)

    # 0.2 kg out of 9.3 % is 2.150537... kg, to the gram above.
    assert (model.least_kg.tolist(), model.most_kg.tolist()) == ([2.151], [2.151])


def test_the_worth_of_a_pair_is_the_score_of_each_kilogram_it_covers() -> None:
    region = a_region([an_asker(1, lots_max=2), an_asker(2)], [a_lot("ALDER-2026-01", "40")])

    model = model_of(region)

    assert model.worth_per_kg.tolist() == [p.score * p.covers for p in region.pairs]
    assert model.lots_max.tolist() == [2, 1_000_000]
    assert (model.need_kg.tolist(), model.stock_kg.tolist()) == ([60, 60], [40])


def test_arrival_is_the_order_in_which_requests_were_made() -> None:
    region = a_region([an_asker(1), an_asker(2)], [a_lot("ALDER-2026-01")])
    later = replace(region.needs[0], made_at=NOW + timedelta(days=1))

    assert arrival_of(replace(region, needs=(later, region.needs[1]))) == [1, 0]


def test_of_many_lots_the_best_and_some_of_the_others_are_planned_with_and_that_is_said() -> None:
    lots = [a_lot(f"ALDER-2026-{n:03d}", str(20 + n)) for n in range(100)]

    region = a_region([an_asker(1)], lots)

    assert len(region.pairs) == BEST_PAIRS + SPREAD_PAIRS
    assert "1 requests have more than 60 lots" in region.cautions[0]


def test_mass_left_counts_what_is_due_from_today_on_and_never_less_than_nothing() -> None:
    request = an_asker(1).request
    past = Delivery(needed_on=TODAY.replace(day=1), mass_kg=Decimal(40))
    both = an_asker(1, deliveries=(past, *request.deliveries)).request

    assert mass_left(both, Promised(), today=TODAY) == 60
    assert mass_left(both, Promised(held_kg=Decimal(70)), today=TODAY) == 30
    assert mass_left(both, Promised(held_kg=Decimal(170)), today=TODAY) == 0


def test_share_left_of_alpha_counts_the_alpha_that_wanted_masses_leave_over() -> None:
    alpha = Delivery(needed_on=ON, alpha_kg=Decimal(2))
    mass = Delivery(needed_on=ON, mass_kg=Decimal(10))
    only = an_asker(1, deliveries=(alpha,)).request
    both = an_asker(1, deliveries=(mass, alpha)).request
    promised = Promised(held_kg=Decimal(20), alpha_kg=2.0, lots=1)

    assert share_left(only, promised, today=TODAY) == pytest.approx(0)
    assert share_left(both, promised, today=TODAY) == pytest.approx(0.5)
