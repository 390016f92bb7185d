"""Builds the house: settings, records, clock, doors."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING

from flask import Flask

from service.settings import Settings, read_settings

if TYPE_CHECKING:
    from service.records.session import Records


def create_app(settings: Settings | None = None, *, records: "Records | None" = None) -> Flask:
    """Build the house; without settings they are read from the environment.

    Raises:
        WrongSetting: a setting cannot be used; the message says which.

    """
    chosen = settings or read_settings()
    with resting_collector():
        return _build(chosen, records, is_served=settings is None and records is None)


def _build(chosen: Settings, records: "Records | None", *, is_served: bool) -> Flask:
    # Loaded while the collector rests.
    from service.api import documents  # noqa: PLC0415 -- as said
    from service.api.late_views import LateRule  # noqa: PLC0415 -- as said
    from service.background import Background  # noqa: PLC0415 -- as said
    from service.records.session import open_records  # noqa: PLC0415 -- as said
    from service.visit import House, read_clock  # noqa: PLC0415 -- as said
    from service.web import pages  # noqa: PLC0415 -- as said

    app = Flask("service", static_folder=None)
    app.url_rule_class = LateRule
    app.config["MAX_CONTENT_LENGTH"] = chosen.body_limit_bytes
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.url_map.strict_slashes = True
    opened = records or open_records(chosen.database_url)
    background = Background(opened, partial(read_clock, chosen.today))
    app.extensions["oastbook"] = House(
        records=opened,
        public_url=chosen.public_url,
        fixed_today=chosen.today,
        files_dir=chosen.files_dir,
        file_limit_bytes=chosen.file_limit_bytes,
        # Records that somebody brings along are that somebody's to work on.
        background=background if records is None else None,
    )
    if chosen.today is not None:
        app.logger.warning("the date is fixed at %s by OASTBOOK_TODAY", chosen.today)
    documents.register(app)
    pages.register(app)
    if is_served:
        background.look_soon()
    return app


@contextmanager
def resting_collector() -> Iterator[None]:
    """Let the garbage collector rest while the house is built: none of it is garbage, and to look takes a quarter."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
