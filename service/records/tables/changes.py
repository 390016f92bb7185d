"""The lines that changes leave; nobody alters or removes one."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key


class ChangeRow(Base):
    """One line. It names what it is about by code, so that it outlives it."""

    __tablename__ = "change"
    __table_args__ = (
        sa.CheckConstraint("act IN ('made', 'changed', 'removed')", name="act_known"),
        sa.Index(None, "lot_code", "id"),
        sa.Index(None, "grower_code", "id"),
        sa.Index(None, "brewery_code", "id"),
        sa.Index(None, "kind", "code"),
    )

    id: Mapped[Key]
    at: Mapped[datetime]
    by: Mapped[str]
    act: Mapped[str]
    kind: Mapped[str]
    code: Mapped[str | None]
    lot_code: Mapped[str | None]
    grower_code: Mapped[str | None]
    brewery_code: Mapped[str | None]
    fields: Mapped[dict[str, Any]] = mapped_column(sa.JSON)


SQLITE_GUARDS = (
    "CREATE TRIGGER change_stays BEFORE UPDATE ON change "
    "BEGIN SELECT RAISE(ABORT, 'a line of the trail is never altered'); END",
    "CREATE TRIGGER change_remains BEFORE DELETE ON change "
    "BEGIN SELECT RAISE(ABORT, 'a line of the trail is never removed'); END",
)
POSTGRESQL_GUARDS = (
    "CREATE FUNCTION refuse_change_of_trail() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'a line of the trail is never altered or removed'; END $$",
    "CREATE TRIGGER change_stays BEFORE UPDATE OR DELETE ON change "
    "FOR EACH ROW EXECUTE FUNCTION refuse_change_of_trail()",
)
for dialect, guards in (("sqlite", SQLITE_GUARDS), ("postgresql", POSTGRESQL_GUARDS)):
    for guard in guards:
        sa.event.listen(
            ChangeRow.__table__,
            "after_create",
            sa.DDL(  # type: ignore[no-untyped-call]  # the library has no hint for it
                guard.replace("%", "%%")
            ).execute_if(dialect=dialect),
        )
