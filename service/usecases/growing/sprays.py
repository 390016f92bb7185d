"""The spray record of a grower's blocks: entered, corrected with a reason, read by those it concerns."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import NotAllowed
from service.facts import Fact
from service.market.goods.listing import decide_withdrawal
from service.market.growing.sprays import PickedInside, Spray, accept_spray, correct_spray, picked_inside
from service.market.people.access import Caller, acting_party, require_known
from service.records.goods import lots
from service.records.growing import sprays
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_see
from service.usecases.goods.spray_intervals import yard_lots


class SprayEntered(Fact, frozen=True, kw_only=True):
    """A new entry, the lots that were picked inside its interval, and those whose listing it ended."""

    spray: Spray
    inside: Sequence[PickedInside]
    withdrawn: Sequence[str]


def enter_spray(
    session: Session, grower_code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> SprayEntered:
    """Enter a spray, or the correction of one; a lot picked inside its interval is no longer listed.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that grower.
        NotFound: there is no such grower, or no entry to correct.
        InvalidRequest, IllegalStep: as `accept_spray` and `correct_spray`.

    """
    acting_party(caller, kind="grower", named=grower_code)
    parties.get(session, "grower", grower_code)
    given = dict(asked)
    season = given.pop("season") or given["sprayed_on"].year
    spray = Spray(grower_code=grower_code, season=season, entered_at=now, entered_by=caller.name, **given)
    accept_spray(spray, today=now.date())
    lots.lock(session, _concerned(session, spray), now=now)
    kept = sprays.add(session, spray)
    if kept.corrects is not None:
        sprays.mark(session, correct_spray(sprays.find(session, grower_code, kept.corrects), kept))
    # Now that no lot can be told to be of this block any more, those that were meanwhile are seen too.
    found = lots.lock(session, _concerned(session, spray), now=now)
    inside = picked_inside(found.values(), [kept])
    return SprayEntered(spray=kept, inside=inside, withdrawn=_withdraw(session, inside, now))


def _concerned(session: Session, spray: Spray) -> list[str]:
    return sprays.lot_codes_of_block(session, spray.grower_code, spray.block, since=spray.sprayed_on.year)


def _withdraw(session: Session, inside: Sequence[PickedInside], now: datetime) -> list[str]:
    """End the listing of lots that were picked too early, and of all that was made of them; promises stand."""
    codes = {found.lot_code for found in inside}
    made_of_them = {edge.into_code for code in codes for edge in steps.descendants(session, code)}
    withdrawn = []
    for code, lot in lots.lock(session, codes | made_of_them, now=now).items():
        if lot.state == "listed":
            lots.change(session, decide_withdrawal(lot))
            withdrawn.append(code)
    return sorted(withdrawn)


def list_sprays(
    session: Session,
    grower_code: str,
    *,
    caller: Caller,
    block: str | None,
    season: int | None,
    after: str | None,
    limit: int,
) -> Sequence[Spray]:
    """A grower's spray record, corrected entries among it, for the grower and the specialist.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that grower.
        NotFound: there is no such grower.

    """
    require_known(caller)
    parties.get(session, "grower", grower_code)
    if not caller.acts_for("grower", grower_code):
        raise NotAllowed(
            f"the spray record of {grower_code} is for the grower; parties to a promise read that of their lot"
        )
    return sprays.search(session, grower_code, block=block, season=season, after=after, limit=limit)


def list_sprays_of_lot(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[Spray]:
    """What was applied, for their season, to the blocks a lot comes from: for its grower and holders of a promise.

    A grower reads of a lot pooled with others the entries of its own blocks.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.
        TokenNeeded, NotAllowed: the caller sees the lot, but has no part in it.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    require_known(caller)
    is_own = caller.acts_for("grower", lot.grower_code)
    is_committed = caller.role == "brewery" and lots.is_committed_to(
        session, code, brewery_code=caller.party_code or ""
    )
    if not is_own and not is_committed:
        raise NotAllowed(f"the spray record of lot {code} is for its grower and parties to a promise on it")
    sources = yard_lots(session, lot, now=now)
    if caller.role == "grower":
        sources = [source for source in sources if source.grower_code == caller.party_code]
    return sprays.search_of_seasons(session, sources)
