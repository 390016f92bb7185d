"""What an allocation is made of: the open needs, the free lots, and how well each suits each; kept as it was read."""

from datetime import date, datetime
from decimal import Decimal

import numpy as np

from service.facts import Fact
from service.market.planning.allocation_model import ANY_NUMBER, Model, make_model


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


class GoodsInRegion(Fact, frozen=True, kw_only=True):
    """A lot's free mass; of packages of several sizes each size stands for itself, under the lot's code."""

    lot_code: str
    grower_code: str
    grower_name: str
    cultivar: str
    form: str
    price_per_kg: Decimal | None
    currency: str | None
    free_kg: Decimal
    step_kg: Decimal


class Pair(Fact, frozen=True, kw_only=True):
    """A lot that keeps a request's limits: its score, the need a kilogram covers, the smallest parcel."""

    need: int
    goods: int
    score: float
    covers: float
    least_kg: float
    distance_km: int


class Region(Fact, frozen=True, kw_only=True):
    """All that a plan is made from."""

    read_on: date
    needs: tuple[NeedInRegion, ...]
    goods: tuple[GoodsInRegion, ...]
    pairs: tuple[Pair, ...]
    cautions: tuple[str, ...] = ()


def model_of(region: Region) -> Model:
    """The columns of a region; the value of a pair is its score for each kilogram of need it covers."""
    score = np.array([p.score for p in region.pairs], dtype=float)
    covers = np.array([p.covers for p in region.pairs], dtype=float)
    return make_model(
        need_kg=np.array([float(n.need_kg) for n in region.needs], dtype=float),
        lots_max=np.array(
            [ANY_NUMBER if n.lots_max is None else n.lots_max for n in region.needs], dtype=np.int64
        ),
        stock_kg=np.array([float(g.free_kg) for g in region.goods], dtype=float),
        step_kg=np.array([float(g.step_kg) for g in region.goods], dtype=float),
        request=np.array([p.need for p in region.pairs], dtype=np.int64),
        lot=np.array([p.goods for p in region.pairs], dtype=np.int64),
        worth_per_kg=score * covers,
        covers=covers,
        least_kg=np.array([p.least_kg for p in region.pairs], dtype=float),
        whole=np.unique([g.lot_code for g in region.goods], return_inverse=True)[1],
    )


def arrival_of(region: Region) -> list[int]:
    """The needs in the order in which their requests were made."""

    def came(place: int) -> tuple[str, str]:
        need = region.needs[place]
        return need.made_at.isoformat() if need.made_at else "", need.request_code

    return sorted(range(len(region.needs)), key=came)
