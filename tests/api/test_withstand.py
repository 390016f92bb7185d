"""What the door must withstand: each bad request is a clear problem, and nothing of it stays."""

import json
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.api.goods import lots as lots_door
from tests.builders import LOT, REPORT, World

PROBLEM = "application/problem+json"
JSON = "application/json"
TEXT = json.dumps(LOT)


def raw(world: World, body: bytes | str, *, path: str = "/v1/lots", content_type: str = JSON) -> TestResponse:
    """Send bytes as they are."""
    return world.client.post(path, data=body, content_type=content_type, headers=world.bearing("ALDER"))


def with_(**told: Any) -> str:
    """A lot's body with some of it written otherwise."""
    return json.dumps({**LOT, **told})


def literal(name: str, value: str) -> str:
    """A lot's body in which one value stands as it is written."""
    return json.dumps({**LOT, name: "@@"}).replace('"@@"', value)


@pytest.fixture(autouse=True)
def nothing_stays(world: World) -> Any:
    """No bad request leaves a lot behind."""
    world.grower("ALDER")
    yield
    assert world.get("/v1/lots", who="ALDER", mine="true").json["items"] == []


def assert_problem(answer: TestResponse, status: int) -> dict[str, Any]:
    """Every no has the one shape."""
    assert answer.status_code == status, answer.text
    assert answer.content_type == PROBLEM
    body = json.loads(answer.get_data())
    assert body["status"] == status
    assert set(body) >= {"type", "title", "status", "detail", "instance"}
    assert "Traceback" not in answer.text
    return dict(body)


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b"not json",
        TEXT.encode()[:-3],
        b"\xff\xfe" + TEXT.encode(),
        b'{"cultivar": "\xff"}',
        b"[" * 200_000,
        b'{"a":' * 100_000,
        literal("mass_kg", "NaN"),
        literal("mass_kg", "Infinity"),
        literal("mass_kg", "-Infinity"),
        literal("mass_kg", "9" * 5000),
        literal("mass_kg", "1e99999999999999999999"),
        '{"form": "pellet", "form": "whole_cone"}',
    ],
    ids=[
        "torn",
        "words",
        "cut",
        "utf-16",
        "latin-1",
        "deep-list",
        "deep-object",
        "nan",
        "infinity",
        "minus-infinity",
        "5000-digits",
        "exponent",
        "name-twice",
    ],
)
def test_what_cannot_be_read_is_400(world: World, body: bytes | str) -> None:
    assert assert_problem(raw(world, body), 400)["type"] == "about:blank"


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ("[]", "#"),
        ("null", "#"),
        ('"text"', "#"),
        ("7", "#"),
        (with_(alpha_precent=5.4), "#/alpha_precent"),
        (with_(cultivar=7), "#/cultivar"),
        (with_(cultivar=[]), "#/cultivar"),
        (with_(cultivar="a\0b"), "#/cultivar"),
        (with_(cultivar="a\ud800"), "#/cultivar"),
        (with_(cultivar="   "), "#/cultivar"),
        (with_(cultivar="C" * 10_000), "#/cultivar"),
        (with_(**{"a\ud800~/b": 1}), "#/a\ud800~0~1b"),
        (with_(mass_kg="120"), "#/mass_kg"),
        (with_(mass_kg=True), "#/mass_kg"),
        (with_(mass_kg=2**70), "#/mass_kg"),
        (literal("mass_kg", "1e400"), "#/mass_kg"),
        (literal("mass_kg", "1e-400"), "#/mass_kg"),
        (with_(mass_kg=0.0001), "#/mass_kg"),
        (with_(mass_kg=0), "#/mass_kg"),
        (with_(mass_kg=-5), "#/mass_kg"),
        (with_(stored_at_c=41), "#/stored_at_c"),
        (with_(stored_at_c=-31), "#/stored_at_c"),
        (with_(form="powder"), "#/form"),
        (with_(form={"a": 1}), "#/form"),
        (with_(harvested_on="2026-W48-3"), "#/harvested_on"),
        (with_(harvested_on="2026-02-30"), "#/harvested_on"),
        (with_(harvested_on="29/08/2026"), "#/harvested_on"),
        (with_(harvested_on="2099-01-01"), "#/harvested_on"),
        (with_(price_open="yes"), "#/price_open"),
        (with_(currency="cad"), "#/currency"),
        (with_(packages=[{"kind": "box", "count": 2**70, "net_kg": 1}]), "#/packages/0/count"),
        (with_(packages=[{"kind": "box", "count": 1.5, "net_kg": 1}]), "#/packages/0/count"),
        (with_(packages="box"), "#/packages"),
        (with_(grower_code="al der"), "#/grower_code"),
    ],
)
def test_what_does_not_fit_is_422_with_its_pointer(world: World, body: str, pointer: str) -> None:
    problem = assert_problem(raw(world, body), 422)

    assert problem["type"] == "/problems/invalid-request"
    assert pointer in [fault["pointer"] for fault in problem["errors"]]


@pytest.mark.parametrize("content_type", ["text/plain", "application/xml", "multipart/form-data", ""])
def test_another_kind_of_body_is_415(world: World, content_type: str) -> None:
    assert_problem(raw(world, TEXT, content_type=content_type), 415)


def test_a_body_over_the_limit_is_413(world: World) -> None:
    assert_problem(raw(world, b" " * 2_000_001), 413)
    assert_problem(raw(world, with_(note="x" * 1_999_000)), 422)


