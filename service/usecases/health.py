"""Whether the records answer."""

from service.records import health
from service.records.session import Session


def look_at_records(session: Session) -> None:
    """Ask the records for one row."""
    health.find_one(session)
