"""A process that is killed between two writes: nothing half done stays, and its key is free again."""

import json
import os
import signal
import subprocess
import sys
import textwrap

import pytest
import sqlalchemy as sa

from service.records.goods import lots
from service.records.session import Records
from tests.builders import LOT, REPORT, World
from tests.conftest import ROOT

# The child does the first of two writes, says so, and then waits for its end.
CHILD = textwrap.dedent(
    """
    import sys, time
    from service.app import create_app
    from service.records.goods import lots
    from service.settings import Settings

    url, token, path, body = sys.argv[1:]
    kept = lots.{stops_in}

    def stop_after(*given, **named):
        kept(*given, **named)
        print("written", flush=True)
        time.sleep(60)

    lots.{stops_in} = stop_after
    app = create_app(Settings(database_url=url))
    app.test_client().post(
        path, data=body, content_type="application/json",
        headers={{"Authorization": f"Bearer {{token}}", "Idempotency-Key": "killed-1"}},
    )
    """
)
KEY = {"Idempotency-Key": "killed-1"}


def kill_between_writes(world: World, path: str, body: object, *, stops_in: str) -> None:
    """Start a request in a process of its own and kill it after its first write."""
    url = world.records.engine.url.render_as_string(hide_password=False)
    child = subprocess.Popen(
        [
            sys.executable,
            "-c",
            CHILD.format(stops_in=stops_in),
            url,
            world.tokens["ALDER"],
            path,
            json.dumps(body),
        ],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        env={"PATH": os.environ["PATH"]},
    )
    assert child.stdout is not None
    with child.stdout:
        assert child.stdout.readline() == b"written\n"
        child.send_signal(signal.SIGKILL)
        assert child.wait() == -signal.SIGKILL


def counted(records: Records) -> dict[str, int]:
    """How many rows each table holds."""
    with records.engine.connect() as connection:
        return {
            name: connection.scalar(sa.select(sa.func.count()).select_from(sa.table(name))) or 0
            for name in sa.inspect(connection).get_table_names()
        }


@pytest.fixture
def world(committed_world: World) -> World:
    """A grower in records where every write stays."""
    committed_world.grower("ALDER")
    return committed_world


def test_a_killed_draft_leaves_no_lot_and_its_key_is_free(world: World) -> None:
    before = counted(world.records)

    kill_between_writes(world, "/v1/lots", LOT, stops_in="add")

    assert counted(world.records) == before
    answer = world.post("/v1/lots", LOT, who="ALDER", headers=KEY)
    assert (answer.status_code, answer.json["code"]) == (201, "ALDER-2026-01")


def test_a_killed_report_leaves_the_lot_as_it_was(world: World) -> None:
    code = world.listed()
    before, shown = counted(world.records), world.get(f"/v1/lots/{code}").get_data()
    path, second = f"/v1/lots/{code}/lab-reports", {**REPORT, "alpha_percent": 4.9}

    kill_between_writes(world, path, second, stops_in="change")

    assert counted(world.records) == before
    assert world.get(f"/v1/lots/{code}").get_data() == shown
    answer = world.post(path, second, who="ALDER", headers=KEY)
    assert (answer.status_code, answer.json["code"]) == (201, "R2")


def test_a_killed_request_blocks_no_other(world: World) -> None:
    kill_between_writes(world, "/v1/lots", LOT, stops_in="add")

    assert world.draft() == "ALDER-2026-01"
    world.records.read(lambda session: lots.get_row(session, "ALDER-2026-01"))
