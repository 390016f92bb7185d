"""Steps that change goods, over HTTP: what goes in comes out or is booked as lost."""

from typing import Any

import pytest

from tests.builders import World

DAY = "2026-11-20"
BOX = {"kind": "box", "count": 6, "net_kg": 20}
COLD = {"packing": "barrier_nitrogen", "stored_at_c": -18.0}


@pytest.fixture
def valley(world: World) -> World:
    for code in ("ALDER", "ROWAN"):
        world.grower(code)
    for code in ("FINCH", "TEAL"):
        world.brewery(code)
    return world


def shown(world: World, code: str, who: str = "specialist") -> Any:
    return world.get(f"/v1/lots/{code}", who=who).json


def split(world: World, lot: str, who: str = "ALDER", **told: Any) -> Any:
    return world.post(f"/v1/lots/{lot}/parts", {"done_on": DAY, **told}, who=who)


def pelletize(world: World, parts: dict[str, float], out: float, who: str = "ALDER", **told: Any) -> Any:
    body = {
        "lots": [{"lot_code": code, "mass_kg": mass} for code, mass in parts.items()],
        "done_on": DAY,
        "mass_kg": out,
        "loss_kg": round(sum(parts.values()) - out, 3),
        "processor": "Weir Street Pellets",
        **COLD,
        **told,
    }
    return world.post("/v1/pelletizings", body, who=who)


def blend(world: World, parts: dict[str, float], who: str = "ALDER", **told: Any) -> Any:
    lots = [{"lot_code": code, "mass_kg": mass} for code, mass in parts.items()]
    body = {"lots": lots, "done_on": DAY, "mass_kg": sum(parts.values()), **COLD, **told}
    return world.post("/v1/blends", body, who=who)


def test_a_part_carries_the_record_and_only_free_kilograms_move(valley: World) -> None:
    lot = valley.listed(mass_kg=120, packages=[BOX], own_lot_number="B-14")
    valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 50}, who="FINCH")

    refused = split(valley, lot, mass_kg=80)
    made = split(valley, lot, mass_kg=60)

    assert refused.status_code == 409
    assert refused.json["free_kg"] == 70
    assert made.status_code == 201, made.text
    part, whole = shown(valley, made.json["code"]), shown(valley, lot)
    assert made.headers["Location"] == f"/v1/lots/{part['code']}"
    assert (part["state"], part["mass_kg"], part["free_kg"]) == ("draft", 60, 60)
    assert (whole["mass_kg"], whole["free_kg"]) == (120, 10)
    assert (part["packages"][0]["count"], whole["packages"][0]["count"]) == (3, 3)
    for name in (
        "cultivar",
        "crop_year",
        "harvested_on",
        "figures",
        "spells",
        "own_lot_number",
        "price_per_kg",
    ):
        assert part[name] == whole[name], name
    again = valley.patch(f"/v1/lots/{lot}", {"packages": [BOX]}, who="ALDER")
    assert (again.status_code, "60 kg moved into other lots" in again.json["detail"]) == (422, True)
    assert valley.post(f"/v1/lots/{part['code']}/listing", {}, who="ALDER").status_code == 201


def test_a_part_is_made_of_whole_packages_or_of_what_lies_loose(valley: World) -> None:
    lot = valley.listed(mass_kg=125, packages=[BOX, {"kind": "foil", "count": 1, "net_kg": 3}])

    for told, status, words in (
        ({"mass_kg": 10}, 422, "say which packages go"),
        ({"mass_kg": 30, "packages": [{**BOX, "count": 1}]}, 409, "would open one"),
        ({"packages": [{**BOX, "count": 7}]}, 422, "are not there"),
        ({"mass_kg": 10, "packages": [{**BOX, "count": 1}]}, 422, "more than"),
        ({}, 422, "say how many kilograms"),
    ):
        answer = split(valley, lot, **told)
        assert (answer.status_code, words in answer.json["detail"]) == (status, True), answer.text
    loose = split(valley, lot, mass_kg=22, packages=[{**BOX, "count": 1}])

    assert loose.json["mass_kg"] == 22
    assert [p["count"] for p in shown(valley, lot)["packages"]] == [5, 1]


