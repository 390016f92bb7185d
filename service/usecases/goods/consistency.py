"""How alike a grower's lots of one cultivar are."""

from collections.abc import Sequence
from datetime import datetime

from service.market.goods.consistency import Consistency, consistency_of, require_readable
from service.market.goods.cultivars import name_cultivar
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.records.goods import cultivars, lots
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_see


def show_consistency(
    session: Session,
    grower_code: str,
    *,
    caller: Caller,
    cultivar: str,
    lot_code: str | None,
    now: datetime,
) -> Consistency:
    """The spread of a grower's lots of a cultivar, and where one lot stands among them.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is no such grower, or the caller must not know of the lot.
        NotAllowed: as `require_readable`.
        InvalidRequest: the cultivar's name fits several.

    """
    require_known(caller)
    grower = parties.get(session, "grower", grower_code)
    named = name_cultivar(cultivar, cultivars.search(session))
    if lot_code is not None:
        lot_to_see(session, lot_code, caller=caller, now=now)
    known = lots.search_of_cultivar(session, grower_code=grower_code, cultivar_key=named.key, now=now)
    found = consistency_of(
        _own_goods(session, known, grower_code=grower_code, lot_code=lot_code, now=now),
        grower_code=grower_code,
        cultivar=named.denomination,
        consent_given=grower.shows_consistency,
        lot_code=lot_code,
    )
    require_readable(found, caller)
    return found


def _own_goods(
    session: Session, found: Sequence[Lot], *, grower_code: str, lot_code: str | None, now: datetime
) -> list[Lot]:
    """The lots that tell of the grower's own goods: of a whole and its parts one, and no pool of several growers."""
    made = steps.find_many(session, [lot.code for lot in found])
    by_whole: dict[str, Lot] = {}
    for lot in found:
        step = made.get(lot.code)
        whole = _whole_of(session, lot.code) if step else lot.code
        if step and step.kind in ("pelletizing", "blending") and not _is_of(session, lot, grower_code, now):
            continue
        if whole not in by_whole or lot.code == lot_code:
            by_whole[whole] = lot
    return list(by_whole.values())


def _whole_of(session: Session, lot_code: str) -> str:
    """The lot that a part was first of."""
    step = steps.find(session, lot_code)
    while step is not None and step.keeps_goods:
        (edge,) = steps.edges_into(session, [lot_code])
        lot_code = edge.from_code
        step = steps.find(session, lot_code)
    return lot_code


def _is_of(session: Session, lot: Lot, grower_code: str, now: datetime) -> bool:
    sources = {edge.from_code for edge in steps.ancestors(session, lot.code)}
    return all(one.grower_code == grower_code for one in lots.get_many(session, sources, now=now).values())
