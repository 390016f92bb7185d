"""Which packages leave a lot when a part of it goes into another one."""

import math
from collections.abc import Sequence
from decimal import Decimal

from service.errors import InvalidRequest, NotSoldInThatMass
from service.market.goods.lots import Lot, Package
from service.market.goods.stock import nearest_in_packages, words_of


def take_packages(
    lot: Lot,
    mass_kg: Decimal,
    named: Sequence[Package] | None,
    *,
    may_open: bool,
    moved_kg: Decimal = Decimal(0),
) -> tuple[tuple[Package, ...], tuple[Package, ...]]:
    """The packages that stay with a lot, and those that go with a part of it.

    Whole packages go, or kilograms that lie loose beside them; a step that tips goods out (`may_open`) takes any mass.
    Of one kind of packages they need not be named. `moved_kg` is what went into other lots before.

    Raises:
        InvalidRequest: packages must be named, are not there, or hold more than what goes.
        NotSoldInThatMass: a package would have to be opened.

    """
    if named is None:
        named = _inferred(lot, mass_kg)
    left = _without(lot.packages, named)
    loose_kg = mass_kg - packed_kg(named)
    if loose_kg < 0:
        _refuse(f"the packages named hold {packed_kg(named)} kg, more than the {mass_kg} kg that go")
    if loose_kg and lot.packages:
        lies_loose_kg = max(lot.stock_kg - moved_kg - packed_kg(lot.packages), Decimal(0))
        is_rest = mass_kg == lot.free_kg
        if loose_kg > lies_loose_kg or lot.sold_in == "whole_packages":
            if not may_open and not is_rest:
                raise NotSoldInThatMass(
                    f"lot {lot.code} lies in packages ({words_of(lot.packages)}): {mass_kg} kg would open one;"
                    " take whole packages, or open some first",
                    lot_code=lot.code,
                    sold_in=lot.sold_in,
                    wanted_kg=mass_kg,
                )
            left = _one_opened(left, loose_kg - lies_loose_kg)
    return left, tuple(named)


def require_promises_packed(lot: Lot, left: Sequence[Package], *, promised_kg: Decimal) -> None:
    """Refuse to take packages that promises on a lot sold in whole packages are made of.

    Raises:
        NotSoldInThatMass: with what stays, the promises could not be kept in whole packages.

    """
    if lot.sold_in != "whole_packages" or not promised_kg or not _makes(lot.packages, promised_kg):
        return
    if not _makes(left, promised_kg):
        have = words_of(left) if left else "no package"
        raise NotSoldInThatMass(
            f"{promised_kg} kg of lot {lot.code} are promised in whole packages, and {have} would stay: name other"
            " packages",
            lot_code=lot.code,
            sold_in=lot.sold_in,
            wanted_kg=promised_kg,
        )


def _makes(packages: Sequence[Package], mass_kg: Decimal) -> bool:
    found = nearest_in_packages(packages, mass_kg, free_kg=packed_kg(packages)) if packages else None
    return found is not None and found.below_kg == mass_kg


def put_back(
    packages: Sequence[Package], returned: Sequence[Package], *, room_kg: Decimal | None = None
) -> tuple[Package, ...]:
    """A lot's packages when some that had gone come back.

    With `room_kg`, what the lot holds now, no more come back than are filled: one that was opened, and whose hops went
    elsewhere meanwhile, stays open.

    >>> box = Package(kind="box", count=2, net_kg=Decimal(20))
    >>> put_back([box], [box])
    (Package(kind='box', count=4, net_kg=Decimal('20')),)
    >>> put_back([box], [box], room_kg=Decimal("79.9"))
    (Package(kind='box', count=3, net_kg=Decimal('20')),)

    """
    counts: dict[tuple[str, Decimal], int] = {}
    for package in packages:
        key = package.kind, package.net_kg
        counts[key] = counts.get(key, 0) + package.count
    loose_kg = None if room_kg is None else max(room_kg - packed_kg(packages), Decimal(0))
    # The smallest are opened first, so the largest come back first.
    for package in sorted(returned, key=lambda p: -p.net_kg):
        key, filled = (package.kind, package.net_kg), package.count
        if loose_kg is not None:
            filled = min(filled, int(loose_kg // package.net_kg))
            loose_kg -= filled * package.net_kg
        if filled:
            counts[key] = counts.get(key, 0) + filled
    return tuple(Package(kind=kind, count=count, net_kg=net) for (kind, net), count in counts.items())


def gone_packages(before: Sequence[Package], left: Sequence[Package]) -> tuple[Package, ...]:
    """The packages that a lot had before and has no longer, opened ones too."""
    counts = {(p.kind, p.net_kg): p.count for p in put_back((), before)}
    for package in left:
        counts[package.kind, package.net_kg] -= package.count
    return tuple(Package(kind=kind, count=n, net_kg=net) for (kind, net), n in counts.items() if n)


def packed_kg(packages: Sequence[Package]) -> Decimal:
    """What packages hold together.

    >>> packed_kg([Package(kind="box", count=6, net_kg=Decimal(20))])
    Decimal('120')

    """
    return sum((package.count * package.net_kg for package in packages), Decimal(0))


def _inferred(lot: Lot, mass_kg: Decimal) -> tuple[Package, ...]:
    if packed_kg(lot.packages) == mass_kg:
        return lot.packages
    if len(lot.packages) > 1:
        _refuse(f"say which packages go: lot {lot.code} has {words_of(lot.packages)}")
    found = []
    for package in lot.packages:
        count = min(package.count, int(mass_kg // package.net_kg))
        if count:
            found.append(Package(kind=package.kind, count=count, net_kg=package.net_kg))
    return tuple(found)


def _without(packages: Sequence[Package], gone: Sequence[Package]) -> tuple[Package, ...]:
    counts = {(p.kind, p.net_kg): 0 for p in packages}
    for package in packages:
        counts[package.kind, package.net_kg] += package.count
    for package in gone:
        key = package.kind, package.net_kg
        if counts.get(key, 0) < package.count:
            have = words_of(packages) if packages else "none"
            _refuse(f"{words_of([package])} are not there; the lot has {have}")
        counts[key] -= package.count
    return tuple(Package(kind=kind, count=n, net_kg=net) for (kind, net), n in counts.items() if n)


def _one_opened(packages: Sequence[Package], loose_kg: Decimal) -> tuple[Package, ...]:
    """What stays whole when kilograms are tipped out of further packages, the smallest ones first."""
    left = []
    for package in sorted(packages, key=lambda p: p.net_kg):
        opened = min(package.count, math.ceil(loose_kg / package.net_kg)) if loose_kg > 0 else 0
        loose_kg -= opened * package.net_kg
        if package.count > opened:
            left.append(Package(kind=package.kind, count=package.count - opened, net_kg=package.net_kg))
    return tuple(left)


def _refuse(text: str) -> None:
    raise InvalidRequest(text, errors=[{"pointer": "#/packages", "detail": text}])