def test_opened_packages_start_a_spell_of_their_own(valley: World) -> None:
    lot = valley.listed(mass_kg=120, packages=[BOX], sold_in="whole_packages")
    told = {"packages": [{**BOX, "count": 2}], "opened_on": DAY, "stored_at_c": 6.0}

    made = valley.post(f"/v1/lots/{lot}/openings", told, who="ALDER")

    assert made.status_code == 201, made.text
    opened, whole = shown(valley, made.json["code"]), shown(valley, lot)
    assert opened["spells"] == [
        *whole["spells"],
        {"began_on": DAY, "packing": "open", "stored_at_c": 6.0, "residual_oxygen_percent": None},
    ]
    assert (opened["mass_kg"], whole["free_kg"], whole["packages"][0]["count"]) == (40, 80, 4)
    day = {"on": "2027-03-01"}
    left = [
        valley.get(f"/v1/lots/{code}/storage", who="ALDER", **day).json["alpha_percent"]["estimate"]
        for code in (opened["code"], lot)
    ]
    assert left[0] < left[1]
    # The whole still sells what is left of it in whole boxes, and its record can still be changed.
    sold = valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 80}, who="FINCH")
    assert sold.status_code == 201
    assert valley.patch(f"/v1/lots/{lot}", {"note": "four boxes left"}, who="ALDER").status_code == 200


def test_pellets_are_new_goods_that_want_their_own_report(valley: World) -> None:
    lot = valley.listed(mass_kg=120)

    made = pelletize(valley, {lot: 100}, 93.25)

    assert made.status_code == 201, made.text
    code = made.json["code"]
    pellets = shown(valley, code)
    assert (pellets["form"], pellets["mass_kg"], pellets["packing"]) == ("pellet", 93.25, "barrier_nitrogen")
    assert pellets["figures"]["alpha_percent"] is None
    assert shown(valley, lot)["free_kg"] == 20
    lacks = valley.post(f"/v1/lots/{code}/listing", {}, who="ALDER")
    assert (lacks.status_code, lacks.json["missing"][-1]) == (422, "beta_percent")
    assert valley.get(f"/v1/lots/{code}/storage", who="ALDER", on="2027-01-01").status_code == 422
    early = valley.post(f"/v1/lots/{code}/lab-reports", _report("2026-11-19"), who="ALDER")
    assert (early.status_code, early.json["type"]) == (422, "/problems/impossible-report")
    origin = valley.get(f"/v1/lots/{code}/origin", who="ALDER").json
    assert origin["step"]["processor"] == "Weir Street Pellets"
    assert origin["parts"][0]["figures"]["alpha_percent"]["value"] == 5.4
    assert (origin["parts"][0]["brought_kg"], origin["parts"][0]["mass_kg"]) == (100, 93.25)
    assert valley.post(f"/v1/lots/{code}/lab-reports", _report("2026-11-21"), who="ALDER").status_code == 201
    assert valley.post(f"/v1/lots/{code}/listing", {}, who="ALDER").status_code == 201
    booked = valley.get(f"/v1/lots/{lot}/bookings", who="ALDER").json["items"]
    assert [(b["kind"], b["mass_kg"], b["into_lot_code"]) for b in booked] == [
        ("moved", 93.25, code),
        ("pelletizing_loss", 6.75, code),
    ]


def _report(day: str) -> dict[str, Any]:
    from tests.builders import REPORT

    return {**REPORT, "sampled_on": day, "analysed_on": "2026-11-24"}


def test_kilograms_in_are_kilograms_out_and_lost(valley: World) -> None:
    lot = valley.listed(mass_kg=120)

    for loss, words in ((0, "6.5 kg are not accounted for"), (7, "0.5 kg came from nowhere")):
        answer = pelletize(valley, {lot: 100}, 93.5, loss_kg=loss)
        assert (answer.status_code, answer.json["type"]) == (422, "/problems/kilograms-do-not-add-up")
        assert words in answer.json["detail"]
    assert shown(valley, lot)["free_kg"] == 120
    for told, status in (({"form": "pellet_enriched"}, 201), ({"done_on": "2026-08-01"}, 422)):
        assert pelletize(valley, {lot: 10}, 9, **told).status_code == status
    pellets = pelletize(valley, {lot: 10}, 9).json["code"]
    wrong = pelletize(valley, {pellets: 5}, 4)
    assert (wrong.status_code, wrong.json["type"]) == (422, "/problems/unfit-goods")


