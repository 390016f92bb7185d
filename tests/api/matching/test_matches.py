"""Matches over HTTP."""

from typing import Any

import pytest

from service.api.contract import write_cursor
from tests.api.matching.test_requests import place
from tests.builders import World

NUGGET = {"cultivar": "Nugget", "report": {"alpha_percent": 13.0, "beta_percent": 4.5}}


def matches(world: World, code: str = "FINCH-REQ-01", **query: Any) -> Any:
    answer = world.get(f"/v1/requests/{code}/matches", who="FINCH", **query)
    assert answer.status_code == 200, answer.text
    return answer.json


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.grower("ROWAN", latitude_deg=45.70, longitude_deg=-64.40)
    world.brewery()
    return world


def test_a_match_answers_every_field(valley: World) -> None:
    code = valley.listed(who="ROWAN", **NUGGET)
    place(valley, firmness="firm")

    (match,) = matches(valley)["items"]

    alpha, index = match.pop("alpha_percent_when_needed"), match.pop("hop_storage_index_when_needed")
    assert alpha["low"] < alpha["estimate"] < 13.0 < alpha["high"]
    assert 0.27 < index["low"] < index["estimate"] < index["high"]
    assert alpha["confidence"] == index["confidence"] == 0.9
    cost, chance, reasons = match.pop("cost"), match.pop("chance_all_limits_met"), match.pop("reasons")
    assert cost == {
        "amount": 1440.0,
        "currency": "CAD",
        "per_kg_alpha": pytest.approx(2400 / alpha["estimate"], abs=0.01),
    }
    assert 0.9 < chance <= 1
    assert [reason.split()[0] for reason in reasons] == list(match.pop("parts"))
    assert 0 < match.pop("score") < 1
    assert match == {
        "lot_code": code,
        "grower_code": "ROWAN",
        "cultivar": "Nugget",
        "form": "whole_cone",
        "alpha_method": "asbc_hops_14",
        "distance_km": 83,
        "free_kg": 120.5,
        "parcel_kg": 60.0,
    }


def test_a_near_miss_names_what_it_fails_by(valley: World) -> None:
    weak = valley.listed()
    announced = valley.draft(
        cultivar="Nugget",
        harvested_on=None,
        mass_kg=None,
        packing=None,
        stored_at_c=None,
        expected_kg=80,
        harvest_window_from="2027-08-20",
        harvest_window_to="2027-09-05",
    )
    listing = valley.post(f"/v1/lots/{announced}/listing", {"as": "announced"}, who="ALDER")
    assert listing.status_code == 201, listing.text
    place(valley)

    found = matches(valley)

    assert found["items"] == []
    weak_miss, unknown = found["near_misses"]
    alpha = weak_miss["fails"][0]["found"]
    assert 4.5 < alpha < 5.4
    assert weak_miss == {
        "lot_code": weak,
        "cultivar": "Willamette",
        "fails": [
            {
                "limit": "alpha_percent_min",
                "wanted": 9.0,
                "found": alpha,
                "change": f"alpha_percent_min {int(alpha * 100) / 100:g}",
            }
        ],
    }
    assert unknown == {
        "lot_code": announced,
        "cultivar": "Nugget",
        "fails": [
            {"limit": "alpha_percent_min", "wanted": 9.0, "found": None, "change": "a laboratory figure"}
        ],
    }


def test_a_near_miss_that_the_database_let_in_is_named_in_full(valley: World) -> None:
    """Whole packages are judged after the reading, on columns that leave out what no limit asks for."""
    boxes = {
        "sold_in": "whole_packages",
        "mass_kg": 120,
        "packages": [{"kind": "box", "count": 6, "net_kg": 20}],
    }
    valley.listed(**{**NUGGET, **boxes})
    place(valley, deliveries=[{"needed_on": "2027-02-01", "mass_kg": 50}], lots_max=1)

    (miss,) = matches(valley)["near_misses"]

    assert (miss["cultivar"], miss["fails"][0]["limit"]) == ("Nugget", "whole_packages")


