"""Lab reports over HTTP: what is refused with its field, whose report drives a figure, who sees a buyer's."""

from typing import Any

import pytest

from tests.builders import REPORT, World


@pytest.fixture
def lot(world: World) -> str:
    """A listed lot of ALDER, part of which FINCH holds; WREN holds nothing."""
    world.grower("ALDER")
    world.brewery("FINCH")
    world.brewery("WREN")
    code = world.listed()
    held = world.post("/v1/reservations", {"lot_code": code, "mass_kg": 10}, who="FINCH")
    assert held.status_code == 201, held.text
    return code


def file(world: World, code: str, who: str = "ALDER", **told: Any) -> Any:
    """File a report, whatever comes of it."""
    return world.post(f"/v1/lots/{code}/lab-reports", {**REPORT, **told}, who=who)


def seen(world: World, code: str, who: str | None) -> list[str]:
    """The reports somebody sees."""
    return [r["code"] for r in world.get(f"/v1/lots/{code}/lab-reports", who=who).json["items"]]


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"moisture_percent": 3}, "moisture_percent"),
        ({"moisture_percent": 20.1}, "moisture_percent"),
        ({"alpha_percent": 60, "beta_percent": 41, "confirmed": True}, "alpha_percent"),
        ({"hop_storage_index": 2.04}, "hop_storage_index"),
        ({"hop_storage_index": 35}, "hop_storage_index"),
        ({"hop_storage_index": 0.001}, "hop_storage_index"),
        ({"oil_shares_percent": {"myrcene": 101}, "oil_shares_basis": "mass"}, "myrcene"),
        (
            {"oil_shares_percent": {"myrcene": 60, "humulene": 41}, "oil_shares_basis": "mass"},
            "oil_shares_percent",
        ),
        ({"sampled_on": "2026-08-28"}, "sampled_on"),
        ({"analysed_on": "2026-09-02"}, "analysed_on"),
        ({"analysed_on": "2026-11-27"}, "analysed_on"),
    ],
    ids=str,
)
def test_what_cannot_be_is_refused_with_its_field_and_nothing_is_kept(
    world: World, told: dict[str, Any], field: str
) -> None:
    world.grower("ALDER")
    code = world.draft()

    answer = file(world, code, **told)

    assert (answer.status_code, answer.json["type"]) == (422, "/problems/impossible-report")
    assert field in [fault["field"] for fault in answer.json["faults"]]
    assert seen(world, code, "ALDER") == []


def test_a_misplaced_decimal_point_is_asked_about_and_can_be_confirmed(world: World) -> None:
    world.grower("ALDER")
    code = world.draft()

    asked = file(world, code, alpha_percent=54)
    confirmed = file(world, code, alpha_percent=54, confirmed=True)

    assert (asked.status_code, asked.json["type"]) == (422, "/problems/confirmation-needed")
    assert confirmed.status_code == 201


def test_tomorrow_is_not_yet_the_future(world: World) -> None:
    world.grower("ALDER")

    assert file(world, world.draft(), analysed_on="2026-11-26").status_code == 201


def test_the_latest_sampling_drives_each_figure_and_alpha_and_beta_stay_together(
    world: World, lot: str
) -> None:
    file(world, lot, sampled_on="2026-10-01", analysed_on="2026-10-02", beta_percent=None, alpha_percent=5.0)
    file(
        world,
        lot,
        sampled_on="2026-11-01",
        analysed_on="2026-11-02",
        alpha_percent=None,
        beta_percent=3.5,
        hop_storage_index=0.31,
    )

    figures = world.get(f"/v1/lots/{lot}").json["figures"]

    assert (figures["alpha_percent"]["value"], figures["alpha_percent"]["report"]) == (5.0, "R2")
    assert figures["beta_percent"] is None
    assert (figures["hop_storage_index"]["value"], figures["hop_storage_index"]["report"]) == (0.31, "R3")


def test_a_corrected_report_drives_nothing_but_stays_and_is_marked(world: World, lot: str) -> None:
    answer = file(world, lot, alpha_percent=4.5, corrects="R1", reason="A figure was misread")

    assert answer.status_code == 201
    assert world.get(f"/v1/lots/{lot}").json["figures"]["alpha_percent"]["value"] == 4.5
    listed = world.get(f"/v1/lots/{lot}/lab-reports").json["items"]
    assert [(r["code"], r["corrected_by"]) for r in listed] == [("R1", "R2"), ("R2", None)]
    again = file(world, lot, corrects="R1", reason="Once more")
    assert (again.status_code, again.json["type"]) == (409, "/problems/illegal-step")


def test_a_buyers_report_drives_no_figure_and_is_seen_by_both_sides_only(world: World, lot: str) -> None:
    told = {
        "drawn_by": "buyer",
        "alpha_percent": 4.0,
        "sampled_on": "2026-11-20",
        "analysed_on": "2026-11-21",
    }

    assert file(world, lot, "FINCH", **told).status_code == 201
    assert file(world, lot, "WREN", **told).status_code == 403
    assert file(world, lot, "FINCH", **{**told, "drawn_by": "grower"}).status_code == 422
    assert world.get(f"/v1/lots/{lot}").json["figures"]["alpha_percent"]["value"] == 5.4
    assert world.get("/v1/lots", alpha_percent_max=4.5).json["items"] == []
    assert seen(world, lot, "FINCH") == seen(world, lot, "ALDER") == ["R1", "R2"]
    assert seen(world, lot, "specialist") == ["R1", "R2"]
    assert seen(world, lot, "WREN") == seen(world, lot, None) == ["R1"]
    assert file(world, lot, corrects="R2", reason="Not mine to correct").status_code == 404


