"""Lots over HTTP: drafted, analysed, listed, found."""

import pytest

from tests.builders import LOT, REPORT, World


def test_post_lot_answers_the_draft(world: World) -> None:
    world.grower("ALDER")

    answer = world.post("/v1/lots", LOT, who="ALDER")

    assert answer.status_code == 201
    assert answer.headers["Location"] == f"/v1/lots/{answer.json['code']}"
    assert answer.json["code"] == "ALDER-2026-01"
    assert (answer.json["state"], answer.json["free_kg"], answer.json["known"]) == ("draft", 120.5, True)
    assert answer.json["planting"]["status"] == "unconfirmed"


def test_listing_as_analysed_names_everything_that_is_missing(world: World) -> None:
    world.grower("ALDER")
    code = world.draft(packing=None, stored_at_c=None)

    answer = world.post(f"/v1/lots/{code}/listing", {}, who="ALDER")

    assert answer.status_code == 422
    assert answer.json["type"] == "/problems/listing-incomplete"
    assert answer.json["missing"] == [
        "packing",
        "stored_at_c",
        "moisture_percent",
        "alpha_percent",
        "beta_percent",
    ]


def test_a_listed_lot_is_found_with_its_estimates(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()

    found = world.get("/v1/lots", cultivar="willamette", alpha_percent_min=5)

    assert [line["code"] for line in found.json["items"]] == [code]
    line = found.json["items"][0]
    assert line["alpha_percent"]["low"] < line["alpha_percent"]["estimate"] < 5.4
    assert line["price_per_kg"] is None
    assert world.get("/v1/lots", alpha_percent_min=5.4).json["items"] == []
    assert world.get("/v1/lots", on="2028-01-01", alpha_percent_min=5).json["items"] == []


def test_a_draft_is_unknown_to_everybody_else(world: World) -> None:
    world.grower("ALDER")
    world.grower("ROWAN")
    code = world.draft()

    assert world.get(f"/v1/lots/{code}").status_code == 404
    assert world.get(f"/v1/lots/{code}", who="ROWAN").status_code == 404
    assert world.get(f"/v1/lots/{code}", who="specialist").status_code == 200


@pytest.mark.parametrize("path", ["/storage", "/lab-reports"])
def test_what_hangs_on_a_lot_is_answered(world: World, path: str) -> None:
    world.grower("ALDER")
    code = world.listed()

    assert world.get(f"/v1/lots/{code}{path}").status_code == 200


def test_storage_on_the_day_of_sampling_equals_the_report(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(report={"hop_storage_index": 0.2215})

    answer = world.get(f"/v1/lots/{code}/storage", on=REPORT["sampled_on"])

    assert answer.json["alpha_percent"]["estimate"] == pytest.approx(5.4)
    assert answer.json["hop_storage_index"]["estimate"] == pytest.approx(0.2215)
    assert answer.json["alpha_loss_percent"]["estimate"] == 0


def test_a_draft_is_discarded_and_a_listed_lot_is_not(world: World) -> None:
    world.grower("ALDER")
    draft, listed = world.draft(), world.listed()
    etag = world.get(f"/v1/lots/{draft}", who="ALDER").headers["ETag"]

    assert world.delete(f"/v1/lots/{draft}", who="ALDER", etag=None).status_code == 428
    assert world.delete(f"/v1/lots/{draft}", who="ALDER", etag='"old"').status_code == 412
    assert world.delete(f"/v1/lots/{draft}", who="ALDER", etag=etag).status_code == 204
    assert world.get(f"/v1/lots/{draft}", who="ALDER").status_code == 404
    assert world.delete(f"/v1/lots/{listed}", who="ALDER").json["type"] == "/problems/illegal-step"


def test_a_cultivar_nobody_knows_needs_its_role_and_is_marked(world: World) -> None:
    world.grower("ALDER")

    refused = world.post("/v1/lots", {**LOT, "cultivar": "Own Seedling"}, who="ALDER")
    kept = world.post("/v1/lots", {**LOT, "cultivar": "Own Seedling", "role": "dual"}, who="ALDER")

    assert (refused.status_code, refused.json["errors"][0]["pointer"]) == (422, "#/role")
    assert (kept.json["known"], kept.json["role"], kept.json["cultivar_code"]) == (False, "dual", None)
    assert kept.json["planting"]["status"] == "unconfirmed"


def test_a_drafts_cultivar_changes_with_its_role_and_a_listed_one_stays(world: World) -> None:
    world.grower("ALDER")
    draft, listed = world.draft(), world.listed()

    changed = world.patch(f"/v1/lots/{draft}", {"cultivar": "nugget"}, who="ALDER")
    fixed = world.patch(f"/v1/lots/{listed}", {"cultivar": "nugget"}, who="ALDER")

    assert (changed.json["cultivar"], changed.json["role"]) == ("Nugget", "bittering")
    assert (fixed.status_code, fixed.json["type"]) == (409, "/problems/fixed-by-listing")
    assert world.get(f"/v1/lots/{listed}").json["cultivar"] == "Willamette"


@pytest.mark.parametrize(
    ("state", "expected"),
    [("draft", [1]), ("listed", [2]), ("sold_out", [3]), ("withdrawn", [4]), (None, [1, 2, 3, 4])],
)
def test_ones_own_lots_are_found_by_state_and_paged(
    world: World, state: str | None, expected: list[int]
) -> None:
    world.grower("ALDER")
    world.brewery("FINCH")
    world.draft()
    world.listed()
    sold, gone = world.listed(mass_kg=10), world.listed()
    world.post("/v1/reservations", {"lot_code": sold, "mass_kg": 10}, who="FINCH")
    world.delete(f"/v1/lots/{gone}/listing", who="ALDER", etag=None)
    query = {"mine": "true", **({"state": state} if state else {})}

    whole = world.get("/v1/lots", who="ALDER", **query).json["items"]
    first = world.get("/v1/lots", who="ALDER", **query, limit=1).json
    rest = (
        world.get("/v1/lots", who="ALDER", **query, cursor=first["next"]).json["items"]
        if first["next"]
        else []
    )

    assert [lot["code"] for lot in whole] == [f"ALDER-2026-{n:02d}" for n in expected]
    assert first["items"] + rest == whole
    assert world.get("/v1/lots", who="FINCH", **query).json["items"] == []
    assert world.get("/v1/lots", **query).status_code == 401
