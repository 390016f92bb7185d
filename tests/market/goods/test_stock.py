"""In which masses a lot is sold."""

from decimal import Decimal
from itertools import accumulate, product
from operator import mul

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import NotEnoughStock, NotSoldInThatMass
from service.market.goods import stock
from service.market.goods.lots import Package
from service.market.goods.stock import (
    Nearest,
    most_in_packages_kg,
    nearest_in_packages,
    require_free,
    require_sold_so,
    words_of,
)
from tests.factories import ListedLotFactory

BOXES = (Package(kind="box", count=6, net_kg=Decimal(20)),)

few_packages = st.lists(
    st.builds(
        Package,
        kind=st.just("box"),
        count=st.integers(1, 4),
        net_kg=st.decimals("0.5", 30, places=1),
    ),
    min_size=1,
    max_size=3,
)


def all_sums(packages: list[Package]) -> set[Decimal]:
    counts = [range(p.count + 1) for p in packages]
    return {
        sum((n * p.net_kg for n, p in zip(ns, packages, strict=True)), Decimal(0)) for ns in product(*counts)
    }


@given(few_packages, st.decimals("0.1", 150, places=1), st.decimals("0.1", 150, places=1))
def test_nearest_in_packages_agrees_with_trying_everything(
    packages: list[Package], wanted_kg: Decimal, free_kg: Decimal
) -> None:
    sums = {s for s in all_sums(packages) if 0 < s <= free_kg}

    found = nearest_in_packages(packages, wanted_kg, free_kg=free_kg)

    assert found.below_kg == max((s for s in sums if s <= wanted_kg), default=None)
    assert found.above_kg == min((s for s in sums if s >= wanted_kg), default=None)


multiples = st.builds(
    lambda smallest, factors, counts: [
        Package(kind="box", count=count, net_kg=smallest * size)
        for size, count in zip(accumulate(factors, mul), counts, strict=False)
    ],
    st.decimals("0.5", 3, places=1),
    st.lists(st.integers(1, 4), min_size=1, max_size=3),
    st.lists(st.integers(1, 4), min_size=3, max_size=3),
)


@given(multiples | few_packages, st.decimals("0.1", 150, places=1), st.decimals("0.1", 150, places=1))
def test_most_in_packages_agrees_with_trying_everything(
    packages: list[Package], wanted_kg: Decimal, free_kg: Decimal
) -> None:
    found = most_in_packages_kg(packages, wanted_kg, free_kg=free_kg)

    assert found == max(s for s in all_sums(packages) if s <= min(wanted_kg, free_kg))


def test_nearest_in_packages_packs_a_huge_odd_lot_largest_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stock, "STEPS_MAX", 10)
    odd = [
        Package(kind="bale", count=3, net_kg=Decimal("90.001")),
        Package(kind="box", count=9, net_kg=Decimal(5)),
    ]

    assert nearest_in_packages(odd, Decimal("185.002"), free_kg=Decimal(300)) == Nearest(
        below_kg=Decimal("185.002"), above_kg=Decimal("185.002")
    )
    assert nearest_in_packages(odd, Decimal(4), free_kg=Decimal(300)) == Nearest(None, None)


def test_require_free_refuses_more_than_is_free() -> None:
    lot = ListedLotFactory(mass_kg=Decimal(100), taken_kg=Decimal(30), held_kg=Decimal("20.5"))

    require_free(lot, Decimal("49.5"))
    with pytest.raises(NotEnoughStock) as refused:
        require_free(lot, Decimal("49.501"))
    assert refused.value.facts == {
        "lot_code": lot.code,
        "free_kg": Decimal("49.5"),
        "wanted_kg": Decimal("49.501"),
    }


def test_the_smallest_order_holds_unless_all_the_rest_is_taken() -> None:
    lot = ListedLotFactory(mass_kg=Decimal(100), order_kg_min=Decimal(5), taken_kg=Decimal(97))

    require_sold_so(lot, Decimal(3))
    with pytest.raises(NotSoldInThatMass, match="smallest order"):
        require_sold_so(lot, Decimal("2.9"))
    full = ListedLotFactory(mass_kg=Decimal(100), order_kg_min=Decimal(5))
    require_sold_so(full, Decimal(5))
    with pytest.raises(NotSoldInThatMass) as refused:
        require_sold_so(full, Decimal("4.999"))
    assert refused.value.facts["order_kg_min"] == Decimal(5)


def test_whole_packages_are_not_broken_and_the_nearest_are_named() -> None:
    lot = ListedLotFactory(mass_kg=Decimal(120), sold_in="whole_packages", packages=BOXES)

    require_sold_so(lot, Decimal(60))
    with pytest.raises(NotSoldInThatMass) as refused:
        require_sold_so(lot, Decimal(50))
    assert refused.value.facts == {
        "lot_code": lot.code,
        "sold_in": "whole_packages",
        "wanted_kg": Decimal(50),
        "nearest_below_kg": Decimal(40),
        "nearest_above_kg": Decimal(60),
    }
    assert "6 boxes of 20 kg" in refused.value.detail


def test_a_package_that_was_promised_is_not_promised_again() -> None:
    packages = (
        Package(kind="bale", count=2, net_kg=Decimal(50)),
        Package(kind="foil", count=1, net_kg=Decimal(5)),
    )
    lot = ListedLotFactory(mass_kg=Decimal(105), sold_in="whole_packages", packages=packages)

    require_sold_so(lot, Decimal(5))
    require_sold_so(lot, Decimal(50), promised_kg=Decimal(5))
    with pytest.raises(NotSoldInThatMass, match="those that are left"):
        require_sold_so(lot, Decimal(5), promised_kg=Decimal(5))


def test_any_mass_is_sold_where_packages_only_describe_the_lot() -> None:
    require_sold_so(ListedLotFactory(mass_kg=Decimal("120.5"), packages=BOXES), Decimal("0.001"))


def test_words_of_packages_count_in_english() -> None:
    packages = [
        Package(kind=k, count=n, net_kg=Decimal("12.50")) for k, n in (("bale", 2), ("foil", 1), ("box", 3))
    ]

    assert words_of(packages) == "2 bales of 12.5 kg, 1 foil of 12.5 kg, 3 boxes of 12.5 kg"
