"""Between JSON and a formula's arguments: what is read, what is refused, and where."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.calculations.formula_types import Bounds, decode, encode, kind_of, speaks_json
from service.errors import InvalidRequest, OutOfRange
from service.facts import Fact, field


class Point(Fact, frozen=True):
    """Two numbers, one of which may be left out."""

    x: float
    y: float = 0.0
    tags: tuple[str, ...] = field(default_factory=tuple)


class Circle(Fact, frozen=True):
    """Another shape."""

    radius: float


class Shown(NamedTuple):
    """A tuple with named places."""

    percent: float
    was_negative: bool


HERE = Bounds("x", 0.0, 10.0, "g", "#/x")


@pytest.mark.parametrize(
    ("hint", "value", "read"),
    [
        (float, 3, 3.0),
        (int, 3.0, 3),
        (str, "kg", "kg"),
        (bool, True, True),
        (float | None, None, None),
        (float | None, 2, 2.0),
        (Sequence[float], [1, 2], (1.0, 2.0)),
        (tuple[float, ...], [], ()),
        (Mapping[str, float | None], {"myrcene": 5, "pinene": None}, {"myrcene": 5.0, "pinene": None}),
        (Point, {"x": 1}, Point(1.0)),
        (Point, {"x": 1, "y": 2, "tags": ["a"]}, Point(1.0, 2.0, ("a",))),
        (Circle | Point, {"radius": 2}, Circle(2.0)),
        (Sequence[Circle], [{"radius": 2}], (Circle(2.0),)),
    ],
)
def test_values_are_read_as_their_types(hint: Any, value: Any, read: Any) -> None:
    found = decode(hint, value, HERE)

    assert found == read
    assert type(found) is type(read)


@pytest.mark.parametrize("value", ["3", True, None, [3], 11, -1, float("nan"), float("inf"), 10**400])
def test_what_is_no_number_in_range_is_refused_with_its_range(value: Any) -> None:
    with pytest.raises(OutOfRange) as refused:
        decode(float, value, HERE)

    facts = refused.value.facts
    assert (facts["name"], facts["low"], facts["high"], facts["unit"]) == ("x", 0.0, 10.0, "g")
    assert facts["pointer"] == "#/x"


def test_a_fraction_is_no_whole_number() -> None:
    with pytest.raises(OutOfRange, match=r"whole number of 0 to 10 g, not 2\.5"):
        decode(int, 2.5, HERE)


@pytest.mark.parametrize(
    ("hint", "value", "pointer"),
    [
        (str, 3, "#/x"),
        (str, None, "#/x"),
        (bool, 1, "#/x"),
        (Sequence[float], 3, "#/x"),
        (Sequence[float], "123", "#/x"),
        (Mapping[str, float], [1], "#/x"),
        (Point, 3, "#/x"),
        (Point, {}, "#/x/x"),
        (Point, {"x": 1, "z": 2}, "#/x/z"),
        (Point, {"x": 1, "a/b": 2}, "#/x/a~1b"),
        (Circle | Point, {"side": 2}, "#/x"),
        (Circle | Point, 2, "#/x"),
        (Sequence[Point], [{"x": 1}, {"x": 1, "tags": 5}], "#/x/1/tags"),
    ],
)
def test_another_shape_is_refused_where_it_stands(hint: Any, value: Any, pointer: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        decode(hint, value, HERE)

    assert [fault["pointer"] for fault in refused.value.facts["errors"]] == [pointer]


@pytest.mark.parametrize(
    ("hint", "kind"),
    [
        (float, "number"),
        (float | None, "number"),
        (int, "integer"),
        (str, "text"),
        (bool, "flag"),
        (Sequence[float], "array"),
        (Mapping[str, float], "object"),
        (Point, "object"),
        (Circle | Point, "object"),
    ],
)
def test_each_type_has_a_word_for_callers(hint: Any, kind: str) -> None:
    assert kind_of(hint) == kind
    assert speaks_json(hint)


@pytest.mark.parametrize("hint", [date, np.ndarray, Sequence[date], Any])
def test_what_json_cannot_say_is_not_spoken(hint: Any) -> None:
    assert not speaks_json(hint)


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (None, None),
        (True, True),
        (3, 3),
        ("kg", "kg"),
        (np.float64(0.5), 0.5),
        (float("-inf"), None),
        ((1.0, 2.0), [1.0, 2.0]),
        ({"myrcene": 5.0}, {"myrcene": 5.0}),
        (Point(1.0), {"x": 1.0, "y": 0.0, "tags": []}),
        (Shown(5.0, was_negative=False), {"percent": 5.0, "was_negative": False}),
    ],
)
def test_results_are_written_as_plain_json(value: Any, written: Any) -> None:
    assert encode(value) == written


@given(st.builds(Point, st.floats(-1e9, 1e9), st.floats(-1e9, 1e9), st.lists(st.text()).map(tuple)))
def test_what_is_written_is_read_again(point: Point) -> None:
    assert decode(Point, encode(point), Bounds("point")) == point
