"""python -m seed_demo: load the invented region, run the main job on it, say how to serve it."""

import argparse
import os
import shlex
import sys
from pathlib import Path

from seed_demo.load import OtherData, address_of, is_loaded, load_region, refuse_foreign_file
from seed_demo.saying import Tour
from seed_demo.tour import run_tour
from service.clock import clock_from
from service.records.migrations import migrate
from service.records.session import open_records
from service.settings import Settings, WrongSetting, read_settings


def main(arguments: list[str] | None = None) -> int:
    """Load and show; 0 when done, 1 when the database holds other data or a setting is wrong."""
    parser = argparse.ArgumentParser(prog="python -m seed_demo", description=__doc__)
    parser.add_argument(
        "--database", type=Path, default=Path("oastbook_demo.sqlite3"), help="the SQLite file"
    )
    parser.add_argument("--sheets", type=Path, default=Path("demo_sheets"), help="the folder for spec sheets")
    parsed = parser.parse_args(arguments)
    try:
        settings = read_settings()
        refuse_foreign_file(parsed.database)
        migrate(address_of(parsed.database))
        _load_and_show(parsed.database, parsed.sheets, settings)
    except BrokenPipeError:
        # Whoever listened has heard enough; what is written stays written.
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123 -- closed by the end
        return 0
    except (OtherData, WrongSetting) as refusal:
        print(f"seed_demo: {refusal}", file=sys.stderr)
        return 1
    print(_how_to_serve(address_of(parsed.database), settings))
    return 0


def _load_and_show(database: Path, folder: Path, settings: Settings) -> None:
    now = clock_from(settings.today)()
    records = open_records(address_of(database))
    try:
        if records.read(is_loaded):
            _say(f"The region stands in {database} already; nothing is loaded again.")
        else:
            _say(f"Loading an invented region, the valley of the Sallow, into {database}")
            load_region(records, now=now, say=_say)
        run_tour(Tour(records=records, now=now, folder=folder, address=settings.public_url, say=_say))
    finally:
        records.close()


def _say(text: str) -> None:
    print(text, flush=True)


def _how_to_serve(address: str, settings: Settings) -> str:
    day = f"  export OASTBOOK_TODAY={settings.today}\n" if settings.today else ""
    return (
        "\nTo serve it, with the environment active (. .venv/bin/activate):\n"
        f"  export OASTBOOK_DATABASE_URL={shlex.quote(address)}\n{day}"
        "  oastbook token create --specialist      (or --grower ALDER, --brewery FINCH)\n"
        "  oastbook serve                          then open http://127.0.0.1:8000/docs"
    )


if __name__ == "__main__":
    sys.exit(main())
