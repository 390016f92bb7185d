"""Column types that keep a unit exact on every database."""

from collections.abc import Sequence
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlalchemy.engine import Dialect

from service.science.arrays import Numbers


class Moment(sa.TypeDecorator[datetime]):
    """Aware moments in, aware UTC moments out; SQLite keeps them naive in UTC."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Refuse a moment without a zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the zone back."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Fixed(sa.TypeDecorator[Decimal]):
    """Exact decimals: NUMERIC on PostgreSQL, a scaled whole number on SQLite.

    Sums and comparisons are exact on both. An average must be divided by hand: on SQLite
    `avg` would give the scaled number.
    """

    impl = sa.Numeric
    cache_ok = True

    def __init__(self, precision: int, scale: int) -> None:
        super().__init__(precision, scale)
        self.precision, self.scale = precision, scale
        self._step = Decimal(1).scaleb(-scale)

    def load_dialect_impl(self, dialect: Dialect) -> Any:
        """Choose the column by database."""
        if dialect.name == "sqlite":
            return dialect.type_descriptor(sa.BigInteger())
        return dialect.type_descriptor(sa.Numeric(self.precision, self.scale))

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> Decimal | int | None:
        """Scale on the way in; more decimals than the column keeps are a fault of the caller."""
        if value is None:
            return None
        exact = Decimal(value).quantize(self._step)
        if exact != value:
            raise ValueError(f"{value} has more than {self.scale} decimals")
        return int(exact.scaleb(self.scale)) if dialect.name == "sqlite" else exact

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        """Scale back, and drop closing zeros so that 100.000 reads 100."""
        if value is None:
            return None
        exact = Decimal(value).scaleb(-self.scale) if dialect.name == "sqlite" else Decimal(value)
        return exact.quantize(Decimal(1)) if exact == exact.to_integral() else exact.normalize()


def kilograms() -> Fixed:
    """Whole grams, up to a thousand million kilograms."""
    return Fixed(12, 3)


def money() -> Fixed:
    """Money to four decimals."""
    return Fixed(12, 4)


def unscaled(value: sa.ColumnElement[Any]) -> sa.ColumnElement[Any]:
    """A column of `Fixed` as the database holds it, for `floats_of`: thousands of decimals would take long."""
    return sa.type_coerce(value, sa.BigInteger())


def floats_of(values: Sequence[Any], decimals: int, dialect: Dialect) -> Numbers:
    """What `unscaled` brought, as floats, with NaN for NULL; the nearest to each exact value."""
    found: Numbers = np.array(values, dtype=np.float64)
    return found / 10**decimals if dialect.name == "sqlite" else found
