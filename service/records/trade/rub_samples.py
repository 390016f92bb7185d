"""Samples for the rub: get, search, add, change."""

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import field_names
from service.market.trade.rub_samples import RubSample
from service.records.goods import lots
from service.records.people import parties
from service.records.session import Session
from service.records.tables import LotRow, PartyRow, RubSampleRow

ELSEWHERE = ("code", "lot_code", "grower_code", "brewery_code")
PLAIN = tuple(name for name in field_names(RubSample) if name not in ELSEWHERE)
Grower, Brewery = PartyRow.__table__.alias("grower"), PartyRow.__table__.alias("brewery")


def get(session: Session, code: str) -> RubSample:
    """One sample; read again after the lot is locked, it stays so.

    Raises:
        NotFound: there is none of that code.

    """
    query = _everything().where(RubSampleRow.code == code)
    found = session.execute(query).one_or_none()
    if found is None:
        raise NotFound(f"there is no sample {code}")
    return _fact(found)


def search(
    session: Session,
    *,
    grower_code: str | None,
    brewery_code: str | None,
    lot_code: str | None,
    state: str | None,
    after: int | None,
    limit: int,
) -> list[tuple[RubSample, int]]:
    """Samples that fit all that is named, newest first, each with its position."""
    query = _everything().order_by(RubSampleRow.id.desc()).limit(limit)
    for column, value in (
        (Grower.c.code, grower_code),
        (Brewery.c.code, brewery_code),
        (LotRow.code, lot_code),
        (RubSampleRow.state, state),
    ):
        if value is not None:
            query = query.where(column == value)
    if after is not None:
        query = query.where(RubSampleRow.id < after)
    return [(_fact(found), found.RubSampleRow.id) for found in session.execute(query)]


def find_of_booking(session: Session, lot_code: str, booking_code: str) -> RubSample | None:
    """The sample whose grams a booking took out of a lot, if there is one."""
    query = _everything().where(LotRow.code == lot_code, RubSampleRow.booking_code == booking_code)
    found = session.execute(query).one_or_none()
    return None if found is None else _fact(found)


def next_code(session: Session, brewery_code: str) -> str:
    """The next code of a brewery's samples."""
    return f"{brewery_code}-RUB-{parties.next_number(session, 'brewery', brewery_code):02d}"


def add(session: Session, sample: RubSample) -> None:
    """Keep a new sample."""
    row = RubSampleRow(
        code=sample.code,
        lot_id=lots.get_row(session, sample.lot_code).id,
        brewery_id=parties.get_row(session, "brewery", sample.brewery_code).id,
    )
    _write(row, sample)
    session.add(row)
    session.flush()


def change(session: Session, sample: RubSample) -> None:
    """Write what changed of a sample; the lot is locked already."""
    _write(session.scalars(sa.select(RubSampleRow).where(RubSampleRow.code == sample.code)).one(), sample)
    session.flush()


def _write(row: RubSampleRow, sample: RubSample) -> None:
    for name in PLAIN:
        setattr(row, name, getattr(sample, name))


def _everything() -> sa.Select[RubSampleRow, str, str, str]:
    return (
        sa.select(
            RubSampleRow,
            LotRow.code.label("lot_code"),
            Grower.c.code.label("grower_code"),
            Brewery.c.code.label("brewery_code"),
        )
        .join(LotRow, LotRow.id == RubSampleRow.lot_id)
        .join(Grower, Grower.c.id == LotRow.grower_id)
        .join(Brewery, Brewery.c.id == RubSampleRow.brewery_id)
        .execution_options(populate_existing=True)
    )


def _fact(found: sa.Row[RubSampleRow, str, str, str]) -> RubSample:
    row, lot_code, grower_code, brewery_code = found
    return RubSample(
        code=row.code,
        lot_code=lot_code,
        grower_code=grower_code,
        brewery_code=brewery_code,
        **{name: getattr(row, name) for name in PLAIN},
    )
