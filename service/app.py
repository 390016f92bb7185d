"""Builds the Flask app: settings, records, clock, views."""

from flask import Flask

from service.api import documents
from service.clock import Clock, clock_from
from service.records.session import Records, open_records
from service.request_context import Runtime
from service.settings import Settings, read_settings
from service.web import pages


def create_app(
    settings: Settings | None = None, *, records: Records | None = None, clock: Clock | None = None
) -> Flask:
    """Build the app.

    Args:
        settings: the settings; without them they are read from the environment.
        records: opened records; without them those of the settings are opened.
        clock: the clock; without it the settings say which.

    Raises:
        WrongSetting: a setting cannot be used; the message says which.

    """
    chosen = settings or read_settings()
    app = Flask("service", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = chosen.body_limit_bytes
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.url_map.strict_slashes = True
    app.extensions["oastbook"] = Runtime(
        records=records or open_records(chosen.database_url),
        public_url=chosen.public_url,
        clock=clock or clock_from(chosen.today),
        files_dir=chosen.files_dir,
        file_limit_bytes=chosen.file_limit_bytes,
    )
    if chosen.today is not None:
        app.logger.warning("OASTBOOK_TODAY sets the clock to %s", chosen.today)
    documents.register(app)
    pages.register(app)
    return app
