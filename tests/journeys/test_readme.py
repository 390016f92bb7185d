"""The README's tour does what it says: its commands are run, and what they print is compared."""

import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BETWEEN = "-- the next command --"


def steps() -> list[tuple[str, str]]:
    """Each command of the tour with what it prints."""
    told = []
    for block in re.findall(r"```console\n(.*?)```", README, re.DOTALL):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, printed = _split(part)
            told.append((command, printed))
    return told


def _split(part: str) -> tuple[str, str]:
    lines = part.rstrip("\n").split("\n")
    for count in range(1, len(lines) + 1):
        command = "\n".join(lines[:count])
        # A command goes on as long as a quote in it is open.
        if len(re.findall(r"(?<!\\)'", command)) % 2 == 0:
            return command, "\n".join(lines[count:])
    raise AssertionError(f"a quote is never closed in: {part}")


@pytest.fixture
def port() -> int:
    """A free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    """A shell's environment with the service's commands in it, and none of its settings."""
    plain = {name: value for name, value in os.environ.items() if not name.startswith("OASTBOOK_")}
    return {**plain, "PATH": f"{Path(sys.executable).parent}:{plain['PATH']}", "HOME": str(tmp_path)}


def wait_for(port: int) -> None:
    """Wait until the service answers."""
    for _ in range(100):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/v1/health", timeout=1):
                return
        except OSError:
            time.sleep(0.1)
    raise AssertionError("the service never answered")


def test_the_tour_prints_what_the_readme_says(port: int, environment: dict[str, str], tmp_path: Path) -> None:
    told = steps()
    served = {
        **environment,
        "OASTBOOK_TODAY": "2026-11-25",
        "OASTBOOK_DATABASE_URL": "sqlite:///tour.sqlite3",
    }
    subprocess.run(["oastbook", "migrate"], cwd=tmp_path, env=served, check=True, capture_output=True)
    service = subprocess.Popen(
        ["oastbook", "serve", "--port", str(port)],
        cwd=tmp_path,
        env=served,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        wait_for(port)
        commands = [
            "true"
            if command == "oastbook serve &"
            else command.replace("127.0.0.1:8000", f"127.0.0.1:{port}")
            for command, _ in told
        ]
        script = f"\necho; echo '{BETWEEN}'\n".join(commands)
        shell = subprocess.run(
            ["bash", "-c", f"exec 2>&1\n{script}"],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        )
    finally:
        service.terminate()
        service.wait(timeout=20)

    printed = [part.strip() for part in shell.stdout.split(BETWEEN)]

    assert len(printed) == len(told) > 20
    for (command, expected), found in zip(told, printed, strict=True):
        pattern = ".*".join(re.escape(piece) for piece in expected.split("…"))
        assert re.fullmatch(pattern, found, re.DOTALL), (
            f"{command}\n--- printed:\n{found}\n--- told:\n{expected}"
        )