def test_a_report_on_the_dry_basis_is_kept_as_written_and_shown_as_is(world: World) -> None:
    world.grower("ALDER")
    code = world.draft()

    file(world, code, basis="dry", moisture_percent=10, alpha_percent=6.0)

    report = world.get(f"/v1/lots/{code}/lab-reports", who="ALDER").json["items"][0]
    assert (report["basis"], report["alpha_percent"]) == ("dry", 6.0)
    # Mass balance: 6.0 % of the dry matter, which is 90 % of the sample.
    shown = world.get(f"/v1/lots/{code}", who="ALDER").json["figures"]["alpha_percent"]["value"]
    assert shown == pytest.approx(5.4)


@pytest.mark.parametrize(
    ("told", "codes"),
    [
        ({"moisture_percent": 6}, ["moisture-low"]),
        ({"moisture_percent": 12.1}, ["moisture-high"]),
        ({"moisture_percent": 9}, []),
        ({"hop_storage_index": 0.2215}, ["hop-storage-index-low"]),
        ({"alpha_percent": 25.0}, ["outside-published-range"]),
        ({"oil_ml_per_100g": None}, ["oil-not-measured"]),
    ],
    ids=str,
)
def test_what_is_unusual_is_flagged_with_its_source_and_never_refused(
    world: World, told: dict[str, Any], codes: list[str]
) -> None:
    world.grower("ALDER")
    code = world.listed(report=told)

    cautions = world.get(f"/v1/lots/{code}").json["cautions"]

    assert sorted({caution["code"] for caution in cautions}) == codes
    assert all(caution["source"] and caution["mark"] for caution in cautions)


def test_picking_cannot_be_moved_behind_a_sampling(world: World) -> None:
    world.grower("ALDER")
    code = world.draft()
    world.report(code)

    answer = world.patch(f"/v1/lots/{code}", {"harvested_on": "2026-09-10"}, who="ALDER")

    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#/harvested_on")


def test_a_listed_lot_keeps_what_its_listing_needs(world: World, lot: str) -> None:
    other = world.listed()

    answer = world.patch(f"/v1/lots/{other}", {"mass_kg": None}, who="ALDER")

    assert (answer.status_code, answer.json["missing"]) == (422, ["mass_kg"])


def test_a_role_of_null_is_the_shipped_one(world: World) -> None:
    world.grower("ALDER")
    code = world.draft(role="bittering")

    answer = world.patch(f"/v1/lots/{code}", {"role": None}, who="ALDER")

    assert (answer.status_code, answer.json["role"]) == (200, "aroma")


def test_the_other_side_of_a_commitment_reads_the_address(world: World, lot: str) -> None:
    def email(who: str | None) -> str | None:
        one = world.get("/v1/growers/ALDER", who=who).json["email"]
        listed = world.get("/v1/growers", who=who).json["items"][0]["email"]
        assert one == listed
        return one

    assert email("FINCH") == email("ALDER") == email("specialist") == "alder@example.org"
    assert email("WREN") is email(None) is None
    assert world.get("/v1/breweries/FINCH", who="ALDER").json["email"] == "finch@example.org"
    assert world.get("/v1/breweries/WREN", who="ALDER").json["email"] is None


def test_a_report_of_the_cones_is_shown_on_pellets_and_never_stands(world: World) -> None:
    world.grower("ALDER")
    pellets, cones = world.draft(form="pellet"), world.draft()

    kept = file(world, pellets, before_pelletizing=True)
    refused = file(world, cones, before_pelletizing=True)

    assert (kept.status_code, kept.json["before_pelletizing"]) == (201, True)
    assert seen(world, pellets, "ALDER") == ["R1"]
    assert world.get(f"/v1/lots/{pellets}", who="ALDER").json["figures"]["alpha_percent"] is None
    assert (refused.status_code, refused.json["errors"][0]["pointer"]) == (422, "#/before_pelletizing")


def test_a_lead_value_is_shown_with_its_offer_and_stays_as_it_is(world: World) -> None:
    world.grower("ALDER")
    lead = {
        "methods": {**REPORT["methods"], "alpha_beta": "ebc_7_5"},
        "beta_percent": None,
        "alpha_percent": 9.0,
    }
    code = world.draft()
    assert file(world, code, **lead, hop_storage_index=0.3).status_code == 201

    shown = world.get(f"/v1/lots/{code}", who="ALDER").json
    stored = world.get(f"/v1/lots/{code}/storage", who="ALDER", on="2026-09-03").json

    assert shown["figures"]["alpha_percent"]["value"] == stored["alpha_percent"]["estimate"] == 9.0
    assert shown["lead_correction"]["alpha_percent"]["estimate"] == pytest.approx(8.0)
    assert stored["lead_correction"] == shown["lead_correction"]
