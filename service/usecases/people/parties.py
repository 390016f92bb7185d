"""Growers and breweries: welcome them, show them, let them change what is theirs."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from service.errors import NotAllowed
from service.facts import replace
from service.market.people.access import Caller, require_known, require_specialist
from service.market.people.parties import Party, accept_party, as_seen_by_strangers
from service.records.people import parties
from service.records.session import Session


def welcome_party(session: Session, *, caller: Caller, party: Party) -> Party:
    """Take a new party into the books.

    Raises:
        TokenNeeded, NotAllowed: only the specialist does that.
        AlreadyExists: the code is taken.
        InvalidRequest: as `accept_party`.

    """
    require_specialist(caller)
    parties.add(session, accept_party(party))
    return party


def show_party(session: Session, *, caller: Caller, kind: str, code: str) -> Party:
    """Show a party, as much of it as the caller may see.

    Raises:
        NotFound: there is no such party.

    """
    return as_seen(parties.get(session, kind, code), caller, _others(session, kind, caller))


def list_parties(
    session: Session, *, caller: Caller, kind: str, after: str | None, limit: int
) -> Sequence[Party]:
    """Parties in the order of their codes."""
    others = _others(session, kind, caller)
    return [as_seen(p, caller, others) for p in parties.search(session, kind, after=after, limit=limit)]


def _others(session: Session, kind: str, caller: Caller) -> frozenset[str]:
    """The parties of a kind on the other side of the caller's commitments."""
    if caller.party_code is None or caller.role == kind:
        return frozenset()
    return parties.search_committed(session, kind, to=caller.party_code)


def revise_party(
    session: Session,
    *,
    caller: Caller,
    kind: str,
    code: str,
    changes: Mapping[str, Any],
    unless_changed: Callable[[Party], None],
) -> Party:
    """Change a party's own record.

    Raises:
        NotFound: there is no such party.
        TokenNeeded, NotAllowed: it is somebody else's.
        PreconditionNeeded, PreconditionStale: from `unless_changed`.
        InvalidRequest: as `accept_party`.

    """
    party = parties.get(session, kind, code, lock=True)
    require_known(caller)
    if not caller.acts_for(kind, code):
        raise NotAllowed(f"this token does not belong to {code}")
    unless_changed(party)
    changed = accept_party(replace(party, **changes))
    parties.change(session, changed)
    return changed


def as_seen(party: Party, caller: Caller, others: frozenset[str]) -> Party:
    """Blur what a stranger need not know.

    `email` is for the party itself, the specialist and the other side of a commitment.
    """
    if caller.role == "anyone":
        return as_seen_by_strangers(party)
    reads_email = caller.acts_for(party.kind, party.code) or party.code in others
    return party if reads_email else replace(party, email=None)
