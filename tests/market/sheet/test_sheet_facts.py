"""The facts of a sheet: what is reckoned, what is not, and that the fingerprint is of what is printed."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from service.facts import replace
from service.market.sheet.sheet_doses import doses_for
from service.market.sheet.sheet_facts import STORAGES_C, printed
from service.market.storage.storage import StoragePlan, storage_outlook
from service.reference.six_month_storage import six_month_loss
from service.science.bitterness import ibu, sg_from_plato, tinseth_utilization_percent
from service.science.uncertainty import Estimate
from tests.factories import TODAY, LabReportFactory, SpellFactory
from tests.sheets.made import analysed, announced, awaiting, crowded, facts_of, wet


@pytest.mark.parametrize("lot", [analysed(), crowded()], ids=["one spell", "twenty spells"])
def test_each_course_is_the_outlook_of_a_buyer_who_stores_so(lot) -> None:
    facts = facts_of(lot)

    for course in facts.courses:
        plan = StoragePlan(from_on=TODAY, kept_at_c=course.kept_at_c, packing=lot.packing)
        for point in (course.points[0], course.points[7], course.points[18]):
            outlook = storage_outlook(lot, on=point.on, loss=six_month_loss(lot.cultivar), plan=plan)

            assert point.alpha_percent.estimate == pytest.approx(outlook.alpha_percent.estimate, rel=1e-12)
            assert point.alpha_percent.low == pytest.approx(outlook.alpha_percent.low, rel=1e-12)
            assert point.alpha_percent.high == pytest.approx(outlook.alpha_percent.high, rel=1e-12)


def test_the_courses_are_eighteen_months_in_three_storages_the_colder_the_better() -> None:
    facts = facts_of(analysed())
    ends = [course.points[-1].alpha_percent.estimate for course in facts.courses]

    assert {course.storage: course.kept_at_c for course in facts.courses} == STORAGES_C
    assert [point.months for point in facts.courses[0].points] == list(range(19))
    assert ends == sorted(ends, reverse=True)
    assert facts.courses[0].points[0].on == TODAY


def test_the_sheet_begins_the_day_after_today_where_the_sample_is_dated_so() -> None:
    tomorrow = TODAY + timedelta(days=1)
    facts = facts_of(analysed(report={"sampled_on": tomorrow, "analysed_on": tomorrow}))

    assert facts.outlook.on == tomorrow
    assert facts.alpha_used_on == tomorrow


def test_each_dose_gives_ten_ibu_in_wort_of_twelve_plato() -> None:
    dose = doses_for(Estimate(5.0, 4.0, 6.0))[0]
    utilization = tinseth_utilization_percent(gravity_sg=sg_from_plato(gravity_plato=12.0), minutes=60)

    def bitterness(grams: float, alpha_percent: float) -> float:
        return ibu(utilization_percent=utilization, alpha_percent=alpha_percent, mass_g=grams, volume_l=100.0)

    assert bitterness(dose.g_per_hl.estimate, 5.0) == pytest.approx(10.0)
    assert bitterness(dose.g_per_hl.low, 6.0) == pytest.approx(10.0)
    assert bitterness(dose.g_per_hl.high, 4.0) == pytest.approx(10.0)


def test_ounces_per_barrel_are_grams_per_hectolitre_by_definition() -> None:
    dose = doses_for(Estimate(5.0, 4.0, 6.0))[0]

    # 28.349523125 g an ounce, 117.347765304 L a barrel: NIST Handbook 44, Appendix C.
    assert dose.oz_per_us_barrel.estimate == pytest.approx(
        dose.g_per_hl.estimate * 1.17347765304 / 28.349523125, rel=1e-12
    )


def test_a_whirlpool_takes_more_than_a_short_boil_and_that_more_than_a_long_one() -> None:
    grams = [dose.g_per_hl.estimate for dose in doses_for(Estimate(5.0, 4.0, 6.0))]

    assert grams == sorted(grams)
    assert [(d.at, d.minutes, d.temperature_c) for d in doses_for(Estimate(5.0, 4.0, 6.0))] == [
        ("boil", 60.0, None),
        ("boil", 15.0, None),
        ("whirlpool", 20.0, 80.0),
    ]


def test_no_dose_is_reckoned_of_hardly_any_alpha() -> None:
    assert doses_for(Estimate(0.02, 0.005, 0.08)) == ()


@pytest.mark.parametrize(
    ("lot", "reason"),
    [
        (announced(), "announced"),
        (wet(), "wet_hop"),
        (awaiting(), "no_alpha"),
        (analysed(spells=()), "not_stored"),
    ],
    ids=["announced", "wet", "awaiting", "storage unknown"],
)
def test_what_cannot_be_reckoned_is_absent_with_its_reason(lot, reason: str) -> None:
    facts = facts_of(lot)

    assert facts.without_storage == reason
    assert facts.outlook is None
    assert facts.courses == ()


def test_without_a_storage_the_doses_count_with_the_alpha_as_sampled() -> None:
    facts = facts_of(analysed(spells=()))

    assert facts.alpha_used.estimate == 5.4
    assert facts.alpha_used_on == date(2026, 9, 3)
    assert len(facts.doses) == 3


def test_oil_is_dosed_from_the_measured_oil_and_from_nothing_else() -> None:
    assert facts_of(analysed()).oil_ml_per_hl == 1.2
    assert facts_of(analysed(report={"oil_ml_per_100g": None})).oil_ml_per_hl is None
    assert facts_of(analysed(report={"oil_ml_per_100g": 12.0})).oil_ml_per_hl is None


def test_the_sheet_cautions_of_what_is_unusual_first_with_its_source_and_once() -> None:
    facts = facts_of(analysed(report={"moisture_percent": 13.0, "hop_storage_index": 0.2}))

    assert facts.cautions[0] == (
        "Over 12 % moisture hops brown, turn musty and mould more easily. 8 to 10 % is the target, 8 to 12 % "
        "the usual range. (D. Brown, MSU Extension 2013-09-16; UVM Extension, hop laboratory)"
    )
    assert sum("fresh baseline of 0.25" in words for words in facts.cautions) == 1


def test_an_official_sample_is_not_told_to_speak_for_itself_only() -> None:
    words = "An official sample speaks for the lot; a submitted one speaks for the sample only."

    assert words in facts_of(analysed()).cautions
    assert words not in facts_of(analysed(report={"drawn_by": "official"})).cautions


def test_the_fingerprint_is_of_what_is_printed_and_of_nothing_else() -> None:
    lot = analysed()
    buyers = LabReportFactory(code="R2", drawn_by="buyer", alpha_percent=9.9)
    facts = facts_of(lot)
    unprinted = replace(
        lot,
        price_per_kg=Decimal(9),
        currency="CAD",
        held_kg=Decimal(50),
        taken_kg=Decimal(5),
        note="by telephone only",
        mass_kg=Decimal("120.500"),
        reports=(*lot.reports, buyers),
    )

    assert facts_of(unprinted).fingerprint == facts.fingerprint
    assert facts_of(lot, grower={"email": "new@example.org"}).fingerprint == facts.fingerprint


@pytest.mark.parametrize(
    "changed",
    [
        lambda: facts_of(analysed(report={"alpha_percent": 5.41})),
        lambda: facts_of(analysed(report={"laboratory": "Another Laboratory"})),
        lambda: facts_of(analysed(mass_kg=Decimal("120.501"))),
        lambda: facts_of(analysed(spells=(SpellFactory(stored_at_c=-1.9),))),
        lambda: facts_of(analysed(), grower={"name": "Alderbrook Hop Yards"}),
        lambda: facts_of(analysed(), revision=4),
        lambda: facts_of(analysed(), revision=None),
        lambda: facts_of(analysed(), today=TODAY + timedelta(days=1)),
    ],
    ids=["alpha", "laboratory", "mass", "storage", "grower", "revision", "preview", "day"],
)
def test_whatever_is_printed_changes_the_fingerprint(changed) -> None:
    assert changed().fingerprint != facts_of(analysed()).fingerprint


def test_a_fingerprint_is_sixty_four_signs_and_the_same_for_the_same_facts() -> None:
    first, second = facts_of(analysed()).fingerprint, facts_of(analysed()).fingerprint

    assert first == second
    assert len(first) == 64
    assert set(first) <= set("0123456789abcdef")


def test_nothing_private_is_printed() -> None:
    facts = facts_of(
        analysed(price_per_kg=Decimal("24.75"), currency="CAD"), grower={"email": "yard@example.org"}
    )

    assert "yard@example.org" not in str(printed(facts))
    assert "24.75" not in str(printed(facts))
    assert "44.95" not in str(printed(facts))