@pytest.mark.parametrize(
    ("query", "parameters"),
    [
        ("alpha_percent_min=", ["alpha_percent_min"]),
        ("form=pellet&form=wet_hop", ["form"]),
        ("alpha_precent_min=5", ["alpha_precent_min"]),
        ("alpha_percent_min=NaN", ["alpha_percent_min"]),
        ("alpha_percent_min=1e400", ["alpha_percent_min"]),
        ("alpha_percent_min=٣", ["alpha_percent_min"]),
        ("limit=0", ["limit"]),
        ("limit=101", ["limit"]),
        ("limit=1.5", ["limit"]),
        ("mine=yes", ["mine"]),
        ("cursor=%00", ["cursor"]),
        ("cursor=bm9wZQ", ["cursor"]),
        ("on=2020-01-01", ["on"]),
        ("sort=distance", ["sort"]),
        ("near_latitude_deg=45", ["near_longitude_deg"]),
        ("price_per_kg_max=10", ["price_per_kg_max"]),
        ("alpha_percent_min=9&alpha_percent_max=3", ["alpha_percent_min"]),
        ("state=draft", ["state"]),
        ("mine=true&form=pellet", ["form"]),
    ],
)
def test_a_query_that_would_mislead_is_422_with_its_parameter(
    world: World, query: str, parameters: list[str]
) -> None:
    problem = assert_problem(world.client.get(f"/v1/lots?{query}", headers=world.bearing("ALDER")), 422)

    assert [fault["parameter"] for fault in problem["errors"]] == parameters


def test_a_query_where_none_is_taken_does_not_vanish(world: World) -> None:
    problem = assert_problem(world.get("/v1/growers/ALDER", on="2027-01-01"), 422)

    assert problem["errors"] == [{"parameter": "on", "detail": "This parameter is not known here."}]


@pytest.mark.parametrize(
    "code", ["NONE-2026-01", "%00", "%ED%A0%80", "a%0Ab", "ALDER-2026-01' OR 1=1", "x" * 2000]
)
@pytest.mark.parametrize("rest", ["", "/storage", "/lab-reports"])
def test_an_unknown_code_is_404(world: World, code: str, rest: str) -> None:
    assert_problem(world.client.get(f"/v1/lots/{code}{rest}", headers=world.bearing("ALDER")), 404)


@pytest.mark.parametrize(
    "address", ["/v1/nothing", "/v1/lots/", "/v1/tokens/99999999999999999999", "/nowhere"]
)
def test_an_unknown_address_is_404(world: World, address: str) -> None:
    assert world.client.delete(address, headers=world.bearing("specialist")).status_code == 404


def test_an_unknown_verb_is_405_and_says_which_are_known(world: World) -> None:
    answer = world.client.put("/v1/lots", json={})

    assert_problem(answer, 405)
    assert {"GET", "POST"} <= set(answer.headers["Allow"].replace(" ", "").split(","))


@pytest.mark.parametrize(
    "header",
    [
        None,
        "Bearer",
        "Bearer ",
        "Bearer oast_unknown",
        "Basic QTpC",
        "Bearer \xff\xfe",
        "Bearer " + "x" * 5000,
    ],
)
def test_no_or_a_wrong_token_is_401(world: World, header: str | None) -> None:
    answer = world.client.post("/v1/lots", json=LOT, headers={"Authorization": header} if header else {})

    assert assert_problem(answer, 401)["type"] == "/problems/token-needed"
    assert answer.headers["WWW-Authenticate"] == 'Bearer realm="oastbook"'


def test_a_wrong_token_is_401_where_none_is_needed_too(world: World) -> None:
    assert_problem(world.client.get("/v1/lots", headers={"Authorization": "Bearer oast_old"}), 401)


def test_the_health_of_the_database_is_told_with_any_token(world: World) -> None:
    assert world.client.get("/v1/health", headers={"Authorization": "Bearer old"}).json == {"status": "ok"}


@pytest.fixture
def others_lots(world: World) -> Any:
    """A draft and a listed lot of another grower, both out of the way again at the end."""
    world.grower("ROWAN")
    return world.draft("ROWAN"), world.listed("ROWAN")


def test_another_partys_draft_is_unknown_and_its_listed_lot_untouchable(
    world: World, others_lots: tuple[str, str]
) -> None:
    draft, listed = others_lots
    for code, status in ((draft, 404), (listed, 403)):
        assert_problem(world.patch(f"/v1/lots/{code}", {"note": "mine"}, who="ALDER"), status)
        assert_problem(world.delete(f"/v1/lots/{code}", who="ALDER"), status)
        assert_problem(world.post(f"/v1/lots/{code}/listing", {}, who="ALDER"), status)
        assert_problem(world.delete(f"/v1/lots/{code}/listing", who="ALDER"), status)
        assert_problem(world.post(f"/v1/lots/{code}/lab-reports", REPORT, who="ALDER"), status)
    assert_problem(world.patch(f"/v1/lots/{listed}", {"note": "mine"}), 401)
    assert world.get(f"/v1/lots/{listed}").json["note"] is None
    assert len(world.get(f"/v1/lots/{listed}/lab-reports").json["items"]) == 1


def test_a_lot_for_another_grower_is_refused(world: World) -> None:
    world.grower("ROWAN")

    assert_problem(world.post("/v1/lots", {**LOT, "grower_code": "ROWAN"}, who="ALDER"), 403)
    assert_problem(world.post("/v1/lots", {**LOT, "grower_code": "NOBODY"}, who="specialist"), 404)


def test_a_fault_of_ours_leaks_nothing(
    world: World, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("the password is hunter2 at postgresql://admin@db")

    monkeypatch.setattr(lots_door, "show_lot", fail)
    answer = world.get("/v1/lots/ALDER-2026-01")

    problem = assert_problem(answer, 500)
    assert problem == {
        "type": "about:blank",
        "title": "The service failed",
        "status": 500,
        "detail": "Something went wrong here. Nothing was changed.",
        "instance": "/v1/lots/ALDER-2026-01",
    }
    assert "hunter2" in caplog.text
