"""Spray entries in the records: what goes in comes out, and whose block a lot is of."""

from datetime import date

import pytest
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.growing.sprays import Spray
from service.records.goods import lots
from service.records.growing import sprays
from service.records.people import parties
from tests.factories import NOW, LotFactory, PartyFactory

SPRAY = Spray(
    grower_code="ALDER",
    block="North 2",
    season=2026,
    product="Mildewstop 50",
    active_ingredient="an invented sulfur",
    sprayed_on=date(2026, 8, 20),
    harvest_interval_days=14,
    note="calm morning",
    corrects="S1",
    reason="the label says 14",
    entered_at=NOW,
    entered_by="specialist",
)


@pytest.fixture(autouse=True)
def people(session: Session) -> None:
    for code in ("ALDER", "ROWAN"):
        parties.add(session, PartyFactory(code=code))


def test_an_entry_comes_back_with_a_code_of_its_growers(session: Session) -> None:
    kept = [sprays.add(session, replace(SPRAY, grower_code=code)) for code in ("ALDER", "ALDER", "ROWAN")]

    assert [entry.code for entry in kept] == ["S1", "S2", "S1"]
    assert sprays.find(session, "ALDER", "S2") == kept[1]
    for code in ("S3", "S", "", "X1", "S-1", "S99999999999999999999"):
        assert sprays.find(session, "ALDER", code) is None
    with pytest.raises(NotFound):
        sprays.add(session, replace(SPRAY, grower_code="FINCH"))


def test_an_entry_is_marked_and_stays(session: Session) -> None:
    first, second = sprays.add(session, SPRAY), sprays.add(session, SPRAY)

    sprays.mark(session, replace(first, corrected_by="S2"))
    session.expire_all()

    assert [
        (entry.code, entry.corrected_by)
        for entry in sprays.search(session, "ALDER", block=None, season=None, after=None, limit=9)
    ] == [("S1", "S2"), ("S2", None)]
    assert second.corrected_by is None


def test_a_record_is_searched_by_block_season_and_page(session: Session) -> None:
    for block, season in (("North 2", 2026), ("NORTH 2", 2025), ("South", 2026), ("north-2", 2026)):
        sprays.add(session, replace(SPRAY, block=block, season=season))

    def codes(block: str | None = None, season: int | None = None, after: str | None = None) -> list[str]:
        found = sprays.search(session, "ALDER", block=block, season=season, after=after, limit=2)
        return [entry.code for entry in found]

    assert codes() == ["S1", "S2"]
    assert codes(after="S2") == ["S3", "S4"]
    assert codes(block="north 2", season=2026) == ["S1", "S4"]
    assert codes(season=2025) == ["S2"]


def test_a_lot_inherits_the_entries_of_its_block_and_season(session: Session) -> None:
    last_year = replace(SPRAY, season=2025, sprayed_on=date(2025, 8, 1))
    for entry in (SPRAY, last_year, replace(SPRAY, grower_code="ROWAN"), replace(SPRAY, block="South")):
        sprays.add(session, entry)
    lot = LotFactory(block="NORTH  2")

    assert [entry.code for entry in sprays.search_of_lots(session, [lot])] == ["S1", "S2"]
    assert [entry.code for entry in sprays.search_of_seasons(session, [lot])] == ["S1"]
    assert sprays.search_of_lots(session, [LotFactory(block=None)]) == []


def test_a_record_is_kept_while_one_entry_stands(session: Session) -> None:
    entry = sprays.add(session, SPRAY)
    own, other = LotFactory(block="north 2"), LotFactory(block="north 2", crop_year=2025)
    asked = [own, other, LotFactory(block="South"), LotFactory(block=None)]

    assert sprays.kept_for(session, asked) == {own.code}
    sprays.mark(session, replace(entry, corrected_by="S2"))
    assert sprays.kept_for(session, asked) == set()
    assert sprays.kept_for(session, []) == set()


def test_the_lots_of_a_block_are_found_from_a_crop_year_on(session: Session) -> None:
    told = {"A1": 2026, "A2": 2025, "A3": None}
    for code, year in told.items():
        lots.add(session, LotFactory(code=code, block="North 2", crop_year=year), cultivar_key="X")
    lots.add(session, LotFactory(code="A4", block="South"), cultivar_key="X")
    lots.add(session, LotFactory(code="R1", grower_code="ROWAN", block="North 2"), cultivar_key="X")

    assert sprays.lot_codes_of_block(session, "ALDER", "north 2", since=2026) == ["A1", "A3"]
    sprays.lock_record_of(session, "A1")
    sprays.lock_record_of(session, "NOWHERE")
