"""Physical quality: what a report may say, which figure stands, what seeds are called, how cones were sorted."""

from datetime import date, timedelta
from typing import Any

import pytest

from service.errors import IllegalStep, ImpossibleReport, InvalidRequest, NotFound
from service.facts import replace
from service.market.goods.lots import Lot
from service.market.goods.quality_reports import (
    ConeMass,
    GivenSort,
    QualityReport,
    accept_quality_report,
    correct_quality,
    physical_quality,
)
from service.reference.cone_classes import shipped_cone_classes
from tests.factories import NOW, TODAY, LotFactory

REPORT = QualityReport(
    code="Q1",
    measured_by="Quarry Lane Laboratory",
    drawn_by="grower",
    sampled_on=date(2026, 9, 3),
    seed_percent=1.2,
    leaf_and_stem_percent=3.8,
    filed_at=NOW,
    filed_by="grower:ALDER",
)
LOT = LotFactory(origin_country="DE")


def accepted(report: QualityReport = REPORT, sort: GivenSort | None = None, lot: Lot = LOT) -> QualityReport:
    return accept_quality_report(report, sort, lot=lot, classes=shipped_cone_classes(), today=TODAY)


def test_grams_of_a_sorted_sample_give_the_percentages() -> None:
    grams = replace(
        REPORT,
        seed_percent=None,
        leaf_and_stem_percent=None,
        sample_g=250.0,
        leaf_and_stem_g=9.5,
        waste_g=6.25,
        seeds_g=3.0,
    )

    made = accepted(grams)

    found = (made.leaf_and_stem_percent, made.waste_percent, made.seed_percent)
    assert found == pytest.approx((3.8, 2.5, 1.2))
    assert made.seeds_g == 3.0


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"sampled_on": TODAY + timedelta(days=2)}, "#/sampled_on"),
        ({"sampled_on": date(2026, 8, 28)}, "#/sampled_on"),
        ({"seeds_g": 3.0, "sample_g": 100.0}, "#/seed_percent"),
        ({"waste_g": 3.0}, "#/sample_g"),
        ({"corrects": "Q1"}, "#/reason"),
        ({"reason": "a slip"}, "#/corrects"),
    ],
    ids=str,
)
def test_what_cannot_be_of_a_report_is_named(changed: dict[str, Any], pointer: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        accepted(replace(REPORT, **changed))

    assert [fault["pointer"] for fault in refused.value.facts["errors"]] == [pointer]  # type: ignore[attr-defined]


def test_pellets_are_not_sorted() -> None:
    with pytest.raises(InvalidRequest, match="measure the cones before"):
        accepted(lot=LotFactory(form="pellet"))


@pytest.mark.parametrize(
    "changed",
    [
        {"seed_percent": 60.0, "leaf_and_stem_percent": 50.0},
        {"seed_percent": None, "sample_g": 100.0, "seeds_g": 101.0},
        {
            "seed_percent": None,
            "leaf_and_stem_percent": None,
            "sample_g": 100.0,
            "seeds_g": 60.0,
            "waste_g": 50.0,
        },
    ],
    ids=str,
)
def test_parts_over_the_whole_are_impossible(changed: dict[str, Any]) -> None:
    with pytest.raises(ImpossibleReport):
        accepted(replace(REPORT, **changed))


@pytest.mark.parametrize(
    ("masses_g", "pointer"),
    [({"green": 3.0}, "#/cone_sort/masses_g/green"), ({"ripe": 0.0}, "#/cone_sort/masses_g")],
    ids=str,
)
def test_cones_are_sorted_into_the_classes_there_are(masses_g: dict[str, float], pointer: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        accepted(sort=GivenSort(masses_g=masses_g))

    assert refused.value.facts["errors"][0]["pointer"] == pointer  # type: ignore[index]


def test_the_order_of_the_classes_is_the_regions_not_the_senders() -> None:
    made = accepted(sort=GivenSort(masses_g={"over_ripe": 5.0, "ripe": 45.0}, cones_counted=300))

    assert [cone.code for cone in made.cones] == ["ripe", "over_ripe"]
    assert made.cones_counted == 300


def test_each_figure_comes_from_the_standing_report_sampled_last() -> None:
    later = replace(
        REPORT, code="Q2", sampled_on=date(2026, 9, 5), seed_percent=0.4, leaf_and_stem_percent=None
    )
    same_day = replace(later, code="Q3", seed_percent=0.5)
    wrong = replace(later, code="Q4", sampled_on=date(2026, 9, 9), corrected_by="Q5", seed_percent=9.0)

    stands = physical_quality([REPORT, later, same_day, wrong], LOT)

    assert stands.seed_percent is not None
    assert stands.leaf_and_stem_percent is not None
    assert (stands.seed_percent.report, stands.seed_percent.value) == ("Q3", 0.5)
    assert (stands.leaf_and_stem_percent.report, stands.waste_percent) == ("Q1", None)


@pytest.mark.parametrize(
    ("country", "sampled_on", "seed_percent", "word"),
    [
        ("DE", date(2026, 9, 3), 2.0, ("seedless", "2024/602")),
        ("DE", date(2026, 9, 3), 2.1, ("seeded", "2024/602")),
        ("US", date(2021, 9, 3), 2.0, ("seeded", "1295/2008")),
        ("US", date(2026, 9, 3), 2.0, None),
        (None, date(2026, 9, 3), 2.0, None),
    ],
)
def test_the_act_where_the_lot_grew_on_the_day_of_the_sample_gives_the_word(
    country: str | None, sampled_on: date, seed_percent: float, word: tuple[str, str] | None
) -> None:
    report = replace(REPORT, sampled_on=sampled_on, seed_percent=seed_percent)

    found = physical_quality([report], LotFactory(origin_country=country)).seed_word

    assert (None if found is None else (found.word, found.rule)) == word


def test_a_sort_says_what_its_intervals_rest_on() -> None:
    cones = (
        ConeMass(code="ripe", name="ripe", mass_g=24.0),
        ConeMass(code="over_ripe", name="over-ripe", mass_g=6.0),
    )
    weighed = physical_quality([replace(REPORT, cones=cones)], LOT).cone_sort
    counted = physical_quality([replace(REPORT, cones=cones, cones_counted=250)], LOT).cone_sort
    wet = physical_quality([replace(REPORT, cones=cones)], LotFactory(form="wet_hop")).cone_sort

    assert weighed is not None
    assert counted is not None
    assert wet is not None
    # 30 g of cones of 0.15 g are 200, which tell as much as 160 of equal mass.
    assert (weighed.cones, weighed.effective_cones) == pytest.approx((200, 160))
    assert (counted.cones, counted.effective_cones, wet.cones) == pytest.approx((250, 200, 50))
    assert (len(weighed.assumptions), len(counted.assumptions)) == (2, 1)
    assert all("assumption, no source" in said for said in weighed.assumptions)
    ripe = counted.shares[0].share_percent
    assert (ripe.estimate, ripe.low, ripe.high) == pytest.approx((80, 74.95, 84.25), abs=0.1)


def test_a_correction_marks_the_old_report_once() -> None:
    new = replace(REPORT, code="Q2", corrects="Q1", reason="a slip of the pen")

    old = correct_quality([REPORT], new)

    assert old is not None
    assert (old.code, old.corrected_by) == ("Q1", "Q2")
    assert correct_quality([REPORT], replace(REPORT, code="Q2")) is None
    with pytest.raises(IllegalStep):
        correct_quality([old], replace(new, code="Q3"))
    with pytest.raises(NotFound):
        correct_quality([], new)