def test_no_place_is_told_closer_than_to_the_kilometre(valley: World) -> None:
    valley.listed(who="ROWAN", **NUGGET)
    place(valley)
    place(valley, within_km=40)

    (match,) = matches(valley)["items"]
    (miss,) = matches(valley, "FINCH-REQ-02")["near_misses"]

    assert match["parts"]["distance"] == round(200 / 283, 4)
    assert miss["fails"] == [{"limit": "within_km", "wanted": 40.0, "found": 83.0, "change": "within_km 84"}]


def test_a_name_that_nobody_knows_is_pointed_at(valley: World) -> None:
    place(valley, cultivars=["Nuget"])

    assert matches(valley)["cautions"] == ["No cultivar here goes by the name Nuget. Near names: Nugget."]


def test_the_answer_tells_weights_and_assumptions(valley: World) -> None:
    place(
        valley,
        deliveries=[
            {"needed_on": "2027-02-01", "bitterness": {"ibu": 35, "volume_l": 20000, "gravity_sg": 1.056}}
        ],
    )

    found = matches(valley)

    assert sum(found["weights"].values()) == pytest.approx(1, abs=1e-3)
    assert any("assumption, no source" in words for words in found["assumptions"])
    assert any("Tinseth" in words for words in found["assumptions"])
    assert (found["items"], found["near_misses"], found["cautions"], found["next"]) == ([], [], [], None)


def test_a_need_for_bitterness_takes_less_of_a_stronger_lot(valley: World) -> None:
    weak = valley.listed(cultivar="Nugget", report={"alpha_percent": 11.0, "beta_percent": 4.5})
    strong = valley.listed(**NUGGET)
    target = {"ibu": 35, "volume_l": 20000, "gravity_sg": 1.056}
    place(valley, deliveries=[{"needed_on": "2027-02-01", "bitterness": target}])

    parcels = {m["lot_code"]: m["parcel_kg"] for m in matches(valley)["items"]}

    assert parcels[weak] / parcels[strong] == pytest.approx(13 / 11, rel=1e-3)


def test_pages_of_matches_give_each_lot_once_and_near_misses_first(valley: World) -> None:
    codes = {
        valley.listed(cultivar="Nugget", report={"alpha_percent": 10.0 + n, "beta_percent": 4.0})
        for n in range(5)
    }
    valley.listed()
    place(valley)

    first = matches(valley, limit=2)
    second = matches(valley, limit=2, cursor=first["next"])
    third = matches(valley, limit=2, cursor=second["next"])

    pages = [[m["lot_code"] for m in page["items"]] for page in (first, second, third)]
    assert [len(page) for page in pages] == [2, 2, 1]
    assert {code for page in pages for code in page} == codes
    assert third["next"] is None
    scores = [m["score"] for page in (first, second, third) for m in page["items"]]
    assert scores == sorted(scores, reverse=True)
    assert [len(page["near_misses"]) for page in (first, second, third)] == [1, 0, 0]


def test_a_cursor_of_another_request_is_refused(valley: World) -> None:
    for _ in range(2):
        valley.listed(**NUGGET)
    place(valley)
    other = place(valley)
    cursor = matches(valley, limit=1)["next"]

    answer = valley.get(f"/v1/requests/{other}/matches", who="FINCH", cursor=cursor)

    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "cursor")


def test_a_forged_cursor_is_refused(valley: World) -> None:
    code = place(valley)

    for position in (["best", "A"], [0.5, 1]):
        cursor = write_cursor(position, {"request": code})
        answer = valley.get(f"/v1/requests/{code}/matches", who="FINCH", cursor=cursor)
        assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "cursor")


def test_matches_are_for_the_brewery_and_the_specialist(valley: World) -> None:
    valley.brewery("TEAL")
    place(valley)

    assert {
        who: valley.get("/v1/requests/FINCH-REQ-01/matches", who=who).status_code
        for who in ("FINCH", "specialist", "TEAL", "ALDER", None)
    } == {"FINCH": 200, "specialist": 200, "TEAL": 404, "ALDER": 404, None: 401}


