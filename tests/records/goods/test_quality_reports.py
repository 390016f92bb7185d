"""Reports of physical quality in the records, and the classes of cones."""

from datetime import date

import pytest
from sqlalchemy.orm import Session

from service.facts import replace
from service.market.goods.quality_reports import ConeMass, QualityReport
from service.records.goods import lots, quality_reports
from service.records.people import parties
from service.reference.cone_classes import ConeClass, shipped_cone_classes
from tests.factories import NOW, LotFactory, PartyFactory

REPORT = QualityReport(
    measured_by="Quarry Lane Laboratory",
    drawn_by="official",
    sampled_on=date(2026, 9, 3),
    method_note="two sieves",
    sample_g=250.0,
    seeds_g=3.0,
    leaf_and_stem_g=9.5,
    waste_g=6.25,
    seed_percent=1.2,
    leaf_and_stem_percent=3.8,
    waste_percent=2.5,
    cones=(ConeMass(code="ripe", name="ripe", mass_g=24.0), ConeMass(code="odd", name="odd", mass_g=6.5)),
    cones_counted=250,
    corrects="Q0",
    reason="a slip",
    filed_at=NOW,
    filed_by="grower:ALDER",
)


@pytest.fixture(autouse=True)
def goods(session: Session) -> None:
    parties.add(session, PartyFactory(code="ALDER"))
    for code in ("A1", "A2"):
        lots.add(session, LotFactory(code=code), cultivar_key="WILLAMETTE")


def test_a_report_comes_back_as_it_went_in(session: Session) -> None:
    first = quality_reports.add(session, "A1", REPORT)
    second = quality_reports.add(session, "A1", replace(REPORT, cones=(), cones_counted=None))
    quality_reports.mark(session, "A1", replace(first, corrected_by="Q2"))
    session.expire_all()

    assert [report.code for report in (first, second)] == ["Q1", "Q2"]
    assert quality_reports.search(session, "A1") == [replace(first, corrected_by="Q2"), second]
    assert quality_reports.search(session, "A2") == ()


def test_a_part_carries_what_stands_of_its_whole_and_says_from_where(session: Session) -> None:
    first = quality_reports.add(session, "A1", REPORT)
    quality_reports.mark(session, "A1", replace(first, corrected_by="Q2"))
    second = quality_reports.add(session, "A1", replace(REPORT, corrects="Q1"))

    quality_reports.carry(session, from_code="A1", into_code="A2")

    (carried,) = quality_reports.search(session, "A2")
    assert carried == replace(second, code="Q1", carried_from="A1/Q2", corrects=None, reason=None)
    assert quality_reports.carried_by(session, "A1", "Q2") == [("A2", carried)]
    assert quality_reports.carried_by(session, "A1", "Q1") == []


def test_the_classes_set_last_stand(session: Session) -> None:
    assert list(quality_reports.cone_classes(session)) == list(shipped_cone_classes())
    for name in ("good", "better"):
        classes = [ConeClass(code=name, name=name), ConeClass(code="bad", name="bad", words="brown")]
        quality_reports.set_cone_classes(session, classes, at=NOW, by="specialist")

    assert quality_reports.cone_classes(session) == classes
