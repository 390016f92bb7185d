"""A grower's declaration that it may grow a protected cultivar. Never a legal opinion.

A missing licence is a caution: who may grow what is for the plant variety office to say.
"""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from service.errors import InvalidRequest
from service.facts import Fact

NO_OPINION = "No legal opinion: ask the plant variety office or the holder of the right."


class Licence(Fact, frozen=True, kw_only=True):
    """One declaration, for a grower and a cultivar; all of the grower's lots of that cultivar carry it."""

    code: str = ""
    grower_code: str
    cultivar: str
    cultivar_key: str
    licensor: str
    number: str
    valid_until: date | None
    declared_at: datetime
    declared_by: str
    ended_at: datetime | None = None
    ended_by: str | None = None

    def holds_on(self, on: date) -> bool:
        """Whether it covers a day; the last day counts, and without one it has no end."""
        return self.ended_at is None and (self.valid_until is None or on <= self.valid_until)


class DeclareLicence(Fact, frozen=True, kw_only=True):
    """A command: declare that the grower may grow a cultivar, named by denomination or synonym."""

    cultivar: str
    licensor: str
    number: str
    valid_until: date | None = None


class ShownLicence(Fact, frozen=True, kw_only=True):
    """A declaration beside the day for which it is shown."""

    licensor: str
    number: str
    valid_until: date | None
    lapsed: bool


def accept_licence(licence: Licence, *, today: date) -> Licence:
    """Let a declaration in, unless it has lapsed already.

    Raises:
        InvalidRequest: its last day is past.

    """
    if licence.valid_until is not None and licence.valid_until < today:
        text = f"the licence ended on {licence.valid_until}; declare one that holds"
        raise InvalidRequest(text, errors=[{"pointer": "#/valid_until", "detail": text}])
    return licence


def licence_shown(licences: Sequence[Licence], on: date) -> ShownLicence | None:
    """Of a cultivar's declarations the one that reaches furthest, the newest among equals; None where none was made."""
    told = [licence for licence in licences if licence.ended_at is None]
    if not told:
        return None
    best = max(told, key=lambda held: (held.valid_until or date.max, held.declared_at))
    return ShownLicence(
        licensor=best.licensor,
        number=best.number,
        valid_until=best.valid_until,
        lapsed=not best.holds_on(on),
    )


def rights_notes(status: str, country: str, licence: ShownLicence | None) -> Iterator[str]:
    """What a reader should know of the plant rights of a lot: words, and never a verdict.

    >>> next(rights_notes("protected", "CA", None))
    'Protected in CA as the source says; its grower declared no licence here. Ask for it before buying.'

    """
    if status == "public":
        if licence is not None:
            yield "Its grower declared a licence all the same."
        return
    found = (
        f"Protected in {country} as the source says"
        if status == "protected"
        else f"Whether it is protected in {country} was not confirmed"
    )
    if licence is None:
        asks = " Ask for it before buying." if status == "protected" else ""
        yield f"{found}; its grower declared no licence here.{asks}"
    elif licence.lapsed:
        yield f"{found}; the licence its grower declared ended on {licence.valid_until}. Ask for the one that holds."
    else:
        yield f"{found}; its grower declares a licence, which nobody here checked."
    yield NO_OPINION
