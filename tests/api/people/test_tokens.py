"""Tokens over HTTP: made by the specialist, shown once, revoked for good."""

import re
from datetime import timedelta

from tests.builders import World
from tests.factories import NOW


def test_post_token_makes_one_that_works_until_it_is_revoked(world: World) -> None:
    world.grower("ALDER")

    made = world.post(
        "/v1/tokens", {"role": "grower", "party_code": "ALDER", "label": "shed"}, who="specialist"
    )
    world.tokens["shed"] = made.json["token"]

    assert made.status_code == 201
    assert made.headers["Cache-Control"] == "no-store"
    assert world.get("/v1/lots", who="shed", mine="true").status_code == 200
    assert world.delete(f"/v1/tokens/{made.json['id']}", who="specialist", etag=None).status_code == 204
    revoked = world.get("/v1/lots", who="shed", mine="true")
    assert (revoked.status_code, revoked.json["type"]) == (401, "/problems/token-needed")
    assert world.delete(f"/v1/tokens/{made.json['id']}", who="specialist", etag=None).status_code == 404


def test_post_token_refuses_a_key_since_the_token_is_never_kept(world: World) -> None:
    answer = world.post(
        "/v1/tokens", {"role": "specialist"}, who="specialist", headers={"Idempotency-Key": "k"}
    )

    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "Idempotency-Key")


def test_post_token_names_a_party_or_the_specialist_but_not_both(world: World) -> None:
    world.grower("ALDER")

    for body in ({"role": "grower"}, {"role": "specialist", "party_code": "ALDER"}):
        answer = world.post("/v1/tokens", body, who="specialist")
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#/party_code")


def test_post_token_for_nobody_is_not_found(world: World) -> None:
    answer = world.post("/v1/tokens", {"role": "brewery", "party_code": "NOBODY"}, who="specialist")

    assert answer.status_code == 404


def test_tokens_are_the_specialists_business(world: World) -> None:
    world.grower("ALDER")

    assert world.post("/v1/tokens", {"role": "specialist"}, who="ALDER").status_code == 403
    assert world.delete("/v1/tokens/1", who="ALDER").status_code == 403
    assert world.post("/v1/tokens", {"role": "specialist"}).status_code == 401


def test_an_unknown_token_is_refused_even_where_none_is_needed(world: World) -> None:
    for header in ("Bearer oast_nobody", "Basic YTpi", "Bearer"):
        answer = world.client.get("/v1/lots", headers={"Authorization": header})
        assert answer.status_code == 401, header
        assert answer.headers["WWW-Authenticate"] == 'Bearer realm="oastbook"'


def test_tokens_are_listed_with_their_last_use_and_never_shown(world: World) -> None:
    world.grower("ALDER")
    made = world.post(
        "/v1/tokens", {"role": "grower", "party_code": "ALDER", "label": "shed"}, who="specialist"
    )
    world.tokens["shed"] = made.json["token"]

    unused = world.get("/v1/tokens", who="specialist", limit=1).json["items"]
    world.get("/v1/lots", who="shed", mine="true")
    world.at(NOW + timedelta(days=1))
    world.get("/v1/lots", who="shed", mine="true")
    listed = world.get("/v1/tokens", who="specialist").json["items"]

    assert [(line["id"], line["last_used_on"]) for line in unused] == [(made.json["id"], None)]
    assert listed[0] == {
        "id": made.json["id"],
        "role": "grower",
        "party_code": "ALDER",
        "label": "shed",
        "made_at": f"{NOW:%Y-%m-%dT%H:%M:%SZ}",
        "last_used_on": "2026-11-26",
        "revoked_at": None,
    }
    assert made.json["token"] not in str(listed)
    assert world.get("/v1/tokens", who="shed").status_code == 403


def test_who_calls_is_judged_before_what_is_sent(world: World) -> None:
    for header in (None, "Bearer oast_nobody"):
        headers = {} if header is None else {"Authorization": header}
        for method, path in (
            ("POST", "/v1/lots"),
            ("POST", "/v1/tokens"),
            ("PATCH", "/v1/lots/ALDER-2026-01"),
            ("PATCH", "/v1/growers/ALDER"),
            ("PATCH", "/v1/requests/FINCH-REQ-01"),
        ):
            answer = world.client.open(path, method=method, json={"nonsense": True}, headers=headers)
            assert (answer.status_code, answer.json["type"]) == (401, "/problems/token-needed"), (
                path,
                header,
            )


def test_codes_and_choices_are_read_in_any_case(world: World) -> None:
    world.grower("ALDER")
    lot = world.listed()
    addition = {"lot_code": lot.lower(), "mass_g": 30, "at": "Boil", "minutes": 60}
    brew = {"method": "TINSETH", "wort": {"volume_l": 20, "gravity_sg": 1.05}, "additions": [addition]}

    assert world.get(f"/v1/lots/{lot.lower()}").json["code"] == lot
    assert world.post("/v1/bitterness", brew).json["method"] == "tinseth"


# Calls with a body that anyone may make; a sheet's file is read by its kind first.
OPEN = {
    "/v1/bitterness",
    "/v1/bitterness/dose",
    "/v1/bitterness/beerjson",
    "/v1/sheet-verifications",
}


def test_every_call_with_a_body_that_needs_a_token_judges_the_caller_first(world: World) -> None:
    paths = world.get("/v1/openapi.json").json["paths"]
    calls = [
        (method, path)
        for path, methods in paths.items()
        for method, call in methods.items()
        if "requestBody" in call and path not in OPEN and not path.startswith("/v1/calculations/")
    ]

    assert len(calls) > 30
    for method, path in calls:
        sent = re.sub("{[^}]+}", "1", path)
        answer = world.client.open(sent, method=method.upper(), json={"nonsense": True})
        assert (answer.status_code, answer.json["type"]) == (401, "/problems/token-needed"), (method, path)
