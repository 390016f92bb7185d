"""Spray entries: find, search, add, mark. Every one is written under the lock of its grower's row."""

from collections.abc import Iterable, Sequence
from typing import Any

import sqlalchemy as sa

from service.facts import field_names, replace
from service.market.goods.lots import Lot
from service.market.goods.provenance import block_key
from service.market.growing.sprays import Spray, season_of
from service.records.people import parties
from service.records.session import Session
from service.records.tables import LotRow, PartyRow, SprayRow

PLAIN = tuple(name for name in field_names(Spray) if name not in ("code", "grower_code"))


def find(session: Session, grower_code: str, code: str) -> Spray | None:
    """One entry, or None."""
    row = session.scalar(_rows().where(PartyRow.code == grower_code, SprayRow.number == _number(code)))
    return _fact(row, grower_code) if row else None


def search(
    session: Session,
    grower_code: str,
    *,
    block: str | None,
    season: int | None,
    after: str | None,
    limit: int,
) -> Sequence[Spray]:
    """A grower's entries in the order they were made, those that were corrected among them."""
    query = _rows().where(PartyRow.code == grower_code, SprayRow.number > _number(after or "")).limit(limit)
    if block is not None:
        query = query.where(SprayRow.block_key == block_key(block))
    if season is not None:
        query = query.where(SprayRow.season == season)
    return [_fact(row, grower_code) for row in session.scalars(query.order_by(SprayRow.number))]


def search_of_lots(session: Session, lots: Iterable[Lot]) -> Sequence[Spray]:
    """All entries, corrected ones too, of the blocks that lots come from; whatever their season."""
    blocks = sorted({(lot.grower_code, block_key(lot.block)) for lot in lots if lot.block})
    if not blocks:
        return []
    query = (
        sa.select(SprayRow, PartyRow.code)
        .join(PartyRow, PartyRow.id == SprayRow.grower_id)
        .where(sa.tuple_(PartyRow.code, SprayRow.block_key).in_(blocks), PartyRow.kind == "grower")
        .order_by(PartyRow.code, SprayRow.number)
    )
    return [_fact(row, code) for row, code in session.execute(query)]


def search_of_seasons(session: Session, lots: Sequence[Lot]) -> Sequence[Spray]:
    """The entries of the blocks that lots come from, each block for the seasons of its lots."""
    wanted = {(lot.grower_code, block_key(lot.block), season_of(lot)) for lot in lots if lot.block}
    found = search_of_lots(session, lots)
    return [s for s in found if (s.grower_code, block_key(s.block), s.season) in wanted]


def lock_record_of(session: Session, lot_code: str) -> None:
    """Let no entry into the record of a lot's grower before this transaction ends."""
    grower = sa.select(LotRow.grower_id).where(LotRow.code == lot_code).scalar_subquery()
    session.execute(sa.select(PartyRow.id).where(PartyRow.id == grower).with_for_update())


def kept_for(session: Session, lots: Iterable[Lot]) -> set[str]:
    """The codes of those lots for whose block and season a record is kept: one statement for all."""
    wanted = {
        lot.code: (lot.grower_code, block_key(lot.block), season_of(lot))
        for lot in lots
        if lot.block and season_of(lot) is not None
    }
    if not wanted:
        return set()
    query = (
        sa.select(PartyRow.code, SprayRow.block_key, SprayRow.season)
        .join(PartyRow, PartyRow.id == SprayRow.grower_id)
        .where(
            sa.tuple_(PartyRow.code, SprayRow.block_key, SprayRow.season).in_(sorted(set(wanted.values()))),
            SprayRow.corrected_by.is_(None),
            PartyRow.kind == "grower",
        )
        .distinct()
    )
    kept = {tuple(row) for row in session.execute(query)}
    return {code for code, where in wanted.items() if where in kept}


def lot_codes_of_block(session: Session, grower_code: str, block: str, *, since: int) -> list[str]:
    """The lots of a grower's block from a crop year on, and those still on the bine."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(PartyRow.code == grower_code, LotRow.block_key == block_key(block))
        .where(sa.or_(LotRow.crop_year.is_(None), LotRow.crop_year >= since))
        .order_by(LotRow.code)
    )
    return list(session.scalars(query))


def add(session: Session, spray: Spray) -> Spray:
    """Keep a new entry; gives it with its code. The grower's row is locked from here on."""
    grower = parties.get_row(session, "grower", spray.grower_code, lock=True)
    last = session.scalar(sa.select(sa.func.max(SprayRow.number)).where(SprayRow.grower_id == grower.id))
    number = (last or 0) + 1
    values: dict[str, Any] = {name: getattr(spray, name) for name in PLAIN}
    session.add(SprayRow(grower_id=grower.id, number=number, block_key=block_key(spray.block), **values))
    session.flush()
    return replace(spray, code=f"S{number}")


def mark(session: Session, spray: Spray) -> None:
    """Write by which entry one was corrected."""
    row = session.scalars(
        _rows().where(PartyRow.code == spray.grower_code, SprayRow.number == _number(spray.code))
    ).one()
    row.corrected_by = spray.corrected_by
    session.flush()


def _rows() -> sa.Select[SprayRow]:
    return (
        sa.select(SprayRow)
        .join(PartyRow, PartyRow.id == SprayRow.grower_id)
        .where(PartyRow.kind == "grower")
        .execution_options(populate_existing=True)
    )


def _number(code: str) -> int:
    # What is no code of ours is the number of nothing.
    number = code[1:]
    return (
        int(number) if code[:1] == "S" and number.isascii() and number.isdigit() and len(number) < 10 else 0
    )


def _fact(row: SprayRow, grower_code: str) -> Spray:
    return Spray(code=row.code, grower_code=grower_code, **{name: getattr(row, name) for name in PLAIN})
