"""Whether a lot, and all that it was made of, was picked outside the intervals of its blocks' sprays."""

from datetime import datetime

from service.market.goods.lots import Lot
from service.market.growing.sprays import require_outside_intervals
from service.records.goods import lots
from service.records.growing import sprays
from service.records.processing import steps
from service.records.session import Session


def require_intervals_kept(session: Session, lot: Lot, *, now: datetime) -> None:
    """Refuse to show a lot to brewers while a spray's interval had not passed at its picking.

    Raises:
        PickedInsideInterval: each entry is named.

    """
    sources = yard_lots(session, lot, now=now)
    require_outside_intervals(lot, sources, sprays.search_of_lots(session, sources))


def yard_lots(session: Session, lot: Lot, *, now: datetime) -> list[Lot]:
    """The lots that came from the yard among a lot and all it was made of: a product's own days say less than theirs."""
    made = steps.find_many(session, [lot.code])
    family = {lot.code: lot}
    if made:
        codes = {edge.from_code for edge in steps.ancestors(session, lot.code)} - {lot.code}
        family |= lots.get_many(session, codes, now=now) if codes else {}
        made |= steps.find_many(session, codes)
    return [
        one
        for code, one in family.items()
        if code not in made or made[code].keeps_goods or made[code].kind == "drying"
    ]
