from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import InvalidRequest, NotSoldInThatMass
from service.market.goods.lots import Lot, Package
from service.market.processing.packing_out import (
    gone_packages,
    packed_kg,
    put_back,
    require_promises_packed,
    take_packages,
)
from tests.factories import LotFactory


def box(count: int, net_kg: Any = 20, kind: str = "box") -> Package:
    return Package(kind=kind, count=count, net_kg=Decimal(net_kg))


def lot(*packages: Package, mass_kg: Any = 120, **told: Any) -> Lot:
    return LotFactory(mass_kg=Decimal(mass_kg), packages=packages, **told)


def take(of: Lot, mass_kg: Any, *named: Package, may_open: bool = False) -> Any:
    return take_packages(of, Decimal(mass_kg), named or None, may_open=may_open)


def test_of_one_kind_packages_need_not_be_named() -> None:
    assert take(lot(box(6)), 60) == ((box(3),), (box(3),))
    assert take(lot(box(6), mass_kg=125), 42) == ((box(4),), (box(2),))
    assert take(lot(), 17) == ((), ())


def test_of_several_kinds_they_are_named_unless_all_go() -> None:
    mixed = lot(box(5), box(2, 10, "foil"))

    assert take(mixed, 120) == ((), mixed.packages)
    assert take(mixed, 30, box(1), box(1, 10, "foil")) == (
        (box(4), box(1, 10, "foil")),
        (box(1), box(1, 10, "foil")),
    )
    with pytest.raises(InvalidRequest, match="say which packages go"):
        take(mixed, 30)


def test_no_package_is_opened_unless_goods_are_tipped_out_or_all_the_rest_goes() -> None:
    for told in ({}, {"sold_in": "whole_packages"}):
        with pytest.raises(NotSoldInThatMass, match="would open one"):
            take(lot(box(6), **told), 50)
        assert take(lot(box(6), **told), 50, may_open=True) == ((box(3),), (box(2),))
    sampled = lot(box(6), taken_kg=Decimal("0.2"))
    assert take(sampled, "119.8") == ((), (box(5),))


@pytest.mark.parametrize("named", [box(7), box(1, 5), box(1, 20, "bale"), box(4)])
def test_packages_that_are_not_there_or_hold_too_much_are_refused(named: Package) -> None:
    with pytest.raises(InvalidRequest):
        take(lot(box(6)), 60, named)


@given(st.integers(1, 9), st.integers(1, 9), st.data())
def test_what_goes_and_what_stays_are_what_was_there(boxes: int, foils: int, data: Any) -> None:
    there = (box(boxes), box(foils, "2.5", "foil"))
    named = (box(data.draw(st.integers(1, boxes))), box(data.draw(st.integers(1, foils)), "2.5", "foil"))

    left, gone = take(lot(*there, mass_kg=packed_kg(there)), packed_kg(named), *named)

    assert set(put_back(left, gone)) == set(there)
    assert gone_packages(there, left) == gone
    assert packed_kg(left) + packed_kg(gone) == packed_kg(there)


def test_packages_that_promises_are_made_of_stay() -> None:
    mixed = lot(box(5), box(2, 10, "foil"), sold_in="whole_packages")
    left, _ = take(mixed, 20, box(2, 10, "foil"))

    require_promises_packed(mixed, left, promised_kg=Decimal(40))
    require_promises_packed(lot(box(5), box(2, 10)), left, promised_kg=Decimal(30))
    with pytest.raises(NotSoldInThatMass, match=r"30 kg of lot .* 5 boxes of 20 kg would stay"):
        require_promises_packed(mixed, left, promised_kg=Decimal(30))
    # What no packages made before, as the rest of a box that gave a sample, none need make now.
    require_promises_packed(mixed, left, promised_kg=Decimal("19.8"))


def test_what_went_into_other_lots_does_not_lie_loose() -> None:
    halved = lot(box(2), mass_kg=80, taken_kg=Decimal(40))

    with pytest.raises(NotSoldInThatMass):
        take_packages(halved, Decimal(5), None, may_open=False, moved_kg=Decimal(40))
    assert take_packages(halved, Decimal(20), None, may_open=False, moved_kg=Decimal(40)) == (
        (box(1),),
        (box(1),),
    )
