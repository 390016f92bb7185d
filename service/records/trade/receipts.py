"""Receipts: find, put. Written under the lock of the lot."""

import sqlalchemy as sa
from msgspec import convert, to_builtins

from service.facts import field_names
from service.market.goods.lots import Package
from service.market.trade.deliveries import Receipt
from service.records.session import Session
from service.records.tables import ReceiptRow, ReservationRow

PLAIN = tuple(name for name in field_names(Receipt) if name not in ("reservation_code", "packages"))


def find(session: Session, reservation_code: str) -> Receipt | None:
    """What the brewery found; None while it said nothing."""
    row = _row(session, reservation_code)
    if row is None:
        return None
    return Receipt(
        reservation_code=reservation_code,
        packages=convert(row.packages, tuple[Package, ...]),
        **{name: getattr(row, name) for name in PLAIN},
    )


def put(session: Session, receipt: Receipt) -> None:
    """Keep a receipt, over the one there is."""
    row = _row(session, receipt.reservation_code)
    if row is None:
        query = sa.select(ReservationRow.id).where(ReservationRow.code == receipt.reservation_code)
        row = ReceiptRow(reservation_id=session.scalars(query).one())
    for name in PLAIN:
        setattr(row, name, getattr(receipt, name))
    row.packages = to_builtins(receipt.packages)
    session.add(row)
    session.flush()


def _row(session: Session, reservation_code: str) -> ReceiptRow | None:
    query = (
        sa.select(ReceiptRow)
        .join(ReservationRow, ReservationRow.id == ReceiptRow.reservation_id)
        .where(ReservationRow.code == reservation_code)
        .execution_options(populate_existing=True)
    )
    return session.scalar(query)