def test_a_pooled_run_keeps_each_growers_share(valley: World) -> None:
    mine = valley.listed(mass_kg=100)
    theirs = valley.listed("ROWAN", mass_kg=100, report={"alpha_percent": 8.0, "packages_cored": 10})
    bare = valley.draft("ROWAN", mass_kg=50)

    assert pelletize(valley, {mine: 60, theirs: 30}, 85).status_code == 403
    unnamed = pelletize(valley, {mine: 60, theirs: 30}, 85, who="specialist")
    assert (unnamed.status_code, unnamed.json["errors"][0]["pointer"]) == (422, "#/grower_code")
    pool = pelletize(valley, {mine: 60, theirs: 30}, 85, who="specialist", grower_code="ALDER").json["code"]
    shares = valley.get(f"/v1/lots/{pool}/origin", who="specialist").json["shares"]

    assert [(s["grower_code"], s["brought_kg"], s["mass_kg"]) for s in shares] == [
        ("ALDER", 60, 56.667),
        ("ROWAN", 30, 28.333),
    ]
    assert [round(s["alpha_kg"]["estimate"], 6) for s in shares] == [3.24, 2.4]
    assert all(s["alpha_kg"]["low"] < s["alpha_kg"]["estimate"] < s["alpha_kg"]["high"] for s in shares)
    told = {"who": "specialist", "grower_code": "ALDER"}
    second = pelletize(valley, {pool: 40}, 38, form="pellet_enriched", **told).json["code"]
    without = pelletize(valley, {mine: 10, bare: 10}, 18, **told).json["code"]
    again = valley.get(f"/v1/lots/{second}/origin", who="specialist").json["shares"]
    assert [(s["grower_code"], s["mass_kg"]) for s in again] == [("ALDER", 25.333), ("ROWAN", 12.667)]
    lacking = valley.get(f"/v1/lots/{without}/origin", who="specialist").json["shares"]
    assert [s["alpha_kg"] is None for s in lacking] == [False, True]


def test_what_others_brought_to_a_pool_shows_only_to_whom_it_may(valley: World) -> None:
    mine, theirs = valley.listed(mass_kg=100), valley.listed("ROWAN", mass_kg=100)
    pool = pelletize(valley, {mine: 50, theirs: 50}, 95, who="specialist", grower_code="ALDER").json["code"]
    valley.report(pool, sampled_on="2026-11-21", analysed_on="2026-11-22")
    assert valley.post(f"/v1/lots/{pool}/listing", {}, who="ALDER").status_code == 201
    valley.delete(f"/v1/lots/{theirs}/listing", who="ROWAN", etag=None)
    valley.post("/v1/reservations", {"lot_code": pool, "mass_kg": 5}, who="FINCH")

    def parts(who: str | None) -> list[tuple[Any, ...]]:
        origin = valley.get(f"/v1/lots/{pool}/origin", who=who).json
        assert [round(p["share_percent"]) for p in origin["parts"]] == [50, 50]
        return [
            (p["lot_code"], p["grower_code"], p["mass_kg"], p["figures"] is not None) for p in origin["parts"]
        ] + [s["grower_code"] for s in origin["shares"]]

    all_of_it = [(mine, "ALDER", 47.5, True), (theirs, "ROWAN", 47.5, True), "ALDER", "ROWAN"]
    assert parts("ALDER") == parts("specialist") == all_of_it
    assert parts("ROWAN") == [(None, "ALDER", None, True), (theirs, "ROWAN", 47.5, True), "ROWAN"]
    assert parts("FINCH") == [(mine, "ALDER", None, True), (theirs, "ROWAN", None, True)]
    assert parts(None) == parts("TEAL") == [(None, "ALDER", None, True), (None, None, None, False)]


def test_a_blend_of_cultivars_has_none_and_is_reckoned_from_like_methods_only(valley: World) -> None:
    sharp = {**_report("2026-09-20"), "alpha_percent": 12.0, "oil_ml_per_100g": 1.8}
    lead = {
        "alpha_beta": "ebc_7_5",
        "moisture": "asbc_hops_4",
        "hop_storage_index": "asbc_hops_12",
        "oil": "other",
    }
    one = valley.listed(mass_kg=100)
    two = valley.listed(
        mass_kg=100, cultivar="Nugget", report=sharp, role="bittering", harvested_on="2025-09-01"
    )
    three = valley.listed(mass_kg=100, report={"methods": lead, "method_note": "steam"})

    undecided = blend(valley, {one: 30, two: 10})
    made = blend(valley, {one: 30, two: 10}, role="dual")

    assert (undecided.status_code, undecided.json["errors"][0]["pointer"]) == (422, "#/role")
    assert made.status_code == 201, made.text
    mixed = shown(valley, made.json["code"])
    assert (mixed["cultivar"], mixed["cultivar_code"], mixed["known"], mixed["crop_year"]) == (
        None,
        None,
        False,
        None,
    )
    assert mixed["label_parts"] == [
        {"cultivar": "Willamette", "crop_year": 2026, "share_percent": 75},
        {"cultivar": "Nugget", "crop_year": 2025, "share_percent": 25},
    ]
    assert (mixed["step"]["kind"], mixed["step"]["done_on"]) == ("blending", DAY)
    assert shown(valley, one)["step"] is None
    assert (mixed["harvested_on"], mixed["harvested_until"]) == ("2025-09-01", "2026-08-29")
    origin = valley.get(f"/v1/lots/{mixed['code']}/origin").json if mixed["state"] == "listed" else None
    origin = origin or valley.get(f"/v1/lots/{mixed['code']}/origin", who="ALDER").json
    assert [(p["cultivar"], p["share_percent"]) for p in origin["parts"]] == [
        ("Willamette", 75),
        ("Nugget", 25),
    ]
    assert round(origin["alpha_percent"]["estimate"], 4) == 7.05
    assert origin["alpha_percent"]["low"] < 7.05 < origin["alpha_percent"]["high"]
    assert round(origin["oil_ml_per_100g"]["estimate"], 4) == 1.35
    unlike = blend(valley, {one: 10, three: 10}).json
    assert (unlike["cultivar"], unlike["crop_year"]) == ("Willamette", 2026)
    told = valley.get(f"/v1/lots/{unlike['code']}/origin", who="ALDER").json
    assert (told["alpha_percent"], told["oil_ml_per_100g"]) == (None, None)
    assert "unlike methods (asbc_hops_14, ebc_7_5)" in " ".join(told["words"])


