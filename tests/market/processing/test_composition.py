from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.goods.lots import BLEND, Lot, Step
from service.market.people.access import ANYONE, Caller
from service.market.processing.composition import (
    figures_before,
    grower_fractions,
    label_parts,
    origin_of,
    shares_of,
)
from service.market.processing.steps import Edge
from tests.factories import NOW, LabReportFactory, LotFactory

DONE = date(2026, 11, 1)


def lot(code: str, grower: str = "ALDER", mass: Any = 100, *, alpha: Any = 5.0, **told: Any) -> Lot:
    reports = () if alpha is None else (LabReportFactory(code="R1", alpha_percent=alpha, **told),)
    return LotFactory(code=code, grower_code=grower, mass_kg=Decimal(mass), reports=reports)


def edge(from_code: str, into_code: str, mass: Any, brought: Any = None) -> Edge:
    kept = Decimal(mass)
    return Edge(from_code=from_code, into_code=into_code, mass_kg=kept, brought_kg=Decimal(brought or mass))


def step(kind: str = "blending") -> Step:
    return Step(lot_code="B", kind=kind, began_on=DONE, done_on=DONE, made_at=NOW, made_by="x")


def origin(*parts: tuple[Lot, Any], kind: str = "blending", caller: Any = None) -> Any:
    lots = {part.code: part for part, _ in parts}
    edges = [edge(part.code, "B", mass) for part, mass in parts]
    whole = lot("B", mass=sum(e.mass_kg for e in edges), alpha=None)
    return origin_of(
        whole,
        step(kind),
        edges,
        {**lots, "B": whole},
        caller=caller or Caller("specialist"),
        is_committed=False,
    )


def test_figures_are_weighted_by_mass_of_like_methods() -> None:
    made = origin((lot("A", alpha=6.0), 12), (lot("C", alpha=7.5), 8))

    assert made.alpha_percent.estimate == pytest.approx(6.6)
    assert made.alpha_percent.low < 6.6 < made.alpha_percent.high
    assert made.beta_percent.estimate == pytest.approx(3.9)
    assert made.words == (
        "Reckoned by mass from what was analysed of the parts, as is; what storage took since the sampling is not"
        " taken off, and nobody measured the product.",
    )


def test_dry_figures_are_brought_to_one_basis_first() -> None:
    dry = lot("A", alpha=10.0, basis="dry", moisture_percent=10.0)

    assert origin((dry, 10), (lot("C", alpha=5.0), 10)).alpha_percent.estimate == pytest.approx(7.0)
    # On the dry basis without the moisture nobody knows the figure of the hops as they are.
    unknown = origin((lot("A", alpha=10.0, basis="dry", moisture_percent=None), 10), (lot("C"), 10))
    assert unknown.alpha_percent is None
    assert "on a basis that is known" in unknown.words[0]


@pytest.mark.parametrize(
    ("methods", "words"),
    [
        (({"alpha_beta": "asbc_hops_14"}, {"alpha_beta": "asbc_hops_6"}), "unlike methods"),
        (({"alpha_beta": "other"}, {"alpha_beta": "other"}), "by like methods (other)"),
        (({}, {}), "no named method"),
    ],
)
def test_unlike_methods_are_not_averaged(methods: Any, words: str) -> None:
    parts = [(lot(code, methods=told), 10) for code, told in zip("AC", methods, strict=True)]

    made = origin(*parts)

    assert made.alpha_percent is None
    assert any(words in said for said in made.words)


def test_a_part_that_was_split_off_is_reckoned_from_nothing_since_its_own_reports_speak() -> None:
    made = origin((lot("A"), 10), kind="splitting")

    assert (made.alpha_percent, made.words) == (None, ())
    assert made.parts[0].share_percent == 100


def test_what_was_sampled_after_the_step_says_nothing_of_what_went_in() -> None:
    part = lot("A", sampled_on=date(2026, 11, 2))

    assert figures_before(part, step()).alpha_percent is None
    assert figures_before(part, None).alpha_percent is not None


def test_shares_walk_through_pools_to_the_growers() -> None:
    lots = {code: lot(code, grower) for code, grower in (("A", "ALDER"), ("R", "ROWAN"), ("P", "ALDER"))}
    lots["B"] = lot("B", "BIRCH", 60)
    edges = [edge("A", "P", 75, 80), edge("R", "P", 25, 27), edge("P", "B", 20, 24), edge("A", "B", 40, 48)]

    shares = shares_of(lots["B"], step("pelletizing"), edges, lots)

    assert grower_fractions(lots["B"], edges, lots) == {"ALDER": Fraction(11, 12), "ROWAN": Fraction(1, 12)}
    assert [(s.grower_code, s.mass_kg, s.brought_kg) for s in shares] == [
        ("ALDER", Decimal(55), Decimal(66)),
        ("ROWAN", Decimal(5), Decimal(6)),
    ]
    assert shares[0].alpha_kg is not None
    assert shares[0].alpha_kg.estimate == pytest.approx(66 * 0.05)


def test_without_an_alpha_there_is_no_alpha_share() -> None:
    made = origin((lot("A"), 10), (lot("R", "ROWAN", alpha=None), 10))

    assert [(s.grower_code, s.alpha_kg is None) for s in made.shares] == [("ALDER", False), ("ROWAN", True)]


@given(st.lists(st.integers(1, 100_000), min_size=1, max_size=6))
def test_the_growers_shares_are_the_whole_lot_to_the_gram(grams: list[int]) -> None:
    parts = [(lot(f"L{n}", f"G{n % 4}"), Decimal(mass) / 1000) for n, mass in enumerate(grams)]

    made = origin(*parts)

    assert sum(s.mass_kg for s in made.shares) == Decimal(sum(grams)) / 1000
    assert sum(s.share_percent for s in made.shares) == pytest.approx(100)
    assert sum(p.share_percent for p in made.parts) == pytest.approx(100)


def test_anybody_reads_what_a_label_would_say_and_no_more() -> None:
    parts = ((lot("A"), 30), (lot("R", "ROWAN"), 10))

    label = origin(*parts, caller=ANYONE)

    assert [(p.lot_code, p.grower_code, p.mass_kg, p.share_percent) for p in label.parts] == [
        (None, "ALDER", None, 75.0),
        (None, None, None, 25.0),
    ]
    assert (label.shares, label.parts[1].figures) == ((), None)
    own = origin(*parts, caller=Caller("grower", "ROWAN"))
    assert [p.lot_code for p in own.parts] == [None, "R"]
    assert [s.grower_code for s in own.shares] == ["ROWAN"]


def test_a_label_names_each_cultivar_and_crop_through_blends_of_blends() -> None:
    lots = {code: lot(code) for code in ("A", "M")}
    lots["F"] = replace(lot("F"), cultivar="Fuggle", crop_year=2025)
    lots["B"] = replace(lot("B"), cultivar=BLEND, crop_year=None)
    lots["M"] = replace(lots["M"], cultivar=BLEND, crop_year=None)
    edges = [edge("A", "M", 50), edge("F", "M", 50), edge("M", "B", 60), edge("A", "B", 40)]

    assert [(p.cultivar, p.crop_year, p.share_percent) for p in label_parts(lots["B"], edges, lots)] == [
        ("Willamette", 2026, 70.0),
        ("Fuggle", 2025, 30.0),
    ]
