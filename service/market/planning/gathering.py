"""The open needs and the free lots of a region, and how well each lot suits each need."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import ROUND_FLOOR, Decimal

import numpy as np

from service.facts import Fact, replace
from service.market.goods.lots import Package
from service.market.goods.stock import to_the_gram
from service.market.matching.candidates import LotColumns, number
from service.market.matching.matching import Ranking, rank_lots
from service.market.matching.needs import exact_kg
from service.market.matching.oil_similarity import ASSUMPTION, OilTable, OilWish, liken
from service.market.matching.requests import FILLED_FROM_SHARE, Request, smallest_parcel_kg
from service.market.people.parties import EARTH_RADIUS_KM
from service.market.planning.allocations import AllocationOrder
from service.market.planning.model import ANY_NUMBER, Model, make_model
from service.science.arrays import Numbers

# Of a request that many lots suit, the best and some spread over the others; a bound holds for these pairs.
BEST_PAIRS, SPREAD_PAIRS = 40, 20
Place = tuple[float, float, float]


class Promised(Fact, frozen=True, kw_only=True):
    """What is held, confirmed and delivered for a request already, and on how many lots; an offer is no promise yet."""

    held_kg: Decimal = Decimal(0)
    confirmed_kg: Decimal = Decimal(0)
    delivered_kg: Decimal = Decimal(0)
    alpha_kg: float = 0.0
    lots: int = 0

    @property
    def mass_kg(self) -> Decimal:
        """All of it."""
        return self.held_kg + self.confirmed_kg + self.delivered_kg


class Asker(Fact, frozen=True, kw_only=True):
    """An open request with what is known of its brewery and of what is promised for it."""

    request: Request
    brewery_name: str
    near: Place
    cultivar_keys: tuple[str, ...] = ()
    promised: Promised = Promised()
    oil_wish: OilWish | None = None


class Yard(Fact, frozen=True, kw_only=True):
    """A grower's name and place."""

    name: str
    at: Place


class NeedInRegion(Fact, frozen=True, kw_only=True):
    """What a request still needs; `without` says why no lot comes into question."""

    request_code: str
    brewery_code: str
    brewery_name: str
    firmness: str
    made_at: datetime | None
    needed_on: date
    need_kg: Decimal
    by_alpha: bool
    lots_max: int | None
    without: tuple[str, ...] = ()
    wish_key: str = ""


class Goods(Fact, frozen=True, kw_only=True):
    """What is free of a lot in equal packages; without a package, in any mass."""

    free_kg: Decimal
    package: Package | None = None

    @property
    def size_kg(self) -> Decimal:
        """The mass of one package; 0 stands for any mass."""
        return self.package.net_kg if self.package else Decimal(0)


class LotInRegion(Fact, frozen=True, kw_only=True):
    """A lot and what is free of it."""

    lot_code: str
    grower_code: str
    grower_name: str
    cultivar: str
    form: str
    price_per_kg: Decimal | None
    currency: str | None
    goods: tuple[Goods, ...]

    @property
    def free_kg(self) -> Decimal:
        """What can be had of it in all."""
        return sum((one.free_kg for one in self.goods), Decimal(0))


class Pair(Fact, frozen=True, kw_only=True):
    """A lot that keeps a request's limits: its score, the need a kilogram covers, the smallest parcel."""

    need: int
    lot: int
    score: float
    covers: float
    least_kg: float
    distance_km: int


class Region(Fact, frozen=True, kw_only=True):
    """All that a plan is made from."""

    read_on: date
    needs: tuple[NeedInRegion, ...]
    lots: tuple[LotInRegion, ...]
    pairs: tuple[Pair, ...]
    cautions: tuple[str, ...] = ()

    @property
    def entries(self) -> list[tuple[int, Goods]]:
        """All goods, each with the place of its lot, in the order of the model's columns."""
        return [(place, one) for place, lot in enumerate(self.lots) for one in lot.goods]


def gather_region(
    askers: Sequence[Asker],
    lots: LotColumns,
    yards: Mapping[str, Yard],
    *,
    order: AllocationOrder,
    today: date,
    oil: OilTable | None = None,
) -> Region:
    """Put each open need beside the lots that keep its limits; `oil` is needed where one wishes for an oil profile."""
    at = places_of(lots, yards)
    needs: list[NeedInRegion] = []
    pairs: list[Pair] = []
    cut = 0
    for asker in askers:
        share = share_left(asker.request, asker.promised, today=today)
        if share <= 1 - FILLED_FROM_SHARE:
            continue
        alike = liken(asker.oil_wish, oil) if asker.oil_wish and oil else None
        ranking = _ranked(asker, replace(lots, oil_alike=alike), at, order=order, today=today)
        chosen = _chosen(ranking)
        need_kg = _need_kg(asker, ranking, chosen, today=today, share=share)
        found = list(_pairs_of(ranking, chosen, len(needs), share=share, need_kg=need_kg))
        needs.append(_need(asker, ranking, found, order=order, need_kg=need_kg))
        pairs += found
        cut += len(ranking.order) > BEST_PAIRS + SPREAD_PAIRS
    said = []
    wishes = sum(asker.oil_wish is not None for asker in askers)
    if wishes:
        said.append(f"{wishes} requests wish for an oil profile: {ASSUMPTION}")
    if cut:
        said.append(
            f"{cut} requests have more than {BEST_PAIRS + SPREAD_PAIRS} lots that suit them; of these the"
            f" {BEST_PAIRS} best and {SPREAD_PAIRS} spread over the others were planned with, and the bound is that of"
            " these pairs"
        )
    return Region(
        read_on=today,
        needs=tuple(needs),
        lots=tuple(_lot(lots, place, yards) for place in range(len(lots))),
        pairs=tuple(pairs),
        cautions=tuple(said),
    )


