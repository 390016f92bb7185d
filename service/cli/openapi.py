"""oastbook openapi: write openapi/openapi.yaml from the views' own notes."""

import argparse
import sys
from pathlib import Path
from typing import Any

from service.api.documents import document_text
from service.app import create_app
from service.settings import Settings

PLACE = Path("openapi") / "openapi.yaml"


def add_to(commands: Any) -> None:
    """Add the command."""
    writing = commands.add_parser("openapi", help="write the OpenAPI document")
    writing.add_argument("--to", type=Path, default=PLACE, help=f"the file to write ({PLACE}); - prints it")
    writing.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Write the document."""
    text = document_text(create_app(Settings(database_url="sqlite:///unused.sqlite3")))
    if str(parsed.to) == "-":
        print(text, end="")
        return 0
    parsed.to.write_text(text, encoding="utf-8")
    print(f"Wrote {parsed.to}.", file=sys.stderr)
    return 0
