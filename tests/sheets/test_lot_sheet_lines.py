"""The words of the lot sheet as data: each figure in the words is the figure of the facts."""

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.facts import Fact, field_names
from service.market.goods.cultivars import CultivarStatus
from service.market.goods.lots import Package
from service.sheets.lot_sheet_lines import lot_sheet_lines
from tests.factories import SpellFactory
from tests.sheets.made import analysed, announced, awaiting, crowded, facts_of, wet


def every_text(part: Any) -> Iterator[str]:
    """Every text in a structure."""
    if isinstance(part, str):
        yield part
    elif isinstance(part, Fact):
        for name in field_names(type(part)):
            yield from every_text(getattr(part, name))
    elif isinstance(part, tuple):
        for inner in part:
            yield from every_text(inner)


@pytest.mark.parametrize(
    "lot",
    [analysed(), announced(), wet(), awaiting(), crowded(), analysed(spells=())],
    ids=["analysed", "announced", "wet", "awaiting", "crowded", "storage unknown"],
)
@pytest.mark.parametrize("revision", [None, 3], ids=["preview", "issued"])
def test_no_text_names_a_thing_of_the_machine(lot, revision: int | None) -> None:
    lines = lot_sheet_lines(facts_of(lot, revision=revision))
    # The one text with a place left open is filled when the page knows what it leaves out.
    texts = [text for text in every_text(lines) if text != lines.more]

    assert [
        text for text in texts if re.search(r"\bNone\b|\bnan\b|\binf\b|[<{}]|Decimal|\be[-+]\d", text)
    ] == []
    assert all(texts[:3])


def test_the_head_says_what_it_is_and_whose() -> None:
    lines = lot_sheet_lines(facts_of(analysed(harvested_until=date(2026, 8, 31))))

    assert lines.title == "Lot spec sheet ALDER-2026-07: Willamette"
    assert lines.under_headline == "Lot ALDER-2026-07: 2026 crop, whole cones"
    assert lines.what == (
        "What it is",
        "Willamette",
        "2026 crop, whole cones",
        "picked 29 Aug 2026 to 31 Aug 2026",
        "aroma hop (common practice, no source)",
    )
    assert lines.whose == (
        "Whose, and where",
        "Alderbrook Hop Yard [ALDER]",
        "Alder Brook; country CA",
        "grower's own number B-14",
    )
    assert lines.goods == (
        "Packages and net mass",
        "net 120.5 kg (265.7 lb)",
        "6 × box of 20 kg (44.1 lb)",
        "loose 0.5 kg (1.1 lb)",
    )


def test_packages_that_make_up_the_lot_leave_nothing_loose() -> None:
    lines = lot_sheet_lines(
        facts_of(analysed(mass_kg=Decimal(40), packages=(Package(kind="foil", count=2, net_kg=Decimal(20)),)))
    )

    assert lines.goods[1:] == ("net 40 kg (88.2 lb)", "2 × foil pack of 20 kg (44.1 lb)")


def test_a_role_that_the_grower_gave_carries_no_mark() -> None:
    assert lot_sheet_lines(facts_of(awaiting())).what[-1] == "aroma hop"


def test_a_preview_says_so_and_an_issued_sheet_gives_its_revision() -> None:
    preview, issued = (lot_sheet_lines(facts_of(analysed(), revision=revision)) for revision in (None, 7))

    assert (preview.is_preview, preview.status) == (True, "PREVIEW of 25 Nov 2026, not issued")
    assert (issued.is_preview, issued.status) == (False, "Revision 7, issued 25 Nov 2026")


def test_an_announced_lot_gives_its_window_and_what_is_expected() -> None:
    lines = lot_sheet_lines(facts_of(announced()))

    assert "to be picked 20 Aug 2027 to 10 Sep 2027" in lines.what
    assert lines.goods[1] == "expected 300 kg (661.4 lb)"
    assert lines.storage[1:] == ("Not picked yet: nothing is reckoned of its storage.",)
    assert lines.doses == ()
    assert lines.doses_notes == ("No dose is reckoned: alpha acids were not measured.",)


