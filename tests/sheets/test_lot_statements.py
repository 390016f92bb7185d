"""What the sheet says of sprays, physical quality, certifications, plant rights and sorted cones."""

from datetime import date
from typing import Any

import pytest

from service.facts import replace
from service.market.goods.cultivars import CultivarStatus
from service.market.sheet.sheet_facts import LotSheetFacts
from service.sheets.lot_statements import cone_lines, statements
from service.sheets.words import ENGLISH
from tests.sheets.made import analysed, certified, facts_of, stated

PROTECTED = CultivarStatus(
    cultivar_code="WILLAMETTE",
    country="CA",
    status="protected",
    source="an invented register",
    checked_on=date(2026, 11, 1),
)
FULL = stated()


def said(name: str, facts: LotSheetFacts) -> str:
    return dict(statements(facts, ENGLISH))[name]


@pytest.mark.parametrize(
    ("lot", "beside", "words"),
    [
        ({}, {}, "A spray record is kept for block North 2, season 2026;"),
        (
            {},
            {"is_spray_record_kept": False},
            "No spray record was kept here for block North 2, season 2026.",
        ),
        ({"block": None}, {}, "No spray record is kept here. Ask the grower."),
        ({"block": None}, {"is_made_of_others": True}, "Made of other lots"),
    ],
    ids=str,
)
def test_the_sheet_says_whether_a_spray_record_is_kept(
    lot: dict[str, Any], beside: dict[str, Any], words: str
) -> None:
    assert words in said("Sprays", facts_of(certified(**lot), stated=stated(**beside)))


def test_each_percentage_names_who_measured_it_and_what_was_not_is_said() -> None:
    later = replace(
        FULL.quality_reports[0],
        code="Q2",
        measured_by="Own hands",
        drawn_by="grower",
        sampled_on=date(2026, 9, 9),
        leaf_and_stem_percent=None,
        waste_percent=None,
        seed_percent=0.4,
        cones=(),
    )
    first = replace(FULL.quality_reports[0], waste_percent=None)

    both = said("Physical quality", facts_of(certified(), stated=stated(quality_reports=(first, later))))

    assert both == (
        "seeds 0.4 % by weight (Own hands; drawn by the grower, 9 Sep 2026); leaf and stem 3.8 % by weight "
        "(Quarry Lane Laboratory; official sample, 3 Sep 2026). Not measured: waste."
    )


@pytest.mark.parametrize(
    ("country", "seed_percent", "words"),
    [
        ("DE", 2.0, "seeds 2 % (seedless in the words of 2024/602)"),
        ("DE", 2.1, "seeds 2.1 % (seeded in the words of 2024/602)"),
        ("CA", 2.0, "seeds 2 %, leaf"),
    ],
)
def test_the_word_of_an_act_stands_only_where_the_act_was_read(
    country: str, seed_percent: float, words: str
) -> None:
    report = replace(FULL.quality_reports[0], seed_percent=seed_percent)
    lot = certified(origin_country=country, origin_subdivision=None)

    assert words in said("Physical quality", facts_of(lot, stated=stated(quality_reports=(report,))))


def test_what_has_lapsed_is_said_after_what_holds() -> None:
    assert said("Certifications", facts_of(certified())) == (
        "Valley Organic (organic): Heron Certification, no. VO-17, valid until 31 Dec 2027. "
        "Clean Brook: LAPSED on 31 Oct 2026 (Heron Certification, no. 9)."
    )
    many = tuple(replace(certified().certifications[0], number=str(n)) for n in range(5))
    assert said("Certifications", facts_of(certified(certifications=many))).endswith("and 3 more, on line")


@pytest.mark.parametrize(
    ("licences", "status", "words"),
    [
        (
            FULL.licences,
            "protected",
            "Licence as the grower declares: Heron Breeding, no. HB-9, until 31 Aug 2027",
        ),
        ((), "protected", "The grower declared no licence here."),
        ((), "public", "in CA: public (an invented register; checked 1 Nov 2026). No legal opinion"),
        (
            (replace(FULL.licences[0], valid_until=date(2026, 10, 1)),),
            "protected",
            "The licence the grower declared ended on 1 Oct 2026",
        ),
        ((replace(FULL.licences[0], valid_until=None),), "protected", "no. HB-9; not checked here."),
    ],
)
def test_plant_rights_name_the_licence_and_never_a_verdict(
    licences: tuple[Any, ...], status: str, words: str
) -> None:
    facts = facts_of(
        certified(), statuses=(replace(PROTECTED, status=status),), stated=stated(licences=licences)
    )

    assert words in said("Plant rights", facts)
    assert said("Plant rights", facts).endswith("No legal opinion: ask the plant variety office.")


def test_a_missing_licence_stands_among_the_cautions() -> None:
    without = facts_of(certified(), statuses=(PROTECTED,), stated=stated(licences=()))
    declared = facts_of(certified(), statuses=(PROTECTED,), stated=FULL)

    assert any("declared no licence" in caution for caution in without.cautions)
    assert not any("declared no licence" in caution for caution in declared.cautions)


def test_the_sorted_cones_are_shares_with_intervals_and_their_terms() -> None:
    lines = cone_lines(facts_of(certified(), stated=FULL), ENGLISH)

    assert lines is not None
    assert lines.heading == (
        "Cones sorted: Quarry Lane Laboratory; official sample, 3 Sep 2026; 30 g, 212 cones counted"
    )
    assert lines.parts[0].words == "81 % (75 to 85)"
    assert sum(part.percent for part in lines.parts) == pytest.approx(100)
    assert "assumption without source" in lines.terms
    weighed = stated(quality_reports=(replace(FULL.quality_reports[0], cones_counted=None),))
    reckoned = cone_lines(facts_of(certified(), stated=weighed), ENGLISH)
    assert reckoned is not None
    assert "about 200 cones, not counted" in reckoned.heading
    assert cone_lines(facts_of(analysed()), ENGLISH) is None


def test_what_stands_beside_a_lot_makes_another_fingerprint() -> None:
    prints = {
        facts_of(certified(), stated=beside).fingerprint
        for beside in (
            FULL,
            stated(is_spray_record_kept=False),
            stated(licences=()),
            stated(quality_reports=()),
        )
    }
    lots = {facts_of(certified(block=block)).fingerprint for block in ("North 2", "South")}

    assert (len(prints), len(lots)) == (4, 2)
