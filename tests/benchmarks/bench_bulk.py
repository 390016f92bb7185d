"""What it costs to take 10,000 lots from a file, against writing the same rows by SQLAlchemy Core."""

import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from service.api.goods.bulk import take_file
from service.files.writing import write_csv
from service.market.people.access import Caller
from service.records.migrations import migrate
from service.records.people import parties
from service.records.session import Records, make_engine
from service.records.tables import Base, ChangeRow, LabReportRow, LotRow, OutboxRow, SpellRow
from tests.benchmarks.measure import Result
from tests.factories import PartyFactory

ROOT = Path(__file__).resolve().parents[2]
ROWS = 10_000
PEAK_MB_MAX = 300
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
WRITTEN: tuple[Any, ...] = (LotRow, SpellRow, LabReportRow, ChangeRow, OutboxRow)


def the_file() -> bytes:
    """10,000 analysed lots as a spreadsheet saves them."""
    header = (
        "cultivar",
        "form",
        "harvested_on",
        "mass_kg",
        "packing",
        "stored_at_c",
        "price_per_kg",
        "currency",
        "laboratory",
        "drawn_by",
        "sampled_on",
        "analysed_on",
        "packages_cored",
        "moisture_percent",
        "alpha_percent",
        "beta_percent",
        "hop_storage_index",
        "method_alpha_beta",
        "method_moisture",
        "method_hop_storage_index",
        "list_as",
    )
    told = ("Quarry Lane", "grower", "2026-09-03", "2026-09-08", 3)
    methods = ("asbc_hops_14", "asbc_hops_4", "asbc_hops_12", "analysed")
    names = ("Cascade", "Willamette", "Nugget", "Saaz")
    rows = [
        (
            names[n % 4],
            "whole_cone",
            "2026-08-29",
            100 + n % 50,
            "barrier_vacuum",
            -2,
            24,
            "CAD",
            *told,
            *(9 + n % 3 / 10, 5 + n % 20 / 10, 4, 0.27),
            *methods,
        )
        for n in range(ROWS)
    ]
    return write_csv(header, rows)


def new_records() -> Records:
    """An empty SQLite database with one grower."""
    path = Path(tempfile.mkdtemp(prefix="bulk-")) / "bulk.sqlite3"
    migrate(f"sqlite:///{path}")
    records = Records(make_engine(f"sqlite:///{path}"))
    records.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))
    return records


def take(records: Records, content: bytes) -> None:
    """Take the file, as the command line and the door do."""
    report = records.write(
        lambda session: take_file(
            session,
            content,
            who=Caller("specialist"),
            moment=NOW,
            mode="all_or_nothing",
            dry_run=False,
            grower_code="ALDER",
        )
    )
    if report.written != ROWS:
        raise AssertionError(f"{report.written} of {ROWS} lots were written")


def run() -> list[Result]:
    """Measure the import against a bare write of the rows it made, and its peak memory in a process of its own."""
    content = the_file()
    ours_s = floor_s = float("inf")
    for _ in range(3):
        records = new_records()
        began = time.perf_counter()
        take(records, content)
        ours_s = min(ours_s, time.perf_counter() - began)
        rows = {
            table: [
                dict(row._mapping) for row in records.engine.connect().execute(sa.select(table.__table__))
            ]
            for table in WRITTEN
        }
        records.close()
        bare = new_records()
        began = time.perf_counter()
        with bare.engine.begin() as connection:
            for table, values in rows.items():
                whole = [{k: v for k, v in value.items() if table is LotRow or k != "id"} for value in values]
                connection.execute(sa.insert(Base.metadata.tables[table.__tablename__]), whole)
        floor_s = min(floor_s, time.perf_counter() - began)
        bare.close()
    code = "from tests.benchmarks.bench_bulk import peak; peak()"
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True)
    peak_mb = float(ran.stdout.split()[-1])
    return [
        Result(
            f"taking {ROWS} lots from a file, over writing their rows by Core",
            ours_s / floor_s,
            4.0,
            f"{ours_s:.1f} s over {floor_s:.1f} s",
        ),
        Result("the same, peak memory, MB", peak_mb, PEAK_MB_MAX, f"{peak_mb:.0f} MB resident"),
    ]


def peak() -> None:
    """Take the file once and print the largest resident size."""
    take(new_records(), the_file())
    # Not getrusage: its peak outlives the exec and would be the parent's.
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    print(next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")))
