"""Between JSON and the arguments of a formula: numbers, words, arrays, small objects; strictly, both ways."""

import math
import types
import typing
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

import numpy as np

from service.errors import InvalidRequest, OutOfRange
from service.facts import Fact, field_names, replace, required_names

SEQUENCES = (Sequence, tuple, list)
MAPPINGS = (Mapping, dict)
ARRAY_MAX = 100_000


def speaks_json(hint: Any) -> bool:
    """Whether values of a type can be said in JSON by `decode` and `encode`."""
    if hint in (float, int, str, bool, type(None), types.NoneType) or is_array_type(hint):
        return True
    if is_fact(hint):
        return all(speaks_json(inner) for inner in field_hints(hint).values())
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (typing.Union, types.UnionType) or origin in SEQUENCES or origin in MAPPINGS:
        return all(speaks_json(inner) for inner in arguments if inner is not Ellipsis)
    return False


def is_array_type(hint: Any) -> bool:
    """Whether a type is an array of numbers."""
    return typing.get_origin(hint) is np.ndarray


def is_fact(hint: Any) -> bool:
    """Whether a type is a small object with named fields."""
    return isinstance(hint, type) and issubclass(hint, Fact)


def is_named_tuple(hint: Any) -> bool:
    """Whether a type is a tuple with named places, which goes out as an object."""
    return isinstance(hint, type) and issubclass(hint, tuple) and hasattr(hint, "_fields")


def field_hints(kind: Any) -> dict[str, Any]:
    """The fields of a fact with their types."""
    hints = typing.get_type_hints(kind)
    return {name: hints[name] for name in field_names(kind)}


def kind_of(hint: Any) -> str:
    """What a caller sends for a type: number, integer, text, flag, array or object."""
    options = [option for option in _options(hint) if option is not type(None)]
    first = options[0]
    plain = {float: "number", int: "integer", str: "text", bool: "flag"}
    if first in plain:
        return plain[first]
    return "array" if is_array_type(first) or typing.get_origin(first) in SEQUENCES else "object"


def _options(hint: Any) -> tuple[Any, ...]:
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return typing.get_args(hint)
    return (hint,)


class Bounds(Fact, frozen=True):
    """The name, range and unit by which a faulty value is refused, and where it stands."""

    name: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    pointer: str = "#"


def decode(hint: Any, value: Any, bounds: Bounds) -> Any:
    """Read a JSON value as a type.

    Raises:
        OutOfRange: a number is wanted and something else came, or it lies outside the range.
        InvalidRequest: the value has another shape than the type.

    """
    options = _options(hint)
    if value is None:
        if type(None) in options:
            return None
        raise _number_refused(value, bounds) if kind_of(hint) == "number" else _shape(bounds, kind_of(hint))
    wanted = [option for option in options if option is not type(None)]
    if len(wanted) > 1:
        return _decode_object(_matching(wanted, value, bounds), value, bounds)
    kind = wanted[0]
    if kind in (float, int):
        return _decode_number(kind, value, bounds)
    if kind in (str, bool):
        if not isinstance(value, kind):
            raise _shape(bounds, kind_of(kind))
        return value
    if is_array_type(kind):
        return np.array(_decode_many(Sequence[float], value, bounds), dtype=np.float64)
    if is_fact(kind):
        return _decode_object(kind, value, bounds)
    return _decode_many(kind, value, bounds)


def _decode_number(kind: type, value: Any, bounds: Bounds) -> float | int:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise _number_refused(value, bounds)
    try:
        number = float(value)
    except OverflowError:
        raise _number_refused(value, bounds) from None
    low = -math.inf if bounds.low is None else bounds.low
    high = math.inf if bounds.high is None else bounds.high
    if not low <= number <= high or not math.isfinite(number):
        raise _number_refused(value, bounds)
    if kind is int:
        if number != int(number):
            raise _number_refused(value, bounds, whole="whole ")
        return int(number)
    return number


