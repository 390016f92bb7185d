"""The labels of a lot's packages: one for each, numbered through."""

from decimal import Decimal

from service.errors import IllegalStep, OutOfRange
from service.facts import Fact
from service.market.goods.lots import Lot
from service.market.people.parties import Party

LABELS_MAX = 1000


class PackLabel(Fact, frozen=True, kw_only=True):
    """One package: which of how many, and its net mass; without a kind it is the whole lot."""

    number: int
    count: int
    kind: str | None
    net_kg: Decimal


class LabelFacts(Fact, frozen=True, kw_only=True):
    """Everything the labels of a lot print."""

    lot: Lot
    grower: Party
    labels: tuple[PackLabel, ...]
    public_url: str


def labels_of(lot: Lot, *, first: int | None = None, last: int | None = None) -> tuple[PackLabel, ...]:
    """A label for each package from `first` to `last`, in the order of the lot's list.

    A lot without a list of packages has one label with its net mass.

    Raises:
        IllegalStep: the lot was not weighed yet.
        OutOfRange: the lot has no package of that number, or more than 1000 labels are asked for.

    """
    if lot.mass_kg is None:
        raise IllegalStep(
            f"lot {lot.code} has no mass yet; weigh it before it is labelled", state="announced"
        )
    count = sum(package.count for package in lot.packages) or 1
    begin, end = first or 1, last or count
    if not 1 <= begin <= end <= count:
        raise OutOfRange(
            f"the packages of lot {lot.code} are numbered 1 to {count}, not {begin} to {end}",
            name="first" if begin > count else "last",
            value=begin if begin > count else end,
            low=1,
            high=count,
            unit="",
        )
    if end - begin >= LABELS_MAX:
        raise OutOfRange(
            f"at most {LABELS_MAX} labels come in one file; say first and last",
            name="last",
            value=end,
            low=begin,
            high=begin + LABELS_MAX - 1,
            unit="",
        )
    if not lot.packages:
        return (PackLabel(number=1, count=1, kind=None, net_kg=lot.mass_kg),)
    found, number = [], 0
    for package in lot.packages:
        for place in range(max(number + 1, begin), min(number + package.count, end) + 1):
            found.append(PackLabel(number=place, count=count, kind=package.kind, net_kg=package.net_kg))
        number += package.count
    return tuple(found)
