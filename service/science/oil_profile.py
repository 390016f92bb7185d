"""How similar two oil profiles are, as compositions: only the ratios between their parts count.

What the laboratory did not name (the rest up to 100 %) is left out: it holds other peaks in each report. A
distance over some parts is never larger than one over all, so the similarity is an upper bound. Similar oil
profile does not mean same aroma: linalool, geraniol and thiols are mostly not reported.
"""

import math
from collections.abc import Mapping

from service.errors import OutOfRange, UnlikeProfiles
from service.facts import Fact
from service.science.checks import between

FEWEST_COMMON_PARTS = 3
# Shares may add up to a little more than 100 by rounding.
LARGEST_SUM_PERCENT = 100.5
# A part that was looked for and not found is taken at 65 % of the detection limit: J. A. Martín-Fernández,
# C. Barceló-Vidal, V. Pawlowsky-Glahn 2003, Mathematical Geology 35:253-278.
ZERO_SHARE_OF_LIMIT = 0.65
# Shares are reported to a tenth of a per cent: assumption, no source.
DETECTION_PERCENT = 0.1
# Under this no logarithm is taken.
LEAST_SHARE_PERCENT = 1e-9


class OilProfile(Fact, frozen=True):
    """Shares of the parts of an oil, on a named basis; None where a part was not looked for."""

    basis: str
    shares_percent: Mapping[str, float | None]

    def __post_init__(self) -> None:
        """Refuse shares that cannot be."""
        known = [share for share in self.shares_percent.values() if share is not None]
        for part, share in self.shares_percent.items():
            if share is not None:
                between(f"share of {part}", share, 0, 100, "%")
        between("sum of the shares", math.fsum(known), 0, LARGEST_SUM_PERCENT, "%")


class OilComparison(Fact, frozen=True):
    """Distance and similarity of two oil profiles, and what they rest on."""

    distance: float
    similarity: float
    parts: tuple[str, ...]
    parts_left_out: tuple[str, ...]
    parts_replaced: tuple[str, ...]
    log_ratio_by_part: Mapping[str, float]


def compare_oil_profiles(
    *, first: OilProfile, second: OilProfile, detection_percent: float = DETECTION_PERCENT
) -> OilComparison:
    """Compare two oil profiles by the distance of compositions.

    Common parts are closed to 100 %, zeros replaced multiplicatively, d = |clr(x) - clr(y)| (Aitchison's
    distance), similarity = 1/(1 + d).

    Args:
        first: one profile. [-] any
        second: the other, on the same basis. [-] any
        detection_percent: share under which a part is not seen; a house assumption. [%] 0.001..5

    Returns:
        The comparison; `log_ratio_by_part` is positive where the second has relatively more. [-]

    Raises:
        OutOfRange: the detection limit lies outside the range beside it.
        UnlikeProfiles: the bases differ, or fewer than three parts are known of both.

    Source: J. Aitchison 1986, The Statistical Analysis of Compositional Data; Martín-Fernández et al.
    2003, Mathematical Geology 35:253-278.

    >>> a = OilProfile(basis="us", shares_percent={"myrcene": 50, "humulene": 20, "caryophyllene": 10})
    >>> b = OilProfile(basis="us", shares_percent={"myrcene": 25, "humulene": 20, "caryophyllene": 10})
    >>> compare_oil_profiles(first=a, second=b).distance
    0.566

    """
    between("detection_percent", detection_percent, 0.001, 5, "%")
    parts = _common_parts(first, second)
    one = _shares(first, parts)
    other = _shares(second, parts)
    least = ZERO_SHARE_OF_LIMIT * detection_percent
    before = centred_log_ratios(shares_percent=replace_zeros(shares_percent=one, zero_percent=least))
    after = centred_log_ratios(shares_percent=replace_zeros(shares_percent=other, zero_percent=least))
    distance = math.dist(before, after)
    return OilComparison(
        distance=distance,
        similarity=similarity(distance=distance),
        parts=parts,
        parts_left_out=tuple(sorted({*first.shares_percent, *second.shares_percent} - set(parts))),
        parts_replaced=tuple(part for part, a, b in zip(parts, one, other, strict=True) if a == 0 or b == 0),
        log_ratio_by_part={part: b - a for part, a, b in zip(parts, before, after, strict=True)},
    )


