"""Migrations: configured in pyproject.toml, run on a connection or an address that is handed in."""

from alembic import context
from alembic.autogenerate.api import AutogenContext

from service.records.migrations import refuse_loose_rows, resting_foreign_keys
from service.records.session import make_engine
from service.records.tables import Base
from service.records.types import Fixed, Moment
from service.settings import read_settings

config = context.config


def render_item(kind: str, item: object, _context: AutogenContext) -> str | bool:
    """Write what the database holds, so that old migrations never import the service."""
    if kind == "type":
        if isinstance(item, Moment):
            return "sa.DateTime(timezone=True)"
        if isinstance(item, Fixed):
            return f'sa.Numeric({item.precision}, {item.scale}).with_variant(sa.BigInteger(), "sqlite")'
    return False


def run(connection: object) -> None:
    """Run the migrations that are asked for."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_item=render_item,
        render_as_batch=connection.dialect.name == "sqlite",
        compare_type=True,
        compare_server_default=True,
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()


given = config.attributes.get("connection")
if given is not None:
    run(given)
else:
    engine = make_engine(read_settings().database_url)
    with engine.connect() as connection, resting_foreign_keys(connection):
        run(connection)
        refuse_loose_rows(connection)
        connection.commit()
    engine.dispose()
