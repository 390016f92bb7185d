"""One label for each package, numbered through."""

from decimal import Decimal

import pytest

from service.errors import IllegalStep, OutOfRange
from service.market.goods.labels import labels_of
from service.market.goods.lots import Package
from tests.factories import ListedLotFactory

PACKAGES = (
    Package(kind="box", count=3, net_kg=Decimal(20)),
    Package(kind="foil", count=2, net_kg=Decimal(5)),
)


def test_each_package_has_its_number_and_its_mass() -> None:
    found = labels_of(ListedLotFactory(packages=PACKAGES))

    assert [(label.number, label.count, label.kind, label.net_kg) for label in found] == [
        (1, 5, "box", 20),
        (2, 5, "box", 20),
        (3, 5, "box", 20),
        (4, 5, "foil", 5),
        (5, 5, "foil", 5),
    ]
    assert labels_of(ListedLotFactory(packages=PACKAGES), first=3, last=4) == found[2:4]


def test_a_lot_without_packages_has_one_label_with_its_mass() -> None:
    (label,) = labels_of(ListedLotFactory(packages=(), mass_kg=Decimal("120.5")))

    assert (label.kind, label.net_kg) == (None, Decimal("120.5"))


def test_labels_that_cannot_be_are_refused() -> None:
    lot = ListedLotFactory(packages=PACKAGES)
    many = ListedLotFactory(packages=(Package(kind="foil", count=1001, net_kg=Decimal("0.1")),))

    with pytest.raises(OutOfRange, match="numbered 1 to 5, not 5 to 6"):
        labels_of(lot, first=5, last=6)
    with pytest.raises(OutOfRange, match="at most 1000 labels"):
        labels_of(many)
    assert len(labels_of(many, first=2)) == 1000
    with pytest.raises(IllegalStep, match="no mass yet"):
        labels_of(ListedLotFactory(mass_kg=None, packages=()))
