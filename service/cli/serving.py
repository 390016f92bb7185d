"""oastbook serve: answer requests.

granian runs threads: one process with four threads by default. `--workers` adds processes, each with its
own engine.
"""

import argparse
from typing import Any

from granian import Granian
from granian.constants import Interfaces
from granian.log import LOGGING_CONFIG

from service.cli.records import are_migrated
from service.settings import read_settings

# A plan of the region takes a while; the log says how far it is.
LOGGING: dict[str, Any] = dict(LOGGING_CONFIG)
LOGGING["loggers"] = {
    **LOGGING["loggers"],
    "service": {"handlers": ["console"], "level": "INFO", "propagate": False},
}


def add_to(commands: Any) -> None:
    """Add the command."""
    serving = commands.add_parser("serve", help="answer requests over HTTP")
    serving.add_argument("--host", default="127.0.0.1", help="the address to listen on (127.0.0.1)")
    serving.add_argument("--port", type=int, default=8000, help="the port to listen on (8000)")
    serving.add_argument("--workers", type=int, default=1, help="how many processes (1)")
    serving.add_argument("--threads", type=int, default=4, help="how many threads each (4)")
    serving.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Check the settings and the records, then serve until told to stop."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    Granian(
        "service.app:create_app",
        address=parsed.host,
        port=parsed.port,
        interface=Interfaces.WSGI,
        factory=True,
        workers=parsed.workers,
        blocking_threads=parsed.threads,
        websockets=False,
        log_dictconfig=LOGGING,
    ).serve()
    return 0
