"""Published six-month storage figures: a row per cultivar and source."""

from functools import cache

from service.facts import Fact
from service.reference.load import Row, load_table
from service.reference.names import fold

KINDS = frozenset({"mean", "range", "lower_bound", "upper_bound", "nearly"})
SOURCE_CLASS_WORDS = {
    "usda_ars": "USDA-ARS",
    "growers_association": "growers' association",
    "oxford": "Oxford Companion to Beer",
    "patent": "plant patent",
    "other": "other source",
}
"""In the order in which an estimate prefers them."""
SOURCE_CLASSES = tuple(SOURCE_CLASS_WORDS)


class StorageFigure(Fact, frozen=True):
    """What one source says is left of the alpha after six months, unprotected, at about 20 °C.

    A bound has one end only: over 90 is ``remaining_percent_low`` 90 and no high.
    """

    denomination: str
    remaining_percent_low: float | None
    remaining_percent_high: float | None
    unit: str
    kind: str
    source_class: str
    mark: str
    accession: str | None
    source: str
    note: str | None

    @property
    def is_bound(self) -> bool:
        """Whether the source gives only one end."""
        return self.kind in {"lower_bound", "upper_bound"}

    @property
    def remaining_percent(self) -> float:
        """The figure as it counts: a range by its middle, a bound by the bound."""
        return 100 - sum(self.lost_percent_ends) / len(self.lost_percent_ends)

    @property
    def lost_percent_ends(self) -> tuple[float, ...]:
        """What was lost, by the ends that the source gives: two, or one for a bound."""
        ends = (self.remaining_percent_low, self.remaining_percent_high)
        return tuple(100 - end for end in ends if end is not None)


@cache
def all_storage_figures() -> tuple[StorageFigure, ...]:
    """Give every published six-month figure, in the order of the table."""
    return tuple(_figure(row) for row in load_table("six_month_storage", has_unit=True))


def storage_figures_of(denomination: str) -> tuple[StorageFigure, ...]:
    """Give the figures of one denomination, also of one that has no other data here.

    >>> [figure.remaining_percent for figure in storage_figures_of("Cascade")]
    [50.0, 40.0]

    """
    wanted = fold(denomination)
    return tuple(figure for figure in all_storage_figures() if fold(figure.denomination) == wanted)


def _figure(row: Row) -> StorageFigure:
    return StorageFigure(
        denomination=row.text("denomination"),
        remaining_percent_low=row.number_or_none("remaining_percent_low"),
        remaining_percent_high=row.number_or_none("remaining_percent_high"),
        unit=row.text("unit"),
        kind=row.one_of("kind", KINDS),
        source_class=row.one_of("source_class", frozenset(SOURCE_CLASSES)),
        mark=row.text("mark"),
        accession=row.text_or_none("accession"),
        source=row.text("source"),
        note=row.text_or_none("note"),
    )
