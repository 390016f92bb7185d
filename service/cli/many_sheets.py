"""oastbook sheets: the sheets of all lots in one ZIP file, with what is done on standard error."""

import argparse
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from service.api.sheet.many_sheets import many_files
from service.cli.records import are_migrated
from service.clock import clock_from
from service.market.people.access import Caller
from service.records.session import open_records
from service.settings import read_settings
from service.sheets.archive import stream_archive
from service.sheets.papers import PAPERS
from service.usecases.sheet.sheets import codes_of_lots

TOLD_EVERY = 50


def add_to(commands: Any) -> None:
    """Add the command."""
    printing = commands.add_parser("sheets", help="print the sheets of all lots into one ZIP file")
    printing.add_argument("file", type=Path, metavar="FILE", help="the ZIP file to write")
    printing.add_argument("--grower", metavar="CODE", help="of this grower alone")
    printing.add_argument("--paper", choices=tuple(PAPERS), default="a4")
    printing.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Print them; what was written is not held."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    records, caller = open_records(settings.database_url), Caller("specialist")
    wish = {"grower_code": parsed.grower, "state": None}
    try:
        codes = records.read(lambda session: codes_of_lots(session, caller=caller, after=None, **wish))
        files = many_files(
            records.read,
            codes,
            caller=caller,
            now=(parsed.clock or clock_from(settings.today))(),
            public_url=settings.public_url,
            paper=parsed.paper,
            **wish,
        )
        with parsed.file.open("wb") as out:
            for piece in stream_archive(_counted(files)):
                out.write(piece)
    except OSError as problem:
        print(f"oastbook: {parsed.file} cannot be written: {problem.strerror}", file=sys.stderr)
        return 1
    finally:
        records.close()
    return 0


def _counted(files: Iterable[tuple[str, bytes]]) -> Iterator[tuple[str, bytes]]:
    """Hand files on and say now and then how many there were."""
    count = 0
    for count, file in enumerate(files, start=1):
        yield file
        if count % TOLD_EVERY == 0:
            print(f"{count} sheets", file=sys.stderr)
    print(f"{count} sheets, done", file=sys.stderr)
