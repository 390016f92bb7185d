"""oastbook token create: make a token and print it, once."""

import argparse
from typing import Any

from service.cli.records import are_migrated
from service.clock import clock_from
from service.records.session import open_records
from service.settings import read_settings
from service.usecases.people.access import make_token


def add_to(commands: Any) -> None:
    """Add the command."""
    tokens = commands.add_parser("token", help="tokens, by which callers are known")
    actions = tokens.add_subparsers(required=True, metavar="ACTION")
    creating = actions.add_parser("create", help="make a token and print it, once")
    whose = creating.add_mutually_exclusive_group(required=True)
    whose.add_argument("--specialist", action="store_true", help="for the specialist")
    whose.add_argument("--grower", metavar="CODE", help="for one grower")
    whose.add_argument("--brewery", metavar="CODE", help="for one brewery")
    creating.add_argument("--label", help="what it is for")
    creating.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Make the token; nothing else goes to standard output."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    role = "specialist" if parsed.specialist else "grower" if parsed.grower else "brewery"
    records = open_records(settings.database_url)
    try:
        _, token = records.write(
            lambda session: make_token(
                session,
                role=role,
                party_code=parsed.grower or parsed.brewery,
                label=parsed.label,
                now=(parsed.clock or clock_from(settings.today))(),
            )
        )
    finally:
        records.close()
    print(token)
    return 0
