"""A brewery searches the listed lots."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest
from service.market.goods.cultivars import keys_for_search
from service.market.matching.search import LotLine, LotWish, wish_of
from service.market.people.access import Caller
from service.records.goods import cultivars
from service.records.matching import lot_lines
from service.records.session import Session


def search_lots(
    session: Session,
    *,
    caller: Caller,
    asked: Mapping[str, Any],
    now: datetime,
    after: lot_lines.Position | None,
    limit: int,
) -> tuple[Sequence[tuple[LotLine, lot_lines.Position]], tuple[str, ...]]:
    """Lines of listed lots, and what a reader of their order should know.

    Raises:
        InvalidRequest: filters that do not go together.

    """
    keys = keys_asked(session, asked.get("cultivar"))
    wish: LotWish = wish_of(
        asked, cultivar_keys=keys, today=now.date(), sees_all_prices=caller.role != "anyone"
    )
    lines = lot_lines.search(session, wish, now=now, after=after, limit=limit)
    cautions: tuple[str, ...] = ()
    if wish.sort.lstrip("-") == "alpha" and wish.method is None:
        methods = lot_lines.search_methods(session, wish, now=now)
        if len(methods) > 1:
            cautions = (
                f"This order compares alpha measured by {', '.join(methods)}, which are not one scale; "
                "method= keeps to one.",
            )
    return lines, cautions


def keys_asked(session: Session, cultivar: str | None) -> tuple[str, ...]:
    """The keys under which lots of a cultivar may be found; none of them where none is asked for.

    Raises:
        InvalidRequest: it is no name.

    """
    if cultivar is None:
        return ()
    try:
        return keys_for_search(cultivar, cultivars.search(session))
    except InvalidRequest as problem:
        fault = {"parameter": "cultivar", "detail": problem.detail}
        raise InvalidRequest(problem.detail, errors=[fault]) from None