def test_a_draft_without_mass_and_date_says_so() -> None:
    lines = lot_sheet_lines(
        facts_of(announced(expected_kg=None, harvest_window_from=None, harvest_window_to=None))
    )

    assert "picking not dated" in lines.what
    assert lines.goods[1:] == ("mass not recorded", "no list of packages recorded")


def test_a_lot_awaiting_analysis_says_so_of_each_figure() -> None:
    lines = lot_sheet_lines(facts_of(awaiting()))

    assert {figure.value for figure in lines.figures} == {"awaiting analysis"}
    assert lines.what[1] == "Own Seedling 7: as the grower names it, not in the books"
    assert lines.figures_notes == ("No lab report on file.",)


def test_wet_hops_have_no_storage_to_come() -> None:
    lines = lot_sheet_lines(facts_of(wet()))

    assert lines.storage[1:] == (
        "Wet hops are used within a day or two of picking: nothing is reckoned of their storage.",
    )
    assert lines.panels == ()


def test_storage_says_where_it_lies_and_what_that_left_with_interval() -> None:
    facts = facts_of(analysed())
    alpha, index = facts.outlook.alpha_percent, facts.outlook.hop_storage_index

    assert lot_sheet_lines(facts).storage == (
        "Storage since picking",
        "29 Aug 2026 on: barrier pack under vacuum, −2 °C (28.4 °F)",
        f"By 25 Nov 2026: alpha {alpha.estimate:.1f} ({alpha.low:.1f} to {alpha.high:.1f}) %, Hop Storage Index "
        f"{index.estimate:.2f} ({index.low:.2f} to {index.high:.2f}), estimates.",
    )


def test_storage_without_an_index_speaks_of_alpha_alone() -> None:
    lines = lot_sheet_lines(facts_of(analysed(report={"hop_storage_index": None})))

    assert lines.storage[2].startswith("By 25 Nov 2026: alpha ")
    assert "Index" not in lines.storage[2]


def test_each_storage_to_come_gives_two_ends_of_its_course() -> None:
    facts = facts_of(analysed())
    lines = lot_sheet_lines(facts)
    end = facts.courses[1].points[18].alpha_percent

    assert [panel.name for panel in lines.panels] == [
        "frozen, −18 °C (−0.4 °F)",
        "cold, 4 °C (39.2 °F)",
        "cellar, 12 °C (53.6 °F)",
    ]
    assert (
        lines.panels[1].ends[1] == f"after 18 months {end.estimate:.1f} ({end.low:.1f} to {end.high:.1f}) %"
    )
    assert lines.panels[1].points[18] == (18, end)


def test_doses_are_metric_with_customary_beside_and_name_their_terms() -> None:
    facts = facts_of(analysed())
    lines, dose = lot_sheet_lines(facts), facts.doses[2]
    ends = [f"{x:.0f}" for x in (dose.g_per_hl.estimate, dose.g_per_hl.low, dose.g_per_hl.high)]
    ounces = [
        f"{x:.0f}"
        for x in (dose.oz_per_us_barrel.estimate, dose.oz_per_us_barrel.low, dose.oz_per_us_barrel.high)
    ]

    assert lines.doses_heading == "For 10 IBU, an estimate"
    assert [said.name for said in lines.doses] == [
        "boiled 60 min",
        "boiled 15 min",
        "whirlpool 20 min at 80 °C (176 °F)",
    ]
    assert lines.doses[2].metric == f"{ends[0]} ({ends[1]} to {ends[2]}) g/hL"
    assert lines.doses[2].customary == f"{ounces[0]} ({ounces[1]} to {ounces[2]}) oz/US bbl"
    assert lines.doses_notes[0].startswith("Tinseth's utilization in wort of 12 °P")
    assert "estimated for 25 Nov 2026" in lines.doses_notes[0]
    assert (
        lines.doses_notes[1]
        == "1.2 mL of oil per hL in each 100 g/hL dosed: oil in the hops, not in the beer."
    )


def test_doses_from_the_alpha_as_sampled_say_so() -> None:
    assert "as sampled 3 Sep 2026" in lot_sheet_lines(facts_of(analysed(spells=()))).doses_notes[0]


