"""oastbook migrate: bring the database to the newest migration."""

import argparse
import sys
from typing import Any

from service.clock import clock_from
from service.records.migrations import is_current, migrate
from service.records.session import open_records
from service.settings import read_settings
from service.usecases.matching.search_figures import keep_anew


def add_to(commands: Any) -> None:
    """Add the command."""
    migrating = commands.add_parser("migrate", help="bring the database to the newest migration")
    migrating.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Migrate, keep the search's figures anew where their sums changed, and say where the database stands."""
    settings = read_settings()
    migrate(settings.database_url)
    records = open_records(settings.database_url)
    try:
        now, kept = (parsed.clock or clock_from(settings.today))(), 0
        while some := records.write(lambda session: keep_anew(session, now=now)):
            kept += some
    finally:
        records.close()
    if kept:
        print(f"The search's figures of {kept} listed lots were kept anew.", file=sys.stderr)
    print("The records stand at the newest migration.", file=sys.stderr)
    return 0


def are_migrated(url: str) -> bool:
    """Whether the records stand at the newest migration; where they do not, say what to do."""
    if is_current(url):
        return True
    print("oastbook: the records are not at the newest migration; run: oastbook migrate", file=sys.stderr)
    return False
