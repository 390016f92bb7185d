"""oastbook deliver, against a real mail server on loopback; a process that is killed loses nothing."""

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from service.cli import main
from service.cli.delivering import wait_after
from service.market.trade.notices import SavedSearch
from service.records.matching import saved_searches
from service.records.session import Records, open_records
from tests.builders import World
from tests.conftest import ROOT
from tests.couriers.post_office import open_post_office
from tests.factories import NOW

CHILD = textwrap.dedent(
    """
    import sys, time
    from service.cli import main
    from service.records.trade import notices

    kept = notices.{stops_in}

    def stop_after(*given, **named):
        kept(*given, **named)
        print("written", flush=True)
        time.sleep(60)

    notices.{stops_in} = stop_after
    main(["deliver"])
    """
)


@pytest.fixture
def region(committed_world: World, monkeypatch: pytest.MonkeyPatch) -> World:
    """A listed lot, and a brewery that wants to hear of it."""
    world = committed_world
    url = world.records.engine.url.render_as_string(hide_password=False)
    monkeypatch.setenv("OASTBOOK_DATABASE_URL", url)
    monkeypatch.setenv("OASTBOOK_PUBLIC_URL", "https://hops.example.org")
    world.grower()
    world.brewery()
    saved = SavedSearch(
        code="FINCH-ASK-01", brewery_code="FINCH", name="all", filters={}, made_at=NOW, made_by="x"
    )
    world.records.write(lambda session: saved_searches.add(session, saved))
    world.listed()
    return world


def feed(world: World) -> list[str]:
    return [n["mail_state"] for n in world.get("/v1/notices", who="FINCH").json["items"]]


def test_deliver_fills_the_feed_and_sends_a_letter_once(
    region: World, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    with open_post_office() as office:
        monkeypatch.setenv("OASTBOOK_SMTP_URL", office.url)
        monkeypatch.setenv("OASTBOOK_MAIL_FROM", "notices@hops.example.org")

        assert main(["deliver"]) == 0
        assert main(["deliver"]) == 0

    assert feed(region) == ["sent"]
    (letter,) = office.letters
    assert letter["To"] == "finch@example.org"
    assert letter["Message-ID"].endswith("@hops.example.org>")
    said = capsys.readouterr()
    assert "1 events, 1 new notices" in said.err
    assert said.out == ""


def test_without_a_mail_server_the_feed_is_filled(region: World) -> None:
    assert main(["deliver"]) == 0

    assert feed(region) == ["none"]


@pytest.mark.parametrize("stops_in", ["put", "change"])
def test_a_killed_delivery_loses_nothing(
    region: World, stops_in: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_post_office() as office:
        monkeypatch.setenv("OASTBOOK_SMTP_URL", office.url)
        monkeypatch.setenv("OASTBOOK_MAIL_FROM", "notices@hops.example.org")
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD.format(stops_in=stops_in)],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=dict(os.environ),
        )
        assert child.stdout is not None
        with child.stdout:
            assert child.stdout.readline() == b"written\n"
            child.send_signal(signal.SIGKILL)
            child.wait()

        assert main(["deliver"]) == 0

    assert feed(region) == ["sent"]
    assert len(office.letters) == 1


def test_the_loop_stops_cleanly_when_told(region: World) -> None:
    loop = subprocess.Popen(
        [sys.executable, "-m", "service", "deliver", "--loop", "1"],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        env=dict(os.environ),
    )
    assert loop.stderr is not None
    with loop.stderr:
        assert b"1 events, 1 new notices" in loop.stderr.readline()
        loop.send_signal(signal.SIGTERM)
        assert loop.wait(timeout=20) == 0
    assert feed(region) == ["none"]


def test_the_loop_goes_on_when_the_records_are_busy(
    region: World, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    on_sqlite = region.records.engine.dialect.name == "sqlite"
    impatience = "PRAGMA busy_timeout=20" if on_sqlite else "SET lock_timeout = '20ms'"
    lock = "BEGIN IMMEDIATE" if on_sqlite else "BEGIN; LOCK TABLE outbox"

    def open_impatient(url: str) -> Records:
        records = open_records(url)

        def hurry(driver: Any, _record: object) -> None:
            driver.execute(impatience)
            driver.commit()

        sa.event.listen(records.engine, "connect", hurry)
        return records

    def another_writer() -> None:
        # The first round gives up within a second; then the lock goes, and the second finds the event.
        time.sleep(1)
        writer.execute("ROLLBACK")
        for _ in range(100):
            if feed(region):
                break
            time.sleep(0.1)
        os.kill(os.getpid(), signal.SIGTERM)

    monkeypatch.setattr("service.cli.delivering.open_records", open_impatient)
    holding = region.records.engine.raw_connection()
    writer = holding.driver_connection
    assert writer is not None
    if not on_sqlite:
        writer.autocommit = True
    writer.execute(lock)
    other = threading.Thread(target=another_writer)
    other.start()

    assert main(["deliver", "--loop", "1"]) == 0

    other.join()
    holding.invalidate()
    assert feed(region) == ["none"]
    said = capsys.readouterr().err
    assert "stayed busy through 4 tries; nothing was changed; trying again in 2 s" in said
    assert "1 events, 1 new notices" in said


@given(st.integers(0, 10_000), st.floats(1, 86_400))
def test_a_loop_that_is_refused_waits_longer_and_never_for_ever(refused: int, pause_s: float) -> None:
    waits = [wait_after(count, pause_s=pause_s) for count in (0, refused, refused + 1)]

    assert waits == sorted(waits)
    assert waits[0] == pause_s
    assert waits[-1] <= max(pause_s, 300)


def test_a_pause_that_cannot_be_is_refused(region: World, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["deliver", "--loop", "0"]) == 2
    assert "--loop takes 1 to 86400 seconds" in capsys.readouterr().err