def test_hardly_any_alpha_gives_no_dose_and_says_so() -> None:
    lines = lot_sheet_lines(facts_of(analysed(report={"alpha_percent": 0.01})))

    assert lines.doses_notes[0] == "No dose is reckoned: there is hardly any alpha."


def test_parts_of_the_oil_add_up_with_what_is_not_named() -> None:
    lines = lot_sheet_lines(facts_of(analysed()))

    assert [part.words for part in lines.oil_parts] == [
        "48 % myrcene",
        "24 % humulene",
        "8 % caryophyllene",
        "5.5 % farnesene",
        "14.5 % not named",
    ]
    assert sum(part.percent for part in lines.oil_parts) == pytest.approx(100)
    assert lines.oil_heading == (
        "Parts of the oil: shares of the peak area; gas chromatography, share of peak area; R1"
    )


def test_many_parts_of_the_oil_are_counted_together() -> None:
    lines = lot_sheet_lines(facts_of(crowded()))

    assert len(lines.oil_parts) == 7
    assert lines.oil_parts[5].words == "80.5 % 35 others"
    assert lines.oil_parts[6].words == "8 % not named"


def test_parts_of_the_oil_that_make_it_all_leave_no_rest() -> None:
    lines = lot_sheet_lines(
        facts_of(analysed(report={"oil_shares_percent": {"myrcene": 60.0, "humulene": 40.2}}))
    )

    assert [part.words for part in lines.oil_parts] == ["60 % myrcene", "40.2 % humulene"]


def test_oil_that_nobody_measured_is_said_not_to_be() -> None:
    lines = lot_sheet_lines(facts_of(analysed(report={"oil_shares_percent": None, "oil_shares_basis": None})))

    assert (lines.oil_heading, lines.oil_parts) == ("Parts of the oil: not measured.", ())


def test_statements_say_what_the_books_do_not_hold() -> None:
    assert lot_sheet_lines(facts_of(analysed())).statements[:3] == (
        ("Sprays", "No spray record is kept here. Ask the grower."),
        ("Physical quality", "Not recorded here."),
        ("Certifications", "Not recorded here."),
    )


@pytest.mark.parametrize(
    ("country", "found", "said"),
    [
        ("CA", (), "in CA: unconfirmed (no source recorded)."),
        ("US", (), "day of checking not recorded)."),
        (
            "CA",
            (
                CultivarStatus(
                    cultivar_code="CASCADE",
                    country="CA",
                    status="protected",
                    source="the register",
                    checked_on=date(2026, 11, 2),
                ),
            ),
            "in CA: protected (the register; checked 2 Nov 2026).",
        ),
    ],
    ids=["unknown", "shipped", "found by the region"],
)
def test_plant_rights_name_country_status_source_and_day(country: str, found: tuple, said: str) -> None:
    lot = analysed(cultivar="Cascade", cultivar_code="CASCADE")
    name, words = lot_sheet_lines(facts_of(lot, grower={"country": country}, statuses=found)).statements[3]

    assert name == "Plant rights"
    assert said in words
    assert words.endswith("No legal opinion: ask the plant variety office.")


def test_earlier_storage_is_pointed_to_where_there_is_some() -> None:
    moved = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1), stored_at_c=4.0))
    lines = lot_sheet_lines(facts_of(analysed(spells=moved)))

    assert lines.storage[1] == (
        "1 Oct 2026 on: barrier pack under vacuum, 4 °C (39.2 °F). Earlier storage on page 2."
    )
    assert [part.heading for part in lines.history] == ["Storage", "Lab reports"]


def test_it_is_no_certificate_and_carries_the_fingerprint_of_its_facts() -> None:
    facts = facts_of(analysed())
    lines = lot_sheet_lines(facts)

    assert lines.certificate == "Not a certificate of analysis."
    assert lines.fingerprint == f"Fingerprint of the facts (SHA-256): {facts.fingerprint}"


def test_one_report_and_many_are_counted() -> None:
    assert "1 lab report on file." in lot_sheet_lines(facts_of(analysed())).figures_notes
    assert "20 lab reports on file." in lot_sheet_lines(facts_of(crowded())).figures_notes
