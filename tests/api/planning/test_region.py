"""The region over HTTP: what each caller may see of it."""

from typing import Any

import pytest

from tests.api.matching.test_requests import place
from tests.api.trade.test_reservations import confirmed, deliver, reserve
from tests.builders import World

ANNOUNCED = {
    "harvested_on": None,
    "mass_kg": None,
    "packing": None,
    "stored_at_c": None,
    "expected_kg": 90.0,
    "harvest_window_from": "2026-11-28",
    "harvest_window_to": "2026-12-10",
}


@pytest.fixture
def valley(world: World) -> World:
    """Two growers: a lot in every state of trade, one nobody analysed, one withdrawn, one announced."""
    world.grower(), world.grower("ROWAN"), world.brewery(), world.brewery("TEAL")
    lot = world.listed(mass_kg=200.0, price_open=True)
    deliver(world, confirmed(world, lot), mass_kg=49.5)
    confirmed(world, lot, 30.0)
    reserve(world, lot, 10.0)
    sample = {"kind": "sample", "mass_kg": 0.5, "booked_on": "2026-11-25", "reason": "to the laboratory"}
    assert world.post(f"/v1/lots/{lot}/bookings", sample, who="ALDER").status_code == 201
    part = {"mass_kg": 20.0, "done_on": "2026-11-25"}
    assert world.post(f"/v1/lots/{lot}/parts", part, who="ALDER").status_code == 201
    awaiting = world.draft("ROWAN", mass_kg=40.0, price_per_kg=31.0)
    listing = f"/v1/lots/{awaiting}/listing"
    assert world.post(listing, {"as": "awaiting_analysis"}, who="ROWAN").status_code == 201
    gone = world.listed("ROWAN", mass_kg=60.0)
    assert world.delete(f"/v1/lots/{gone}/listing", who="ROWAN").status_code in (200, 204)
    early = world.draft(**ANNOUNCED)
    assert world.post(f"/v1/lots/{early}/listing", {"as": "announced"}, who="ALDER").status_code == 201
    reserve(world, early, 15.0, who="TEAL")
    return world


def test_the_specialist_sees_where_every_kilogram_is(valley: World) -> None:
    answer = valley.get("/v1/region/supply", who="specialist")

    assert answer.status_code == 200, answer.text
    body = answer.json
    (row,) = body["rows"]
    assert (row["cultivar"], row["role"], row["crop_year"], row["form"], row["growers"]) == (
        "Willamette",
        "aroma",
        2026,
        "whole_cone",
        2,
    )
    assert row["weighed"] == {
        "lots": 4,
        "mass_kg": 320.0,
        "grown_kg": 300.0,
        "from_lots_kg": 20.0,
        "reported_kg": 280.0,
        "reported_percent": 87.5,
        "free_kg": 130.0,
        "not_offered_kg": 80.0,
        "held_kg": 10.0,
        "confirmed_kg": 30.0,
        "delivered_kg": 49.5,
        "moved_kg": 20.0,
        "lost_kg": 0.5,
    }
    assert (row["announced"]["expected_kg"], row["announced"]["free_kg"], row["announced"]["held_kg"]) == (
        90.0,
        75.0,
        15.0,
    )
    assert body["totals"]["weighed"] == row["weighed"]
    assert (row["alpha"]["analysed_kg"], row["alpha"]["not_analysed_kg"]) == (90.0, 40.0)
    assert row["alpha"]["alpha_kg"]["low"] < row["alpha"]["alpha_kg"]["estimate"] < 90 * 0.054
    assert [(p["least_per_kg"], p["largest_per_kg"]) for p in row["prices"]] == [(24.0, 31.0)]
    assert (body["as_of"], body["is_whole"]) == ("2026-11-25", True)


@pytest.mark.parametrize("who", [None, "ALDER", "FINCH"])
def test_others_see_what_the_search_shows_line_by_line_and_no_more(valley: World, who: str | None) -> None:
    lines = valley.get("/v1/lots", who=who).json["items"]
    lots = [valley.get(f"/v1/lots/{line['code']}", who=who).json for line in lines]
    weighed = [lot for lot in lots if lot.get("mass_kg") is not None]

    body = valley.get("/v1/region/supply", who=who).json
    (row,) = body["rows"]

    assert body["is_whole"] is False
    assert row["growers"] == len({lot["grower_code"] for lot in lots})
    assert row["weighed"]["mass_kg"] == sum(lot["mass_kg"] for lot in weighed)
    assert row["weighed"]["free_kg"] == sum(lot["free_kg"] for lot in weighed)
    hidden = ("not_offered", "held", "confirmed", "delivered", "moved", "lost", "from_lots", "grown")
    for part in (row, body["totals"]):
        assert {part["weighed"][f"{name}_kg"] for name in hidden} == {None}
        assert {part["announced"][f"{name}_kg"] for name in hidden[:6]} == {None}
    seen = [line["price_per_kg"] for line in lines if line["price_per_kg"] is not None]
    (prices,) = row["prices"]
    assert (prices["least_per_kg"], prices["largest_per_kg"]) == (min(seen), max(seen))
    assert prices["largest_per_kg"] == (24.0 if who is None else 31.0)


