"""Which free lots fit each open request, and how far they reach: each request alone, and all at once."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

import numpy as np

from service.facts import Fact, replace
from service.market.matching.brewery_storage import kept_as_wished
from service.market.matching.candidates import Floats, LotColumns
from service.market.matching.limits import limits_of
from service.market.matching.needs import needs_of
from service.market.matching.requests import FILLED_FROM_SHARE, FIRMNESS
from service.market.planning.gathering import (
    Asker,
    Yard,
    alpha_left_kg,
    km_from,
    mass_left,
    places_of,
    share_left,
)
from service.science.arrays import Places


class KeptOut(Fact, frozen=True, kw_only=True):
    """A limit that keeps lots out of a request: which lots, and which of them only for want of a measurement.

    `alone` where it is the one limit they fail; else they are the nearest there are, and fail others too.
    """

    limit: str
    alone: bool
    lots: Places
    unmeasured: Places


class Fitting(Fact, frozen=True, kw_only=True):
    """A request beside the free lots that keep its limits.

    `fits` holds their places, `need_kg` what it would take of each alone. `alone_share` is how much of the need they
    cover when nobody else takes of them, `together_share` when all requests take at once.
    """

    asker: Asker
    kg_left: Decimal
    alpha_kg_left: float
    fits: Places
    need_kg: Floats
    times: float
    alone_share: float
    together_share: float = 0.0
    kept_out: tuple[KeptOut, ...] = ()

    @property
    def standing(self) -> str:
        """How the request stands: `met`, `contested`, `too_little` fits, or `none_fits`."""
        if self.alone_share < FILLED_FROM_SHARE:
            return "too_little" if len(self.fits) else "none_fits"
        return "met" if self.together_share >= FILLED_FROM_SHARE else "contested"


def fit_requests(
    askers: Sequence[Asker], lots: LotColumns, yards: Mapping[str, Yard], *, today: date
) -> list[Fitting]:
    """Put each request that still wants something beside the lots that keep its limits, and share them out once."""
    at = places_of(lots, yards)
    found = [
        _fit(asker, replace(lots, distance_km=km_from(asker.near, at)), share=share, today=today)
        for asker in askers
        if (share := share_left(asker.request, asker.promised, today=today)) > 1 - FILLED_FROM_SHARE
    ]
    return share_out(found, lots.free_kg)


def share_out(found: Sequence[Fitting], free_kg: Floats) -> list[Fitting]:
    """Let requests take what fits, no kilogram twice: one way to do it, and not the best.

    Those with the least to choose from take first, of equals the firmer and then the older; each takes first of the lots
    that are least asked for.
    """
    asked = np.zeros(len(free_kg))
    for one in found:
        asked[one.fits] += 1 / one.times if one.times > 0 else 0.0
    left = free_kg.astype(float).copy()
    shares = [0.0] * len(found)
    for place in sorted(range(len(found)), key=lambda place: _turn(found[place])):
        shares[place] = _take(found[place], left, asked)
    return [
        # The two are sums of the same numbers in another order; the last digit of one decides nothing.
        replace(one, together_share=min(share, one.alone_share))
        for one, share in zip(found, shares, strict=True)
    ]


def _turn(one: Fitting) -> tuple[float, int, str, str]:
    request = one.asker.request
    made = request.made_at.isoformat() if request.made_at else ""
    return one.times, -FIRMNESS.index(request.firmness), made, request.code


def _take(one: Fitting, left: Floats, asked: Floats) -> float:
    here = np.flatnonzero(left[one.fits] > 0)
    places, needs = one.fits[here], one.need_kg[here]
    share = np.minimum(1.0, left[places] / needs)
    most = _lots_left(one.asker)
    # Where only so many lots may be taken, the largest go first.
    order = (
        np.lexsort((asked[places], -share)) if most is not None else np.argsort(asked[places], kind="stable")
    )
    order = order[:most]
    before = np.concatenate([[0.0], np.cumsum(share[order])])[:-1]
    taken = np.clip(1.0 - before, 0.0, share[order])
    left[places[order]] = np.maximum(0.0, left[places[order]] - taken * needs[order])
    return float(taken.sum())


def _lots_left(asker: Asker) -> int | None:
    most = asker.request.lots_max
    return None if most is None else max(0, most - asker.promised.lots)


def _fit(asker: Asker, lots: LotColumns, *, share: float, today: date) -> Fitting:
    lots = kept_as_wished(asker.request, lots, today=today)
    needs = needs_of(asker.request, lots, today=today)
    limits = limits_of(asker.request, lots, needs, cultivar_keys=asker.cultivar_keys)
    fails = np.array([~limit.holds for limit in limits]).reshape(len(limits), len(lots))
    many = fails.sum(axis=0)
    fits = np.flatnonzero(many == 0)
    need_kg = needs.needed_kg[fits] * share
    covers = np.sort(np.minimum(1.0, lots.free_kg[fits] / need_kg))[::-1]
    alone = min(1.0, float(covers[: _lots_left(asker)].sum()))
    kept_out: list[KeptOut] = []
    if alone < FILLED_FROM_SHARE and (many > 0).any():
        nearest = int(many[many > 0].min())
        for number, limit in enumerate(limits):
            out = np.flatnonzero(fails[number] & (many == nearest))
            if len(out):
                unmeasured = out[np.isinf(limit.off[out])]
                kept_out.append(
                    KeptOut(limit=limit.name, alone=nearest == 1, lots=out, unmeasured=unmeasured)
                )
    return Fitting(
        asker=asker,
        kg_left=mass_left(asker.request, asker.promised, today=today),
        alpha_kg_left=alpha_left_kg(asker.request, asker.promised, today=today),
        fits=fits,
        need_kg=need_kg,
        times=float((lots.free_kg[fits] / need_kg).sum()),
        alone_share=alone,
        kept_out=tuple(kept_out),
    )
