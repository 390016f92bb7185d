"""Builds the house: settings, records, clock, doors."""

from flask import Flask

from service.api import documents
from service.records.session import Records, open_records
from service.settings import Settings, read_settings
from service.visit import House
from service.web import pages


def create_app(settings: Settings | None = None, *, records: Records | None = None) -> Flask:
    """Build the house; without settings they are read from the environment.

    Raises:
        WrongSetting: a setting cannot be used; the message says which.

    """
    chosen = settings or read_settings()
    app = Flask("service", static_folder=None)
    app.config["MAX_CONTENT_LENGTH"] = chosen.body_limit_bytes
    app.config["PROPAGATE_EXCEPTIONS"] = False
    app.url_map.strict_slashes = True
    app.extensions["oastbook"] = House(
        records=records or open_records(chosen.database_url),
        public_url=chosen.public_url,
        fixed_today=chosen.today,
    )
    if chosen.today is not None:
        app.logger.warning("the date is fixed at %s by OASTBOOK_TODAY", chosen.today)
    documents.register(app)
    pages.register(app)
    return app