def test_a_listed_blend_is_found_but_under_no_cultivar(valley: World) -> None:
    one, two = valley.listed(mass_kg=100), valley.listed(mass_kg=100, cultivar="Fuggle", role="aroma")
    code = blend(valley, {one: 30, two: 10}).json["code"]
    path = f"/v1/lots/{code}/listing"

    assert valley.post(path, {"as": "awaiting_analysis"}, who="ALDER").status_code == 201
    found = valley.get("/v1/lots", readiness="awaiting_analysis").json["items"]
    assert [(line["code"], line["cultivar"]) for line in found] == [(code, None)]
    assert code not in [line["code"] for line in valley.get("/v1/lots", cultivar="Fuggle").json["items"]]
    assert valley.get(f"/v1/lots/{code}/sheet.pdf").status_code == 200
    taken = valley.post("/v1/lots", {"cultivar": "Blend", "form": "pellet", "role": "aroma"}, who="ALDER")
    assert (taken.status_code, taken.json["errors"][0]["pointer"]) == (422, "#/cultivar")


def test_what_follows_from_a_step_does_not_change_by_hand(valley: World) -> None:
    lot = valley.listed(mass_kg=100)
    code = pelletize(valley, {lot: 50}, 47).json["code"]

    for change in (
        {"mass_kg": 48},
        {"form": "pellet_enriched"},
        {"harvested_on": "2026-08-30"},
        {"cultivar": "Fuggle"},
    ):
        answer = valley.patch(f"/v1/lots/{code}", change, who="ALDER")
        assert (answer.status_code, answer.json["type"]) == (409, "/problems/fixed-by-step"), answer.text
    kept = valley.patch(
        f"/v1/lots/{code}", {"price_per_kg": 31, "currency": "CAD", "stored_at_c": 2}, who="ALDER"
    )
    assert kept.status_code == 200
    assert [s["began_on"] for s in kept.json["spells"]] == [DAY]
    part = split(valley, lot, mass_kg=10).json["code"]
    moved = valley.patch(f"/v1/lots/{part}", {"stored_at_c": 12}, who="ALDER").json
    assert [(s["began_on"], s["stored_at_c"]) for s in moved["spells"]] == [
        ("2026-08-29", -2.0),
        ("2026-11-25", 12.0),
    ]


def test_a_discarded_draft_gives_back_what_went_into_it(valley: World) -> None:
    lot = valley.listed(mass_kg=120, packages=[BOX])
    code = pelletize(valley, {lot: 50}, 47).json["code"]
    assert shown(valley, lot)["packages"][0]["count"] == 3

    assert valley.delete(f"/v1/lots/{code}", who="ALDER").status_code == 204

    assert (shown(valley, lot)["free_kg"], shown(valley, lot)["packages"][0]["count"]) == (120, 6)
    booked = valley.get(f"/v1/lots/{lot}/bookings", who="ALDER").json["items"]
    assert {(b["into_lot_code"], b["taken_back_reason"]) for b in booked} == {
        (None, f"lot {code} was discarded")
    }
    further = split(valley, lot, mass_kg=20).json["code"]
    split(valley, further, mass_kg=20)
    assert valley.delete(f"/v1/lots/{further}", who="ALDER").status_code == 409


