"""The back door: what each command prints, and how it ends."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from service.cli import main

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def address(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The settings of an own, empty database."""
    address = f"sqlite:///{tmp_path / 'own.sqlite3'}"
    monkeypatch.setenv("OASTBOOK_DATABASE_URL", address)
    return address


def test_migrate_says_where_the_records_stand_and_is_safe_twice(
    address: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        assert main(["migrate"]) == 0
        assert "The records stand at the newest migration." in capsys.readouterr().err


def test_token_create_prints_one_token_and_nothing_else(
    address: str, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["migrate"])
    capsys.readouterr()

    assert main(["token", "create", "--specialist", "--label", "desk"]) == 0
    printed = capsys.readouterr().out

    assert printed.startswith("oast_")
    assert len(printed.split()) == 1


def test_token_create_for_nobody_is_refused(address: str, capsys: pytest.CaptureFixture[str]) -> None:
    main(["migrate"])

    assert main(["token", "create", "--grower", "NOBODY"]) == 1
    assert "there is no grower NOBODY" in capsys.readouterr().err


def test_a_wrong_setting_ends_with_its_name(
    address: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("OASTBOOK_TODAY", "tomorrow")

    assert main(["migrate"]) == 2
    assert "OASTBOOK_TODAY must be a date" in capsys.readouterr().err


def test_serve_wants_migrated_records(address: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["serve"]) != 0
    assert "oastbook migrate" in capsys.readouterr().err


def test_openapi_prints_or_writes_the_document(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written = (ROOT / "openapi" / "openapi.yaml").read_text(encoding="utf-8")

    assert main(["openapi", "--to", "-"]) == 0
    assert capsys.readouterr().out == written
    assert main(["openapi", "--to", str(tmp_path / "o.yaml")]) == 0
    assert (tmp_path / "o.yaml").read_text(encoding="utf-8") == written


def test_a_command_is_wanted(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([])

    assert ended.value.code == 2
    assert "COMMAND" in capsys.readouterr().err


def test_serve_answers_until_it_is_told_to_stop(address: str) -> None:
    main(["migrate"])
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    service = subprocess.Popen(
        [sys.executable, "-m", "service", "serve", "--port", str(port)],
        env={**os.environ, "OASTBOOK_DATABASE_URL": address},
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        answer = None
        for _ in range(300):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/v1/health", timeout=1) as got:
                    answer = got.status
                    break
            except OSError:
                time.sleep(0.1)
        assert answer == 200
    finally:
        service.terminate()
        assert service.wait(timeout=30) is not None


def test_whoever_listens_may_stop_listening() -> None:
    command = f"{sys.executable} -c 'from service.cli import main; main()' openapi --to - | true"
    ran = subprocess.run(  # noqa: S602 -- a pipe is what this is about
        command, shell=True, capture_output=True, text=True, check=True
    )

    assert ran.stderr == ""
