"""Comparing reports over HTTP; a buyer's own is for both sides only."""

from tests.builders import World


def test_both_sides_compare_the_buyers_report_and_nobody_else(world: World) -> None:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    lot = world.listed()
    for who in ("FINCH", "TEAL"):
        world.post("/v1/reservations", {"lot_code": lot, "mass_kg": 10.0}, who=who)
    own = world.report(
        lot, "FINCH", drawn_by="buyer", sampled_on="2026-10-03", analysed_on="2026-10-08", alpha_percent=5.1
    )
    path = f"/v1/lots/{lot}/lab-reports/R1/comparison"

    finch = world.get(path, who="FINCH", **{"with": own})

    assert finch.status_code == 200, finch.text
    alpha = next(f for f in finch.json["figures"] if f["name"] == "alpha_percent")
    assert (alpha["first"], alpha["second"], alpha["agreement"]["is_explained"]) == (5.4, 5.1, True)
    assert alpha["agreement"]["expected"]["confidence"] == 0.95
    assert world.get(path, who="ALDER", **{"with": own}).json == finch.json
    assert world.get(path, who="TEAL", **{"with": own}).status_code == 404
    assert world.get(path, who=None, **{"with": own}).status_code == 401
    assert world.get(path, who="ALDER", **{"with": "R1"}).status_code == 422
    assert world.get(path, who="ALDER").json["errors"][0]["parameter"] == "with"
