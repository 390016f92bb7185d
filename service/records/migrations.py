"""Bringing a database to the newest migration, from a checkout or from an installed wheel."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

import service
from service.records.session import make_engine

PACKAGE = Path(service.__file__).parent


def folder() -> Path:
    """Where the migrations lie: inside the wheel, or beside the package in a checkout."""
    shipped = PACKAGE / "_migrations"
    return shipped if shipped.is_dir() else PACKAGE.parent / "migrations"


def configuration() -> Config:
    """Alembic's configuration for these migrations."""
    config = Config()
    config.set_main_option("script_location", str(folder()).replace("%", "%%"))
    return config


def migrate(url: str) -> str:
    """Run every migration that is missing; gives the revision reached."""
    engine = make_engine(url)
    try:
        config = configuration()
        with engine.begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            return str(MigrationContext.configure(connection).get_current_revision())
    finally:
        engine.dispose()


def is_current(url: str) -> bool:
    """Whether a database stands at the newest migration."""
    engine = make_engine(url)
    try:
        with engine.connect() as connection:
            reached = MigrationContext.configure(connection).get_current_revision()
    finally:
        engine.dispose()
    return reached == ScriptDirectory.from_config(configuration()).get_current_head()
