"""An estimate names its inputs, its assumptions and its cautions."""

from datetime import date

from service.market.storage.storage import StoragePlan, storage_outlook
from service.reference.six_month_storage import six_month_loss
from tests.factories import LabReportFactory, ListedLotFactory, SpellFactory

DAY = date(2027, 2, 1)


def test_every_published_row_is_shown() -> None:
    # cultivars: USDA-ARS accession 21092 (40 % left) and the growers' association (48 to 52 %), both read.
    outlook = storage_outlook(ListedLotFactory(), on=DAY, loss=six_month_loss("Cascade"))
    rows = outlook.inputs["six_month_rows"]

    assert sorted((row["remaining_percent_min"], row["remaining_percent_max"]) for row in rows) == [
        (40.0, 40.0),
        (48.0, 52.0),
    ]


def test_a_cultivar_without_a_figure_says_that_the_house_default_stands() -> None:
    outlook = storage_outlook(ListedLotFactory(), on=DAY, loss=six_month_loss("Willamette"))

    assert any("33 %" in words and "assumption, no source" in words for words in outlook.assumptions)


def test_assumptions_name_each_packing_once_and_the_default_for_cores() -> None:
    spells = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1), stored_at_c=25.0))
    lot = ListedLotFactory(
        form="pellet", spells=spells, reports=(LabReportFactory(code="R1", packages_cored=None),)
    )

    words = storage_outlook(lot, on=DAY, loss=six_month_loss("Cascade")).assumptions

    assert sum(text.startswith("barrier pack under vacuum") for text in words) == 1
    assert any("one package is taken to have been cored" in text for text in words)
    assert any("pellets lose acids 0.63 times" in text for text in words)
    assert any("over 20 °C" in text for text in words)


def test_the_inputs_tell_each_spell_with_its_factors() -> None:
    plan = StoragePlan(from_on=date(2026, 12, 1), kept_at_c=5.0, packing="open")

    spells = storage_outlook(ListedLotFactory(), on=DAY, loss=six_month_loss("Cascade"), plan=plan).inputs[
        "spells"
    ]

    assert [(spell["packing"], spell["until"]) for spell in spells] == [
        ("barrier_vacuum", "2026-12-01"),
        ("open", "2027-02-01"),
    ]  # type: ignore[attr-defined]
    assert spells[1]["temperature_factor"] == 0.5  # type: ignore[index]


def test_cold_barrier_packs_are_told_of_the_gap_to_two_years_of_measurement() -> None:
    outlook = storage_outlook(ListedLotFactory(), on=DAY, loss=six_month_loss("Cascade"))

    assert any("10 to 35 %" in words for words in outlook.cautions)


def test_a_laboratory_that_states_its_uncertainty_needs_no_house_figure() -> None:
    stated = ListedLotFactory(reports=(LabReportFactory(code="R1", uncertainty={"alpha_percent": 0.2}),))

    words = storage_outlook(stated, on=DAY, loss=six_month_loss("Cascade")).assumptions

    assert not any("between laboratories" in text for text in words)
