"""Packings, and how much of the unprotected storage rate each lets through."""

from functools import cache

from service.errors import NotFound, OutOfRange
from service.facts import Fact
from service.reference.assumptions import get_assumption
from service.reference.load import load_table

# The packing that counts only with residual oxygen measured.
LOW_OXYGEN = "barrier_low_oxygen"
RESIDUAL_OXYGEN_MAX_PERCENT = 21.0
"""[%] Nothing packed in air holds more oxygen than air."""


class Packing(Fact, frozen=True):
    """One packing; ``factor`` multiplies the unprotected rate, ``low`` to ``high`` is its interval."""

    code: str
    name: str
    factor: float
    low: float
    high: float
    unit: str
    mark: str
    source: str
    interval_mark: str
    words: str


class PackingUsed(Fact, frozen=True):
    """The packing that an estimate counts with, and why it is another than the one named."""

    named_code: str
    packing: Packing
    reason: str | None


@cache
def all_packings() -> tuple[Packing, ...]:
    """Give every packing, from the least to the most protecting."""
    return tuple(
        Packing(
            code=row.text("code"),
            name=row.text("name"),
            factor=row.number("factor"),
            low=row.number("low"),
            high=row.number("high"),
            unit=row.text("unit"),
            mark=row.text("mark"),
            source=row.text("source"),
            interval_mark=row.text("interval_mark"),
            words=row.text("words"),
        )
        for row in load_table("packings", has_unit=True)
    )


@cache
def _by_code() -> dict[str, Packing]:
    return {packing.code: packing for packing in all_packings()}


def get_packing(code: str) -> Packing:
    """Give one packing.

    Raises:
        NotFound: there is no packing with that code.

    >>> get_packing("barrier_air").factor
    0.75

    """
    found = _by_code().get(code)
    if found is None:
        raise NotFound(f"there is no packing {code!r}", code=code, known=list(_by_code()))
    return found


def packing_used(code: str, *, residual_oxygen_percent: float | None) -> PackingUsed:
    """Give the packing that counts: low oxygen counts only when measured and low enough.

    Raises:
        NotFound: there is no packing with that code.
        OutOfRange: the residual oxygen is no number from 0 to 21 %.

    >>> packing_used("barrier_low_oxygen", residual_oxygen_percent=3.0).packing.code
    'barrier_nitrogen'

    """
    named = get_packing(code)
    if residual_oxygen_percent is not None:
        _check_oxygen(residual_oxygen_percent)
    if code != LOW_OXYGEN:
        return PackingUsed(named_code=code, packing=named, reason=None)
    reason = _not_low_oxygen(residual_oxygen_percent)
    packing = named if reason is None else get_packing("barrier_nitrogen")
    return PackingUsed(named_code=code, packing=packing, reason=reason)


def _not_low_oxygen(residual_oxygen_percent: float | None) -> str | None:
    limit = get_assumption("residual_oxygen_limit_percent")
    if residual_oxygen_percent is None:
        return "residual oxygen was not measured, so the lot counts as packed under nitrogen"
    if residual_oxygen_percent > limit.value:
        return (
            f"residual oxygen is {residual_oxygen_percent:g} %, over the {limit.value:g} % up to which "
            f"a pack counts as low in oxygen ({limit.mark}), so the lot counts as packed under nitrogen"
        )
    return None


def _check_oxygen(value: float) -> None:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not 0 <= value <= RESIDUAL_OXYGEN_MAX_PERCENT:
        raise OutOfRange(
            f"residual_oxygen_percent must be 0 to {RESIDUAL_OXYGEN_MAX_PERCENT:g} %",
            name="residual_oxygen_percent",
            low=0.0,
            high=RESIDUAL_OXYGEN_MAX_PERCENT,
            unit="%",
        )
