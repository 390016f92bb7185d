"""The fields all schemas are made of: exact, bounded, never guessing."""

from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import marshmallow as ma
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.fields import Choice, Code, Currency, Day, Flag, Instant, Kilograms, Number, Text, Whole
from service.api.reading import read_json


@given(mass=st.decimals(min_value="0.001", max_value=10_000_000, places=3))
def test_kilograms_are_read_exactly(mass: Decimal) -> None:
    read = Kilograms().deserialize(read_json(f"{mass:f}"))

    assert read == mass
    assert Decimal(str(Kilograms()._serialize(read, None, None))) == mass


@given(number=st.floats(allow_nan=False, allow_infinity=False, min_value=-1000, max_value=1000))
def test_a_number_comes_back_as_the_same_float(number: float) -> None:
    assert Number(-1000, 1000).deserialize(read_json(repr(number))) == number


@pytest.mark.parametrize(
    ("field", "value"),
    [
        (Whole(0, 10), 3.5),
        (Whole(0, 10), "3"),
        (Whole(0, 10), True),
        (Whole(0, 10, in_query=True), "1_0"),
        (Whole(0, 10, in_query=True), " 3"),
        (Whole(0, 10, in_query=True), "٣"),
        (Number(0, 1), float("nan")),
        (Number(0, 1), float("inf")),
        (Number(0, 1, above=True), 0),
        (Number(0, 1), []),
        (Kilograms(), Decimal("1E-9")),
        (Kilograms(), Decimal("1E+400")),
        (Flag(), "true"),
        (Flag(in_query=True), "yes"),
        (Flag(in_query=True), 1),
        (Day(), "20261125"),
        (Day(), "2026-W48-3"),
        (Day(), "0999-01-01"),
        (Day(), "9999-01-01"),
        (Day(), 20261125),
        (Instant(), "2026-11-25T09:30:00"),
        (Instant(), "2026-11-25"),
        (Instant(), "0001-01-01T00:00:00+23:59"),
        (Instant(), "2026-11-25T25:00:00Z"),
        (Code(), "alder 2026-01"),
        (Code(), "-ALDER"),
        (Code(), "A" * 25),
        (Code(party=True), "A" * 13),
        (Code(), "ALDER\n"),
        (Currency(), "CA"),
        (Currency(), None),
        (Choice(("a", "b")), "c"),
        (Text(), "\x00"),
        (Text(), "\ud800"),
        (Text(), " \n"),
        (Text(longest=3), "four"),
    ],
    ids=repr,
)
def test_what_merely_looks_like_it_is_refused(field: Any, value: Any) -> None:
    with pytest.raises(ma.ValidationError):
        field.deserialize(value)


@pytest.mark.parametrize(
    ("field", "value", "read"),
    [
        (Whole(0, 10), 3.0, 3),
        (Whole(0, 10, in_query=True), "3", 3),
        (Number(-1, 1), Decimal("-0.0"), 0.0),
        (Flag(in_query=True), "false", False),
        (Code(), "ALDER-2026-07", "ALDER-2026-07"),
        (Instant(), "2026-11-25T09:30:00-04:00", datetime(2026, 11, 25, 13, 30, tzinfo=UTC)),
        (Instant(), "2026-11-25t09:30:00z", datetime(2026, 11, 25, 9, 30, tzinfo=UTC)),
    ],
    ids=repr,
)
def test_what_fits_is_read(field: Any, value: Any, read: Any) -> None:
    assert field.deserialize(value) == read


def test_a_number_of_ours_that_is_not_finite_is_never_sent() -> None:
    with pytest.raises(ValueError, match="not a finite number"):
        Number(0, 1)._serialize(float("nan"), "alpha_percent", None)


@given(value=st.recursive(st.none() | st.booleans() | st.integers() | st.text(), st.lists, max_leaves=5))
def test_no_field_ever_fails_on_json(value: Any) -> None:
    for field in (
        Whole(0, 10),
        Number(0, 1),
        Kilograms(),
        Flag(),
        Day(),
        Instant(),
        Code(),
        Currency(),
        Text(),
    ):
        try:
            field.deserialize(value)
        except ma.ValidationError:
            continue
