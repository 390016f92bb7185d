"""How far an estimated bitterness may be off: the laboratory, the sample, the storage and the model together.

Each scatter is a pair of half-widths in natural logarithms. Alpha of one lot is one unknown: additions that
name the same lot err together in full, and so do additions that share a scatter of the model. The doubt about
storage is shared by all lots. All else is independent. Alpha differs from lot to lot, the model's scatters from
brewery to brewery.
"""

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Mapping, Sequence

from service.facts import Fact
from service.science.checks import between
from service.science.uncertainty import (
    Estimate,
    HalfWidths,
    combine_half_widths,
    estimate_from_half_widths,
)

MOST_ADDITIONS = 200
# One temperature rule and one set of rates stand behind the storage of every lot. How much of that doubt is a lot's own
# is not known; sharing all of it is the wider reading, as in the region's sums of alpha.
SHARED_BY_LOTS = ("storage",)


class AdditionSpread(Fact, frozen=True):
    """One addition's bitterness and its scatters.

    `alpha_by_source` holds the scatters of the alpha acids (laboratory, sampling, storage); `lot` names the
    lot they belong to, None for hops of their own. `model_by_source` holds the scatters of the formula by
    name: its own, that of a convention on it, that of wet hops.
    """

    ibu: float
    alpha_by_source: Mapping[str, HalfWidths]
    model_by_source: Mapping[str, HalfWidths]
    lot: str | None = None

    def __post_init__(self) -> None:
        """Refuse what is out of range."""
        between("ibu", self.ibu, 0, 1e9, "IBU")
        for widths in (*self.alpha_by_source.values(), *self.model_by_source.values()):
            between("below_log", widths.below_log, 0, 10, "")
            between("above_log", widths.above_log, 0, 10, "")


def addition_estimate(*, addition: AdditionSpread) -> Estimate:
    """Put an interval around the bitterness of one addition.

    The logarithms' half-widths add in quadrature, each side for itself: IBU is a product.

    Args:
        addition: its bitterness and scatters. [-] any

    Returns:
        The bitterness with its 5th and 95th percentile. [IBU]

    Raises:
        OutOfRange: a figure of the addition lies outside its range.

    Source: propagation of relative scatter through a product; the sizes of the scatters are the caller's.

    >>> addition_estimate(addition=AdditionSpread(
    ...     ibu=30.0, alpha_by_source={"laboratory": HalfWidths(0.06, 0.06)},
    ...     model_by_source={"boil": HalfWidths(0.08, 0.08)}))
    Estimate(estimate=30.0, low=27.145, high=33.155, confidence=0.9)

    """
    widths = combine_half_widths(
        parts=[*addition.alpha_by_source.values(), *addition.model_by_source.values()]
    )
    return estimate_from_half_widths(estimate=addition.ibu, half_widths=widths)


def total_estimate(*, additions: Sequence[AdditionSpread]) -> Estimate:
    """Put an interval around the bitterness of a beer.

    Delta method on the sum: each source of scatter moves the sum by IBU times its half-width. The alpha of a
    lot moves all additions of that lot together, the doubt about storage moves all lots together, a scatter of the
    model all additions that have it; such moves are added, independent ones squared and added. The half-widths of
    the sum count relative to it, as logarithms.

    Args:
        additions: all additions with their scatters, dry hops left out. [-] 1..200

    Returns:
        The sum with its 5th and 95th percentile. [IBU]

    Raises:
        OutOfRange: there are no additions or too many.

    Source: delta method with full correlation inside a lot, a model and the storage of all lots; the sizes are the
    caller's.

    >>> boil = AdditionSpread(ibu=30.0, alpha_by_source={"laboratory": HalfWidths(0.1, 0.1)},
    ...                       model_by_source={}, lot="A")
    >>> total_estimate(additions=[boil, boil])
    Estimate(estimate=60.0, low=54.29, high=66.31, confidence=0.9)

    """
    between("number of additions", len(additions), 1, MOST_ADDITIONS, "")
    total = math.fsum(addition.ibu for addition in additions)
    widths = HalfWidths(
        _reach(additions, total, lambda widths: widths.below_log),
        _reach(additions, total, lambda widths: widths.above_log),
    )
    return estimate_from_half_widths(estimate=total, half_widths=widths)


def _reach(additions: Sequence[AdditionSpread], total: float, side: Callable[[HalfWidths], float]) -> float:
    move_by_cause: defaultdict[Hashable, float] = defaultdict(float)
    for place, addition in enumerate(additions):
        lot = place if addition.lot is None else addition.lot
        for source, widths in addition.alpha_by_source.items():
            owner = None if source in SHARED_BY_LOTS else lot
            move_by_cause["alpha", owner, source] += addition.ibu * side(widths)
        for source, widths in addition.model_by_source.items():
            move_by_cause["model", source] += addition.ibu * side(widths)
    return math.hypot(*move_by_cause.values()) / total if total else 0.0
