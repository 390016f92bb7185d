"""What is unusual about a lot's figures: flagged with its source, never refused."""

from collections.abc import Iterator, Sequence

from service.facts import Fact
from service.market.goods.lab_quantities import QUANTITY_OF
from service.market.goods.lab_reports import Figures
from service.reference.cautions import get_caution
from service.reference.cultivars import Figure, by_code
from service.science.storage_index import resin_loss_percent

# House limits of the published advice: at 6 % or under cones shatter, over 12 % they mould.
MOISTURE_LOW_PERCENT = 6
MOISTURE_HIGH_PERCENT = 12


class Flag(Fact, frozen=True):
    """Something a reader should look at, with where that advice comes from."""

    code: str
    words: str
    source: str
    mark: str


def flags_of(figures: Figures, *, form: str, cultivar_code: str | None) -> tuple[Flag, ...]:
    """Everything unusual about a lot's standing figures."""
    published = _published(cultivar_code)
    return (
        *_moisture(figures, form),
        *_index(figures),
        *_missing(figures, form),
        *_outside(figures, published),
    )


def _published(cultivar_code: str | None) -> Sequence[Figure]:
    known = by_code(cultivar_code) if cultivar_code else None
    return known.figures if known else ()


def _caution(code: str) -> Flag:
    caution = get_caution(code)
    return Flag(code.replace("_", "-"), caution.words, caution.source, caution.mark)


def _moisture(figures: Figures, form: str) -> Iterator[Flag]:
    if figures.moisture_percent is None or form == "wet_hop":
        return
    if figures.moisture_percent.value <= MOISTURE_LOW_PERCENT:
        yield _caution("moisture_low")
    if figures.moisture_percent.value > MOISTURE_HIGH_PERCENT:
        yield _caution("moisture_high")


def _index(figures: Figures) -> Iterator[Flag]:
    index = figures.hop_storage_index
    if index is not None and resin_loss_percent(hop_storage_index=index.value) < 0:
        yield _caution("hop_storage_index_low")


def _missing(figures: Figures, form: str) -> Iterator[Flag]:
    if figures.oil_ml_per_100g is None and form != "wet_hop" and figures.alpha_percent is not None:
        yield Flag(
            "oil-not-measured",
            "Oil was not measured; brewers of aroma hops ask for it.",
            "MSU Extension",
            "read",
        )


def _outside(figures: Figures, published: Sequence[Figure]) -> Iterator[Flag]:
    """A figure further outside the published range than that range is wide; a single mean flags nothing."""
    for known in published:
        quantity = QUANTITY_OF.get(known.quantity)
        if quantity is None or not quantity.is_compared:
            continue
        measured = getattr(figures, quantity.name)
        if measured is None or known.is_single_mean or known.high <= known.low:
            continue
        width = known.high - known.low
        if not known.low - width <= measured.value <= known.high + width:
            yield Flag(
                "outside-published-range",
                f"{quantity.label} of {measured.value:.4g} {quantity.unit}: far outside the published "
                f"{known.low:g} to {known.high:g}; check the cultivar and the certificate",
                known.source,
                known.mark,
            )
