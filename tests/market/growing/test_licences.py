"""Declared licences: which one is shown, and what is said where none holds."""

from datetime import date

import pytest

from service.errors import InvalidRequest
from service.facts import replace
from service.market.goods.cultivars import CultivarStatus
from service.market.growing.licences import Licence, accept_licence, licence_shown, rights_notes
from service.market.processing.lot_statements import LotStatements
from service.market.sheet.lot_view import LotView, view_lot
from tests.factories import NOW, TODAY, LotFactory, PartyFactory

LICENCE = Licence(
    code="L1",
    grower_code="ALDER",
    cultivar="Willamette",
    cultivar_key="WILLAMETTE",
    licensor="Heron Breeding",
    number="HB-9",
    valid_until=date(2026, 12, 31),
    declared_at=NOW,
    declared_by="grower:ALDER",
)
PROTECTED = CultivarStatus(
    cultivar_code="WILLAMETTE",
    country="CA",
    status="protected",
    source="an invented register",
    checked_on=date(2026, 11, 1),
)


def view(*licences: Licence, status: str = "protected") -> LotView:
    return view_lot(
        LotFactory(),
        grower=PartyFactory(),
        statuses=[replace(PROTECTED, status=status)],
        stated=LotStatements(licences=licences),
        today=TODAY,
    )


def test_the_licence_that_reaches_furthest_is_shown() -> None:
    old = replace(LICENCE, number="HB-1", valid_until=date(2026, 3, 31))
    taken_back = replace(LICENCE, number="HB-X", valid_until=None, ended_at=NOW, ended_by="grower:ALDER")

    shown = licence_shown([old, LICENCE, taken_back], TODAY)

    assert shown is not None
    assert (shown.number, shown.lapsed) == ("HB-9", False)
    assert licence_shown([taken_back], TODAY) is None


def test_a_licence_holds_on_its_last_day_and_without_one_for_good() -> None:
    assert LICENCE.holds_on(date(2026, 12, 31))
    assert not LICENCE.holds_on(date(2027, 1, 1))
    assert replace(LICENCE, valid_until=None).holds_on(date(2099, 1, 1))


def test_a_licence_that_has_ended_cannot_be_declared() -> None:
    with pytest.raises(InvalidRequest, match="ended on 2026-11-24"):
        accept_licence(replace(LICENCE, valid_until=date(2026, 11, 24)), today=TODAY)
    assert accept_licence(replace(LICENCE, valid_until=TODAY), today=TODAY).valid_until == TODAY


def test_a_protected_cultivar_without_a_licence_that_holds_is_a_caution_and_no_refusal() -> None:
    lapsed = replace(LICENCE, valid_until=date(2026, 10, 1))

    assert [flag.code for flag in view().flags][-1:] == ["licence_not_declared"]
    assert "ended on 2026-10-01" in view(lapsed).flags[-1].words
    assert "licence_not_declared" not in [flag.code for flag in view(LICENCE).flags]
    assert "licence_not_declared" not in [flag.code for flag in view(status="unconfirmed").flags]
    assert view().flags[-1].source == "an invented register"


@pytest.mark.parametrize(
    ("status", "licences", "first"),
    [
        ("protected", (), "Protected in CA as the source says; its grower declared no licence here."),
        ("protected", (LICENCE,), "its grower declares a licence, which nobody here checked"),
        ("unconfirmed", (), "Whether it is protected in CA was not confirmed"),
        ("public", (LICENCE,), "declared a licence all the same"),
    ],
)
def test_what_is_not_confirmed_carries_a_note(status: str, licences: tuple[Licence, ...], first: str) -> None:
    assert first in view(*licences, status=status).planting.notes[0]


def test_of_a_public_cultivar_nothing_is_said_and_of_others_never_a_verdict() -> None:
    assert list(rights_notes("public", "CA", None)) == []
    for status in ("protected", "unconfirmed"):
        assert list(rights_notes(status, "CA", None))[-1].startswith("No legal opinion")
