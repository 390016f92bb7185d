"""Consistency of a grower: what is counted, what is said, who reads it."""

from datetime import date
from typing import Any

import pytest

from service.errors import NotAllowed
from service.market.goods.consistency import Consistency, consistency_of, require_readable
from service.market.goods.lots import Lot
from service.market.people.access import Caller
from tests.factories import LabReportFactory, ListedLotFactory

ALPHAS = {2025: (5.0, 5.2, 5.4), 2026: (6.0, 6.2, 9.9)}


def lots(**told: Any) -> list[Lot]:
    return [
        ListedLotFactory(
            code=f"ALDER-{year}-{k}",
            crop_year=year,
            harvested_on=date(year, 8, 29),
            reports=(LabReportFactory(alpha_percent=alpha, sampled_on=date(year, 9, 3)),),
            **told,
        )
        for year, alphas in ALPHAS.items()
        for k, alpha in enumerate(alphas)
    ]


def consistency(found: list[Lot], *, consent: bool = True, lot_code: str | None = None) -> Consistency:
    return consistency_of(
        found, grower_code="ALDER", cultivar="Willamette", consent_given=consent, lot_code=lot_code
    )


def figure(found: Consistency, name: str) -> Any:
    return next(f for f in found.figures if f.name == name)


def test_the_spread_is_robust_and_the_year_stands_apart() -> None:
    found = consistency(lots())

    alpha = figure(found, "alpha_percent")
    assert (found.lots, found.crop_years, alpha.n) == (6, (2025, 2026), 6)
    assert alpha.spread.median == pytest.approx(5.7)
    assert alpha.effect.years == 2
    assert alpha.effect.lot_sd > 0


def test_a_lot_is_placed_among_the_others() -> None:
    alpha = figure(consistency(lots(), lot_code="ALDER-2026-2"), "alpha_percent")

    assert (alpha.standing.rank_from_least, alpha.standing.of) == (6, 6)
    assert alpha.standing.robust_score > 3
    assert figure(consistency(lots(), lot_code="BIRCH-2026-1"), "alpha_percent").standing is None


def test_methods_that_read_differently_are_left_out_and_counted() -> None:
    odd = ListedLotFactory(reports=(LabReportFactory(methods={"alpha_beta": "ebc_7_5"}),))

    alpha = figure(consistency([*lots(), odd]), "alpha_percent")

    assert (alpha.n, alpha.left_out) == (6, 1)
    assert "left out" in alpha.words


def test_forms_of_their_own_kind_are_not_counted() -> None:
    assert consistency([*lots(), *lots(form="pellet_enriched")]).lots == 6


def test_what_was_never_measured_is_no_zero() -> None:
    bare = [ListedLotFactory(reports=()) for _ in range(3)]

    alpha = figure(consistency(bare), "alpha_percent")

    assert (alpha.n, alpha.spread, alpha.effect) == (0, None, None)
    assert "Fewer than two" in alpha.words


@pytest.mark.parametrize(
    ("found", "who", "reads"),
    [
        (consistency(lots()), Caller("brewery", "FINCH"), True),
        (consistency(lots(), consent=False), Caller("brewery", "FINCH"), False),
        (consistency(lots()[:4]), Caller("brewery", "FINCH"), False),
        (consistency([*lots()[:3], *lots()[:3]]), Caller("brewery", "FINCH"), False),
        (consistency(lots()[:1], consent=False), Caller("grower", "ALDER"), True),
        (consistency(lots(), consent=False), Caller("grower", "BIRCH"), False),
        (consistency(lots()[:1], consent=False), Caller("specialist"), True),
    ],
)
def test_brewers_read_from_five_lots_over_two_years_and_with_consent(
    found: Consistency, who: Caller, reads: bool
) -> None:
    if reads:
        require_readable(found, who)
        return
    with pytest.raises(NotAllowed):
        require_readable(found, who)
