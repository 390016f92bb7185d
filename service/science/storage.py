"""What storage leaves of alpha acids: a first-order loss, slower in the cold and in good packs.

The rate and the temperature rule are published for whole cones up to 20 °C. Of oil no rate is published;
there is no function for it here. Measured over two years cold and without oxygen, hops lost about half of
what this model says for a factor of 0.50; users are told so.
"""

import math
from collections.abc import Sequence

import numpy as np

from service.facts import Fact
from service.science.arrays import Numbers
from service.science.checks import between
from service.science.series import between_all

# M. Garetz 1994, Brewing Techniques 2(1): L6 counts over 180 days at 20 °C; the rate halves for every 15 °C
# colder.
SIX_MONTHS_DAYS = 180.0
REFERENCE_C = 20.0
HALVING_C = 15.0

COLDEST_C = -30.0
HOTTEST_C = 40.0
LARGEST_LOSS_PERCENT = 99.0
LARGEST_PACKING_FACTOR = 2.0
LONGEST_DAYS = 7305.0


class Spell(Fact, frozen=True):
    """A time in store during which nothing changed; the packing factor may carry its interval.

    `share_above_20_c` is the part of the loss that fell above 20 °C where a logger measured it; without it
    the temperature decides, all or nothing.
    """

    days: float
    temperature_c: float
    packing_factor: float
    packing_factor_low: float | None = None
    packing_factor_high: float | None = None
    share_above_20_c: float | None = None


def rate_per_day(*, lost_6_months_percent: float) -> float:
    """Give the rate of alpha loss at 20 °C, unprotected, behind a six-month figure.

    k = -ln(1 - L6/100)/180.

    Args:
        lost_6_months_percent: alpha lost in 180 days at 20 °C, unprotected. [%] 0..99

    Returns:
        The first-order rate. [1/d]

    Raises:
        OutOfRange: the loss lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> rate_per_day(lost_6_months_percent=50)
    0.003851

    """
    between("lost_6_months_percent", lost_6_months_percent, 0, LARGEST_LOSS_PERCENT, "%")
    return -math.log1p(-lost_6_months_percent / 100) / SIX_MONTHS_DAYS


