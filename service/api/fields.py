"""The base schemas, and the fields that all schemas are made of: a quantity looks the same everywhere."""

import math
import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, ClassVar

import marshmallow as ma

from service.facts import Fact

CODE = r"^[A-Z0-9](?:[A-Z0-9-]{0,22}[A-Z0-9])?$"
PARTY_CODE = r"^[A-Z0-9](?:[A-Z0-9-]{0,10}[A-Z0-9])?$"
# What JSON calls a number; also what a query may carry.
NUMBER = re.compile(r"-?(?:0|[1-9][0-9]{0,19})(?:\.[0-9]{1,20})?(?:[eE][+-]?[0-9]{1,3})?", re.ASCII)
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,6})?(?:[Zz]|[+-][0-9]{2}:[0-9]{2})",
    re.ASCII,
)


class SharedSchema(ma.Schema):
    """A schema that nothing changes once it is made, so that a copy may be the schema itself."""

    def __deepcopy__(self, _memo: dict[int, Any]) -> "SharedSchema":
        return self


class Body(SharedSchema):
    """A request body. A field that is not known is refused, so that a mistyped name never vanishes.

    A body that names a `command` is loaded as that fact, whose fields are the body's. A merge patch names none: it is
    loaded as a dictionary of what changes.
    """

    command: ClassVar[type[Fact] | None] = None

    class Meta:
        """Unknown fields are refused."""

        unknown = ma.RAISE

    error_messages = {"unknown": "This field is not known here.", "type": "An object is wanted."}  # noqa: RUF012

    @ma.post_load
    def _as_command(self, data: dict[str, Any], **_: Any) -> Any:
        return data if self.command is None else self.command(**data)


class Query(Body):
    """A query string."""


class AnswerBody(SharedSchema):
    """A response body."""


class Text(ma.fields.String):
    """Text that every database can hold: not empty, no NUL, no lone surrogate."""

    default_error_messages = {"invalid": "Text is wanted.", "blank": "Text that is not blank is wanted."}  # noqa: RUF012

    def __init__(self, *, longest: int = 200, **kw: Any) -> None:
        kw["validate"] = ma.validate.Length(1, longest)
        kw["metadata"] = {"pattern": r"^[^\u0000]*\S[^\u0000]*$", **kw.get("metadata", {})}
        super().__init__(**kw)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> str:
        text = str(super()._deserialize(value, attr, data, **kw))
        if "\x00" in text or any(0xD800 <= ord(ch) <= 0xDFFF for ch in text):
            raise self.make_error("invalid")
        if not text.strip():
            raise self.make_error("blank")
        return text


class Code(ma.fields.String):
    """A code the service gave: A–Z, 0–9 and -, at most 24; lower case is read as upper case."""

    default_error_messages = {"code": "A code is wanted: A-Z, 0-9 and -, at most {longest}."}  # noqa: RUF012

    def __init__(self, *, party: bool = False, **kw: Any) -> None:
        self.pattern = PARTY_CODE if party else CODE
        self.longest = 12 if party else 24
        kw["metadata"] = {"pattern": self.pattern, **kw.get("metadata", {})}
        super().__init__(**kw)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> str:
        text = str(super()._deserialize(value, attr, data, **kw)).upper()
        if not re.fullmatch(self.pattern, text, re.ASCII):
            raise self.make_error("code", longest=self.longest)
        return text


class Choice(ma.fields.String):
    """One of a few words, in upper or lower case."""

    def __init__(self, choices: tuple[str, ...], **kw: Any) -> None:
        self.choices = choices
        self._by_folded = {choice.casefold(): choice for choice in choices}
        kw["validate"] = ma.validate.OneOf(choices, error="Must be one of: {choices}.")
        super().__init__(**kw)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> str:
        text = str(super()._deserialize(value, attr, data, **kw))
        return self._by_folded.get(text.casefold(), text)