def places_of(lots: LotColumns, yards: Mapping[str, Yard]) -> Numbers:
    """Where each lot lies, as unit vectors."""
    found: Numbers = np.array([yards[code].at for code in lots.grower_code], dtype=float).reshape(
        len(lots), 3
    )
    return found


def km_from(near: Place, at: Numbers) -> Numbers:
    """How far places are from one, over the ground."""
    chord = np.sqrt(((at - np.array(near)) ** 2).sum(axis=1))
    km: Numbers = 2 * EARTH_RADIUS_KM * np.arcsin(np.minimum(1.0, chord / 2))
    return km


def mass_left(request: Request, promised: Promised, *, today: date) -> Decimal:
    """What is due by mass from today on and not promised."""
    due = sum((d.mass_kg for d in request.deliveries if d.mass_kg and d.needed_on >= today), Decimal(0))
    return max(Decimal(0), min(due, request.mass_kg - promised.mass_kg))


def alpha_left_kg(request: Request, promised: Promised, *, today: date) -> float:
    """What is due by its alpha acids from today on and not promised; the alpha that wanted masses leave over counts."""
    due = sum(d.alpha_kg_needed or 0.0 for d in request.deliveries if d.needed_on >= today)
    over = 0.0
    if promised.mass_kg > 0:
        over = max(0.0, float((promised.mass_kg - request.mass_kg) / promised.mass_kg))
    return max(0.0, min(due, request.alpha_kg - promised.alpha_kg * over))


def share_left(request: Request, promised: Promised, *, today: date) -> float:
    """The share of what is due from today on that no promise covers.

    What is wanted by alpha is covered by the alpha of what the wanted masses leave over; of a request that wants
    both, the larger share counts.
    """
    due = [d for d in request.deliveries if d.needed_on >= today]
    mass_due = sum((d.mass_kg for d in due if d.mass_kg is not None), Decimal(0))
    alpha_due = sum(d.alpha_kg_needed or 0.0 for d in due)
    shares = [0.0]
    if mass_due > 0:
        shares.append(float(mass_left(request, promised, today=today) / mass_due))
    if alpha_due > 0:
        shares.append(alpha_left_kg(request, promised, today=today) / alpha_due)
    return max(shares)


def _lot(lots: LotColumns, place: int, yards: Mapping[str, Yard]) -> LotInRegion:
    price = number(lots.price_per_kg[place])
    return LotInRegion(
        lot_code=lots.code[place],
        grower_code=lots.grower_code[place],
        grower_name=yards[lots.grower_code[place]].name,
        cultivar=lots.cultivar[place],
        form=lots.form[place],
        price_per_kg=None if price is None else Decimal(repr(price)),
        currency=lots.currency[place],
        goods=tuple(_goods(lots, place)),
    )


