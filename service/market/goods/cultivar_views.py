"""A cultivar as it is shown: shipped or regional, every figure with its source and mark."""

from collections.abc import Iterable, Sequence
from functools import cache

from service.facts import Fact
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar
from service.reference import cultivars as books
from service.reference.assumptions import get_assumption
from service.reference.cultivars import Availability, Cultivar, Figure
from service.reference.names import fold
from service.reference.six_month_storage import SixMonthLoss, six_month_loss

TOLD_MARK = "told by the specialist"
"""How what the region itself put in is marked: the service has not read the source that it names."""
ELSEWHERE_WORDS = (
    "In every country that is not named the status is unconfirmed. Each line says what its source says; none is "
    "a claim of law: look into the register of plant variety rights before planting."
)
CONFIDENCE = 0.9
# A place in the order is also written into cursors, which are short.
KEY_LENGTH_MAX = 60
Position = tuple[str, str]


class SixMonthStorage(Fact, frozen=True, kw_only=True):
    """Alpha lost in 180 days, unprotected, at 20 °C, and everything published about it."""

    loss: SixMonthLoss
    assumptions: tuple[str, ...]


class CultivarView(Fact, frozen=True, kw_only=True):
    """A cultivar as it is shown; `found` is what the region itself may change of its availability."""

    code: str
    denomination: str
    synonyms: tuple[str, ...]
    shipped: bool
    role: str
    role_mark: str
    figures: tuple[Figure, ...]
    six_month_storage: SixMonthStorage
    availability: tuple[Availability, ...]
    oil_shares_basis: str | None
    source: str
    mark: str
    found: tuple[CultivarStatus, ...] = ()
    addresses: tuple[str, ...] = ()
    aroma_words: tuple[str, ...] = ()
    aroma_mark: str | None = None
    origin_country: str | None = None
    release_year: int | None = None
    maturity: str | None = None
    parentage: str | None = None
    note: str | None = None

    @property
    def sources(self) -> tuple[str, ...]:
        """Every source that the answer rests on, each once."""
        rows: tuple[Iterable[str], ...] = (
            (figure.source for figure in self.figures),
            (row.source for row in self.six_month_storage.loss.rows),
            (known.source for known in self.availability),
        )
        return tuple(dict.fromkeys((self.source, *(source for row in rows for source in row))))


def position_of(cultivar: Cultivar | RegionalCultivar | CultivarView) -> Position:
    """Where a cultivar stands in a list by denomination, whatever the case and accents.

    >>> position_of(books.find_cultivar("Mt. Hood"))
    ('mounthood', 'MT-HOOD')

    """
    return fold(cultivar.denomination)[:KEY_LENGTH_MAX], cultivar.code


@cache
def shipped_in_order() -> tuple[tuple[Position, Cultivar], ...]:
    """Every shipped cultivar with its place, by denomination."""
    return tuple(sorted((position_of(one), one) for one in books.all_cultivars()))


def view_cultivar(
    cultivar: Cultivar | RegionalCultivar, *, statuses: Sequence[CultivarStatus] = ()
) -> CultivarView:
    """Put together what is shown of a cultivar; what the region found out of a country goes before what ships."""
    if isinstance(cultivar, RegionalCultivar):
        return _view_regional(cultivar, tuple(statuses))
    return _view_shipped(cultivar, tuple(statuses))


def _view_shipped(cultivar: Cultivar, found: tuple[CultivarStatus, ...]) -> CultivarView:
    return CultivarView(
        code=cultivar.code,
        denomination=cultivar.denomination,
        synonyms=cultivar.synonyms,
        shipped=True,
        role=cultivar.role,
        role_mark=cultivar.role_mark,
        figures=cultivar.figures,
        six_month_storage=_storage(cultivar.denomination),
        availability=_merged(cultivar.availability, found),
        oil_shares_basis=cultivar.oil_shares_basis,
        source=cultivar.source,
        mark=cultivar.mark,
        found=found,
        addresses=cultivar.addresses,
        aroma_words=cultivar.aroma_words,
        aroma_mark=cultivar.aroma_mark,
        origin_country=cultivar.origin_country,
        release_year=cultivar.release_year,
        maturity=cultivar.maturity,
        parentage=cultivar.parentage,
        note=cultivar.note,
    )


def _view_regional(added: RegionalCultivar, found: tuple[CultivarStatus, ...]) -> CultivarView:
    return CultivarView(
        code=added.code,
        denomination=added.denomination,
        synonyms=added.synonyms,
        shipped=False,
        role=added.role,
        role_mark=TOLD_MARK,
        figures=added.figures,
        six_month_storage=_storage(added.denomination),
        availability=_merged((), found),
        oil_shares_basis=next((figure.basis for figure in added.figures if figure.basis), None),
        source=added.source,
        mark=TOLD_MARK,
        found=found,
    )


def _merged(shipped: tuple[Availability, ...], found: tuple[CultivarStatus, ...]) -> tuple[Availability, ...]:
    by_country = {known.country: known for known in shipped}
    for status in found:
        by_country[status.country] = Availability(
            country=status.country,
            status=status.status,
            checked_on=status.checked_on,
            mark=TOLD_MARK,
            source=status.source,
            note=None,
        )
    return tuple(by_country[country] for country in sorted(by_country))


def _storage(denomination: str) -> SixMonthStorage:
    loss = six_month_loss(denomination)
    said = (get_assumption(name) for name in loss.assumptions)
    return SixMonthStorage(loss=loss, assumptions=tuple(f"{a.words} ({a.mark})" for a in said))