class Flag(ma.fields.Boolean):
    """True or false, and nothing that merely looks so; in a query the words `true` and `false`."""

    default_error_messages = {"flag": "true or false is wanted."}  # noqa: RUF012

    def __init__(self, *, in_query: bool = False, **kw: Any) -> None:
        self.in_query = in_query
        super().__init__(**kw)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> bool:
        if isinstance(value, bool):
            return value
        if self.in_query and value in ("true", "false"):
            return bool(value == "true")
        raise self.make_error("flag")


def likely_slip(name: str, value: float) -> str:
    """What a value out of range was probably meant to be, by the unit in its name; empty where nothing suggests itself.

    >>> likely_slip("temperature_c", 176.0)
    ' 176 looks like degrees Fahrenheit; that is 80 degrees Celsius.'
    >>> likely_slip("gravity_sg", 12.4)
    ' 12.4 looks like degrees Plato; give gravity_plato, or the gravity as 1.050.'

    """
    if name.endswith("gravity_sg") and 1.5 <= value <= 35:
        return f" {value:g} looks like degrees Plato; give gravity_plato, or the gravity as 1.050."
    if name.endswith("gravity_sg") and 1000 <= value <= 1170:
        return f" {value:g} looks like a gravity without its decimal point; that is {value / 1000:g}."
    if name.endswith("_c") and 32 <= value <= 230:
        return f" {value:g} looks like degrees Fahrenheit; that is {(value - 32) / 1.8:.0f} degrees Celsius."
    return ""


class _Bounded(ma.fields.Field[Any]):
    """A number with bounds that the documents show."""

    default_error_messages = {  # noqa: RUF012
        "number": "A number is wanted.",
        "range": "Must be {low} to {high}.{slip}",
        "above": "Must be over {low} and at most {high}.{slip}",
        "decimals": "At most {places} decimals are kept; give no more.",
        "whole": "A whole number is wanted.",
    }

    def __init__(
        self,
        low: float,
        high: float,
        *,
        above: bool = False,
        in_query: bool = False,
        metadata: dict[str, Any] | None = None,
        **kw: Any,
    ) -> None:
        self.low, self.high, self.above, self.in_query = low, high, above, in_query
        bound = "exclusiveMinimum" if above else "minimum"
        super().__init__(metadata={bound: low, "maximum": high, **(metadata or {})}, **kw)

    def exact(self, value: Any, name: str | None = None) -> Decimal:
        """Read a JSON number, or in a query its text, exactly; refuse what lies outside."""
        if self.in_query and isinstance(value, str):
            if not NUMBER.fullmatch(value):
                raise self.make_error("number")
        elif isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise self.make_error("number")
        number = Decimal(str(value))
        if not number.is_finite():
            raise self.make_error("number")
        low, high = Decimal(str(self.low)), Decimal(str(self.high))
        if number > high or number < low or (self.above and number == low):
            key = "above" if self.above else "range"
            slip = likely_slip(name or "", float(number))
            raise self.make_error(key, low=f"{self.low:g}", high=f"{self.high:g}", slip=slip)
        return number


class Number(_Bounded):
    """A measured number; 0.0 for -0.0."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> float:
        return float(self.exact(value, attr)) + 0.0

    def _serialize(self, value: Any, attr: str | None, obj: Any, **kw: Any) -> float | None:
        # A number beyond double precision or not finite is a fault of ours; let it be seen.
        if value is None:
            return None
        number = float(value)
        if not math.isfinite(number):
            raise ValueError(f"{attr} is not a finite number")
        return number


class Whole(_Bounded):
    """What JSON Schema calls an integer: 3 and 3.0, but neither "3" nor true nor 3.5."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> int:
        number = self.exact(value, attr)
        if number != number.to_integral_value():
            raise self.make_error("whole")
        return int(number)


class _Exact(_Bounded):
    """A decimal that is kept exactly, as a JSON number."""

    places = 3

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> Decimal:
        number = self.exact(value, attr)
        if number != round(number, self.places):
            raise self.make_error("decimals", places=self.places)
        return round(number, self.places).normalize() + Decimal(0)

    def _serialize(self, value: Decimal | None, attr: str | None, obj: Any, **kw: Any) -> float | None:
        return None if value is None else float(value)


