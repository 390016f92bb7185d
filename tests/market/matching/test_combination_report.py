"""The mix as a whole, told."""

from decimal import Decimal

from service.market.matching.candidates import columns_of
from service.market.matching.combination_report import codes_of, tell_combination
from service.market.matching.combinations import CombinationOrder
from service.market.matching.combining import combine
from service.science.uncertainty import Estimate
from tests.factories import TODAY
from tests.market.matching.test_combining import priced
from tests.market.planning.allocation_regions import an_asker


def test_a_combination_tells_parcels_largest_first_with_amounts_and_the_mix_by_mass() -> None:
    request = an_asker(1, alpha_percent_min=8.0).request
    lots = columns_of([priced("ALDER-2026-01", "20", "10", 6.0), priced("BIRCH-2026-01", "40", "12.5", 9.0)])
    order = CombinationOrder()
    combined = combine(request, lots, order, cultivar_keys=(), today=TODAY)
    alphas = {
        "ALDER-2026-01": (Estimate(estimate=6.0, low=5.5, high=6.4), "asbc_hops_14"),
        "BIRCH-2026-01": (None, "asbc_hops_6"),
    }

    told = tell_combination(request, order, combined, alphas=alphas, why=None)

    assert codes_of(combined) == ["BIRCH-2026-01", "ALDER-2026-01"]
    assert told.combination is not None
    assert [(p.mass_kg, p.amount, p.alpha_method) for p in told.combination.parcels] == [
        (40, Decimal(500), "asbc_hops_6"),
        (20, Decimal(200), "asbc_hops_14"),
    ]
    figures = told.combination.figures
    assert (figures.mass_kg, figures.amounts, figures.alpha_kg) == (60, {"CAD": Decimal(700)}, 4.8)
    assert figures.per_kg_alpha == 145.83
    assert (figures.oil_ml_per_100g, figures.hop_storage_index_when_needed) == (None, None)
    assert [(one.limit, one.wanted, one.found) for one in told.combination.limits] == [
        ("alpha_percent_min", 8.0, 8.0)
    ]
    assert "are not one scale" in told.cautions[-1]


def test_the_proof_of_the_best_scored_counts_what_the_scores_lack() -> None:
    request = an_asker(1).request
    lots = columns_of([priced("ALDER-2026-01", "90", "10"), priced("BIRCH-2026-01", "90", "20")])
    order = CombinationOrder(aim="best_scored")

    told = tell_combination(
        request,
        order,
        combine(request, lots, order, cultivar_keys=(), today=TODAY),
        alphas={},
        why=None,
    )

    assert told.combination is not None
    assert told.proof is not None
    assert [p.lot_code for p in told.combination.parcels] == ["ALDER-2026-01"]
    assert told.proof.value == round(1 - told.combination.figures.score, 4)
