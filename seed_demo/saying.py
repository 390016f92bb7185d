"""Where the demo's tour goes, and how it says things."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from textwrap import wrap

from service.facts import Fact
from service.records.session import Records
from service.science.uncertainty import Estimate

NEXT_BREW_DAYS = 68
WIDTH = 100
Say = Callable[[str], None]


class Tour(Fact, frozen=True):
    """Where the tour goes: the records, the moment, the folder for sheets, and who listens."""

    records: Records
    now: datetime
    folder: Path
    address: str
    say: Say

    @property
    def brewing_day(self) -> date:
        """The day FINCH brews."""
        return self.now.date() + timedelta(days=NEXT_BREW_DAYS)


def title(tour: Tour, text: str) -> None:
    """Say what comes, underlined."""
    tour.say("")
    tour.say(text)
    tour.say("-" * min(len(text), WIDTH))


def tell(tour: Tour, text: str, *, lead: str = "  ") -> None:
    """Say a sentence of any length; what does not fit goes on below, under its first word."""
    for line in wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead)):
        tour.say(line)


def kg(mass: Decimal) -> str:
    """A mass without the zeros that only the books need."""
    return f"{mass.normalize():f}"


def span(estimate: Estimate | None, *, digits: int = 1) -> str:
    """An estimate with its interval, or what is missing."""
    if estimate is None:
        return "not measured"
    return f"{estimate.estimate:.{digits}f} ({estimate.low:.{digits}f} to {estimate.high:.{digits}f})"
