"""The oil profile that a request wishes for, read each time it is matched.

A lot's newest standing report counts, as the requesting brewery may see it, whoever asks. Nothing is
frozen: a correction reaches the wish, and a lot that is withdrawn or a regional cultivar that is renamed
ends it.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest, NotFound
from service.facts import replace
from service.market.goods.cultivars import RegionalCultivar, find_known, name_cultivar, unknown_words
from service.market.goods.lab_reports import standing_figures
from service.market.goods.lots import Lot
from service.market.matching.candidates import LotColumns
from service.market.matching.oil_similarity import OilWish, liken, measured_wish, oil_table, published_wish
from service.market.matching.requests import OilLike, Request
from service.market.people.access import Caller
from service.records.goods import cultivars, lots
from service.records.matching import oil_shares
from service.records.session import Session
from service.usecases.goods.lot_access import may_see_lot


def name_wish(
    session: Session,
    given: Mapping[str, Any] | None,
    *,
    before: OilLike | None,
    brewery_code: str,
    now: datetime,
) -> OilLike | None:
    """Take a wish down: a cultivar by its denomination, a lot that the brewery may see; a change goes into it.

    Raises:
        InvalidRequest: the cultivar's name is not known or fits several.
        NotFound: the brewery sees no such lot.

    """
    if given is None:
        return None
    like = replace(before or OilLike(), **given)
    if like.cultivar is not None and like.lot_code is not None:
        # Which of the two is meant is for the market to refuse.
        return like
    if given.get("cultivar") is not None:
        return replace(like, cultivar=_denomination(session, given["cultivar"]))
    if given.get("lot_code") is not None and _seen(session, given["lot_code"], brewery_code, now) is None:
        raise NotFound(f"there is no lot {given['lot_code']}")
    return like


def wish_for(
    session: Session, request: Request, *, regional: Sequence[RegionalCultivar], now: datetime
) -> OilWish | None:
    """The profile a request wishes for, as it stands now; None without a wish."""
    like = request.oil_like
    if like is None:
        return None
    if like.lot_code is not None:
        lot = _seen(session, like.lot_code, request.brewery_code, now)
        return measured_wish(like.lot_code, standing_figures(lot.reports) if lot else None)
    name = like.cultivar or ""
    known = find_known(name, regional)
    return published_wish(known) if known else OilWish(of=name, missing=unknown_words(name, regional))


def compared_with_wish(
    session: Session,
    request: Request,
    found: LotColumns,
    *,
    regional: Sequence[RegionalCultivar],
    now: datetime,
) -> LotColumns:
    """The lots with their oil beside the wish; as they are where nothing is wished for."""
    wish = wish_for(session, request, regional=regional, now=now)
    if wish is None:
        return found
    table = oil_table(oil_shares.oil_shares_of(session, found.code))
    return replace(found, oil_alike=liken(wish, table))


def _denomination(session: Session, name: str) -> str:
    regional = cultivars.search(session)
    try:
        named = name_cultivar(name, regional)
        if named.code is None:
            raise InvalidRequest(unknown_words(name, regional))
    except InvalidRequest as refusal:
        fault = {"pointer": "#/oil_like/cultivar", "detail": refusal.detail}
        raise InvalidRequest(refusal.detail, errors=[fault]) from None
    return named.denomination


def _seen(session: Session, code: str, brewery_code: str, now: datetime) -> Lot | None:
    # With the brewery's own eyes, whoever asks for it.
    lot = lots.get_many(session, [code], now=now).get(code)
    return lot if lot and may_see_lot(session, lot, Caller("brewery", brewery_code)) else None
