"""The second page: only where there is a history, every spell and report in it, and none of a buyer's."""

from datetime import date

from service.sheets.lot_history import history_of
from service.sheets.words import ENGLISH
from tests.factories import LabReportFactory, SpellFactory
from tests.sheets.made import analysed, facts_of


def test_one_spell_and_no_correction_are_no_history() -> None:
    many = tuple(LabReportFactory(code=f"R{n}") for n in range(1, 21))

    assert history_of(facts_of(analysed(reports=many)), ENGLISH) == ()


def test_each_spell_has_its_days_packing_and_temperature() -> None:
    spells = (
        SpellFactory(stored_at_c=18.0, packing="open"),
        SpellFactory(began_on=date(2026, 9, 10), packing="barrier_low_oxygen", residual_oxygen_percent=1.5),
    )

    assert history_of(facts_of(analysed(spells=spells)), ENGLISH)[0].lines == (
        "29 Aug 2026 to 10 Sep 2026: open or loose, 18 °C (64.4 °F)",
        "10 Sep 2026 on: barrier pack with measured low oxygen, −2 °C (28.4 °F), residual oxygen 1.5 %",
    )


def test_a_corrected_report_stays_beside_the_one_that_corrects_it() -> None:
    wrong = LabReportFactory(code="R1", alpha_percent=54.0, beta_percent=None, corrected_by="R2")
    right = LabReportFactory(code="R2", corrects="R1", reason="decimal point")
    lines = history_of(facts_of(analysed(reports=(wrong, right))), ENGLISH)[1].lines

    assert lines == (
        "R2: Quarry Lane Laboratory; drawn by the grower, 3 Sep 2026; 3 packages cored; analysed 8 Sep 2026; "
        "alpha 5.4 %, beta 3.9 %, HSI 0.27, as is. Corrects R1: decimal point",
        "R1: Quarry Lane Laboratory; drawn by the grower, 3 Sep 2026; 3 packages cored; analysed 8 Sep 2026; "
        "alpha 54 %, HSI 0.27, as is. Corrected by R2",
    )


def test_a_buyers_report_is_no_ones_business() -> None:
    spells = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1)))
    buyers = LabReportFactory(code="R2", drawn_by="buyer", laboratory="The Buyer's Own")
    lot = analysed(spells=spells)
    parts = history_of(facts_of(analysed(spells=spells, reports=(*lot.reports, buyers))), ENGLISH)

    assert len(parts[1].lines) == 1
    assert "The Buyer's Own" not in str(parts)


def test_storage_without_any_report_is_a_history_of_storage_alone() -> None:
    spells = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1)))
    parts = history_of(facts_of(analysed(spells=spells, reports=())), ENGLISH)

    assert [part.heading for part in parts] == ["Storage"]


def test_a_report_without_acids_says_so() -> None:
    spells = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1)))
    report = LabReportFactory(code="R1", alpha_percent=None, beta_percent=None, hop_storage_index=None)
    parts = history_of(facts_of(analysed(spells=spells, reports=(report,))), ENGLISH)

    assert parts[1].lines[0].endswith("analysed 8 Sep 2026; no acids")


def test_a_report_from_before_pelletizing_says_so() -> None:
    cones = LabReportFactory(code="R1", before_pelletizing=True)
    lines = history_of(
        facts_of(analysed(form="pellet", reports=(LabReportFactory(code="R2"), cones))), ENGLISH
    )[1].lines

    assert [line.endswith("Of the cones, before pelletizing") for line in lines] == [True, False]
