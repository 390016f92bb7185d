"""How alike a grower's lots of one cultivar are."""

from datetime import datetime

from service.market.access import Visitor, require_known
from service.market.consistency import Consistency, consistency_of, require_readable
from service.market.cultivars import name_cultivar
from service.records import cultivars, lots, parties
from service.records.session import Session
from service.usecases.lot_access import lot_to_see


def show_consistency(
    session: Session,
    grower_code: str,
    *,
    visitor: Visitor,
    cultivar: str,
    lot_code: str | None,
    now: datetime,
) -> Consistency:
    """The spread of a grower's lots of a cultivar, and where one lot stands among them.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is no such grower, or the visitor must not know of the lot.
        NotAllowed: as `require_readable`.
        InvalidRequest: the cultivar's name fits several.

    """
    require_known(visitor)
    grower = parties.get(session, "grower", grower_code)
    named = name_cultivar(cultivar, cultivars.search(session))
    if lot_code is not None:
        lot_to_see(session, lot_code, visitor=visitor, now=now)
    found = consistency_of(
        lots.search_of_cultivar(session, grower_code=grower_code, cultivar_key=named.key, now=now),
        grower_code=grower_code,
        cultivar=named.denomination,
        consent_given=grower.shows_consistency,
        lot_code=lot_code,
    )
    require_readable(found, visitor)
    return found
