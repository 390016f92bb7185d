"""A logger's file over HTTP: filed, refused by its row, corrected, taken back; what it does to the storage answer."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from tests.builders import World

PLAIN = "time,temperature (°C)\n2026-09-03T00:00,5\n2026-09-13T00:00,5\n2026-09-23T00:00,25\n"


def send(world: World, code: str, text: str | bytes = PLAIN, who: str | None = "ALDER", **query: Any) -> Any:
    """File a logger's file, whatever comes of it."""
    return world.client.post(
        f"/v1/lots/{code}/temperature-readings",
        data=text.encode() if isinstance(text, str) else text,
        query_string=query,
        headers={**world.bearing(who), "Content-Type": "text/csv"},
    )


@pytest.fixture
def lot(world: World) -> str:
    """A listed lot of ALDER."""
    world.grower("ALDER")
    return world.listed()


def alpha(world: World, code: str) -> float:
    """What the storage call says is left."""
    return float(world.get(f"/v1/lots/{code}/storage").json["alpha_percent"]["estimate"])


def test_a_file_drives_storage_and_search_and_a_brewer_reads_what_it_says(world: World, lot: str) -> None:
    before = alpha(world, lot)

    filed = send(world, lot, place="core of bale 14", gap_hours=300)

    assert filed.status_code == 201, filed.text
    assert (filed.json["code"], filed.json["place"], filed.json["readings"]) == ("T1", "core of bale 14", 3)
    assert (filed.json["covered_days"], filed.json["readings_above_20_c"]) == (20.0, 1)
    answer = world.get(f"/v1/lots/{lot}/storage").json
    assert answer["alpha_percent"]["estimate"] < before
    assert (answer["temperature_history"]["files"], answer["temperature_history"]["logged_days"]) == (
        ["T1"],
        20,
    )
    assert "a logger's temperatures for 20.0 days" in answer["method"]
    line = world.get("/v1/lots").json["items"][0]
    assert line["alpha_percent"]["estimate"] == pytest.approx(answer["alpha_percent"]["estimate"], rel=1e-9)
    assert world.get(filed.headers["Location"]).json["days"][0]["day"] == "2026-09-03"
    assert [log["code"] for log in world.get(f"/v1/lots/{lot}/temperature-readings").json["items"]] == ["T1"]


def test_a_correction_taken_back_leaves_its_reason_and_lets_the_first_file_count_again(
    world: World, lot: str
) -> None:
    send(world, lot)
    before = alpha(world, lot)

    warm = send(world, lot, PLAIN.replace(",5\n", ",15\n"), corrects="T1", reason="another room's")
    assert warm.status_code == 201, warm.text
    assert alpha(world, lot) < before
    back = world.post(
        f"/v1/lots/{lot}/temperature-readings/T2/reversal", {"reason": "another lot's"}, who="ALDER"
    )

    assert (back.status_code, back.json["taken_back_reason"]) == (200, "another lot's")
    assert alpha(world, lot) == pytest.approx(before, rel=1e-12)
    kept = world.get(f"/v1/lots/{lot}/temperature-readings").json["items"]
    assert [(log["code"], log["corrected_by"], log["reason"]) for log in kept] == [
        ("T1", None, None),
        ("T2", None, "another room's"),
    ]
    again = world.post(f"/v1/lots/{lot}/temperature-readings/T2/reversal", {"reason": "x"}, who="ALDER")
    assert (again.status_code, again.json["type"]) == (409, "/problems/illegal-step")


@pytest.mark.parametrize(
    ("text", "problem", "said"),
    [
        (PLAIN + "2026-09-24T00:00,warm\n", "unreadable-readings", "row 5"),
        (PLAIN + "2026-09-24T00:00,55\n", "out-of-range", "row 5"),
        ("a,b\n1,2\n", "unreadable-readings", "header"),
        ("", "unreadable-readings", "header"),
        ("time,temperature (°C)\n2026-08-01T00:00,5\n2026-08-02T00:00,5\n", "invalid-request", "picked"),
        ("time,temperature (°C)\n2026-09-03T00:00,5\n2027-09-04T00:00,5\n", "invalid-request", "future"),
    ],
    ids=range(6),
)
def test_a_file_that_cannot_be_read_is_refused_with_its_row_and_loses_nothing(
    world: World, lot: str, text: str, problem: str, said: str
) -> None:
    send(world, lot)
    before = alpha(world, lot)

    answer = send(world, lot, text, corrects="T1", reason="better file")

    assert (answer.status_code, answer.json["type"]) == (422, f"/problems/{problem}")
    assert said in answer.json["detail"]
    assert alpha(world, lot) == before
    assert [
        log["corrected_by"] for log in world.get(f"/v1/lots/{lot}/temperature-readings").json["items"]
    ] == [None]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_what_loggers_and_spreadsheets_write_is_read(world: World, lot: str, encoding: str) -> None:
    answer = send(world, lot, PLAIN.encode(encoding))

    assert (answer.status_code, answer.json["readings"]) == (201, 3)


def test_only_the_grower_files_and_only_once(world: World, lot: str) -> None:
    world.brewery("FINCH")

    assert send(world, lot, who=None).status_code == 401
    assert send(world, lot, who="FINCH").status_code == 403
    assert send(world, lot).status_code == 201
    again = send(world, lot)
    assert (again.status_code, again.json["type"]) == (409, "/problems/already-exists")
    longer = PLAIN + "2026-09-24T00:00,5\n"
    assert send(world, lot, longer, corrects="T9", reason="x").status_code == 404
    assert send(world, lot, longer, who="specialist").json["filed_by"] == "specialist"


def test_the_body_is_csv_of_bounded_size(world: World, lot: str) -> None:
    as_json = world.post(f"/v1/lots/{lot}/temperature-readings", {"a": 1}, who="ALDER")
    long = send(world, lot, b"x" * 8_000_001)

    assert as_json.status_code == 415
    assert long.status_code == 413
    assert send(world, lot, b"\xff\xfea").status_code == 400


def test_thousands_of_readings_over_the_usual_body_limit_are_taken(world: World, lot: str) -> None:
    began, note = datetime(2026, 9, 3), "a note that the logger's own program writes"
    rows = "".join(
        f"{began + timedelta(minutes=minutes)},{5 + minutes % 7},{note}\n" for minutes in range(43200)
    )
    answer = send(world, lot, "time,temperature (°C),note\n" + rows)

    assert len(rows) > 2_000_000
    assert (answer.status_code, answer.json["readings"], answer.json["gaps_count"]) == (201, 43200, 0)


def test_a_file_sent_twice_under_one_key_is_filed_once(world: World, lot: str) -> None:
    headers = {**world.bearing("ALDER"), "Content-Type": "text/csv", "Idempotency-Key": "once"}
    answers = [
        world.client.post(f"/v1/lots/{lot}/temperature-readings", data=PLAIN.encode(), headers=headers)
        for _ in range(2)
    ]

    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json == answers[1].json
