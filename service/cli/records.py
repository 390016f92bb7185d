"""oastbook migrate: bring the database to the newest migration."""

import argparse
import sys
from typing import Any

from service.records.migrations import is_current, migrate
from service.settings import read_settings


def add_to(commands: Any) -> None:
    """Add the command."""
    migrating = commands.add_parser("migrate", help="bring the database to the newest migration")
    migrating.set_defaults(run=run)


def run(_parsed: argparse.Namespace) -> int:
    """Migrate, and say where the database stands."""
    migrate(read_settings().database_url)
    print("The records stand at the newest migration.", file=sys.stderr)
    return 0


def are_migrated(url: str) -> bool:
    """Whether the records stand at the newest migration; where they do not, say what to do."""
    if is_current(url):
        return True
    print("oastbook: the records are not at the newest migration; run: oastbook migrate", file=sys.stderr)
    return False
