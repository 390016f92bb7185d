"""What the region wants: open requests by wish, firmness and month, with what is promised for them
already.

A request counts in one row, by all the cultivars it names, its role, and whether others will do, so that
rows add up. Promises fill the earliest deliveries first.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from service.facts import Fact, field_names
from service.market.matching.requests import FIRMNESS, Delivery, Request
from service.market.planning.gathering import Asker, Promised, alpha_left_kg
from service.market.planning.outlook import NONE

DEMAND_METHODS = (
    "requests that are open on the day, each in exactly one row: by the cultivars it names, its role, and whether it"
    " takes others too",
    "wanted = what is needed from the day on = covered by promises + still wanted; promises (held, confirmed, delivered;"
    " an offer is none) fill the earliest deliveries first",
    "alpha acids and kilograms are counted apart; a bitterness counts by the alpha acids it takes by Tinseth's published"
    " utilization",
)
DEMAND_ASSUMPTIONS = (
    "promises cover alpha acids by what was estimated when they were made, with what the wanted masses leave over",
)


class WishKind(Fact, frozen=True, kw_only=True):
    """What a row of the demand stands for: any of these cultivars, or any at all where none is named."""

    cultivars: tuple[str, ...]
    accepts_others: bool
    role: str


class Wanted(Fact, frozen=True, kw_only=True):
    """What some deliveries want, and how much of it promises cover."""

    wanted_kg: Decimal = NONE
    covered_kg: Decimal = NONE
    still_wanted_kg: Decimal = NONE
    wanted_alpha_kg: float = 0.0
    covered_alpha_kg: float = 0.0
    still_wanted_alpha_kg: float = 0.0


class WantedByFirmness(Fact, frozen=True, kw_only=True):
    """What is wanted with one firmness."""

    firmness: str
    requests: int
    wanted: Wanted


class WantedByMonth(Fact, frozen=True, kw_only=True):
    """What is needed in one month."""

    month: str
    requests: int
    wanted: Wanted


class DemandRow(Fact, frozen=True, kw_only=True):
    """The requests of one kind; `promised` counts all promises for them, those for deliveries that passed too."""

    kind: WishKind | None
    requests: int
    breweries: int
    wanted: Wanted
    promised: Promised
    by_firmness: tuple[WantedByFirmness, ...]
    by_month: tuple[WantedByMonth, ...]


class Demand(Fact, frozen=True, kw_only=True):
    """What the region wants."""

    as_of: date
    rows: tuple[DemandRow, ...]
    totals: DemandRow
    methods: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


class _Need(Fact, frozen=True, kw_only=True):
    """One delivery that is due, of whom it is, and how much of it is covered."""

    asker: Asker
    delivery: Delivery
    wanted: Wanted


def look_at_demand(askers: Sequence[Asker], *, today: date, is_cut: bool = False) -> Demand:
    """Count each open request in one row; the largest need first."""
    by_kind: dict[WishKind, list[Asker]] = {}
    for asker in askers:
        by_kind.setdefault(kind_of(asker.request), []).append(asker)
    rows = [_row(kind, found, today) for kind, found in by_kind.items()]
    cautions = [f"only the {len(askers)} newest open requests are counted"] if is_cut else []
    return Demand(
        as_of=today,
        rows=tuple(sorted(rows, key=_largest_first)),
        totals=_row(None, askers, today),
        methods=DEMAND_METHODS,
        assumptions=DEMAND_ASSUMPTIONS,
        cautions=tuple(cautions),
    )


def kind_of(request: Request) -> WishKind:
    """In which row a request counts."""
    return WishKind(
        cultivars=tuple(sorted(request.cultivars)),
        accepts_others=request.accept_others or not request.cultivars,
        role=request.role,
    )


def add_wanted(every: Iterable[Wanted]) -> Wanted:
    """Add up, column by column."""
    found = list(every)
    summed: dict[str, Any] = {}
    for name in field_names(Wanted):
        none = 0.0 if "alpha" in name else NONE
        summed[name] = sum((getattr(one, name) for one in found), none)
    return Wanted(**summed)


def _row(kind: WishKind | None, askers: Sequence[Asker], today: date) -> DemandRow:
    needs = [need for asker in askers for need in _needs(asker, today)]
    return DemandRow(
        kind=kind,
        requests=len(askers),
        breweries=len({asker.request.brewery_code for asker in askers}),
        wanted=add_wanted(need.wanted for need in needs),
        promised=_promised(asker.promised for asker in askers),
        by_firmness=tuple(
            WantedByFirmness(firmness=word, requests=many, wanted=wanted)
            for word, many, wanted in _split(needs, lambda need: need.asker.request.firmness, FIRMNESS)
        ),
        by_month=tuple(
            WantedByMonth(month=month, requests=many, wanted=wanted)
            for month, many, wanted in _split(needs, lambda need: f"{need.delivery.needed_on:%Y-%m}")
        ),
    )


def _split(
    needs: Sequence[_Need], word_of: Callable[[_Need], str], order: Sequence[str] | None = None
) -> Iterator[tuple[str, int, Wanted]]:
    by_word: dict[str, list[_Need]] = {}
    for need in needs:
        by_word.setdefault(word_of(need), []).append(need)
    for word in order or sorted(by_word):
        if word in by_word:
            found = by_word[word]
            requests = {need.asker.request.code for need in found}
            yield word, len(requests), add_wanted(need.wanted for need in found)


def _promised(every: Iterable[Promised]) -> Promised:
    found = list(every)
    return Promised(
        held_kg=sum((one.held_kg for one in found), NONE),
        confirmed_kg=sum((one.confirmed_kg for one in found), NONE),
        delivered_kg=sum((one.delivered_kg for one in found), NONE),
        alpha_kg=sum(one.alpha_kg for one in found),
        lots=sum(one.lots for one in found),
    )


def _needs(asker: Asker, today: date) -> Iterator[_Need]:
    """The deliveries from a day on; promises fill the earliest first, those that passed before all."""
    request, promised = asker.request, asker.promised
    due = sorted((d for d in request.deliveries if d.needed_on >= today), key=lambda d: d.needed_on)
    alpha_due = sum(d.alpha_kg_needed or 0.0 for d in due)
    passed_kg = sum((d.mass_kg for d in request.deliveries if d.mass_kg and d.needed_on < today), NONE)
    here_kg = max(NONE, promised.mass_kg - passed_kg)
    here_alpha_kg = alpha_due - alpha_left_kg(request, promised, today=today)
    for delivery in due:
        wanted_kg, wanted_alpha_kg = delivery.mass_kg or NONE, delivery.alpha_kg_needed or 0.0
        covered_kg = min(wanted_kg, here_kg)
        covered_alpha_kg = min(wanted_alpha_kg, here_alpha_kg)
        here_kg, here_alpha_kg = here_kg - covered_kg, here_alpha_kg - covered_alpha_kg
        yield _Need(
            asker=asker,
            delivery=delivery,
            wanted=Wanted(
                wanted_kg=wanted_kg,
                covered_kg=covered_kg,
                still_wanted_kg=wanted_kg - covered_kg,
                wanted_alpha_kg=wanted_alpha_kg,
                covered_alpha_kg=covered_alpha_kg,
                still_wanted_alpha_kg=wanted_alpha_kg - covered_alpha_kg,
            ),
        )


def _largest_first(row: DemandRow) -> tuple[Decimal, float, tuple[str, ...], str, bool]:
    kind = row.kind or WishKind(cultivars=(), accepts_others=True, role="")
    left = row.wanted
    return (
        -left.still_wanted_kg,
        -left.still_wanted_alpha_kg,
        kind.cultivars,
        kind.role,
        kind.accepts_others,
    )
