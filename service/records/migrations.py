"""Bringing a database to the newest migration, from a checkout or from an installed wheel."""

from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.exc import OperationalError

import service
from service.errors import Overloaded
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


def refuse_if_silent(engine: sa.Engine) -> None:
    """Say plainly that a database cannot be reached.

    Raises:
        Overloaded: it does not answer.

    """
    try:
        engine.connect().close()
    except OperationalError:
        raise Overloaded("the database that OASTBOOK_DATABASE_URL names does not answer") from None


def migrate(url: str) -> str:
    """Run every migration that is missing; gives the revision reached."""
    engine = make_engine(url)
    try:
        refuse_if_silent(engine)
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
        refuse_if_silent(engine)
        with engine.connect() as connection:
            reached = MigrationContext.configure(connection).get_current_revision()
    finally:
        engine.dispose()
    return reached == ScriptDirectory.from_config(configuration()).get_current_head()
