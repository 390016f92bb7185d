"""What it costs to start the service, and what an idle worker weighs."""

import os
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from service.records.migrations import migrate
from tests.benchmarks.measure import Result

ROOT = Path(__file__).resolve().parents[2]
IDLE_MB_MAX = 200
FLOOR = "import flask, sqlalchemy, sqlalchemy.orm"
HOUSE = "from service.app import create_app; from service.settings import Settings; create_app(Settings())"


def run() -> list[Result]:
    """Measure the start against importing the frameworks, and an idle worker's memory."""
    house_s = floor_s = float("inf")
    for _ in range(9):
        house_s = min(house_s, _seconds(HOUSE))
        floor_s = min(floor_s, _seconds(FLOOR))
    weight_mb = _idle_worker_mb()
    return [
        Result(
            "building the house, over importing flask and sqlalchemy",
            house_s / floor_s,
            2.0,
            f"{1000 * house_s:.0f} ms over {1000 * floor_s:.0f} ms",
        ),
        Result("an idle worker, MB", weight_mb, IDLE_MB_MAX, f"{weight_mb:.0f} MB resident"),
    ]


def _seconds(code: str) -> float:
    """How long a piece of code takes in a new interpreter, its own start and end not counted."""
    timed = f"import time; began = time.perf_counter()\n{code}\nprint(time.perf_counter() - began)"
    ran = subprocess.run([sys.executable, "-c", timed], cwd=ROOT, check=True, capture_output=True, text=True)
    return float(ran.stdout)


def _idle_worker_mb() -> float:
    """The largest resident size among the processes of a served house that has answered once."""
    address = f"sqlite:///{Path(tempfile.mkdtemp(prefix='idle-')) / 'idle.sqlite3'}"
    migrate(address)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    service = subprocess.Popen(
        [sys.executable, "-m", "service", "serve", "--port", str(port)],
        cwd=ROOT,
        env={**os.environ, "OASTBOOK_DATABASE_URL": address},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        _wait_for(port)
        return max(_resident_mb(pid) for pid in [service.pid, *_children(service.pid)])
    finally:
        service.terminate()
        service.wait(timeout=20)


def _wait_for(port: int) -> None:
    for _ in range(200):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/v1/lots", timeout=1):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError("the service never answered")


def _children(pid: int) -> list[int]:
    text = Path(f"/proc/{pid}/task/{pid}/children").read_text()
    return [int(child) for child in text.split()]


def _resident_mb(pid: int) -> float:
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS"))
