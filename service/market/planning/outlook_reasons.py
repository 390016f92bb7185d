"""Why requests go unmet: the limits that keep free lots out of them, and what the region lacks for it."""

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from service.facts import Fact
from service.market.matching.candidates import LotColumns
from service.market.matching.needs import exact_kg
from service.market.planning.outlook import NONE
from service.market.planning.outlook_fitting import Fitting, KeptOut

WORDS_SHOWN = 3
# What the region lacks where a limit keeps lots out.
LACKS = {
    "role": "cultivars",
    "cultivars": "cultivars",
    "forms": "form and packing",
    "packings": "form and packing",
    "certifications": "certifications",
    "origins": "places of origin",
    "alpha_percent_min": "quality",
    "alpha_percent_max": "quality",
    "hop_storage_index_max": "quality",
    "moisture_percent_max": "quality",
    "oil_ml_per_100g_min": "quality",
    "within_km": "nearness",
    "currency": "price",
    "price_per_kg_max": "price",
    "price_per_kg_alpha_max": "price",
    "alpha_kg": "quality",
    "free_kg": "volume",
    "order_kg_min": "terms of sale",
    "whole_packages": "terms of sale",
}
UNMEASURED = "laboratory figures"


class Why(Fact, frozen=True, kw_only=True):
    """A limit that keeps free lots out of unmet requests."""

    limit: str
    lacks: str
    requests: int
    lots: int
    free_kg: Decimal
    not_measured_lots: int
    words: str


def why_unmet(found: Sequence[Fitting], lots: LotColumns) -> Iterator[Why]:
    """The limits that keep lots out, those of most requests first."""
    requests: dict[str, int] = {}
    out: dict[str, set[int]] = {}
    unmeasured: dict[str, set[int]] = {}
    for one in found:
        for kept in one.kept_out:
            requests[kept.limit] = requests.get(kept.limit, 0) + 1
            out.setdefault(kept.limit, set()).update(kept.lots.tolist())
            unmeasured.setdefault(kept.limit, set()).update(kept.unmeasured.tolist())
    for limit in sorted(requests, key=lambda limit: (-requests[limit], -len(out[limit]), limit)):
        mass = kg_of(lots, out[limit])
        only_unmeasured = out[limit] == unmeasured[limit]
        yield Why(
            limit=limit,
            lacks=UNMEASURED if only_unmeasured else LACKS[limit],
            requests=requests[limit],
            lots=len(out[limit]),
            free_kg=mass,
            not_measured_lots=len(unmeasured[limit]),
            words=words_of(limit, lots=len(out[limit]), unmeasured=len(unmeasured[limit])),
        )


def words_of(limit: str, *, lots: int, unmeasured: int, how: str = "") -> str:
    """How many lots fail a limit, and how many of them only because nobody measured.

    >>> words_of("moisture_percent_max", lots=7, unmeasured=7, how="only ")
    '7 lots fail only moisture_percent_max: not measured'

    """
    said = f"{lots_in_words(lots)} {'fails' if lots == 1 else 'fail'} {how}{limit}"
    if unmeasured == lots:
        return f"{said}: not measured"
    return f"{said}, {unmeasured} of them not measured" if unmeasured else said


def lots_in_words(many: int) -> str:
    """So many lots."""
    return "1 lot" if many == 1 else f"{many} lots"


def reasons_of(one: Fitting) -> list[str]:
    """What keeps most lots out of one request, in words."""

    def told(kept: KeptOut) -> str:
        how = "only " if kept.alone else "among others "
        return words_of(kept.limit, lots=len(kept.lots), unmeasured=len(kept.unmeasured), how=how)

    return [told(kept) for kept in sorted(one.kept_out, key=lambda kept: -len(kept.lots))[:WORDS_SHOWN]]


def kg_of(lots: LotColumns, places: Iterable[int]) -> Decimal:
    """What is free of some lots together."""
    return sum((exact_kg(lots.free_kg[place]) for place in places), NONE)
