"""A lot as its grower tells it."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import InvalidRequest
from service.market.goods.cultivars import name_cultivar
from service.market.goods.lot_making import crop_year_asked, make_lot, role_of
from service.market.goods.lots import Lot
from tests.factories import NOW, PartyFactory


def made(**told: Any) -> Lot:
    asked = {
        "cultivar": "Saaz",
        "form": "whole_cone",
        "harvested_on": date(2026, 8, 29),
        "mass_kg": Decimal(9),
    }
    named = name_cultivar(str(told.get("cultivar", "Saaz")), [])
    grower = PartyFactory(code="ALDER", country="CA")
    return make_lot(asked | told, code="X", grower=grower, named=named, now=NOW, made_by="grower:ALDER")


def test_a_lot_takes_role_and_origin_from_what_is_known() -> None:
    lot = made()

    assert (lot.role, lot.origin_country, lot.crop_year) == ("aroma", "CA", 2026)
    assert made(origin_subdivision="US-ME").origin_country == "US"
    assert made(origin_country="NZ", role="dual").role == "dual"


def test_storage_is_told_together_or_not_at_all() -> None:
    assert made(packing=None, stored_at_c=None).spells == ()
    assert made(packing="open", stored_at_c=4.0).spells[0].began_on == date(2026, 8, 29)
    with pytest.raises(InvalidRequest, match="together"):
        made(packing="open")


def test_an_unknown_cultivar_wants_its_role_and_offers_near_names() -> None:
    with pytest.raises(InvalidRequest, match=r"say its role.*did you mean"):
        role_of(None, name_cultivar("Cascad", []))
    assert role_of("aroma", name_cultivar("Own Seedling 7", [])) == "aroma"


def test_the_code_carries_the_year_of_the_harvest() -> None:
    assert crop_year_asked({"harvested_on": date(2025, 9, 1)}, now=NOW) == 2025
    assert crop_year_asked({}, now=NOW) == 2026