def test_the_supply_is_narrowed_by_what_is_asked(valley: World) -> None:
    def rows(**asked: Any) -> int:
        answer = valley.get("/v1/region/supply", who="specialist", **asked)
        assert answer.status_code == 200, answer.text
        return len(answer.json["rows"])

    assert rows(cultivar="willamette", role="aroma", crop_year=2026, form="whole_cone") == 1
    assert [rows(cultivar="Nugget"), rows(role="bittering"), rows(crop_year=2025), rows(form="pellet")] == [
        0
    ] * 4
    wrong = valley.get("/v1/region/supply", crop_yaer=2026)
    assert (wrong.status_code, wrong.json["errors"][0]["parameter"]) == (422, "crop_yaer")
    nameless = valley.get("/v1/region/harvest", cultivar="!!")
    assert (nameless.status_code, nameless.json["errors"][0]["parameter"]) == (422, "cultivar")


def test_the_harvest_tells_what_was_announced_with_its_window(valley: World) -> None:
    whole = valley.get("/v1/region/harvest", who="specialist").json
    seen = valley.get("/v1/region/harvest").json

    (row,) = whole["rows"]
    assert (row["cultivar"], row["harvest_window_from"], row["harvest_window_to"], row["is_overdue"]) == (
        "Willamette",
        "2026-11-28",
        "2026-12-10",
        False,
    )
    assert (row["announced"]["expected_kg"], row["announced"]["held_kg"]) == (90.0, 15.0)
    assert (whole["overdue_kg"], whole["totals"]["free_kg"]) == (0.0, 75.0)
    assert (seen["rows"][0]["announced"]["free_kg"], seen["rows"][0]["announced"]["held_kg"]) == (75.0, None)


def test_demand_is_for_the_specialist(valley: World) -> None:
    statuses = [
        valley.get("/v1/region/demand", who=who).status_code for who in (None, "ALDER", "FINCH", "specialist")
    ]

    assert statuses == [401, 403, 403, 200]
    assert valley.get("/v1/region/demand", who="specialist", role="aroma").status_code == 422


def test_the_demand_counts_what_is_promised_off_the_need(valley: World) -> None:
    lot = valley.listed(mass_kg=100.0)
    first = place(valley, cultivars=["Willamette"])
    other = place(valley, who="TEAL", cultivars=["Willamette"], firmness="firm")
    reserve(valley, lot, 10.0, request_code=first)
    offered = confirmed(valley, lot, 20.0, request_code=first)
    assert offered
    assert valley.delete(f"/v1/requests/{other}", who="TEAL").status_code in (200, 204)
    place(valley, who="TEAL", cultivars=["Willamette"], firmness="firm")

    body = valley.get("/v1/region/demand", who="specialist").json

    (row,) = body["rows"]
    assert (row["cultivars"], row["accepts_others"], row["requests"], row["breweries"]) == (
        ["Willamette"],
        True,
        2,
        2,
    )
    assert row["promised"] == {"held_kg": 10.0, "confirmed_kg": 20.0, "delivered_kg": 0.0}
    wanted = row["wanted"]
    assert (wanted["covered_kg"], wanted["still_wanted_kg"]) == (30.0, wanted["wanted_kg"] - 30.0)
    assert [part["firmness"] for part in row["by_firmness"]] == ["intent", "firm"]
    assert body["totals"]["wanted"] == wanted


def test_the_shortfall_says_what_is_short_and_why(valley: World) -> None:
    place(valley, cultivars=["Willamette"], accept_others=False, moisture_percent_max=5.0)

    answer = valley.get("/v1/region/shortfall", who="specialist")

    assert answer.status_code == 200, answer.text
    body = answer.json
    (row,) = body["rows"]
    assert (row["cultivars"], row["accepts_others"], row["named_kg"]) == (["Willamette"], False, 205.0)
    wanted = row["still_wanted_kg"]
    assert row["short_kg"] == {"at_least": wanted, "at_most": wanted}
    assert row["standings"] == {"met": 0, "contested": 0, "too_little": 0, "none_fits": 1}
    assert body["totals"]["short_kg"] == body["by_role"][0]["short_kg"] == row["short_kg"]
    (unmet,) = body["unmet"]
    assert (unmet["request_code"], unmet["standing"]) == ("FINCH-REQ-04", "none_fits")
    assert any("moisture_percent_max" in words for words in unmet["why"])
    missing = {why["limit"]: why["not_measured_lots"] for why in row["why"]}
    assert missing["moisture_percent_max"] > 0
    assert any("POST /v1/allocations" in method for method in body["methods"])


def test_the_shortfall_says_which_certifications_and_places_are_lacking(valley: World) -> None:
    place(valley, certifications=["organic"])
    place(valley, origins=["US"])

    answer = valley.get("/v1/region/shortfall", who="specialist")

    assert answer.status_code == 200, answer.text
    lacks = {why["limit"]: why["lacks"] for why in answer.json["totals"]["why"]}
    assert (lacks["certifications"], lacks["origins"]) == ("certifications", "places of origin")


def test_the_shortfall_is_for_the_specialist_and_judges_so_many_requests(valley: World) -> None:
    for _ in range(3):
        place(valley)

    statuses = [valley.get("/v1/region/shortfall", who=who).status_code for who in (None, "ALDER", "FINCH")]
    cut = valley.get("/v1/region/shortfall", who="specialist", requests_max=2).json

    assert statuses == [401, 403, 403]
    assert cut["totals"]["requests"] == 2
    assert cut["cautions"] == ["only the 2 newest open requests are judged; requests_max= takes more"]
    assert valley.get("/v1/region/shortfall", who="specialist", requests_max=2001).status_code == 422
