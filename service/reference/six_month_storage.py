"""How much alpha a cultivar loses in six months, unprotected, at 20 °C: every source, one estimate."""

from functools import lru_cache

from service.facts import Fact
from service.reference.assumptions import get_assumption
from service.reference.cultivars import ambiguity, find_cultivar
from service.reference.storage_figures import (
    SOURCE_CLASS_WORDS,
    SOURCE_CLASSES,
    StorageFigure,
    storage_figures_of,
)


class SixMonthLoss(Fact, frozen=True):
    """An estimate of the alpha lost in 180 days, unprotected, at 20 °C.

    ``low_percent`` to ``high_percent`` is taken as the 5th to 95th percentile. ``rows`` are all published
    figures, also those that the estimate does not take. ``is_bound`` says that the source gives a bound
    only. ``is_assumption`` says that no figure stands behind the estimate at all; ``assumptions`` names
    the house figures used for it and for its interval.
    """

    lost_percent: float
    low_percent: float
    high_percent: float
    rows: tuple[StorageFigure, ...]
    basis_words: str
    is_bound: bool
    is_assumption: bool
    assumptions: tuple[str, ...]


@lru_cache(maxsize=1024)
def six_month_loss(name: str) -> SixMonthLoss:
    """Estimate the six-month loss of a cultivar, found by any of its names.

    The USDA-ARS figure is taken, else the growers' association's, else another one. A range counts by its
    middle, a bound by the bound, two rows of one source by their mean. The interval spans all rows, and
    at least the house half-width; where the source gives a bound it reaches further to the open side.
    Without a row, or for a cultivar that the service does not know, the house default stands.

    >>> loss = six_month_loss("Cascade")
    >>> loss.lost_percent, loss.low_percent, loss.high_percent
    (60.0, 48.0, 68.0)

    """
    rows = _rows(name)
    return _from_rows(rows) if rows else _default(name)


def _rows(name: str) -> tuple[StorageFigure, ...]:
    cultivar = find_cultivar(name)
    return storage_figures_of(name) if cultivar is None else cultivar.storage_figures


def _default(name: str) -> SixMonthLoss:
    house = get_assumption("six_month_loss_percent")
    vague = ambiguity(name)
    reason = "no published six-month figure for this cultivar" if vague is None else vague.words
    return SixMonthLoss(
        lost_percent=house.value,
        low_percent=house.low,
        high_percent=house.high,
        rows=(),
        basis_words=f"{reason}; {house.words} ({house.mark})",
        is_bound=False,
        is_assumption=True,
        assumptions=(house.name,),
    )


def _from_rows(rows: tuple[StorageFigure, ...]) -> SixMonthLoss:
    taken = _preferred(rows)
    lost = 100 - sum(row.remaining_percent for row in taken) / len(taken)
    low, high = _interval(lost, rows)
    is_bound = any(row.is_bound for row in taken)
    names = ["six_month_loss_half_width_percent", "six_month_loss_floor_percent"]
    if any(row.is_bound for row in rows):
        names.append("six_month_loss_bound_reach_percent")
    return SixMonthLoss(
        lost_percent=lost,
        low_percent=low,
        high_percent=high,
        rows=rows,
        basis_words=_basis_words(taken, rows, is_bound=is_bound),
        is_bound=is_bound,
        is_assumption=False,
        assumptions=tuple(names),
    )


def _preferred(rows: tuple[StorageFigure, ...]) -> tuple[StorageFigure, ...]:
    best = min((row.source_class for row in rows), key=SOURCE_CLASSES.index)
    return tuple(row for row in rows if row.source_class == best)


def _interval(lost: float, rows: tuple[StorageFigure, ...]) -> tuple[float, float]:
    half = get_assumption("six_month_loss_half_width_percent").value
    reach = get_assumption("six_month_loss_bound_reach_percent").value
    floor = get_assumption("six_month_loss_floor_percent").value
    lows, highs = [lost - half], [lost + half]
    for row in rows:
        lost_ends = row.lost_percent_ends
        lows.append(min(lost_ends) - (reach if row.kind == "lower_bound" else 0))
        highs.append(max(lost_ends) + (reach if row.kind == "upper_bound" else 0))
    return max(floor, min(lows)), min(100 - floor, max(highs))


def _basis_words(taken: tuple[StorageFigure, ...], rows: tuple[StorageFigure, ...], *, is_bound: bool) -> str:
    said = "; ".join(_row_words(row) for row in taken)
    words = [f"{SOURCE_CLASS_WORDS[taken[0].source_class]}: alpha left after 6 months {said}"]
    if is_bound:
        words.append("the source gives a bound only, and the estimate stands at it")
    others = [row for row in rows if row not in taken]
    if others:
        words.append("also published: " + "; ".join(_row_words(row) for row in others))
    return "; ".join(words)


def _row_words(row: StorageFigure) -> str:
    note = f"; {row.note}" if row.note else ""
    return f"{_remaining_words(row)} ({row.source}, {row.mark}{note})"


def _remaining_words(row: StorageFigure) -> str:
    if row.kind == "range":
        return f"{row.remaining_percent_low:g} to {row.remaining_percent_high:g} %"
    before = {"lower_bound": "over ", "upper_bound": "under ", "nearly": "nearly "}.get(row.kind, "")
    return f"{before}{row.remaining_percent:g} %"
