"""A grower's lots on real records: drafted, changed, discarded, shown, listed."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import (
    FixedByListing,
    IllegalStep,
    InvalidRequest,
    ListingIncomplete,
    NotAllowed,
    NotFound,
    PreconditionStale,
    TokenNeeded,
)
from service.facts import replace
from service.market.goods.cultivars import CultivarStatus
from service.market.goods.lots import StorageSpell
from service.market.people.access import ANYONE, Caller
from service.market.sheet.lot_view import LotView
from service.market.sheet.sheets import IssuedSheet
from service.records.goods import cultivars, lots
from service.records.people import parties
from service.records.sheet import sheets
from service.usecases.goods.lots import change_lot, discard_lot, draft_lot, list_own_lots, show_lot
from tests.factories import NOW, TODAY, ListedLotFactory, LotFactory, PartyFactory, SpellFactory

ALDER, ROWAN = Caller("grower", "ALDER"), Caller("grower", "ROWAN")
FINCH, SPECIALIST = Caller("brewery", "FINCH"), Caller("specialist")
ASKED: Mapping[str, Any] = {
    "cultivar": "willamette",
    "form": "whole_cone",
    "harvested_on": date(2026, 8, 29),
    "mass_kg": Decimal("120.5"),
    "packing": "barrier_vacuum",
    "stored_at_c": -2.0,
}
LISTED = "ALDER-2026-50"


@pytest.fixture(autouse=True)
def growers(session: Session) -> None:
    for code in ("ALDER", "ROWAN"):
        parties.add(session, PartyFactory(code=code))


@pytest.fixture
def listed(session: Session) -> str:
    lot = ListedLotFactory(code=LISTED, price_per_kg=Decimal(24), currency="CAD")
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    return LISTED


def draft(session: Session, caller: Caller = ALDER, **told: Any) -> LotView:
    return draft_lot(session, caller=caller, asked={**ASKED, **told}, now=NOW)


def unchanged(_view: LotView) -> None:
    """Let any version pass."""


def stale(_view: LotView) -> None:
    raise PreconditionStale("it changed")


def change(session: Session, code: str, *, caller: Caller = ALDER, now: Any = NOW, **changes: Any) -> LotView:
    return change_lot(session, code, caller=caller, changes=changes, now=now, unless_changed=unchanged)


def test_a_draft_is_kept_as_it_was_understood(session: Session) -> None:
    view = draft(session, own_lot_number="barn 3")

    lot = view.lot
    assert (lot.code, lot.cultivar, lot.cultivar_code, lot.role) == (
        "ALDER-2026-01",
        "Willamette",
        "WILLAMETTE",
        "aroma",
    )
    assert (lot.state, lot.readiness, lot.crop_year) == ("draft", None, 2026)
    assert lot.spells == (SpellFactory(),)
    assert (lot.made_by, lot.made_at, lot.own_lot_number) == ("grower:ALDER", NOW, "barn 3")
    assert lots.get(session, lot.code, now=NOW) == lot
    assert show_lot(session, lot.code, caller=ALDER, now=NOW) == view


def test_codes_count_on_in_the_year_of_the_harvest(session: Session) -> None:
    codes = [
        draft(session).lot.code,
        draft(session, harvested_on=date(2025, 9, 1)).lot.code,
        draft(session, harvested_on=None, packing=None, stored_at_c=None).lot.code,
        draft(session, ROWAN).lot.code,
        draft(session, SPECIALIST, grower_code="ALDER").lot.code,
    ]

    assert codes == ["ALDER-2026-01", "ALDER-2025-02", "ALDER-2026-03", "ROWAN-2026-01", "ALDER-2026-04"]


def test_a_cultivar_nobody_knows_says_its_role(session: Session) -> None:
    assert draft(session, cultivar="Own Seedling 7", role="dual").lot.cultivar_code is None
    with pytest.raises(InvalidRequest) as unnamed:
        draft(session, cultivar="Own Seedling 7")
    with pytest.raises(InvalidRequest, match="did you mean Cascade"):
        draft(session, cultivar="Cascad")
    assert unnamed.value.facts["errors"][0]["pointer"] == "#/role"  # type: ignore[index]
    assert "did you mean" not in unnamed.value.detail


def test_nothing_is_kept_of_a_refused_draft(session: Session) -> None:
    for caller, told, refusal in (
        (ANYONE, {}, TokenNeeded),
        (FINCH, {}, NotAllowed),
        (ALDER, {"grower_code": "ROWAN"}, NotAllowed),
        (SPECIALIST, {}, InvalidRequest),
        (SPECIALIST, {"grower_code": "NOBODY"}, NotFound),
        (ALDER, {"cultivar": "Hallertau"}, InvalidRequest),
        (ALDER, {"harvested_on": TODAY + timedelta(days=2)}, InvalidRequest),
        (ALDER, {"packing": "barrier_low_oxygen"}, InvalidRequest),
        (ALDER, {"stored_at_c": None}, InvalidRequest),
    ):
        with pytest.raises(refusal):
            draft(session, caller, **told)

    assert list_own_lots(session, caller=SPECIALIST, state=None, after=None, limit=9, now=NOW) == []


def test_a_drafts_cultivar_may_be_named_anew_and_brings_its_role(session: Session) -> None:
    code = draft(session).lot.code

    renamed = change(session, code, cultivar="magnum").lot
    assert (renamed.cultivar, renamed.cultivar_code, renamed.role) == (
        "Hallertauer Magnum",
        "HALLERTAUER-MAGNUM",
        "bittering",
    )
    assert change(session, code, cultivar="Magnum", role="dual").lot.role == "dual"
    assert change(session, code, cultivar="Magnum").lot.role == "dual"
    assert change(session, code, role=None).lot.role == "bittering"
    assert lots.get(session, code, now=NOW).role == "bittering"


def test_later_storage_opens_a_spell_and_leaves_the_past_alone(session: Session, listed: str) -> None:
    changed = change(session, listed, packing="open", stored_at_c=15.0).lot
    corrected = change(session, listed, stored_at_c=12.0).lot

    kept = SpellFactory()
    assert changed.spells == (kept, StorageSpell(began_on=TODAY, packing="open", stored_at_c=15.0))
    assert corrected.spells == (kept, StorageSpell(began_on=TODAY, packing="open", stored_at_c=12.0))
    assert lots.get(session, listed, now=NOW).spells == corrected.spells


def test_what_is_refused_changes_nothing(session: Session, listed: str) -> None:
    before = lots.get(session, listed, now=NOW)

    for caller, changes, refusal in (
        (ANYONE, {"note": "x"}, TokenNeeded),
        (ROWAN, {"note": "x"}, NotAllowed),
        (ALDER, {"cultivar": "Magnum"}, FixedByListing),
        (ALDER, {"role": "dual"}, FixedByListing),
        (ALDER, {"harvested_on": date(2026, 8, 28)}, FixedByListing),
        (ALDER, {"mass_kg": None}, ListingIncomplete),
        (ALDER, {"currency": None}, InvalidRequest),
    ):
        with pytest.raises(refusal):
            change(session, listed, caller=caller, **changes)
    with pytest.raises(PreconditionStale):
        change_lot(session, listed, caller=ALDER, changes={"note": "x"}, now=NOW, unless_changed=stale)

    assert lots.get(session, listed, now=NOW) == before


def test_only_a_draft_nobody_saw_is_discarded(session: Session, listed: str) -> None:
    plain, printed = draft(session).lot.code, draft(session).lot.code
    sheet = IssuedSheet(
        lot_code=printed,
        revision=1,
        issued_on=TODAY,
        issued_at=NOW,
        issued_by="grower:ALDER",
        facts_sha256="a" * 64,
        file_sha256="b" * 64,
    )
    sheets.add(session, sheet, file=b"a sheet")

    with pytest.raises(PreconditionStale):
        discard_lot(session, plain, caller=ALDER, now=NOW, unless_changed=stale)
    discard_lot(session, plain, caller=ALDER, now=NOW, unless_changed=unchanged)

    with pytest.raises(NotFound):
        show_lot(session, plain, caller=ALDER, now=NOW)
    for code in (printed, listed):
        with pytest.raises(IllegalStep):
            discard_lot(session, code, caller=ALDER, now=NOW, unless_changed=unchanged)
        assert show_lot(session, code, caller=ALDER, now=NOW).lot.code == code


@pytest.mark.parametrize(
    ("caller", "open_price", "price"),
    [
        (ANYONE, False, None),
        (ANYONE, True, Decimal(24)),
        (FINCH, False, Decimal(24)),
        (ALDER, False, Decimal(24)),
    ],
)
def test_a_price_is_for_those_who_said_who_they_are(
    session: Session, listed: str, caller: Caller, open_price: bool, price: Decimal | None
) -> None:
    change(session, listed, price_open=open_price)

    seen = show_lot(session, listed, caller=caller, now=NOW).lot

    assert (seen.price_per_kg, seen.currency) == (price, "CAD" if price else None)


def test_everybody_lists_their_own_in_any_state(session: Session, listed: str) -> None:
    drafted, foreign = draft(session).lot.code, draft(session, ROWAN).lot.code

    def codes(
        caller: Caller, state: str | None = None, after: str | None = None, limit: int = 9
    ) -> list[str]:
        found = list_own_lots(session, caller=caller, state=state, after=after, limit=limit, now=NOW)
        return [view.lot.code for view in found]

    assert codes(ALDER) == [drafted, listed]
    assert codes(SPECIALIST) == [drafted, listed, foreign]
    assert (codes(ALDER, "draft"), codes(ALDER, "listed")) == ([drafted], [listed])
    assert (codes(ALDER, after=drafted), codes(SPECIALIST, limit=1)) == ([listed], [drafted])
    assert codes(FINCH) == []
    with pytest.raises(TokenNeeded):
        codes(ANYONE)


def test_a_list_shows_each_lot_as_it_is_shown_alone(session: Session, listed: str) -> None:
    draft(session, cultivar="Own Seedling 7", role="aroma")
    found = CultivarStatus(
        cultivar_code="WILLAMETTE", country="CA", status="public", source="A register", checked_on=TODAY
    )
    cultivars.change_statuses(session, "WILLAMETTE", [found])

    views = list_own_lots(session, caller=ALDER, state=None, after=None, limit=9, now=NOW)

    assert views == [show_lot(session, view.lot.code, caller=ALDER, now=NOW) for view in views]
    assert [view.planting.status for view in views] == ["unconfirmed", "public"]


def test_a_list_of_lots_nobody_knows_asks_for_no_status(session: Session) -> None:
    lots.add(
        session,
        replace(LotFactory(code="ALDER-2026-09"), cultivar="Own Seedling 7", cultivar_code=None),
        cultivar_key="ownseedling7",
    )

    (only,) = list_own_lots(session, caller=ALDER, state=None, after=None, limit=9, now=NOW)

    assert (only.planting.status, only.role_mark) == ("unconfirmed", None)
