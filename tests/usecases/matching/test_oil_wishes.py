"""Wishing for an oil profile: in matches, combinations and plans, with the brewery's own eyes."""

from typing import Any

import pytest

from service.science.oil_profile import OilProfile, compare_oil_profiles
from tests.builders import World

CASCADE = {"myrcene": 52.5, "humulene": 10.5, "caryophyllene": 4.5, "farnesene": 5.0}
NOBLE = {"myrcene": 20.0, "humulene": 40.0, "caryophyllene": 12.0, "farnesene": 0.0}
# What the comparison of two says of these two; 0 farnesene counts as not seen.
FAR = compare_oil_profiles(
    first=OilProfile(basis="peak_area", shares_percent=CASCADE),
    second=OilProfile(basis="peak_area", shares_percent=NOBLE),
).similarity
WANT: dict[str, Any] = {"role": "aroma", "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 60.0}]}


@pytest.fixture
def valley(world: World) -> World:
    world.grower(), world.brewery()
    return world


def lot_with(world: World, shares: dict[str, float] | None, basis: str = "peak_area", **told: Any) -> str:
    measured = {} if shares is None else {"oil_shares_percent": shares, "oil_shares_basis": basis}
    return world.listed(report=measured, **told)


def wanted(world: World, **told: Any) -> str:
    answer = world.post("/v1/requests", {**WANT, **told}, who="FINCH")
    assert answer.status_code == 201, answer.text
    return str(answer.json["code"])


def matches(world: World, code: str) -> dict[str, Any]:
    answer = world.get(f"/v1/requests/{code}/matches", who="FINCH")
    assert answer.status_code == 200, answer.text
    return dict(answer.json)


def profiles(page: dict[str, Any]) -> dict[str, float | None]:
    return {match["lot_code"]: match["parts"]["profile"] for match in page["items"]}


def reason(page: dict[str, Any], lot_code: str) -> str:
    (match,) = (match for match in page["items"] if match["lot_code"] == lot_code)
    (said,) = (said for said in match["reasons"] if said.startswith("profile "))
    return str(said)


def test_lots_like_the_published_profile_score_higher_and_each_says_why(valley: World) -> None:
    noble, bare = lot_with(valley, NOBLE), lot_with(valley, None)
    by_mass, alike = lot_with(valley, CASCADE, "mass"), lot_with(valley, CASCADE)
    plain = wanted(valley)
    code = wanted(valley, oil_like={"cultivar": "cascade"})

    page = matches(valley, code)

    assert "profile" not in matches(valley, plain)["weights"]
    assert page["weights"]["profile"] == pytest.approx(0.2 / 1.1, abs=1e-4)
    assert page["items"][0]["lot_code"] == alike
    assert profiles(page) == {alike: 1.0, noble: pytest.approx(FAR, abs=1e-4), bare: None, by_mass: None}
    assert reason(page, bare) == (
        "profile unknown (weight 0.18): no shares of its oil were measured; counts as 0.5"
    )
    assert reason(page, by_mass) == (
        "profile unknown (weight 0.18): the shares stand on different bases, peak_area and mass; counts as 0.5"
    )
    assert reason(page, alike).startswith(
        "profile 1.00 (weight 0.18): at most 1.00 like Cascade as published (US figures"
    )
    assert reason(page, alike).endswith("a similar oil profile does not mean the same aroma")
    assert any("Aitchison" in said for said in page["assumptions"])
    assert any("twofold in myrcene" in said for said in page["assumptions"])


def test_a_cultivar_of_which_nothing_is_published_leaves_the_part_untold(valley: World) -> None:
    lot = lot_with(valley, CASCADE)
    page = matches(valley, wanted(valley, oil_like={"cultivar": "Willamette"}))

    assert profiles(page) == {lot: None}
    assert "no oil shares of Willamette are published here; counts as 0.5" in reason(page, lot)


def test_a_regional_cultivar_is_wished_for_while_it_stands_in_the_region_s_books(valley: World) -> None:
    lot = lot_with(valley, NOBLE)
    added = {
        "denomination": "Mill Race",
        "role": "aroma",
        "source": "the station's own trials",
        "figures": [
            {"quantity": f"{part}_percent_of_oil", "mean": share, "basis": "european", "source": "own trials"}
            for part, share in NOBLE.items()
        ],
    }
    made = valley.post("/v1/cultivars", added, who="specialist")
    assert made.status_code == 201, made.text
    code = wanted(valley, oil_like={"cultivar": "mill race"})
    assert valley.get(f"/v1/requests/{code}", who="FINCH").json["oil_like"]["cultivar"] == "Mill Race"

    assert profiles(matches(valley, code)) == {lot: 1.0}
    address = f"/v1/cultivars/{made.json['code']}"
    renamed = valley.patch(address, {"denomination": "Weir Race"}, who="specialist")
    assert renamed.status_code == 200, renamed.text
    assert "No cultivar here goes by the name Mill Race" in reason(matches(valley, code), lot)


def test_a_lot_is_read_when_lots_are_matched_and_only_while_the_brewery_sees_it(valley: World) -> None:
    other = lot_with(valley, NOBLE)
    wished = lot_with(valley, CASCADE, cultivar="Cascade")
    code = wanted(valley, oil_like={"lot_code": wished}, weights={"profile": 1.0})

    page = matches(valley, code)
    assert profiles(page) == {wished: 1.0, other: pytest.approx(FAR, abs=1e-4)}
    assert f"like lot {wished}, by caryophyllene" in reason(page, other)
    assert not any("twofold in myrcene" in said for said in page["assumptions"])

    correction = {
        "oil_shares_percent": NOBLE,
        "oil_shares_basis": "peak_area",
        "corrects": "R1",
        "reason": "the samples were mixed up",
    }
    valley.report(wished, **correction)
    assert profiles(matches(valley, code)) == {wished: 1.0, other: 1.0}

    withdrawn = valley.delete(f"/v1/lots/{wished}/listing", who="ALDER")
    assert withdrawn.status_code == 204, withdrawn.text
    page = matches(valley, code)
    assert profiles(page) == {other: None}
    assert f"lot {wished}, whose oil is wished for, cannot be seen at present" in reason(page, other)
    # Nor does the specialist's look bring out what its brewery may not see.
    seen = valley.get(f"/v1/requests/{code}/matches", who="specialist").json
    assert profiles(seen) == {other: None}


def test_a_combination_is_scored_with_the_wish(valley: World) -> None:
    noble, alike = lot_with(valley, NOBLE), lot_with(valley, CASCADE)

    chosen = {}
    for name, like in (("Hallertauer Mittelfrueh", noble), ("Cascade", alike)):
        code = wanted(valley, oil_like={"cultivar": name}, weights={"profile": 5.0})
        asked = {"aim": "best_scored", "lots_max": 1}
        answer = valley.post(f"/v1/requests/{code}/combinations", asked, who="FINCH")
        assert answer.status_code == 200, answer.text
        chosen[like] = [parcel["lot_code"] for parcel in answer.json["combination"]["parcels"]]
        assert any("Aitchison" in said for said in answer.json["assumptions"])

    assert chosen == {noble: [noble], alike: [alike]}


def test_a_plan_gives_each_what_is_like_its_wish(valley: World) -> None:
    valley.brewery("TEAL")
    noble, alike = lot_with(valley, NOBLE, mass_kg=60.0), lot_with(valley, CASCADE, mass_kg=60.0)
    wishes = {noble: "Hallertauer Mittelfrueh", alike: "Cascade"}
    code_of = {
        lot: valley.post(
            "/v1/requests",
            {**WANT, "oil_like": {"cultivar": name}, "weights": {"profile": 5.0}, "lots_max": 1},
            who=who,
        ).json["code"]
        for (lot, name), who in zip(wishes.items(), ("FINCH", "TEAL"), strict=True)
    }

    plan = valley.post("/v1/allocations", {}, who="specialist").json["plan"]

    assert {r["request_code"]: [p["lot_code"] for p in r["parcels"]] for r in plan["requests"]} == {
        code_of[noble]: [noble],
        code_of[alike]: [alike],
    }
    assert any(said.startswith("2 requests wish for an oil profile: ") for said in plan["cautions"])