class Kilograms(_Exact):
    """Goods that are counted: exact to the gram."""

    def __init__(self, low: float = 0, high: float = 10_000_000, *, above: bool = True, **kw: Any) -> None:
        super().__init__(low, high, above=above, **kw)


class Money(_Exact):
    """Money, to four decimals."""

    places = 4

    def __init__(self, low: float = 0, high: float = 1_000_000, **kw: Any) -> None:
        super().__init__(low, high, **kw)


class Percent(Number):
    """A share of a mass, 0 to 100."""

    def __init__(self, low: float = 0, high: float = 100, **kw: Any) -> None:
        super().__init__(low, high, **kw)


class Day(ma.fields.Date):
    """A date, YYYY-MM-DD."""

    default_error_messages = {"day": "A date is wanted, YYYY-MM-DD."}  # noqa: RUF012

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> date:
        if not isinstance(value, str) or not DAY.fullmatch(value):
            raise self.make_error("day")
        try:
            day = date.fromisoformat(value)
        except ValueError:
            raise self.make_error("day") from None
        if not 1900 <= day.year <= 2200:
            raise self.make_error("day")
        return day


class Instant(ma.fields.AwareDateTime):
    """A moment, RFC 3339, always with its offset; answered in UTC."""

    default_error_messages = {"moment": "A moment is wanted, as 2026-11-25T09:30:00Z."}  # noqa: RUF012

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> datetime:
        if not isinstance(value, str) or not MOMENT.fullmatch(value):
            raise self.make_error("moment")
        try:
            moment = datetime.fromisoformat(value.upper())
            return moment.astimezone(UTC)
        except (ValueError, OverflowError):
            raise self.make_error("moment") from None

    def _serialize(self, value: datetime | None, attr: str | None, obj: Any, **kw: Any) -> str | None:
        return None if value is None else rfc3339(value)


def rfc3339(moment: datetime) -> str:
    """Write a moment in UTC, to the second."""
    return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


class _Letters(ma.fields.String):
    """A code of capital letters from a standard."""

    pattern = ""

    def __init__(self, **kw: Any) -> None:
        kw["metadata"] = {"pattern": f"^{self.pattern}$", **kw.get("metadata", {})}
        super().__init__(**kw)

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kw: Any) -> str:
        if not isinstance(value, str) or not re.fullmatch(self.pattern, value, re.ASCII):
            raise self.make_error("letters")
        return value


class Country(_Letters):
    """A country, ISO 3166-1 alpha-2."""

    pattern = "[A-Z]{2}"
    default_error_messages = {"letters": "A country is wanted, two capital letters of ISO 3166-1."}  # noqa: RUF012


class Subdivision(_Letters):
    """A province, state or region, ISO 3166-2."""

    pattern = "[A-Z]{2}-[A-Z0-9]{1,3}"
    default_error_messages = {"letters": "A subdivision is wanted as ISO 3166-2 writes it, such as CA-NS."}  # noqa: RUF012


class Currency(_Letters):
    """A currency, ISO 4217."""

    pattern = "[A-Z]{3}"
    default_error_messages = {"letters": "A currency is wanted, three capital letters of ISO 4217."}  # noqa: RUF012


class EstimateBody(AnswerBody):
    """An estimate with its interval: the 5th to 95th percentile."""

    estimate = Number(-1e12, 1e12, required=True)
    low = Number(-1e12, 1e12, required=True)
    high = Number(-1e12, 1e12, required=True)
    confidence = Number(0, 1, required=True)


def estimate(**kw: Any) -> ma.fields.Nested:
    """An estimate inside an answer."""
    return ma.fields.Nested(EstimateBody, **kw)


def facts(**kw: Any) -> ma.fields.Dict:
    """A small open object: the inputs an answer was reckoned from."""
    return ma.fields.Dict(keys=ma.fields.String(), values=ma.fields.Raw(), **kw)


def lines(**kw: Any) -> ma.fields.List[Any]:
    """Sentences for a reader."""
    return ma.fields.List(ma.fields.String(), **kw)