def temperature_factor(*, temperature_c: float) -> float:
    """Give the rate of loss relative to 20 °C.

    TF = 2^((T - 20)/15). Published up to 20 °C; above that the answer is flagged by `is_outside_model`.

    Args:
        temperature_c: temperature of the hops. [°C] -30..40

    Returns:
        The relative rate, 1 at 20 °C. [-]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> temperature_factor(temperature_c=5)
    0.5

    """
    between("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    return math.exp2((temperature_c - REFERENCE_C) / HALVING_C)


def is_outside_model(*, temperature_c: float) -> bool:
    """Say whether a temperature lies above those for which the rule was published.

    Args:
        temperature_c: temperature of the hops. [°C] -30..40

    Returns:
        True above 20 °C. [-]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> is_outside_model(temperature_c=25)
    True

    """
    between("temperature_c", temperature_c, COLDEST_C, HOTTEST_C, "°C")
    return temperature_c > REFERENCE_C


def loss_rate_per_day(*, lost_6_months_percent: float, temperature_c: float, packing_factor: float) -> float:
    """Give the rate of alpha loss in one kind of storage.

    rate = k TF SF.

    Args:
        lost_6_months_percent: alpha lost in 180 days at 20 °C, unprotected. [%] 0..99
        temperature_c: temperature of the hops; published up to 20. [°C] -30..40
        packing_factor: rate in this packing relative to unprotected hops. [-] 0..2

    Returns:
        The first-order rate. [1/d]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1); packing factors below 1 are common practice, no source.

    >>> loss_rate_per_day(lost_6_months_percent=50, temperature_c=5, packing_factor=0.5)
    0.000963

    """
    between("packing_factor", packing_factor, 0, LARGEST_PACKING_FACTOR, "")
    rate = rate_per_day(lost_6_months_percent=lost_6_months_percent)
    return rate * temperature_factor(temperature_c=temperature_c) * packing_factor


def alpha_left_percent(
    *,
    alpha_percent: float,
    lost_6_months_percent: float,
    temperature_c: float,
    packing_factor: float,
    days: float,
) -> float:
    """Give the alpha acids left after storage of one kind.

    A = A0 exp(-k TF SF days).

    Args:
        alpha_percent: alpha acids at the start. [%] 0..100
        lost_6_months_percent: alpha lost in 180 days at 20 °C, unprotected. [%] 0..99
        temperature_c: temperature of the hops; published up to 20. [°C] -30..40
        packing_factor: rate in this packing relative to unprotected hops. [-] 0..2
        days: time in store. [d] 0..7305

    Returns:
        Alpha acids left; over two years cold and without oxygen the loss is overstated about two times. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> alpha_left_percent(alpha_percent=10, lost_6_months_percent=50, temperature_c=4, packing_factor=0.5,
    ...                    days=365)
    7.15

    """
    between("alpha_percent", alpha_percent, 0, 100, "%")
    between("days", days, 0, LONGEST_DAYS, "d")
    rate = loss_rate_per_day(
        lost_6_months_percent=lost_6_months_percent,
        temperature_c=temperature_c,
        packing_factor=packing_factor,
    )
    return alpha_percent * math.exp(-rate * days)


def alpha_left_percent_curve(
    *,
    alpha_percent: float,
    lost_6_months_percent: float,
    temperature_c: float,
    packing_factor: float,
    days: Numbers,
) -> Numbers:
    """Give the alpha acids left after many times in one kind of storage.

    A as in `alpha_left_percent`, element by element.

    Args:
        alpha_percent: alpha acids at the start. [%] 0..100
        lost_6_months_percent: alpha lost in 180 days at 20 °C, unprotected. [%] 0..99
        temperature_c: temperature of the hops; published up to 20. [°C] -30..40
        packing_factor: rate in this packing relative to unprotected hops. [-] 0..2
        days: times in store; shape (n,). [d] 0..7305

    Returns:
        Alpha acids left; shape (n,); the same numbers as the scalar function gives to 1e-12. [%]

    Raises:
        OutOfRange: an argument or an element lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> alpha_left_percent_curve(alpha_percent=10, lost_6_months_percent=50, temperature_c=20,
    ...                          packing_factor=1, days=np.array([0.0, 180.0]))
    array([10.,  5.])

    """
    between("alpha_percent", alpha_percent, 0, 100, "%")
    between_all("days", days, 0, LONGEST_DAYS, "d")
    rate = loss_rate_per_day(
        lost_6_months_percent=lost_6_months_percent,
        temperature_c=temperature_c,
        packing_factor=packing_factor,
    )
    left: Numbers = days * -rate
    np.exp(left, out=left)
    left *= alpha_percent
    return left


def log_loss(*, spells: Sequence[Spell], lost_6_months_percent: float) -> float:
    """Add up the exponent of first-order loss over spells of storage.

    x = sum of k TF SF days; what is left is exp(-x) of the start. Splitting a spell in two changes nothing.

    Args:
        spells: times in store, each with its days, temperature (-30..40 °C) and packing factor. [-]
        lost_6_months_percent: alpha lost in 180 days at 20 °C, unprotected. [%] 0..99

    Returns:
        The exponent; never negative, 0 of no spells. [-]

    Raises:
        OutOfRange: an argument or a part of a spell lies outside its range.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> log_loss(spells=[Spell(days=90, temperature_c=20, packing_factor=1.0),
    ...                  Spell(days=180, temperature_c=5, packing_factor=0.5)], lost_6_months_percent=50)
    0.520

    """
    rate = rate_per_day(lost_6_months_percent=lost_6_months_percent)
    return rate * effective_days_at_20_c(spells=spells)


def effective_days_at_20_c(*, spells: Sequence[Spell]) -> float:
    """Give the days at 20 °C, unprotected, that cost as much as these spells.

    days = sum of TF SF days; the exponent of loss is the lot's rate times this.

    Args:
        spells: times in store, each with its days, temperature (-30..40 °C) and packing factor. [-]

    Returns:
        Days at 20 °C, unprotected. [d]

    Raises:
        OutOfRange: a part of a spell lies outside its range.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> effective_days_at_20_c(spells=[Spell(days=180, temperature_c=5, packing_factor=0.5)])
    45.0

    """
    effective_days = 0.0
    for spell in spells:
        between("days", spell.days, 0, LONGEST_DAYS, "d")
        between("packing_factor", spell.packing_factor, 0, LARGEST_PACKING_FACTOR, "")
        factor = temperature_factor(temperature_c=spell.temperature_c) * spell.packing_factor
        effective_days += spell.days * factor
    return effective_days
