"""Ranking, near misses, and what is said of a match."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.goods.lots import Package
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.limit_facts import Failure
from service.market.matching.matching import (
    Cost,
    Match,
    NearMiss,
    Ranking,
    describe_match,
    join_near_misses,
    near_misses_of,
    page_of_places,
    rank_lots,
)
from service.market.matching.oil_similarity import OilShares, OilWish, liken, oil_table
from service.market.matching.requests import Delivery, OilLike, Request
from service.market.matching.search import SearchFigures
from service.science.oil_profile import OilProfile
from service.science.uncertainty import Estimate
from tests.factories import TODAY, LabReportFactory

ON = date(2027, 2, 1)
REQUEST = Request(
    code="FINCH-REQ-01",
    role="bittering",
    deliveries=(Delivery(needed_on=ON, mass_kg=Decimal(60)),),
    alpha_percent_min=9.0,
    price_per_kg_max=Decimal(30),
    currency="CAD",
)
FIGURES = SearchFigures(
    day=TODAY.toordinal(),
    log_alpha=float(np.log(12.0)),
    alpha_sd_log=0.1,
    log_resin=float(np.log(0.9)),
    index_sd_log=0.05,
    rate_per_day=0.0,
    rate_low_per_day=0.0,
    rate_high_per_day=0.0,
    alpha_method="asbc_hops_14",
    alpha_reports=1,
    alpha_drawn_by="grower",
    alpha_packages_cored=3,
)
LOT = Candidate(
    code="ALDER-2026-01",
    grower_code="ALDER",
    cultivar="Nugget",
    cultivar_key="NUGGET",
    role="bittering",
    form="pellet",
    free_kg=Decimal("120.5"),
    price_per_kg=Decimal(24),
    currency="CAD",
    distance_km=84.4,
    figures=FIGURES,
)


def with_alpha(alpha_percent: float, **told: object) -> Candidate:
    return replace(LOT, figures=replace(FIGURES, log_alpha=float(np.log(alpha_percent))), **told)


def rank(*lots: Candidate, request: Request = REQUEST) -> Ranking:
    return rank_lots(request, columns_of(lots), cultivar_keys=(), today=TODAY)


def misses(*lots: Candidate, request: Request = REQUEST) -> list[NearMiss]:
    return near_misses_of(request, columns_of(lots), cultivar_keys=(), today=TODAY)


def describe(lot: Candidate, request: Request = REQUEST) -> Match:
    return describe_match(rank(lot, request=request), 0, lot=lot, reports=[LabReportFactory()])


def test_only_lots_that_keep_every_limit_are_ranked_best_first() -> None:
    ranking = rank(with_alpha(10.0, code="A"), with_alpha(15.0, code="B"), with_alpha(8.9, code="C"))

    assert [ranking.lots.code[place] for place in ranking.order] == ["B", "A"]


def test_equal_scores_go_by_code() -> None:
    ranking = rank(replace(LOT, code="B"), replace(LOT, code="A"))

    assert [ranking.position(place)[1] for place in ranking.order] == ["A", "B"]


@given(st.lists(st.floats(8, 16), min_size=1, max_size=12), st.integers(1, 5))
def test_pages_give_every_match_exactly_once(alphas: list[float], size: int) -> None:
    ranking = rank(*(with_alpha(a, code=f"L{n:02d}") for n, a in enumerate(alphas)))

    seen: list[int] = []
    after = None
    while page := page_of_places(ranking, after=after, limit=size):
        seen += page
        after = ranking.position(page[-1])

    assert tuple(seen) == ranking.order


def test_a_match_says_everything() -> None:
    match = describe(LOT)

    assert match == Match(
        lot_code="ALDER-2026-01",
        grower_code="ALDER",
        cultivar="Nugget",
        form="pellet",
        score=match.score,
        parts={
            "price": 1.0,
            "distance": pytest.approx(200 / 284, abs=1e-4),
            "evidence": pytest.approx(0.675),
            "freshness": 0.9,
            "role": 1.0,
        },
        reasons=(
            "price 1.00 (weight 0.44): 200.00 CAD for a kg of alpha acids, 1 is the cheapest that fits",
            "distance 0.70 (weight 0.17): 84 km in a straight line over the ground",
            "evidence 0.68 (weight 0.17): one report on alpha, ASBC Hops-14, HPLC, sample drawn by the grower,"
            " 3 packages cored",
            "freshness 0.90 (weight 0.11): an estimated 90 % of the fresh alpha and beta acids are left on"
            " 2027-02-01",
            "role 1.00 (weight 0.11): a cultivar used for bittering, bittering is wanted",
        ),
        alpha_percent_when_needed=Estimate(
            pytest.approx(12.0),
            pytest.approx(12 * np.exp(-0.16448536)),
            pytest.approx(12 * np.exp(0.16448536)),
        ),
        hop_storage_index_when_needed=match.hop_storage_index_when_needed,
        alpha_method="asbc_hops_14",
        chance_all_limits_met=pytest.approx(0.998, abs=0.001),
        distance_km=84,
        free_kg=Decimal("120.5"),
        parcel_kg=Decimal(60),
        cost=Cost(amount=Decimal(1440), currency="CAD", per_kg_alpha=200.0),
    )


def test_terms_of_a_lot_are_said() -> None:
    boxes = (Package(kind="box", count=6, net_kg=Decimal(20)),)
    lot = replace(
        LOT,
        price_per_kg=None,
        currency=None,
        sold_in="whole_packages",
        packages=boxes,
        order_kg_min=Decimal(20),
        free_kg=Decimal(40),
        readiness="awaiting_analysis",
    )

    match = describe(lot)

    assert match.cost is None
    assert match.parts["price"] is None
    assert match.reasons[0] == "price unknown (weight 0.44): no price to compare; counts as 0.5"
    assert match.reasons[5:] == (
        "price by agreement: it neither passes nor fails a price limit",
        "sold in whole packages: 6 boxes of 20 kg",
        "the grower's smallest order is 20 kg",
        "awaiting analysis",
        "gives 40 kg of the 60 kg needed",
    )


def test_an_announced_lot_in_another_currency_says_so() -> None:
    request = replace(
        REQUEST, role="aroma", price_per_kg_max=None, alpha_percent_min=None, cultivars=("Saaz",)
    )
    lot = replace(LOT, currency="USD", readiness="announced", figures=SearchFigures())

    match = describe(lot, request)

    assert match.alpha_percent_when_needed is None
    assert match.cost == Cost(amount=Decimal(1440), currency="USD", per_kg_alpha=None)
    assert "priced in USD; prices are never compared across currencies" in match.reasons
    assert "announced before picking: the mass is expected, not weighed" in match.reasons
    assert "cultivar 0.00 (weight 0.10): Nugget is another cultivar, accepted" in match.reasons
    assert "oil unknown (weight 0.20): oil was never measured; counts as 0.5" in match.reasons


def test_oil_and_price_per_kilogram_are_told_to_aroma_brewers() -> None:
    request = replace(REQUEST, role="aroma", cultivars=("Nugget",))
    lot = replace(LOT, figures=replace(FIGURES, oil_ml_per_100g=1.5))
    lots = columns_of([lot])

    match = describe_match(
        rank_lots(request, lots, cultivar_keys=("NUGGET",), today=TODAY),
        0,
        lot=lot,
        reports=[LabReportFactory()],
    )

    assert "oil 0.60 (weight 0.20): 1.50 mL of oil in 100 g as analysed" in match.reasons
    assert "price 1.00 (weight 0.15): 24.00 CAD for a kg, 1 is the cheapest that fits" in match.reasons
    assert "cultivar 1.00 (weight 0.10): Nugget is wanted by name" in match.reasons


def test_an_oil_profile_that_is_wished_for_is_told_with_its_limits() -> None:
    shares = {"myrcene": 50.0, "humulene": 10.0, "caryophyllene": 5.0}
    wish = OilWish(of="lot X", profile=OilProfile(basis="mass", shares_percent=shares))
    request = replace(REQUEST, role="aroma", oil_like=OilLike(lot_code="X"))

    def said(*oil: OilShares | None) -> list[str]:
        lots = replace(columns_of([LOT]), oil_alike=liken(wish, oil_table(oil)) if oil else None)
        ranking = rank_lots(request, lots, cultivar_keys=(), today=TODAY)
        match = describe_match(ranking, 0, lot=LOT, reports=[LabReportFactory()])
        return [reason for reason in match.reasons if reason.startswith("profile")]

    assert said(OilShares(basis="mass", percent=shares)) == [
        "profile 1.00 (weight 0.18): at most 1.00 like lot X, by caryophyllene, humulene, myrcene; a similar oil"
        " profile does not mean the same aroma"
    ]
    assert said(None) == ["profile unknown (weight 0.18): no shares of its oil were measured; counts as 0.5"]
    assert said() == ["profile unknown (weight 0.18): oil profiles are not compared here; counts as 0.5"]


def test_near_misses_fail_one_or_two_limits_the_narrowest_first() -> None:
    found = misses(
        LOT,
        with_alpha(7.0, code="FAR"),
        with_alpha(8.6, code="NEAR"),
        replace(LOT, code="UNMEASURED", figures=SearchFigures()),
        with_alpha(8.6, code="TWO", price_per_kg=Decimal(31)),
        with_alpha(8.6, code="THREE", price_per_kg=Decimal(31), order_kg_min=Decimal(70)),
    )

    assert [miss.lot_code for miss in found] == ["NEAR", "FAR", "UNMEASURED", "TWO"]
    assert found[0].fails == (
        Failure(limit="alpha_percent_min", wanted=9.0, found=8.6, change="alpha_percent_min 8.6"),
    )
    assert found[2].fails[0].found is None


def test_near_misses_are_twenty_at_most_and_each_lot_once() -> None:
    many = misses(*(with_alpha(5 + n / 10, code=f"L{n:02d}") for n in range(30)))

    assert [miss.lot_code for miss in many] == [f"L{n:02d}" for n in range(29, 9, -1)]
    assert join_near_misses(many, many) == many


def test_no_lots_are_no_matches() -> None:
    assert rank().order == ()
    assert misses() == []
