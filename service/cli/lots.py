"""oastbook lots import, export: lots by the file."""

import argparse
import sys
from pathlib import Path
from typing import Any

from service.api.goods.bulk import take_file
from service.api.goods.bulk_export import HEADER, export_rows
from service.cli.records import are_migrated
from service.clock import clock_from
from service.errors import ImportRefused
from service.files.writing import write_csv, write_xlsx
from service.market.goods.audit_trail import Signature
from service.market.people.access import Caller
from service.records.session import open_records
from service.settings import read_settings
from service.usecases.goods.bulk import export_lots

SPECIALIST = Caller("specialist")


def add_to(commands: Any) -> None:
    """Add the commands."""
    lots = commands.add_parser("lots", help="a grower's lots by the file, CSV or XLSX")
    actions = lots.add_subparsers(required=True, metavar="ACTION")
    importing = actions.add_parser("import", help="take a file of lots into the books")
    importing.add_argument("file", type=Path, help="a .csv or .xlsx file; - is standard input")
    importing.add_argument("--grower", required=True, metavar="CODE", help="whose lots they are")
    importing.add_argument(
        "--row-by-row", action="store_true", help="keep the lots that can be; else all or none"
    )
    importing.add_argument("--dry-run", action="store_true", help="say what would be done, and do nothing")
    importing.set_defaults(run=run_import)
    exporting = actions.add_parser("export", help="write a grower's lots to a file that an import takes back")
    exporting.add_argument("file", type=Path, help="a .csv or .xlsx file that is not there yet")
    exporting.add_argument("--grower", required=True, metavar="CODE", help="whose lots they are")
    exporting.set_defaults(run=run_export)


def run_import(parsed: argparse.Namespace) -> int:
    """Take the file; the report goes to standard output, progress to standard error."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    try:
        content = sys.stdin.buffer.read() if str(parsed.file) == "-" else parsed.file.read_bytes()
    except OSError as problem:
        print(f"oastbook: {parsed.file}: {problem.strerror}", file=sys.stderr)
        return 2
    records = open_records(settings.database_url)
    now = (parsed.clock or clock_from(settings.today))()
    try:
        report = records.write(
            lambda session: take_file(
                session,
                content,
                who=SPECIALIST,
                moment=now,
                mode="row_by_row" if parsed.row_by_row else "all_or_nothing",
                dry_run=parsed.dry_run,
                grower_code=parsed.grower,
                progress=_progress,
            ),
            signed=Signature(by=SPECIALIST.name, at=now),
        )
    except ImportRefused as refused:
        _print_faults(refused.facts)
        raise
    finally:
        records.close()
    facts = {
        "faults": [{"row": f.row, "column": f.column, "detail": f.detail} for f in report.faults],
        "faults_in_all": report.faults_in_all,
        "notes": report.notes,
    }
    _print_faults(facts)
    done = "would be written" if report.is_dry_run else "written"
    count = report.lots if report.is_dry_run else report.written
    print(f"{count} lots {done} from {report.rows} rows, {report.faults_in_all} faults")
    return 1 if report.faults_in_all else 0


def _progress(done: int, of: int) -> None:
    print(f"row {done} of {of}", file=sys.stderr)


def _print_faults(facts: Any) -> None:
    for note in facts["notes"]:
        print(f"note: {note}")
    for fault in facts["faults"]:
        where = f", {fault['column']}" if fault["column"] else ""
        print(f"row {fault['row']}{where}: {fault['detail']}")
    unsaid = facts["faults_in_all"] - len(facts["faults"])
    if unsaid:
        print(f"and {unsaid} more")


def run_export(parsed: argparse.Namespace) -> int:
    """Write the file; one that is there already is left alone."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    if parsed.file.suffix not in (".csv", ".xlsx"):
        print(f"oastbook: {parsed.file} ends neither in .csv nor in .xlsx", file=sys.stderr)
        return 2
    records = open_records(settings.database_url)
    now = (parsed.clock or clock_from(settings.today))()
    try:
        found, left_out = records.read(
            lambda session: export_lots(session, caller=SPECIALIST, grower_code=parsed.grower, now=now)
        )
    finally:
        records.close()
    rows = export_rows(found)
    content = (
        write_csv(HEADER, rows) if parsed.file.suffix == ".csv" else write_xlsx(HEADER, rows, title="lots")
    )
    try:
        with parsed.file.open("xb") as file:
            file.write(content)
    except OSError as problem:
        print(f"oastbook: {parsed.file}: {problem.strerror}", file=sys.stderr)
        return 2
    print(f"{len(found)} lots written; {left_out} made of others are left out", file=sys.stderr)
    return 0
