"""Licences over HTTP: declared once for a cultivar, shown on every lot of it, taken back."""

from typing import Any

import pytest

from tests.builders import World

LICENCE: dict[str, Any] = {
    "cultivar": "willamette",
    "licensor": "Heron Breeding",
    "number": "HB-9",
    "valid_until": "2027-08-31",
}
PATH = "/v1/growers/ALDER/licences"


@pytest.fixture
def yard(world: World) -> World:
    world.grower("ALDER")
    world.grower("ROWAN")
    status = {
        "country": "CA",
        "status": "protected",
        "source": "an invented register",
        "checked_on": "2026-11-01",
    }
    told = world.patch("/v1/cultivars/WILLAMETTE", {"availability": [status]}, who="specialist")
    assert told.status_code == 200, told.text
    return world


def test_a_lot_of_a_protected_cultivar_is_listed_with_a_caution_until_a_licence_is_declared(
    yard: World,
) -> None:
    code = yard.listed()
    before = yard.get(f"/v1/lots/{code}").json

    declared = yard.post(PATH, LICENCE, who="ALDER")
    after = yard.get(f"/v1/lots/{code}").json

    assert (declared.status_code, declared.json["code"]) == (201, "L1")
    assert (declared.json["cultivar"], declared.json["lot_codes"]) == ("Willamette", [code])
    assert "licence_not_declared" in [caution["code"] for caution in before["cautions"]]
    assert before["planting"]["licence"] is None
    assert "licence_not_declared" not in [caution["code"] for caution in after["cautions"]]
    assert after["planting"]["licence"] == {
        "licensor": "Heron Breeding",
        "number": "HB-9",
        "valid_until": "2027-08-31",
        "lapsed": False,
    }
    assert "nobody here checked" in after["planting"]["notes"][0]


def test_a_declaration_is_taken_back_and_stays_in_the_books(yard: World) -> None:
    code = yard.listed()
    yard.post(PATH, LICENCE, who="ALDER")

    gone = yard.delete(f"{PATH}/L1", who="ALDER")
    again = yard.delete(f"{PATH}/L1", who="ALDER")

    assert (gone.status_code, again.status_code) == (204, 409)
    assert yard.get(f"/v1/lots/{code}").json["planting"]["licence"] is None
    (kept,) = yard.get(PATH, who="ALDER").json["items"]
    assert (kept["code"], kept["ended_by"]) == ("L1", "grower:ALDER")


def test_declarations_are_the_growers_own(yard: World) -> None:
    for who, status in (("ROWAN", 403), (None, 401)):
        assert yard.post(PATH, LICENCE, who=who).status_code == status
        assert yard.get(PATH, who=who).status_code == status
    assert yard.post(PATH, LICENCE, who="specialist").json["declared_by"] == "specialist"
    assert yard.delete(f"{PATH}/L9", who="ALDER").status_code == 404
    assert yard.delete(f"{PATH}/L1", who="ROWAN").status_code == 403


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"valid_until": "2026-11-24"}, "#/valid_until"),
        ({"number": ""}, "#/number"),
        ({"cultivar": "Hallertau"}, "#/cultivar"),
        ({"holder": "x"}, "#/holder"),
    ],
    ids=str,
)
def test_what_cannot_be_is_named_by_its_pointer(yard: World, told: dict[str, Any], pointer: str) -> None:
    refused = yard.post(PATH, {**LICENCE, **told}, who="ALDER")

    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.json["errors"]] == [pointer]