def similarity(*, distance: float) -> float:
    """Turn a distance into a similarity between 0 and 1.

    s = 1/(1 + d): 1 for equal ratios between the parts, 0.5 at a distance of 1, 0 never; a convention of this
    service, not a published scale.

    Args:
        distance: Aitchison's distance. [-] 0..1000

    Returns:
        The similarity of the oil profiles. [-]

    Raises:
        OutOfRange: the distance lies outside the range beside it.

    Source: common practice, no source.

    >>> similarity(distance=1)
    0.5

    """
    between("distance", distance, 0, 1000, "")
    return 1 / (1 + distance)


def closed_percent(*, shares_percent: tuple[float, ...]) -> tuple[float, ...]:
    """Close shares to 100 %.

    x_i * 100/sum(x).

    Args:
        shares_percent: the parts, not all 0. [%] 0..100

    Returns:
        The parts as shares of their own sum. [%]

    Raises:
        OutOfRange: a share lies outside the range beside it, or all are 0.

    Source: J. Aitchison 1986, The Statistical Analysis of Compositional Data.

    >>> closed_percent(shares_percent=(30.0, 10.0))
    (75.0, 25.0)

    """
    for share in shares_percent:
        between("shares_percent", share, 0, 100, "%")
    total = math.fsum(shares_percent)
    if total == 0:
        raise OutOfRange("shares_percent must not all be 0 %", name="shares_percent", value=0, unit="%")
    return tuple(100 * share / total for share in shares_percent)


def replace_zeros(*, shares_percent: tuple[float, ...], zero_percent: float) -> tuple[float, ...]:
    """Close shares and replace the zeros among them, so that logarithms exist.

    Zeros become d; the others shrink to x (1 - n d/100), which keeps the ratios between them.

    Args:
        shares_percent: the parts, not all 0. [%] 0..100
        zero_percent: what a zero becomes. [%] 0.0001..5

    Returns:
        The parts, all positive, with the sum 100. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: Martín-Fernández et al. 2003, Mathematical Geology 35:253-278, multiplicative replacement.

    >>> replace_zeros(shares_percent=(75.0, 25.0, 0.0), zero_percent=1.0)
    (74.25, 24.75, 1.0)

    """
    between("zero_percent", zero_percent, 0.0001, 5, "%")
    closed = closed_percent(shares_percent=shares_percent)
    shrink = 1 - closed.count(0) * zero_percent / 100
    return tuple(share * shrink if share else zero_percent for share in closed)


def centred_log_ratios(*, shares_percent: tuple[float, ...]) -> tuple[float, ...]:
    """Give the centred log-ratios of a composition.

    clr_i = ln x_i - mean of ln x.

    Args:
        shares_percent: the parts, all positive. [%] 1e-9..100

    Returns:
        The centred log-ratios, which sum to 0. [-]

    Raises:
        OutOfRange: a share lies outside the range beside it, or there is none.

    Source: J. Aitchison 1986, The Statistical Analysis of Compositional Data.

    >>> centred_log_ratios(shares_percent=(80.0, 20.0))
    (0.693, -0.693)

    """
    between("number of shares", len(shares_percent), 1, 1000, "")
    for share in shares_percent:
        between("shares_percent", share, LEAST_SHARE_PERCENT, 100, "%")
    logs = [math.log(share) for share in shares_percent]
    mean = math.fsum(logs) / len(logs)
    return tuple(log - mean for log in logs)


def _common_parts(first: OilProfile, second: OilProfile) -> tuple[str, ...]:
    if first.basis != second.basis:
        raise UnlikeProfiles(
            f"the shares stand on different bases, {first.basis} and {second.basis}", reason="basis"
        )
    for profile in (first, second):
        if not any(profile.shares_percent.values()):
            raise UnlikeProfiles("no share of the oil is known of one of the two", reason="missing")
    parts = tuple(
        sorted(
            part
            for part, share in first.shares_percent.items()
            if share is not None and second.shares_percent.get(part) is not None
        )
    )
    if len(parts) < FEWEST_COMMON_PARTS:
        raise UnlikeProfiles(
            f"{len(parts)} parts of the oil are known of both, {FEWEST_COMMON_PARTS} are needed",
            reason="few-parts",
        )
    for profile in (first, second):
        if sum(_shares(profile, parts)) == 0:
            raise UnlikeProfiles("none of the common parts was found in one of the two", reason="missing")
    return parts


def _shares(profile: OilProfile, parts: tuple[str, ...]) -> tuple[float, ...]:
    return tuple(profile.shares_percent[part] or 0.0 for part in parts)
