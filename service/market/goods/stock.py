"""What can be had of a lot: what is free, whole packages, the grower's smallest order."""

import math
from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

import numpy as np

from service.errors import NotEnoughStock, NotSoldInThatMass
from service.facts import Fact
from service.market.goods.lots import Lot, Package
from service.science.arrays import Numbers

# So many steps of the common measure of all packages are tried exactly; a larger lot is packed largest first.
STEPS_MAX = 50_000_000
# A solver that means 5 kg may say 4.9999999999.
LAST_DIGIT_G = 2e-3


class Nearest(Fact, frozen=True):
    """The nearest masses that whole packages make: not over, and not under, what was asked for."""

    below_kg: Decimal | None
    above_kg: Decimal | None


def nearest_in_packages(packages: Sequence[Package], mass_kg: Decimal, *, free_kg: Decimal) -> Nearest:
    """The nearest masses that whole packages make, none over what is free.

    >>> box = Package(kind="box", count=6, net_kg=Decimal(20))
    >>> nearest_in_packages([box], Decimal(50), free_kg=Decimal(120))
    Nearest(below_kg=Decimal('40'), above_kg=Decimal('60'))

    """
    step_g = math.gcd(*(_grams(p.net_kg) for p in packages))
    total = sum(p.count * _grams(p.net_kg) for p in packages)
    most = min(total, _grams(free_kg)) // step_g
    wanted_g = _grams(mass_kg)
    if most > STEPS_MAX:
        found_g = _largest_first(packages, min(wanted_g, _grams(free_kg)))
        below = found_g or None
        above = found_g if found_g == wanted_g else None
        return Nearest(_kilograms(below), _kilograms(above))
    sums = _sums(packages, step_g, most)
    below_step = (sums & ((1 << (wanted_g // step_g + 1)) - 1)).bit_length() - 1
    above_step = -(-wanted_g // step_g)
    over = sums >> above_step
    above = (above_step + (over & -over).bit_length() - 1) * step_g if over else None
    return Nearest(_kilograms(below_step * step_g or None), _kilograms(above))


def most_in_packages_kg(packages: Sequence[Package], mass_kg: Decimal, *, free_kg: Decimal) -> Decimal:
    """The largest mass that whole packages make, over neither what is asked for nor what is free.

    >>> most_in_packages_kg([Package(kind="box", count=6, net_kg=Decimal(20))], Decimal(50), free_kg=Decimal(120))
    Decimal('40')

    """
    sizes_g = sorted(_grams(p.net_kg) for p in packages)
    if any(large % small for small, large in pairwise(sizes_g)):
        return nearest_in_packages(packages, mass_kg, free_kg=free_kg).below_kg or Decimal(0)
    # Where each size is a multiple of the next smaller one, packing the largest first fills most.
    return _kilograms(_largest_first(packages, min(_grams(mass_kg), _grams(free_kg)))) or Decimal(0)


def _sums(packages: Sequence[Package], step_g: int, most: int) -> int:
    # Bit n is set when some packages together make n steps; counts go in halves, so that a thousand boxes
    # take ten shifts.
    mask = (1 << (most + 1)) - 1
    sums = 1
    for package in packages:
        weight, left, part = _grams(package.net_kg) // step_g, package.count, 1
        while left > 0:
            part = min(part, left)
            if part * weight <= most:
                sums |= (sums << (part * weight)) & mask
            left -= part
            part *= 2
    return sums


def _largest_first(packages: Sequence[Package], wanted_g: int) -> int:
    taken_g = 0
    for package in sorted(packages, key=lambda p: -p.net_kg):
        one = _grams(package.net_kg)
        taken_g += min(package.count, (wanted_g - taken_g) // one) * one
    return taken_g


def _grams(mass_kg: Decimal) -> int:
    return int(mass_kg * 1000)


def _kilograms(mass_g: int | None) -> Decimal | None:
    if mass_g is None:
        return None
    exact = Decimal(mass_g) / 1000
    return exact.quantize(Decimal(1)) if exact == exact.to_integral() else exact


def require_free(lot: Lot, mass_kg: Decimal) -> None:
    """Refuse to promise more than is free.

    Raises:
        NotEnoughStock: less is free.

    """
    if mass_kg > lot.free_kg:
        raise NotEnoughStock(
            f"lot {lot.code} has {lot.free_kg} kg free, {mass_kg} kg were asked for",
            lot_code=lot.code,
            free_kg=lot.free_kg,
            wanted_kg=mass_kg,
        )


def require_sold_so(lot: Lot, mass_kg: Decimal, *, promised_kg: Decimal = Decimal(0)) -> None:
    """Refuse a mass in which the grower does not sell this lot.

    The whole rest may always be taken, however small, and though a sample was drawn of its last package. Under whole
    packages what is promised already and this mass must be made of packages together, too.

    Raises:
        NotSoldInThatMass: under the smallest order, or not whole packages.

    """
    smallest = lot.order_kg_min
    if smallest is not None and mass_kg < min(smallest, lot.free_kg):
        raise NotSoldInThatMass(
            f"the smallest order of lot {lot.code} is {smallest} kg, {mass_kg} kg were asked for",
            lot_code=lot.code,
            order_kg_min=smallest,
            wanted_kg=mass_kg,
        )
    if lot.sold_in != "whole_packages" or not lot.packages or mass_kg == lot.free_kg:
        return
    near = nearest_in_packages(lot.packages, mass_kg, free_kg=lot.stock_kg)
    both = nearest_in_packages(lot.packages, promised_kg + mass_kg, free_kg=lot.stock_kg)
    if mass_kg != near.below_kg or both.below_kg != promised_kg + mass_kg:
        raise NotSoldInThatMass(
            f"lot {lot.code} is sold in whole packages ({words_of(lot.packages)}); {mass_kg} kg are not"
            " made of those that are left",
            lot_code=lot.code,
            sold_in=lot.sold_in,
            wanted_kg=mass_kg,
            nearest_below_kg=near.below_kg if mass_kg != near.below_kg else None,
            nearest_above_kg=near.above_kg if mass_kg != near.above_kg else None,
        )


def words_of(packages: Sequence[Package]) -> str:
    """The packages in words.

    >>> words_of([Package(kind="box", count=6, net_kg=Decimal("20.0"))])
    '6 boxes of 20 kg'

    """
    return ", ".join(f"{p.count} {_plural(p.kind, p.count)} of {p.net_kg.normalize():f} kg" for p in packages)


def _plural(kind: str, count: int) -> str:
    if count == 1:
        return kind
    return f"{kind}es" if kind.endswith("x") else f"{kind}s"


def to_the_gram(mass_kg: Numbers) -> Numbers:
    """Masses in whole grams, never more than they were but for the last digit of a solver.

    >>> to_the_gram(np.array([0.0019, 4.9999999999])).tolist()
    [0.001, 5.0]

    """
    grams: Numbers = np.floor(mass_kg * 1000 + LAST_DIGIT_G)
    return grams / 1000
