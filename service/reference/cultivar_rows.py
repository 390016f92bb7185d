"""What is published of each cultivar: names, figures, storage, availability.

A figure is either a range or a single published mean; a mean is no tolerance band, so nothing may be
called out of range against it. Shares of oil keep their basis: US and European figures for one cultivar
differ about twofold in myrcene, so they are never compared across bases.
"""

from datetime import date
from functools import cache

from service.facts import Fact
from service.reference.load import Row, load_table
from service.reference.storage_figures import StorageFigure, storage_figures_of

ROLES = ("aroma", "bittering", "dual")
STATUSES = ("public", "protected", "unconfirmed")
QUANTITIES = (
    "alpha_percent",
    "beta_percent",
    "cohumulone_percent_of_alpha",
    "oil_ml_per_100g",
    "myrcene_percent_of_oil",
    "humulene_percent_of_oil",
    "caryophyllene_percent_of_oil",
    "farnesene_percent_of_oil",
)


class Figure(Fact, frozen=True):
    """One published figure of a cultivar. A single mean has ``low`` equal to ``high``."""

    quantity: str
    low: float
    high: float
    unit: str
    is_single_mean: bool
    basis: str | None
    mark: str
    source: str
    note: str | None

    @property
    def middle(self) -> float:
        """The mid-point of the range, or the mean itself."""
        return (self.low + self.high) / 2


class Availability(Fact, frozen=True):
    """Whether a cultivar may be planted in a country, as one source says; never a legal opinion."""

    country: str
    status: str
    checked_on: date | None
    mark: str
    source: str
    note: str | None


class Cultivar(Fact, frozen=True):
    """One cultivar of the books."""

    code: str
    denomination: str
    synonyms: tuple[str, ...]
    origin_country: str
    release_year: int | None
    maturity: str | None
    parentage: str | None
    role: str
    role_mark: str
    aroma_words: tuple[str, ...]
    aroma_mark: str
    oil_shares_basis: str | None
    note: str | None
    mark: str
    source: str
    addresses: tuple[str, ...]
    figures: tuple[Figure, ...]
    storage_figures: tuple[StorageFigure, ...]
    availability: tuple[Availability, ...]

    def figure(self, quantity: str) -> Figure | None:
        """Give the published figure of a quantity, or None."""
        return next((figure for figure in self.figures if figure.quantity == quantity), None)


@cache
def all_cultivars() -> tuple[Cultivar, ...]:
    """Give every cultivar that ships, in the order of the table."""
    return tuple(_cultivar(row) for row in load_table("cultivars", has_unit=False))


def by_code(code: str) -> Cultivar | None:
    """Give the cultivar with exactly this code, or None.

    >>> by_code("MT-HOOD").denomination
    'Mt. Hood'

    """
    return _cultivars_by_code().get(code)


@cache
def _cultivars_by_code() -> dict[str, Cultivar]:
    return {cultivar.code: cultivar for cultivar in all_cultivars()}


@cache
def _figures_by_code() -> dict[str, tuple[Figure, ...]]:
    found: dict[str, tuple[Figure, ...]] = {}
    for row in load_table("cultivar_figures", has_unit=True):
        code = row.text("cultivar_code")
        found[code] = (*found.get(code, ()), _figure(row))
    return found


@cache
def _availability_by_code() -> dict[str, tuple[Availability, ...]]:
    found: dict[str, tuple[Availability, ...]] = {}
    for row in load_table("availability", has_unit=False):
        code = row.text("cultivar_code")
        found[code] = (*found.get(code, ()), _availability(row))
    return found


def _figure(row: Row) -> Figure:
    return Figure(
        quantity=row.one_of("quantity", frozenset(QUANTITIES)),
        low=row.number("low"),
        high=row.number("high"),
        unit=row.text("unit"),
        is_single_mean=row.one_of("kind", frozenset({"mean", "range"})) == "mean",
        basis=row.text_or_none("basis"),
        mark=row.text("mark"),
        source=row.text("source"),
        note=row.text_or_none("note"),
    )


def _availability(row: Row) -> Availability:
    checked_on = row.text_or_none("checked_on")
    return Availability(
        country=row.text("country"),
        status=row.one_of("status", frozenset(STATUSES)),
        checked_on=date.fromisoformat(checked_on) if checked_on else None,
        mark=row.text("mark"),
        source=row.text("source"),
        note=row.text_or_none("note"),
    )


def _cultivar(row: Row) -> Cultivar:
    code, denomination = row.text("code"), row.text("denomination")
    year = row.number_or_none("release_year")
    return Cultivar(
        code=code,
        denomination=denomination,
        synonyms=row.parts("synonyms"),
        origin_country=row.text("origin_country"),
        release_year=None if year is None else int(year),
        maturity=row.text_or_none("maturity"),
        parentage=row.text_or_none("parentage"),
        role=row.one_of("role", frozenset(ROLES)),
        role_mark=row.text("role_mark"),
        aroma_words=row.parts("aroma_words"),
        aroma_mark=row.text("aroma_mark"),
        oil_shares_basis=row.text_or_none("oil_shares_basis"),
        note=row.text_or_none("note"),
        mark=row.text("mark"),
        source=row.text("source"),
        addresses=row.parts("address"),
        figures=_figures_by_code().get(code, ()),
        storage_figures=storage_figures_of(denomination),
        availability=_availability_by_code().get(code, ()),
    )