def _number_refused(value: Any, bounds: Bounds, *, whole: str = "") -> OutOfRange:
    reach = ""
    if bounds.low is not None and bounds.high is not None:
        reach = f" of {bounds.low:g} to {bounds.high:g}"
    unit = f" {bounds.unit}" if bounds.unit else ""
    is_number = isinstance(value, int | float | Decimal) and not isinstance(value, bool)
    known = float(value) if is_number and abs(value) < 1e300 else None
    shown = f"{known:g}" if known is not None else "that"
    return OutOfRange(
        f"{bounds.name} must be a {whole}number{reach}{unit}, not {shown}",
        name=bounds.name,
        value=known,
        low=bounds.low,
        high=bounds.high,
        unit=bounds.unit,
        pointer=bounds.pointer,
    )


def _shape(bounds: Bounds, kind: str) -> InvalidRequest:
    wanted = {"text": "Text", "flag": "true or false", "array": "An array", "object": "An object"}
    text = f"{wanted.get(kind, 'A number')} is wanted."
    return InvalidRequest(f"{bounds.pointer}: {text}", errors=[{"pointer": bounds.pointer, "detail": text}])


def _inside(bounds: Bounds, step: object, *, name: str | None = None) -> Bounds:
    escaped = str(step).replace("~", "~0").replace("/", "~1")
    return replace(bounds, name=name or bounds.name, pointer=f"{bounds.pointer}/{escaped}")


def _decode_many(kind: Any, value: Any, bounds: Bounds) -> Any:
    inner = typing.get_args(kind)
    if typing.get_origin(kind) in MAPPINGS:
        if not isinstance(value, dict):
            raise _shape(bounds, "object")
        return {name: decode(inner[1], part, _inside(bounds, name)) for name, part in value.items()}
    if not isinstance(value, list) or len(value) > ARRAY_MAX:
        raise _shape(bounds, "array")
    return tuple(decode(inner[0], part, _inside(bounds, place)) for place, part in enumerate(value))


def _matching(kinds: Sequence[Any], value: Any, bounds: Bounds) -> Any:
    """The one of several shapes whose fields an object has."""
    if not isinstance(value, dict):
        raise _shape(bounds, "object")
    for kind in kinds:
        if set(value) == set(field_hints(kind)):
            return kind
    shapes = "; or ".join(", ".join(field_hints(kind)) for kind in kinds)
    text = f"An object is wanted with {shapes}."
    raise InvalidRequest(f"{bounds.pointer}: {text}", errors=[{"pointer": bounds.pointer, "detail": text}])


def _decode_object(kind: Any, value: Any, bounds: Bounds) -> Any:
    if not isinstance(value, dict):
        raise _shape(bounds, "object")
    hints = field_hints(kind)
    needed = set(required_names(kind))
    faults = [(name, "This field is not known here.") for name in sorted(set(value) - set(hints))]
    faults += [(name, "This is needed.") for name in sorted(needed - set(value))]
    if faults:
        raise faulty([(_inside(bounds, name).pointer, text) for name, text in faults])
    return kind(
        **{
            name: decode(hints[name], part, Bounds(name, pointer=_inside(bounds, name).pointer))
            for name, part in value.items()
        }
    )


def faulty(faults: Sequence[tuple[str, str]]) -> InvalidRequest:
    """A refusal that names several faults, each with its pointer."""
    return InvalidRequest(
        "; ".join(f"{pointer}: {text}" for pointer, text in faults),
        errors=[{"pointer": pointer, "detail": text} for pointer, text in faults],
    )


def encode(value: Any) -> Any:
    """Write what a formula gave as plain JSON; what has no bound is null."""
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, Fact):
        return {name: encode(getattr(value, name)) for name in field_names(type(value))}
    if is_named_tuple(type(value)):
        return {name: encode(part) for name, part in zip(value._fields, value, strict=True)}
    if isinstance(value, Mapping):
        return {str(name): encode(part) for name, part in value.items()}
    if isinstance(value, np.ndarray):
        return encode(value.tolist())
    if isinstance(value, Sequence):
        return [encode(part) for part in value]
    number = float(value)
    return number if math.isfinite(number) else None
