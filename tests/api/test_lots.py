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
