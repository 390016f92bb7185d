"""Keep the search's figures of listed lots anew, where the sums behind them changed."""

from datetime import datetime

from service.records.goods import lots
from service.records.matching import search_figures
from service.records.session import Session

AT_ONCE = 200


def keep_anew(session: Session, *, now: datetime) -> int:
    """Keep the figures of some lots anew; gives how many, 0 when none is left."""
    codes = search_figures.outdated(session, limit=AT_ONCE)
    for code in codes:
        lot = lots.get(session, code, now=now, lock=True)
        lots.change(session, lot)
    return len(codes)
