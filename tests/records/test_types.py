"""Columns keep a unit exact on both databases, and a moment in UTC."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.exc import StatementError

from service.records.types import Fixed, Moment, kilograms, money

TABLE = sa.Table(
    "tried_types",
    sa.MetaData(),
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("mass_kg", kilograms()),
    sa.Column("price", money()),
    sa.Column("at", Moment()),
)


@pytest.fixture(scope="module")
def connection(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A table of its own, gone again at the end."""
    with engine.connect() as connection:
        outer = connection.begin()
        TABLE.create(connection)
        yield connection
        outer.rollback()


def kept(connection: sa.Connection, **values: object) -> object:
    """What comes back of one value."""
    connection.execute(sa.delete(TABLE))
    connection.execute(sa.insert(TABLE).values(**values))
    return connection.scalar(sa.select(TABLE.c[next(iter(values))]))


@given(mass_kg=st.decimals(min_value=0, max_value=999_999_999, places=3))
def test_kilograms_come_back_as_they_went_in(connection: sa.Connection, mass_kg: Decimal) -> None:
    assert kept(connection, mass_kg=mass_kg) == mass_kg


@given(price=st.decimals(min_value=0, max_value=1_000_000, places=4))
def test_money_comes_back_as_it_went_in(connection: sa.Connection, price: Decimal) -> None:
    assert kept(connection, price=price) == price


def test_sums_are_exact(connection: sa.Connection) -> None:
    connection.execute(sa.delete(TABLE))
    connection.execute(sa.insert(TABLE), [{"mass_kg": Decimal("0.1")}] * 3)

    assert connection.scalar(sa.select(sa.func.sum(TABLE.c.mass_kg))) == Decimal("0.3")
    assert connection.scalar(sa.select(sa.func.count()).where(TABLE.c.mass_kg <= Decimal("0.1"))) == 3


def test_none_stays_none(connection: sa.Connection) -> None:
    assert kept(connection, mass_kg=None) is None
    assert kept(connection, at=None) is None


def test_closing_zeros_are_dropped(connection: sa.Connection) -> None:
    assert str(kept(connection, mass_kg=Decimal("100.000"))) == "100"
    assert str(kept(connection, mass_kg=Decimal("100.50"))) == "100.5"


def test_more_decimals_than_the_column_keeps_are_refused(connection: sa.Connection) -> None:
    with pytest.raises(StatementError, match="more than 3 decimals"), connection.begin_nested():
        kept(connection, mass_kg=Decimal("0.0001"))


def test_a_moment_comes_back_in_utc(connection: sa.Connection) -> None:
    there = datetime(2026, 11, 25, 9, 30, tzinfo=timezone(timedelta(hours=-4)))

    back = kept(connection, at=there)

    assert back == there
    assert back.tzinfo == UTC  # type: ignore[attr-defined]


def test_a_moment_without_a_zone_is_refused(connection: sa.Connection) -> None:
    with pytest.raises(StatementError, match="time zone"), connection.begin_nested():
        kept(connection, at=datetime(2026, 11, 25, 9, 30))


def test_the_step_of_a_column_is_its_scale() -> None:
    assert Fixed(12, 3)._step == Decimal("0.001")