def test_two_methods_are_no_one_scale(valley: World) -> None:
    valley.listed(**NUGGET)
    methods = {
        "alpha_beta": "ebc_7_5",
        "hop_storage_index": "asbc_hops_12",
        "moisture": "asbc_hops_4",
        "oil": "other",
    }
    valley.listed(
        cultivar="Nugget",
        report={"alpha_percent": 12.0, "beta_percent": 4.0, "methods": methods, "method_note": "own still"},
    )
    place(valley)

    assert matches(valley)["cautions"] == [
        "alpha was measured by asbc_hops_14, ebc_7_5, which are not one scale"
    ]


KEPT = {"kept_from": "2026-12-15", "kept_at_c": 18.0, "kept_packing": "open"}


def test_what_a_match_has_left_in_the_brewerys_store_is_what_the_storage_page_says(valley: World) -> None:
    lot = valley.listed(**NUGGET)
    place(valley, alpha_percent_min=None, **KEPT)
    place(valley, alpha_percent_min=None)

    (match,) = matches(valley)["items"]
    (left_alone,) = matches(valley, "FINCH-REQ-02")["items"]
    page = valley.get(
        f"/v1/lots/{lot}/storage",
        **{"on": "2027-02-01", "from": "2026-12-15", "kept_at_c": 18, "packing": "open"},
    ).json

    assert match["alpha_percent_when_needed"] == pytest.approx(page["alpha_percent"])
    assert match["hop_storage_index_when_needed"] == pytest.approx(page["hop_storage_index"])
    assert match["cost"]["per_kg_alpha"] == pytest.approx(2400 / page["alpha_percent"]["estimate"], abs=0.01)
    assert match["parts"]["freshness"] < left_alone["parts"]["freshness"]
    assert (
        match["alpha_percent_when_needed"]["estimate"] < left_alone["alpha_percent_when_needed"]["estimate"]
    )
    assert any("from then on at 18 °C, open" in said for said in matches(valley)["assumptions"])


ORGANIC = {
    "kind": "organic",
    "scheme": "River Organic",
    "certifier": "Valley Inspection",
    "number": "VI-7",
    "valid_until": "2027-08-31",
}


def test_only_lots_of_the_place_and_the_certifier_that_are_wanted_match(valley: World) -> None:
    told = {**NUGGET, "origin_country": "CA", "origin_subdivision": "CA-NS"}
    fits = valley.listed(**told, certifications=[ORGANIC])
    plain = valley.listed(**told)
    elsewhere = valley.listed(**{**told, "origin_subdivision": "CA-ON"}, certifications=[ORGANIC])
    place(valley, certifications=["organic"], origins=["CA-NS"])

    found = matches(valley)

    assert [match["lot_code"] for match in found["items"]] == [fits]
    assert {miss["lot_code"]: miss["fails"] for miss in found["near_misses"]} == {
        plain: [
            {
                "limit": "certifications",
                "wanted": ["organic"],
                "found": [],
                "change": "leave organic out of certifications",
            }
        ],
        elsewhere: [
            {"limit": "origins", "wanted": ["CA-NS"], "found": "CA-ON", "change": "add CA-ON to origins"}
        ],
    }


def test_plans_and_combinations_keep_to_what_is_wished(valley: World) -> None:
    fits = valley.listed(**NUGGET, certifications=[ORGANIC])
    valley.listed(**{**NUGGET, "price_per_kg": 5.0})
    place(valley, certifications=["organic"], **KEPT)

    combined = valley.post("/v1/requests/FINCH-REQ-01/combinations", {}, who="FINCH").json
    plan = valley.post("/v1/allocations", {}, who="specialist").json["plan"]

    assert [parcel["lot_code"] for parcel in combined["combination"]["parcels"]] == [fits]
    (match,) = matches(valley)["items"]
    (parcel,) = combined["combination"]["parcels"]
    assert parcel["alpha_percent_when_needed"] == match["alpha_percent_when_needed"]
    assert [parcel["lot_code"] for parcel in plan["requests"][0]["parcels"]] == [fits]
