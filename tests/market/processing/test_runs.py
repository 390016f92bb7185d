from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import InvalidRequest, UnfitGoods
from service.market.goods.lots import BLEND, Lot
from service.market.processing.runs import make_product, require_cones, require_one_form
from tests.factories import NOW, TODAY, ListedLotFactory, LotFactory


def product(*lots: Lot, **told: Any) -> Lot:
    plain = {"form": "pellet", "role": None, "mass_kg": Decimal(50), "packing": None, "stored_at_c": None}
    return make_product(
        lots,
        code="ALDER-2026-80",
        grower_code="ALDER",
        done_on=TODAY,
        now=NOW,
        made_by="grower:ALDER",
        **{**plain, **told},
    )


def test_a_product_of_like_lots_keeps_what_they_share_and_no_report() -> None:
    made = product(ListedLotFactory(), ListedLotFactory(harvested_on=date(2026, 9, 2)))

    assert (made.cultivar, made.crop_year, made.role) == ("Willamette", 2026, "aroma")
    assert (made.harvested_on, made.harvested_until) == (date(2026, 8, 29), date(2026, 9, 2))
    assert (made.reports, made.state) == ((), "draft")


def test_where_parts_differ_nothing_is_claimed() -> None:
    other = LotFactory(cultivar="Fuggle", cultivar_code="FUGGLE", crop_year=2025, harvested_on=None)

    made = product(LotFactory(), other)

    assert (made.cultivar, made.shown_cultivar, made.cultivar_code) == (BLEND, None, None)
    assert (made.crop_year, made.harvested_on, made.harvested_until) == (None, None, None)
    with pytest.raises(InvalidRequest, match="say the role"):
        product(LotFactory(), LotFactory(role="bittering"))


def test_a_product_says_of_its_origin_what_all_its_parts_say() -> None:
    north = LotFactory(block="North", origin_country="CA", origin_subdivision="CA-NS")
    south = LotFactory(block="South", origin_country="CA", origin_subdivision="CA-NB")

    alike, unlike = product(north, north), product(north, south)
    pooled = product(north, LotFactory(grower_code="ROWAN", block="North"))

    assert (alike.block, alike.origin_subdivision) == ("North", "CA-NS")
    assert (unlike.block, unlike.origin_country, unlike.origin_subdivision) == (None, "CA", None)
    assert pooled.block is None


def test_storage_of_a_product_begins_with_it() -> None:
    (spell,) = product(LotFactory(), packing="barrier_nitrogen", stored_at_c=-18.0).spells

    assert (spell.began_on, spell.packing) == (TODAY, "barrier_nitrogen")
    for told in (
        {"packing": "open"},
        {"stored_at_c": 2.0},
        {"packing": "barrier_low_oxygen", "stored_at_c": 1.0},
    ):
        with pytest.raises(InvalidRequest):
            product(LotFactory(), **told)


def test_only_fit_goods_go_through_a_step() -> None:
    cones, pellets, wet = (LotFactory(form=form) for form in ("whole_cone", "pellet", "wet_hop"))

    require_cones([cones], form="pellet")
    require_cones([cones, pellets], form="pellet_enriched")
    assert require_one_form([pellets, LotFactory(form="pellet")]) == "pellet"
    for lots, form in (([pellets], "pellet"), ([wet], "pellet"), ([cones], "whole_cone")):
        with pytest.raises(UnfitGoods):
            require_cones(lots, form=form)
    with pytest.raises(UnfitGoods, match="a blend is of one form"):
        require_one_form([cones, pellets])
