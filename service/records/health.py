"""The smallest question to the database."""

import sqlalchemy as sa

from service.records.session import Session
from service.records.tables import PartyRow


def find_one(session: Session) -> int | None:
    """Read one row of a table that the migrations made."""
    return session.scalar(sa.select(PartyRow.id).limit(1))
