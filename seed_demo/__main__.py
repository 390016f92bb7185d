"""python -m seed_demo: load the invented region, run the main job on it, say how to serve it."""

import argparse
import sys
from pathlib import Path

from seed_demo.load import OtherData, is_loaded, load_region
from seed_demo.tour import Tour, run_tour
from service.records.migrations import migrate
from service.records.session import open_records
from service.settings import read_settings
from service.visit import read_clock


def main(arguments: list[str] | None = None) -> int:
    """Load and show; 0 when done, 1 when the database holds other data."""
    parser = argparse.ArgumentParser(prog="python -m seed_demo", description=__doc__)
    parser.add_argument(
        "--database", type=Path, default=Path("oastbook_demo.sqlite3"), help="the SQLite file"
    )
    parser.add_argument("--sheets", type=Path, default=Path("demo_sheets"), help="the folder for spec sheets")
    parsed = parser.parse_args(arguments)
    address = f"sqlite:///{parsed.database}"
    now = read_clock(read_settings().today)
    migrate(address)
    records = open_records(address)
    try:
        if is_loaded(records):
            print(f"The region stands in {parsed.database} already; nothing is loaded again.", flush=True)
        else:
            print(f"Loading an invented region, the valley of the Sallow, into {parsed.database}", flush=True)
            load_region(records, now=now, say=_say)
        run_tour(Tour(records=records, now=now, folder=parsed.sheets, say=_say))
    except OtherData as other:
        print(f"seed_demo: {other}", file=sys.stderr)
        return 1
    finally:
        records.close()
    print(_how_to_serve(address))
    return 0


def _say(text: str) -> None:
    print(text, flush=True)


def _how_to_serve(address: str) -> str:
    return (
        "\nTo serve it, with the environment active (. .venv/bin/activate):\n"
        f"  export OASTBOOK_DATABASE_URL={address}\n"
        "  oastbook token create --specialist      (or --grower ALDER, --brewery FINCH)\n"
        "  oastbook serve                          then open http://127.0.0.1:8000/docs"
    )


if __name__ == "__main__":
    sys.exit(main())
