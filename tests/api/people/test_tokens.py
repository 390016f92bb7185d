"""Tokens over HTTP: made by the specialist, shown once, revoked for good."""

from tests.builders import World


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
