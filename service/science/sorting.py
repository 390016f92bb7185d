"""Samples sorted by hand: percent by mass of what was found, and how far a share of cones may be off.

Shares of sorted cones are taken one by one: Wilson's interval over an effective number of cones. Cone mass
and its scatter are assumptions, named in each answer; counting the cones makes them unnecessary.
"""

import math
from collections.abc import Mapping

from service.science.checks import between
from service.science.uncertainty import NORMAL_95TH, Estimate

LEAST_SAMPLE_G = 0.001
LARGEST_SAMPLE_G = 100_000.0
MOST_CONES = 1_000_000
LARGEST_CV_PERCENT = 300.0


def sorted_percent(*, part_g: float, sample_g: float) -> float:
    """Give the share by mass of what was sorted out of a sample.

    100 part/sample.

    Args:
        part_g: what was sorted out: seeds, leaves and stems, waste, or cones of one class. [g] 0..1e5
        sample_g: the whole sample, no less than the part. [g] 0.001..1e5

    Returns:
        The share. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the part outweighs the sample.

    Source: mass balance; sorting by hand as in Annex II C of Regulation (EC) 1850/2006.

    >>> sorted_percent(part_g=9.5, sample_g=250.0)
    3.8

    """
    between("sample_g", sample_g, LEAST_SAMPLE_G, LARGEST_SAMPLE_G, "g")
    between("part_g", part_g, 0, sample_g, "g")
    return 100 * part_g / sample_g


def effective_cones(*, cones: float, cone_mass_cv_percent: float) -> float:
    """Give how many cones of equal mass tell as much as these, when shares are taken by mass.

    n/(1 + cv^2): heavy cones speak louder than light ones.

    Args:
        cones: cones in the sample. [-] 1..1e6
        cone_mass_cv_percent: scatter of their masses, one standard deviation. [% of the mean] 0..300

    Returns:
        The effective number of cones. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: effective sample size of weighted observations, L. Kish, Survey Sampling, Wiley 1965.

    >>> effective_cones(cones=250, cone_mass_cv_percent=50)
    200.0

    """
    between("cones", cones, 1, MOST_CONES, "")
    between("cone_mass_cv_percent", cone_mass_cv_percent, 0, LARGEST_CV_PERCENT, "%")
    return cones / (1 + (cone_mass_cv_percent / 100) ** 2)


def share_estimate_percent(*, share_percent: float, count: float) -> Estimate:
    """Give the interval of a share that was found in so many cones, each in the class or not.

    (p + z^2/2n -+ z sqrt(p(1-p)/n + z^2/4n^2))/(1 + z^2/n), z = 1.645: Wilson's score interval. It stays within 0 to
    100 % and says something of a class of which no cone was found. Each class is taken for itself; the ends of
    several classes do not add up to 100 %. It speaks of the sample's scatter only, not of how it was drawn.

    Args:
        share_percent: share found. [%] 0..100
        count: cones, or effective cones, in the sample. [-] 1..1e6

    Returns:
        The share with its 5th and 95th percentile. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: E. B. Wilson 1927, J. Am. Stat. Assoc. 22:209-212.

    >>> share_estimate_percent(share_percent=0.0, count=20)
    Estimate(estimate=0.0, low=0.0, high=11.9, confidence=0.9)

    """
    between("share_percent", share_percent, 0, 100, "%")
    between("count", count, 1, MOST_CONES, "")
    return _score_interval(share_percent / 100, count, NORMAL_95TH)


def cone_shares_percent(
    *, masses_g: Mapping[str, float], cones: float, cone_mass_cv_percent: float
) -> dict[str, Estimate]:
    """Give the share by mass of each class of a sample of sorted cones, with its interval.

    Shares by mass, each with Wilson's score interval over the effective number of cones.

    Args:
        masses_g: grams of the cones in each class, by the class's name. [g] 0..1e5
        cones: cones in the whole sample, counted or reckoned from its mass. [-] 1..1e6
        cone_mass_cv_percent: scatter of their masses, one standard deviation. [% of the mean] 0..300

    Returns:
        The share of each class with its 5th and 95th percentile. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or all classes together weigh nothing.

    Source: E. B. Wilson 1927, J. Am. Stat. Assoc. 22:209-212; L. Kish, Survey Sampling, Wiley 1965.

    >>> cone_shares_percent(masses_g={"ripe": 30.0, "over_ripe": 10.0}, cones=250, cone_mass_cv_percent=50)["ripe"]
    Estimate(estimate=75.0, low=69.6, high=79.7, confidence=0.9)

    """
    for mass_g in masses_g.values():
        between("masses_g", mass_g, 0, LARGEST_SAMPLE_G, "g")
    sample_g = math.fsum(masses_g.values())
    between("masses_g together", sample_g, LEAST_SAMPLE_G, LARGEST_SAMPLE_G, "g")
    count = max(1.0, effective_cones(cones=cones, cone_mass_cv_percent=cone_mass_cv_percent))
    return {
        name: share_estimate_percent(share_percent=min(100.0, 100 * mass_g / sample_g), count=count)
        for name, mass_g in masses_g.items()
    }


def _score_interval(share: float, count: float, z: float) -> Estimate:
    middle = share + z * z / (2 * count)
    half = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    whole = 1 + z * z / count
    low, high = (middle - half) / whole, (middle + half) / whole
    # Rounding must not carry an end past the share itself.
    return Estimate(100 * share, 100 * max(0.0, min(low, share)), 100 * min(1.0, max(high, share)))
