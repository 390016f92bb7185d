"""What terms of price and mass ask of a lot's alpha, against the limits themselves and a simulation."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import Fact, replace
from service.market.goods.lab_reports import NO_FIGURES
from service.market.matching.alpha_terms import AlphaTerms, alpha_terms
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.chances import chance_all_limits_met
from service.market.matching.limits import limits_of
from service.market.matching.needs import needs_of
from service.market.matching.requests import Delivery, Request
from service.market.matching.search import SearchFigures
from tests.factories import TODAY

NEEDED = date(2027, 2, 1)
TEN = SearchFigures(
    day=TODAY.toordinal(),
    log_alpha=float(np.log(10.0)),
    alpha_sd_log=0.08,
    rate_per_day=0.0,
    rate_low_per_day=0.0,
    rate_high_per_day=0.0,
    spread_low=0.0,
    spread_high=0.0,
)
LOT = Candidate(
    code="ALDER-2026-01",
    grower_code="ALDER",
    cultivar="Nugget",
    cultivar_key="NUGGET",
    role="bittering",
    form="pellet",
    free_kg=Decimal(100),
    price_per_kg=Decimal(24),
    currency="CAD",
    distance_km=10.0,
    figures=TEN,
)


def by_mass(**told: object) -> Request:
    return Request(role="bittering", deliveries=(Delivery(needed_on=NEEDED, mass_kg=Decimal(50)),), **told)


def by_alpha(alpha_kg: str, **told: object) -> Request:
    wanted = (Delivery(needed_on=NEEDED, alpha_kg=Decimal(alpha_kg)),)
    return Request(role="bittering", deliveries=wanted, **told)


def terms_of(request: Request, lot: Candidate = LOT) -> AlphaTerms:
    lots = columns_of([lot])
    return alpha_terms(request, lots, needs_of(request, lots, today=TODAY), 0)


def chance_of(request: Request, lot: Candidate = LOT) -> float:
    return chance_all_limits_met(
        request,
        lot.figures,
        measured=NO_FIGURES,
        form="pellet",
        first_on=NEEDED,
        last_on=NEEDED,
        terms=terms_of(request, lot),
    )


def keeps_all(request: Request, alpha_percent: float, lot: Candidate = LOT) -> bool:
    figures = replace(TEN, log_alpha=float(np.log(alpha_percent)))
    lots = columns_of([replace(lot, figures=figures)])
    limits = limits_of(request, lots, needs_of(request, lots, today=TODAY), cultivar_keys=())
    return all(bool(limit.holds[0]) for limit in limits)


def test_a_price_for_alpha_is_kept_from_an_alpha_on() -> None:
    request = by_mass(price_per_kg_alpha_max=Decimal(250), currency="CAD")

    assert terms_of(request) == AlphaTerms(at_least_percent=pytest.approx(9.6))
    assert terms_of(request, replace(LOT, price_per_kg=None, currency=None)) == AlphaTerms()


def test_a_lot_that_must_give_all_the_alpha_needs_enough_of_it() -> None:
    assert terms_of(by_alpha("8", lots_max=1)) == AlphaTerms(at_least_percent=pytest.approx(8.0))
    assert terms_of(by_alpha("8")) == AlphaTerms()


def test_a_strong_lot_may_come_under_its_smallest_order() -> None:
    choosy = replace(LOT, order_kg_min=Decimal(40))

    assert terms_of(by_alpha("8"), choosy) == AlphaTerms(at_most_percent=pytest.approx(20.0))
    assert terms_of(by_mass(), choosy) == AlphaTerms()


def test_without_alpha_nothing_can_be_asked_of_it() -> None:
    request = by_alpha("8", lots_max=1, price_per_kg_alpha_max=Decimal(250), currency="CAD")

    assert terms_of(request, replace(LOT, figures=SearchFigures())) == AlphaTerms()


class Case(Fact, frozen=True):
    """A request whose terms ask something of alpha, and the lot it asks."""

    request: Request
    lot: Candidate = LOT


CASES = {
    "price": Case(by_mass(price_per_kg_alpha_max=Decimal(250), currency="CAD")),
    "all of it": Case(by_alpha("9.5", lots_max=1)),
    "a parcel": Case(by_alpha("9.5", parcel_kg_min=Decimal(120)), replace(LOT, order_kg_min=Decimal(5))),
    "a smallest order": Case(by_alpha("8"), replace(LOT, order_kg_min=Decimal(75))),
    "part by mass": Case(
        Request(
            role="bittering",
            deliveries=(
                Delivery(needed_on=NEEDED, mass_kg=Decimal(20)),
                Delivery(needed_on=NEEDED, alpha_kg=Decimal("7.5")),
            ),
            lots_max=1,
        )
    ),
    "price and band": Case(
        by_mass(
            price_per_kg_alpha_max=Decimal(250),
            currency="CAD",
            alpha_percent_min=9.0,
            alpha_percent_max=11.0,
        )
    ),
}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_chance_agrees_with_the_limits_over_simulated_alphas(case: Case) -> None:
    drawn = 10.0 * np.exp(0.08 * np.random.default_rng(7).standard_normal(4_000))

    kept = np.mean([keeps_all(case.request, float(alpha), case.lot) for alpha in drawn])

    assert 0.1 < kept < 0.95
    assert chance_of(case.request, case.lot) == pytest.approx(kept, abs=0.025)


@given(st.floats(2, 30), st.floats(100, 600))
def test_the_price_bound_is_where_the_limit_turns(alpha: float, limit: float) -> None:
    request = by_mass(price_per_kg_alpha_max=Decimal(repr(round(limit, 2))), currency="CAD")
    bound = terms_of(request).at_least_percent
    assert bound is not None

    if abs(alpha / bound - 1) > 1e-6:
        assert keeps_all(request, alpha) == (alpha > bound)