def test_a_box_that_was_opened_is_no_box_again_once_its_hops_went_on(valley: World) -> None:
    lot = valley.listed(mass_kg=120, packages=[BOX])
    first = pelletize(valley, {lot: 10}, 10).json["code"]
    pelletize(valley, {lot: 5}, 5)
    assert shown(valley, lot)["packages"][0]["count"] == 5

    assert valley.delete(f"/v1/lots/{first}", who="ALDER").status_code == 204

    # 115 kg are there: five boxes and 15 kg out of the one that was opened.
    assert (shown(valley, lot)["free_kg"], shown(valley, lot)["packages"][0]["count"]) == (115, 5)


def test_a_corrected_report_never_drives_a_figure_of_a_part(valley: World) -> None:
    lot = valley.listed(mass_kg=100)
    part = split(valley, lot, mass_kg=50).json["code"]
    piece = split(valley, part, mass_kg=10).json["code"]
    pellets = pelletize(valley, {lot: 20}, 19).json["code"]

    valley.report(lot, corrects="R1", reason="two samples were exchanged", alpha_percent=4.4)
    valley.report(lot, sampled_on="2026-10-01", analysed_on="2026-10-03", alpha_percent=5.1)

    for code in (part, piece):
        assert shown(valley, code)["figures"]["alpha_percent"]["value"] == 4.4
    before = valley.get(f"/v1/lots/{pellets}/origin", who="ALDER").json["parts"][0]["figures"]
    assert before["alpha_percent"]["value"] == 5.1
    assert shown(valley, pellets)["figures"]["alpha_percent"] is None


def test_a_key_makes_one_part(valley: World) -> None:
    lot = valley.listed(mass_kg=100)
    headers = {"Idempotency-Key": "split-once"}
    path, body = f"/v1/lots/{lot}/parts", {"mass_kg": 10, "done_on": DAY}

    codes = {valley.post(path, body, who="ALDER", headers=headers).json["code"] for _ in range(2)}

    assert len(codes) == 1
    assert shown(valley, lot)["free_kg"] == 90


def test_a_lot_is_split_by_its_grower_alone(valley: World) -> None:
    lot = valley.listed(mass_kg=100)

    for who, status in ((None, 401), ("FINCH", 403), ("ROWAN", 403)):
        body = {"mass_kg": 10, "done_on": DAY}
        assert valley.post(f"/v1/lots/{lot}/parts", body, who=who).status_code == status
    twice = [{"lot_code": lot, "mass_kg": 5}] * 2
    answer = valley.post("/v1/blends", {"lots": twice, "done_on": DAY, "mass_kg": 10}, who="ALDER")
    assert answer.json["errors"][0]["pointer"] == "#/lots/1/lot_code"
    assert (
        valley.post("/v1/blends", {"lots": [], "done_on": DAY, "mass_kg": 1}, who="ALDER").status_code == 422
    )


def test_promised_packages_and_a_lot_on_hold_stay_where_they_are(valley: World) -> None:
    foils = {"kind": "foil", "count": 2, "net_kg": 10}
    lot = valley.listed(mass_kg=140, packages=[BOX, foils], sold_in="whole_packages")
    valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 30}, who="FINCH")

    taken = split(valley, lot, packages=[foils])
    assert (taken.status_code, "are promised in whole packages" in taken.json["detail"]) == (409, True)
    assert split(valley, lot, packages=[{**BOX, "count": 1}]).status_code == 201
    valley.post(
        f"/v1/lots/{lot}/quality-holds", {"concern": "mould", "words": "grey in one bale"}, who="ALDER"
    )
    stopped = split(valley, lot, packages=[{**BOX, "count": 1}])
    assert (stopped.status_code, stopped.json["type"]) == (409, "/problems/lot-on-hold")
    sample = {"kind": "sample", "mass_kg": 0.2, "booked_on": DAY, "reason": "to see what it is"}
    assert valley.post(f"/v1/lots/{lot}/bookings", sample, who="ALDER").status_code == 201
    trail = valley.get("/v1/changes", who="ALDER", lot_code=lot, kind="booking").json["items"]
    assert "to see what it is" not in str(trail)


def test_nothing_left_a_lot_before_it_was_made(valley: World) -> None:
    part = split(valley, valley.listed(mass_kg=100), mass_kg=10).json["code"]
    sample = {"kind": "sample", "mass_kg": 1, "booked_on": "2026-11-19", "reason": "to the laboratory"}

    early = valley.post(f"/v1/lots/{part}/bookings", sample, who="ALDER")

    assert (early.status_code, early.json["errors"][0]["pointer"]) == (422, "#/booked_on")
