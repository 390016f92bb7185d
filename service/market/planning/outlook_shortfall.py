"""What the region lacks: how much of what is wanted must go unmet, and which limits keep free lots out.

What fits overlaps between requests, so two figures are given. `at_least` is what a maximum flow cannot
share out, `at_most` what one simple way to share leaves. Where alpha is wanted too, each kind counts in
`at_least` as if nobody wanted the other. The plan's unserved part says something else: one sharing by
value, over fewer lots for each request.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import numpy as np

from service.facts import Fact
from service.market.matching.candidates import LotColumns
from service.market.planning.gathering import Asker, Yard
from service.market.planning.outlook import NONE
from service.market.planning.outlook_demand import WishKind, kind_of
from service.market.planning.outlook_fitting import Fitting, fit_requests
from service.market.planning.outlook_flow import most_taken
from service.market.planning.outlook_reasons import Why, kg_of, lots_in_words, reasons_of, why_unmet
from service.reference.cultivar_rows import ROLES

UNMET_SHOWN = 50
GRAM, MILLIGRAM = Decimal("0.001"), Decimal("0.000001")
STANDINGS = ("met", "contested", "too_little", "none_fits")
SHORTFALL_METHODS = (
    "lots fit a request by the limits that its matches are judged by, each with all that is free of it",
    "fitting kilograms of several requests overlap and are not added up; short is told between two figures instead",
    "short at least: what each request lacks even if nobody else took anything, or, where that is more, what no sharing"
    " of the fitting kilograms can avoid (maximum flow; kilograms and alpha acids each as if nobody wanted the other)",
    "short at most: what is left when the requests take what fits, no kilogram twice; those with the least to choose from"
    " first, each first of the lots least asked for. One way to share, not the best: POST /v1/allocations plans that",
    "a request is met from 98 % on; contested: enough fits it, and others take of the same; too_little: what fits it does"
    " not do; none_fits: no free lot keeps all its limits",
    "why counts, for requests that their own lots do not meet, the lots that fail one limit alone; where there are none,"
    " those that fail the fewest, under each limit they fail",
)
SHORTFALL_ASSUMPTIONS = (
    "alpha acids count as they are estimated for the days needed, in the brewery's own store where it told of one; for"
    " the flow, as they are today",
    "smallest orders and whole packages are judged lot by lot and not in the sum",
)


class Between(Fact, frozen=True, kw_only=True):
    """A shortage that is not told exactly."""

    at_least: float
    at_most: float


class ShortRow(Fact, frozen=True, kw_only=True):
    """Requests of one kind: what they still want, what fits any of them, what is short.

    `named_kg` is what is free of the cultivars they name, whatever else they ask; None where they name none.
    """

    kind: WishKind | None
    role: str | None
    requests: int
    breweries: int
    standings: Mapping[str, int]
    still_wanted_kg: Decimal
    still_wanted_alpha_kg: float
    named_kg: Decimal | None
    fitting_lots: int
    fitting_kg: Decimal
    short_kg: Between
    short_alpha_kg: Between
    why: tuple[Why, ...]


class Unmet(Fact, frozen=True, kw_only=True):
    """A request that is not met, and why."""

    request_code: str
    brewery_code: str
    firmness: str
    standing: str
    still_wanted_kg: Decimal
    still_wanted_alpha_kg: float
    fitting_lots: int
    fitting_kg: Decimal
    short_kg: Between
    short_alpha_kg: Between
    why: tuple[str, ...]


class Shortfall(Fact, frozen=True, kw_only=True):
    """What the region lacks."""

    as_of: date
    free_lots: int
    free_kg: Decimal
    rows: tuple[ShortRow, ...]
    by_role: tuple[ShortRow, ...]
    totals: ShortRow
    unmet: tuple[Unmet, ...]
    methods: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def look_at_shortfall(
    askers: Sequence[Asker],
    lots: LotColumns,
    yards: Mapping[str, Yard],
    *,
    today: date,
    cautions: Sequence[str] = (),
) -> Shortfall:
    """Judge each open request against each free lot, and add up what is short; the shortest row first."""
    found = fit_requests(askers, lots, yards, today=today)
    by_kind: dict[WishKind, list[Fitting]] = {}
    for one in found:
        by_kind.setdefault(kind_of(one.asker.request), []).append(one)
    rows = [_row(some, lots, today, kind=kind) for kind, some in by_kind.items()]
    roles = [
        _row(
            [one for one in found if one.asker.request.role == role],
            lots,
            today,
            role=role,
            parts=[row for row in rows if row.kind is not None and row.kind.role == role],
        )
        for role in ROLES
        if any(one.asker.request.role == role for one in found)
    ]
    unmet = sorted((one for one in found if one.standing != "met"), key=_worst_first)
    return Shortfall(
        as_of=today,
        free_lots=len(lots),
        free_kg=kg_of(lots, range(len(lots))),
        rows=tuple(sorted(rows, key=_shortest_first)),
        by_role=tuple(roles),
        totals=_row(found, lots, today, parts=roles),
        unmet=tuple(_unmet(one, lots) for one in unmet[:UNMET_SHOWN]),
        methods=SHORTFALL_METHODS,
        assumptions=SHORTFALL_ASSUMPTIONS,
        cautions=(*cautions, *_cautions(len(askers) - len(found), len(unmet))),
    )


def _cautions(covered: int, unmet: int) -> Iterator[str]:
    if covered:
        yield f"{covered} open requests are covered by promises and not looked at"
    if unmet > UNMET_SHOWN:
        yield f"{unmet} requests are not met; the {UNMET_SHOWN} that lack the largest share of their need are named"


def _row(
    found: Sequence[Fitting],
    lots: LotColumns,
    today: date,
    *,
    kind: WishKind | None = None,
    role: str | None = None,
    parts: Sequence[ShortRow] = (),
) -> ShortRow:
    fitting = _any_of(found)
    standings = [one.standing for one in found]
    return ShortRow(
        kind=kind,
        role=role,
        requests=len(found),
        breweries=len({one.asker.request.brewery_code for one in found}),
        standings={word: standings.count(word) for word in STANDINGS},
        still_wanted_kg=sum((one.kg_left for one in found), NONE),
        still_wanted_alpha_kg=sum(one.alpha_kg_left for one in found),
        named_kg=_named_kg(found, lots) if kind is not None and kind.cultivars else None,
        fitting_lots=len(fitting),
        fitting_kg=kg_of(lots, fitting),
        short_kg=_between(
            [_short_kg(one) for one in found],
            [
                sum(part.short_kg.at_least for part in parts),
                _over_all_kg([one for one in found if one.alpha_kg_left == 0], lots)
                + sum(_short_kg(one).at_least for one in found if one.alpha_kg_left > 0),
            ],
        ),
        short_alpha_kg=_between(
            [_short_alpha_kg(one) for one in found],
            [
                sum(part.short_alpha_kg.at_least for part in parts),
                _over_all_alpha_kg([one for one in found if one.kg_left == 0], lots, today)
                + sum(_short_alpha_kg(one).at_least for one in found if one.kg_left > 0),
            ],
        ),
        why=tuple(why_unmet(found, lots)),
    )


def _named_kg(found: Sequence[Fitting], lots: LotColumns) -> Decimal:
    keys = {key for one in found for key in one.asker.cultivar_keys}
    return kg_of(lots, [place for place, key in enumerate(lots.cultivar_key) if key in keys])


def _short_kg(one: Fitting) -> Between:
    """Of one request, in whole grams, outwards; what is less than a milligram is the sum's last digit."""
    at_least, at_most = (
        (one.kg_left * Decimal(repr(1 - share))).quantize(MILLIGRAM)
        for share in (one.alone_share, one.together_share)
    )
    return Between(
        at_least=float(at_least.quantize(GRAM, rounding=ROUND_FLOOR)),
        at_most=float(at_most.quantize(GRAM, rounding=ROUND_CEILING)),
    )


