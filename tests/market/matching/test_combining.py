"""From a request and lots to a combination: which lots come into question, and what is combined."""

import math
from decimal import Decimal
from typing import Any

import pytest

from service.errors import InvalidRequest
from service.facts import replace
from service.market.goods.lots import Package
from service.market.goods.provenance import Certification
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.combination_infeasibility import why_none
from service.market.matching.combination_report import codes_of, tell_combination
from service.market.matching.combinations import CombinationAnswer, CombinationOrder
from service.market.matching.combining import combine, mixed_values, price_of, without_limits_of_the_mix
from service.market.matching.requests import Delivery, Request
from tests.factories import TODAY
from tests.market.planning.allocation_regions import ON, a_lot, an_asker

CAD: dict[str, Any] = {"currency": "CAD"}


def priced(code: str, free_kg: str, price: str, alpha: float | None = None, **told: Any) -> Candidate:
    return a_lot(
        code, free_kg, alpha_percent=alpha, **{"price_per_kg": Decimal(price), "currency": "CAD", **told}
    )


def answered(request: Request, lots: list[Candidate], **order: Any) -> CombinationAnswer:
    asked = CombinationOrder(**order)
    combined = combine(request, columns_of(lots), asked, cultivar_keys=(), today=TODAY)
    codes = codes_of(combined)
    why = None if codes else why_none(request, combined, seconds=10)
    return tell_combination(request, asked, combined, alphas={}, why=why)


def masses(answer: CombinationAnswer) -> dict[str, float]:
    assert answer.combination is not None, answer.why_none
    return {p.lot_code: float(p.mass_kg) for p in answer.combination.parcels}


def test_a_mix_is_reckoned_as_the_lots_will_be_in_the_brewerys_store() -> None:
    store = {"kept_from": TODAY, "kept_at_c": 20.0, "kept_packing": "open"}
    alpha = (Delivery(needed_on=ON, alpha_kg=Decimal(3)),)
    lot = priced("ALDER-2026-01", "100", "20", 9.0)
    lots = [replace(lot, figures=replace(lot.figures, base_rate_per_day=0.004))]

    cold, warm = (answered(an_asker(1, deliveries=alpha, **told).request, lots) for told in ({}, store))

    left = 0.09 * math.exp(-0.004 * (ON - TODAY).days)
    assert masses(cold) == {lot.code: pytest.approx(3 / 0.09, abs=0.002)}
    assert masses(warm) == {lot.code: pytest.approx(3 / left, abs=0.002)}
    assert warm.combination is not None
    assert warm.combination.figures.alpha_percent_when_needed == pytest.approx(100 * left, abs=1e-3)
    short = answered(an_asker(1, alpha_percent_min=8.0, **store).request, lots)
    assert short.combination is None
    assert "alpha_percent_min" in str(short.why_none)


def test_a_mix_is_made_only_of_lots_with_the_certifications_and_the_place_that_are_wanted() -> None:
    held = Certification(
        kind="organic", scheme="River Organic", certifier="Valley", number="1", valid_until=ON
    )
    lots = [
        priced("ALDER-2026-01", "40", "30", certifications=(held,), origin_country="CA"),
        priced("ALDER-2026-02", "90", "10", origin_country="CA"),
        priced("BIRCH-2026-01", "40", "30", certifications=(held,), origin_country="US"),
    ]

    organic = answered(an_asker(1, certifications=("organic",)).request, lots)
    both = answered(an_asker(1, "30", certifications=("organic",), origins=("US",)).request, lots)
    none = answered(an_asker(1, certifications=("Valley Green",)).request, lots)

    assert set(masses(organic)) == {"ALDER-2026-01", "BIRCH-2026-01"}
    assert set(masses(both)) == {"BIRCH-2026-01"}
    assert none.why_none is not None
    assert none.why_none.words == "no lot comes into question: of 3, 3 lots fail certifications"


def test_a_rich_and_a_poor_lot_together_keep_a_band_that_neither_keeps_alone() -> None:
    request = an_asker(1, alpha_percent_min=8.9, alpha_percent_max=9.1).request
    lots = [priced("ALDER-2026-01", "100", "30", 12.0), priced("BIRCH-2026-01", "100", "10", 6.0)]

    answer = answered(request, lots)

    # 60 kg at 8.9 %: 12 x + 6 (60 - x) = 534.
    assert masses(answer) == {
        "BIRCH-2026-01": pytest.approx(31, abs=0.002),
        "ALDER-2026-01": pytest.approx(29, abs=0.002),
    }
    assert answer.combination is not None
    assert answer.proof is not None
    figures = answer.combination.figures
    assert answer.combination.limits[0].found >= 8.9
    assert figures.alpha_percent_when_needed == pytest.approx(8.9, abs=1e-3)
    assert figures.amounts == {"CAD": pytest.approx(Decimal(1180), abs=Decimal("0.1"))}
    assert (answer.proof.is_optimal, answer.proof.gap_percent) == (True, pytest.approx(0, abs=0.01))


def test_alpha_wanted_is_met_by_the_cheapest_alpha() -> None:
    request = an_asker(1, deliveries=(Delivery(needed_on=ON, alpha_kg=Decimal(3)),)).request
    lots = [priced("ALDER-2026-01", "20", "24", 12.0), priced("BIRCH-2026-01", "100", "15", 6.0)]

    answer = answered(request, lots)

    assert masses(answer) == {"ALDER-2026-01": 20, "BIRCH-2026-01": pytest.approx(10, abs=0.002)}
    assert answer.combination is not None
    assert answer.combination.figures.alpha_kg == pytest.approx(3, abs=1e-3)


