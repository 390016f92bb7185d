"""oastbook migrate: bring the database to the newest migration."""

import argparse
import sys
from typing import Any

from service.records.migrations import migrate
from service.settings import read_settings


def add_to(commands: Any) -> None:
    """Add the command."""
    migrating = commands.add_parser("migrate", help="bring the database to the newest migration")
    migrating.set_defaults(run=run)


def run(_parsed: argparse.Namespace) -> int:
    """Migrate, and say where the database stands."""
    revision = migrate(read_settings().database_url)
    print(f"The records stand at migration {revision}.", file=sys.stderr)
    return 0