def _goods(lots: LotColumns, place: int) -> Iterator[Goods]:
    """What is free of a lot; what is promised already is taken to be in the smaller packages."""
    left_kg = exact_kg(lots.free_kg[place])
    packages = lots.packages.get(place, ()) if lots.sold_in[place] == "whole_packages" else ()
    if not packages:
        yield Goods(free_kg=left_kg)
    for package in sorted(packages, key=lambda one: -one.net_kg):
        whole = min(Decimal(package.count), left_kg // package.net_kg) * package.net_kg
        left_kg -= whole
        yield Goods(free_kg=whole, package=package)


def _ranked(asker: Asker, lots: LotColumns, at: Numbers, *, order: AllocationOrder, today: date) -> Ranking:
    least = smallest_parcel_kg(asker.request.parcel_kg_min, order.parcel_kg_min)
    request = replace(asker.request, parcel_kg_min=least)
    own = replace(lots, distance_km=km_from(asker.near, at))
    return rank_lots(request, own, cultivar_keys=asker.cultivar_keys, today=today)


def _pairs_of(
    ranking: Ranking, chosen: Sequence[int], need: int, *, share: float, need_kg: Decimal
) -> Iterator[Pair]:
    lots, needed = ranking.lots, ranking.needs.needed_kg
    least_of_request = float(ranking.request.parcel_kg_min or 0)
    for place in chosen:
        own_kg = float(needed[place]) * share
        order_kg = min(number(lots.order_kg_min[place]) or 0.0, float(lots.free_kg[place]))
        yield Pair(
            need=need,
            lot=place,
            score=float(ranking.scores.score[place]),
            covers=float(need_kg) / own_kg if ranking.request.wants_alpha else 1.0,
            least_kg=max(order_kg, min(least_of_request, own_kg)),
            distance_km=round(float(lots.distance_km[place])),
        )


def _chosen(ranking: Ranking) -> list[int]:
    """The best lots by score times what they could give, and some spread over the others."""
    places = np.array(ranking.order, dtype=np.int64)
    promise = ranking.scores.score[places] * ranking.needs.parcel_kg[places]
    places = places[np.argsort(-promise, kind="stable")]
    others = places[BEST_PAIRS:]
    if len(others) > SPREAD_PAIRS:
        others = others[np.linspace(0, len(others) - 1, SPREAD_PAIRS).astype(np.int64)]
    return [*places[:BEST_PAIRS].tolist(), *others.tolist()]


def _need_kg(asker: Asker, ranking: Ranking, chosen: Sequence[int], *, today: date, share: float) -> Decimal:
    """The need as a mass; one of alpha acids counts as the mass it takes of the middle one of its lots.

    Where no lot suits it, the middle one of all whose alpha is known tells how much is lacking.
    """
    if not asker.request.wants_alpha:
        return mass_left(asker.request, asker.promised, today=today)
    needed = ranking.needs.needed_kg
    needed = needed[list(chosen)] if chosen else needed[ranking.needs.is_known]
    middle = float(np.median(needed)) if len(needed) else 0.0
    # So that no lot's own mass to the gram is the need: of ten kilograms or more, tenths are enough.
    digits = "0.1" if middle * share >= 10 else "0.001"
    return Decimal(repr(middle * share)).quantize(Decimal(digits), rounding=ROUND_FLOOR)


def _need(
    asker: Asker, ranking: Ranking, found: Sequence[Pair], *, order: AllocationOrder, need_kg: Decimal
) -> NeedInRegion:
    request = asker.request
    limits = [lots for lots in (request.lots_max, order.lots_max) if lots is not None]
    lots_max = max(0, min(limits) - asker.promised.lots) if limits else None
    without = [] if found else _why_none(ranking)
    if lots_max == 0:
        without.append(f"it takes from at most {min(limits)} lots and has promises on as many")
    return NeedInRegion(
        request_code=request.code,
        brewery_code=request.brewery_code,
        brewery_name=asker.brewery_name,
        firmness=request.firmness,
        made_at=request.made_at,
        needed_on=request.last_needed_on,
        need_kg=need_kg,
        by_alpha=request.wants_alpha,
        lots_max=lots_max,
        without=tuple(without),
        wish_key=request.wish_key,
    )


def _why_none(ranking: Ranking) -> list[str]:
    """Which limits keep the lots out: those that single lots fail alone, else those that most lots fail."""
    if len(ranking.lots) == 0:
        return ["no lot has anything free"]
    fails = np.array([~limit.holds for limit in ranking.limits]).reshape(len(ranking.limits), -1)
    alone = fails[:, fails.sum(axis=0) == 1].sum(axis=1)
    every = fails.sum(axis=1)
    counted = alone if alone.any() else every
    words = "{} lots fail only {}" if alone.any() else "{} lots fail {}, among others"
    most = np.argsort(-counted, kind="stable")[:3].tolist()
    told = [words.format(int(counted[n]), ranking.limits[n].name) for n in most if counted[n] > 0]
    return [f"no free lot keeps all its limits: {'; '.join(told)}" if told else "no free lot can serve it"]


def model_of(region: Region) -> Model:
    """The columns of a region; the worth of a pair is its score for each kilogram of need it covers."""
    entries = region.entries
    lots_max = [ANY_NUMBER if n.lots_max is None else n.lots_max for n in region.needs]
    score, covers = _column([p.score for p in region.pairs]), _column([p.covers for p in region.pairs])
    return make_model(
        need_kg=_column([float(n.need_kg) for n in region.needs]),
        lots_max=np.array(lots_max, dtype=np.int64),
        stock_kg=_column([float(one.free_kg) for _, one in entries]),
        size_kg=_column([float(one.size_kg) for _, one in entries]),
        lot_of_goods=np.array([place for place, _ in entries], dtype=np.int64),
        request=np.array([p.need for p in region.pairs], dtype=np.int64),
        lot=np.array([p.lot for p in region.pairs], dtype=np.int64),
        worth_per_kg=score * covers,
        covers=covers,
        least_kg=to_the_gram(_column([p.least_kg for p in region.pairs])),
    )


def _column(values: Sequence[float]) -> Numbers:
    return np.array(values, dtype=float)


def arrival_of(region: Region) -> list[int]:
    """The needs in the order in which their requests were made."""

    def came(place: int) -> tuple[str, str]:
        need = region.needs[place]
        return need.made_at.isoformat() if need.made_at else "", need.request_code

    return sorted(range(len(region.needs)), key=came)