def test_whole_packages_and_smallest_orders_are_obeyed() -> None:
    boxes = (Package(kind="box", count=5, net_kg=Decimal(20)),)
    lots = [
        priced("ALDER-2026-01", "100", "10", sold_in="whole_packages", packages=boxes),
        priced("BIRCH-2026-01", "100", "20", order_kg_min=Decimal(15)),
    ]

    assert masses(answered(an_asker(1, "50").request, lots)) == {"ALDER-2026-01": 60}
    assert masses(answered(an_asker(1, "50", parcel_kg_min=Decimal(5)).request, lots[1:])) == {
        "BIRCH-2026-01": 50
    }


def test_prices_by_agreement_and_in_other_currencies_are_left_out_of_the_cheapest_and_said() -> None:
    lots = [
        priced("ALDER-2026-01", "100", "30"),
        a_lot("ALDER-2026-02"),
        priced("BIRCH-2026-01", "100", "10", currency="USD"),
    ]
    request = an_asker(1).request

    with pytest.raises(InvalidRequest, match="CAD, USD"):
        answered(request, lots)
    answer = answered(request, lots, currency="CAD")
    assert masses(answer) == {"ALDER-2026-01": 60}
    assert [said.split(":")[0] for said in answer.cautions] == ["1 lot left out", "1 lot left out"]


def test_a_price_by_agreement_neither_passes_nor_fails_when_the_score_counts() -> None:
    request = an_asker(1, price_per_kg_max=Decimal(20), **CAD).request

    answer = answered(request, [a_lot("ALDER-2026-01", "60")], aim="best_scored")

    assert masses(answer) == {"ALDER-2026-01": 60}
    assert answer.combination is not None
    assert (answer.combination.figures.amounts, answer.combination.figures.by_agreement_kg) == ({}, 60)
    assert "by agreement" in answer.cautions[-1]


def test_a_lot_that_was_never_measured_is_left_out_under_a_limit_on_it() -> None:
    request = an_asker(1, oil_ml_per_100g_min=1.0).request

    answer = answered(request, [priced("ALDER-2026-01", "100", "10")])

    assert answer.combination is None
    assert answer.why_none is not None
    assert "oil_ml_per_100g_min is a limit and was never measured" in answer.why_none.words


def test_each_limit_that_would_do_alone_is_named_with_what_would_do() -> None:
    request = an_asker(1, lots_max=1, within_km=60.0).request
    lots = [priced("ALDER-2026-01", "40", "10"), priced("BIRCH-2026-01", "30", "12")]

    why = answered(request, lots).why_none

    assert why is not None
    assert {(one.limit, one.wanted, one.would_do) for one in why.any_one} == {
        ("mass_kg", 60.0, 40.0),
        ("lots_max", 1.0, 2.0),
    }
    assert why.words.startswith("no lots together meet the request; any one of these would do: mass_kg 40 kg")


def test_limits_that_clash_only_together_are_named_as_a_smallest_set() -> None:
    request = an_asker(1, alpha_percent_min=12.0, lots_max=1, parcel_kg_min=Decimal(20)).request
    lots = [priced("ALDER-2026-01", "40", "10", 9.0), priced("BIRCH-2026-01", "30", "12", 8.0)]

    why = answered(request, lots).why_none

    assert why is not None
    assert why.any_one == ()
    assert len(why.together) == 2
    assert {one.limit for one in why.together} >= {"alpha_percent_min"}
    assert "these 2 limits clash" in why.words


def test_a_lot_further_off_is_what_would_do_when_the_distance_alone_is_in_the_way() -> None:
    lot = replace(priced("ALDER-2026-01", "60", "10"), distance_km=55.6)

    why = answered(an_asker(1, within_km=50.0).request, [lot]).why_none

    assert why is not None
    assert [(one.limit, one.would_do) for one in why.any_one] == [("within_km", 56.0)]


def test_limits_on_single_lots_that_keep_all_out_are_counted() -> None:
    why = answered(an_asker(1, forms=("wet_hop",)).request, [priced("ALDER-2026-01", "60", "10")]).why_none

    assert why is not None
    assert why.words == "no lot comes into question: of 1, 1 lot fails forms"


def test_without_limits_of_the_mix_keeps_what_each_lot_must_be() -> None:
    request = an_asker(1, forms=("pellet",), alpha_percent_min=9.0, within_km=60.0, lots_max=2).request

    single = without_limits_of_the_mix(request)

    assert (single.forms, single.alpha_percent_min, single.within_km, single.lots_max) == (
        ("pellet",),
        None,
        None,
        None,
    )


def test_mixed_values_and_price_of_tell_unknown_from_nothing() -> None:
    lots = columns_of([priced("ALDER-2026-01", "60", "10.5", 9.0), a_lot("ALDER-2026-02")])
    combined = combine(
        an_asker(1).request, lots, CombinationOrder(aim="best_scored"), cultivar_keys=(), today=TODAY
    )

    alpha = mixed_values(combined.ranking)["alpha_percent_min"]

    assert alpha[0] == pytest.approx(9.0)
    assert alpha[1] != alpha[1]
    assert (price_of(lots, 0), price_of(lots, 1)) == (Decimal("10.5"), None)


def test_a_price_that_nobody_named_is_missing_and_not_nothing() -> None:
    request = an_asker(1, "20", price_per_kg_max=Decimal(30), currency="CAD").request
    agreed = a_lot("ALDER-2026-01", "40", alpha_percent=8.0)

    found = answered(request, [agreed], aim="best_scored").combination

    assert found is not None
    assert [(limit.limit, limit.found) for limit in found.limits] == [("price_per_kg_max", None)]
