"""The ground all tables stand on: naming of constraints, the key."""

from datetime import datetime
from typing import Annotated

import sqlalchemy as sa
from sqlalchemy.orm import DeclarativeBase, mapped_column

from service.records.types import Moment

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Every table descends from here."""

    metadata = sa.MetaData(naming_convention=NAMING)
    type_annotation_map = {datetime: Moment, str: sa.Text}  # noqa: RUF012 -- read by SQLAlchemy as it is


Key = Annotated[int, mapped_column(sa.BigInteger().with_variant(sa.Integer, "sqlite"), primary_key=True)]


def parent(target: str) -> sa.ForeignKey:
    """A reference that protects its parent from deletion."""
    return sa.ForeignKey(target, ondelete="RESTRICT")


def part_of(target: str) -> sa.ForeignKey:
    """A reference whose row goes when its whole goes."""
    return sa.ForeignKey(target, ondelete="CASCADE")
