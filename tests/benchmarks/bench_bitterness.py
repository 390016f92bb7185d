"""A bitterness call of ten additions with ten lots, against an empty view that looks up the same rows."""

import tempfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from flask import Flask

from service.app import create_app
from service.records.goods import lots
from service.records.migrations import migrate
from service.records.people import parties
from service.records.session import Records, Session, make_engine
from service.records.tables import LotRow
from service.settings import Settings
from tests.benchmarks.measure import Result, compare
from tests.factories import LabReportFactory, ListedLotFactory, PartyFactory

TODAY = date(2026, 11, 25)
COUNT = 10
CALLS = 20


def run() -> list[Result]:
    """Measure the call against an empty view that looks up its ten lots, one statement for each."""
    records = _filled()
    ours = _caller(records)
    floor = _empty_view(records)
    return [compare("bitterness of ten additions with lots", ours, floor, 4.0, rounds=15)]


def _filled() -> Records:
    path = Path(tempfile.mkdtemp(prefix="brew-")) / "lots.sqlite3"
    migrate(f"sqlite:///{path}")
    records = Records(make_engine(f"sqlite:///{path}"))

    def work(session: Session) -> None:
        parties.add(session, PartyFactory(code="ALDER"))
        for number in range(COUNT):
            lot = ListedLotFactory(code=_code(number), reports=(LabReportFactory(code="R1"),))
            lots.add(session, lot, cultivar_key="WILLAMETTE")

    records.write(work)
    return records


def _code(number: int) -> str:
    return f"ALDER-2026-{number:02d}"


def _caller(records: Records) -> Callable[[], object]:
    app = create_app(Settings(today=TODAY), records=records)
    client = app.test_client()
    body: dict[str, Any] = {
        "wort": {"volume_l": 1000.0, "gravity_sg": 1.050},
        "brewed_on": "2027-02-01",
        "additions": [
            {"lot_code": _code(number), "mass_g": 900.0, "at": "boil", "minutes": 5 * number}
            for number in range(COUNT)
        ],
    }
    assert client.post("/v1/bitterness", json=body).status_code == 200

    def work() -> None:
        for _ in range(CALLS):
            client.post("/v1/bitterness", json=body)

    return work


def _empty_view(records: Records) -> Callable[[], object]:
    empty = Flask("empty")

    def look_up(session: Session) -> str:
        for number in range(COUNT):
            session.execute(sa.select(LotRow.__table__).where(LotRow.code == _code(number))).one()
        return ""

    empty.add_url_rule("/", view_func=lambda: records.read(look_up))
    client = empty.test_client()

    def work() -> None:
        for _ in range(CALLS):
            client.get("/")

    return work