def _short_alpha_kg(one: Fitting) -> Between:
    return Between(
        at_least=one.alpha_kg_left * (1 - one.alone_share),
        at_most=one.alpha_kg_left * (1 - one.together_share),
    )


def _between(each: Sequence[Between], over_all: Sequence[float]) -> Between:
    at_most = sum(one.at_most for one in each)
    at_least = max([sum(one.at_least for one in each), *over_all])
    return Between(at_least=round(min(at_least, at_most), 3), at_most=round(at_most, 3))


def _over_all_kg(found: Sequence[Fitting], lots: LotColumns) -> float:
    """What some requests lack however the kilograms that fit them are shared."""
    wanted = [float(one.kg_left) for one in found]
    return sum(wanted) - most_taken(wanted, [one.fits for one in found], lots.free_kg)


def _over_all_alpha_kg(found: Sequence[Fitting], lots: LotColumns, today: date) -> float:
    wanted = [one.alpha_kg_left for one in found]
    # Today there is more alpha than on any day it is needed; where it is not known, no request for alpha fits.
    there = lots.free_kg * np.exp(np.nan_to_num(lots.log_alpha_on(today), nan=-np.inf)) / 100
    return sum(wanted) - most_taken(wanted, [one.fits for one in found], there)


def _any_of(found: Iterable[Fitting]) -> list[int]:
    places: set[int] = set()
    for one in found:
        places.update(one.fits.tolist())
    return sorted(places)


def _unmet(one: Fitting, lots: LotColumns) -> Unmet:
    request = one.asker.request
    said = reasons_of(one)
    if request.lots_max is not None and one.standing != "contested":
        said.append(f"it takes from {lots_in_words(request.lots_max)} at most")
    return Unmet(
        request_code=request.code,
        brewery_code=request.brewery_code,
        firmness=request.firmness,
        standing=one.standing,
        still_wanted_kg=one.kg_left,
        still_wanted_alpha_kg=one.alpha_kg_left,
        fitting_lots=len(one.fits),
        fitting_kg=kg_of(lots, one.fits.tolist()),
        short_kg=_short_kg(one),
        short_alpha_kg=_short_alpha_kg(one),
        why=tuple(said),
    )


def _worst_first(one: Fitting) -> tuple[float, float, str]:
    return one.alone_share, one.together_share, one.asker.request.code


def _shortest_first(row: ShortRow) -> tuple[float, float, Decimal, str]:
    return -row.short_kg.at_least, -row.short_kg.at_most, -row.still_wanted_kg, str(row.kind)
