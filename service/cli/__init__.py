"""The commands of `oastbook`."""

import argparse
import os
import sys
from collections.abc import Sequence

from service.cli import delivering, lots, many_sheets, openapi, records, serving, tokens
from service.clock import Clock
from service.errors import Refusal
from service.settings import WrongSetting


def main(arguments: Sequence[str] | None = None, *, clock: Clock | None = None) -> int:
    """Run a command: 0 when done, 1 when refused, 2 when a setting is wrong.

    Args:
        arguments: the command line; without it that of the process.
        clock: the clock; without it the settings say which.

    """
    parsed = build_parser().parse_args(arguments)
    parsed.clock = clock
    try:
        code = int(parsed.run(parsed))
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # The reader closed the pipe; what is written stays written.
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123 -- closed by the end
        return 0
    except WrongSetting as wrong:
        print(f"oastbook: {wrong}", file=sys.stderr)
        return 2
    except Refusal as refusal:
        print(f"oastbook: {refusal.detail}", file=sys.stderr)
        return 1


def build_parser() -> argparse.ArgumentParser:
    """The commands, each with what it does."""
    parser = argparse.ArgumentParser(
        prog="oastbook", description="Hop lots a brewer can trust. Settings come from OASTBOOK_… variables."
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for part in (records, serving, delivering, many_sheets, lots, tokens, openapi):
        part.add_to(commands)
    return parser
