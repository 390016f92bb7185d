"""Lab reports on real records: who files, what they drive, what stays as it was."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import (
    ConfirmationNeeded,
    IllegalStep,
    ImpossibleReport,
    InvalidRequest,
    NotAllowed,
    NotFound,
    TokenNeeded,
)
from service.market.goods.lab_reports import LabReport, standing_figures
from service.market.matching.search_figures import figures_to_keep
from service.market.people.access import ANYONE, Caller
from service.market.trade.reservations import Reserve
from service.records.goods import lots
from service.records.goods.lots import get_row
from service.records.matching.lot_lines import FIGURE_COLUMNS
from service.records.people import parties
from service.usecases.goods.lab_reports import file_report, list_reports
from service.usecases.trade.reservations import release_reservation, reserve_mass
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory

ALDER, ROWAN = Caller("grower", "ALDER"), Caller("grower", "ROWAN")
FINCH, TEAL, SPECIALIST = Caller("brewery", "FINCH"), Caller("brewery", "TEAL"), Caller("specialist")
LOT = "ALDER-2026-01"
NOBODY: Mapping[str, Any] = {"brewery_code": None, "grower_code": None}
ASKED: Mapping[str, Any] = {
    "laboratory": "Quarry Lane Laboratory",
    "drawn_by": "grower",
    "sampled_on": date(2026, 11, 2),
    "analysed_on": date(2026, 11, 6),
    "moisture_percent": 9.0,
    "alpha_percent": 5.0,
    "beta_percent": 3.6,
    "methods": {"alpha_beta": "asbc_hops_14", "moisture": "asbc_hops_4"},
}
BUYERS: Mapping[str, Any] = {**ASKED, "drawn_by": "buyer", "alpha_percent": 4.1}


@pytest.fixture(autouse=True)
def valley(session: Session) -> None:
    for kind, code in (("grower", "ALDER"), ("grower", "ROWAN"), ("brewery", "FINCH"), ("brewery", "TEAL")):
        parties.add(session, PartyFactory(kind=kind, code=code))
    lot = ListedLotFactory(code=LOT, mass_kg=Decimal(100), reports=(LabReportFactory(code="R1"),))
    lots.add(session, lot, cultivar_key="WILLAMETTE")


@pytest.fixture
def promise(session: Session) -> str:
    """FINCH holds a part of the lot."""
    asked = {"lot_code": LOT, "mass_kg": Decimal(10), "request_code": None, "held_until": None, **NOBODY}
    return reserve_mass(session, caller=FINCH, command=Reserve(**asked), now=NOW).code


def file(
    session: Session, caller: Caller = ALDER, asked: Mapping[str, Any] = ASKED, **told: Any
) -> LabReport:
    return file_report(session, LOT, caller=caller, asked={**asked, **told}, now=NOW)


def seen(session: Session, caller: Caller) -> list[str]:
    return [report.code for report in list_reports(session, LOT, caller=caller, now=NOW)]


def test_a_filed_report_is_kept_as_written_and_drives_the_search(session: Session) -> None:
    filed = file(session)

    lot = lots.get(session, LOT, now=NOW)
    assert lot.reports == (LabReportFactory(code="R1"), filed)
    assert (filed.code, filed.filed_by, filed.filed_for, filed.filed_at) == (
        "R2",
        "grower:ALDER",
        "grower:ALDER",
        NOW,
    )
    row, kept = get_row(session, LOT), figures_to_keep(lot)
    assert {name: getattr(row, column.name) for name, column in FIGURE_COLUMNS.items()} == {
        name: getattr(kept, name) for name in FIGURE_COLUMNS
    }


def test_the_specialist_files_for_the_grower_without_naming_it(session: Session) -> None:
    filed = file(session, SPECIALIST)

    assert (filed.filed_by, filed.filed_for) == ("specialist", "grower:ALDER")
    assert file(session, SPECIALIST, grower_code="ALDER").filed_for == "grower:ALDER"


def test_absorbances_are_kept_beside_the_figures_made_of_them(session: Session) -> None:
    # ASBC Methods of Analysis, 8th ed. 1992, Hops-6, worked example (quoted): 6.5 % alpha, 4.3 % beta.
    readings = {"a275": 0.132, "a325": 0.596, "a355": 0.615, "dilution_factor": 0.66667}
    plain = {name: value for name, value in ASKED.items() if name not in ("alpha_percent", "beta_percent")}

    filed = file(session, asked={**plain, "methods": {"alpha_beta": "asbc_hops_6"}, "absorbance": readings})

    assert filed.absorbance == readings
    assert filed.alpha_percent == pytest.approx(6.5, abs=0.05)
    assert filed.beta_percent == pytest.approx(4.3, abs=0.05)


@pytest.mark.parametrize(
    ("caller", "told", "refusal"),
    [
        (ANYONE, {}, TokenNeeded),
        (ROWAN, {}, NotAllowed),
        (ALDER, {"grower_code": "ROWAN"}, NotAllowed),
        (SPECIALIST, {"grower_code": "ROWAN"}, NotAllowed),
        (ALDER, {"drawn_by": "buyer"}, InvalidRequest),
        (ALDER, {"brewery_code": "FINCH"}, NotAllowed),
        (FINCH, {"drawn_by": "buyer"}, NotAllowed),
        (SPECIALIST, {"drawn_by": "buyer", "brewery_code": "TEAL"}, NotAllowed),
        (ALDER, {"methods": {}}, InvalidRequest),
        (ALDER, {"moisture_percent": 3.0}, ImpossibleReport),
        (ALDER, {"sampled_on": date(2026, 8, 28)}, ImpossibleReport),
        (ALDER, {"alpha_percent": 50.0}, ConfirmationNeeded),
        (ALDER, {"corrects": "R9", "reason": "misread"}, NotFound),
    ],
    ids=str,
)
def test_nothing_is_kept_of_a_refused_report(
    session: Session, caller: Caller, told: dict[str, Any], refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        file(session, caller, **told)

    assert seen(session, ALDER) == ["R1"]


def test_a_correction_takes_the_place_of_what_it_corrects(session: Session) -> None:
    corrected = file(session, corrects="R1", reason="a figure was misread", sampled_on=date(2026, 9, 3))

    lot = lots.get(session, LOT, now=NOW)
    assert [report.corrected_by for report in lot.reports] == ["R2", None]
    alpha = standing_figures(lot.reports).alpha_percent
    assert alpha is not None
    assert (alpha.value, alpha.report) == (5.0, corrected.code)
    with pytest.raises(IllegalStep):
        file(session, corrects="R1", reason="once more")


def test_a_buyers_report_moves_nothing_that_others_see(session: Session, promise: str) -> None:
    before = figures_to_keep(lots.get(session, LOT, now=NOW))

    filed = file(session, FINCH, BUYERS)

    assert filed.filed_for == "brewery:FINCH"
    assert figures_to_keep(lots.get(session, LOT, now=NOW)) == before
    assert seen(session, ALDER) == seen(session, SPECIALIST) == seen(session, FINCH) == ["R1", "R2"]
    assert seen(session, TEAL) == seen(session, ROWAN) == seen(session, ANYONE) == ["R1"]


def test_a_buyer_reports_only_on_its_own_sample_and_while_it_has_a_promise(
    session: Session, promise: str
) -> None:
    with pytest.raises(InvalidRequest, match="drawn_by is buyer"):
        file(session, FINCH, BUYERS, drawn_by="grower")
    assert file(session, SPECIALIST, BUYERS, brewery_code="FINCH").filed_for == "brewery:FINCH"
    release_reservation(session, promise, caller=FINCH, now=NOW)
    with pytest.raises(NotAllowed, match="holds no promise"):
        file(session, FINCH, BUYERS)


def test_nobody_corrects_the_other_sides_report(session: Session, promise: str) -> None:
    file(session, FINCH, BUYERS)

    with pytest.raises(NotFound):
        file(session, ALDER, corrects="R2", reason="too low")
    with pytest.raises(NotAllowed):
        file(session, FINCH, BUYERS, corrects="R1", reason="too high")
    assert file(session, FINCH, BUYERS, corrects="R2", reason="misread").corrects == "R2"
