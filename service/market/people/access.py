"""Who is asking, and what they may do."""

from datetime import date, datetime

from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.facts import Fact


class Caller(Fact, frozen=True):
    """Somebody at a door: `anyone`, one `grower`, one `brewery`, or the `specialist`."""

    role: str
    party_code: str | None = None
    token_id: int | None = None

    @property
    def name(self) -> str:
        """How the records write who did something."""
        return self.role if self.party_code is None else f"{self.role}:{self.party_code}"

    @property
    def is_specialist(self) -> bool:
        """Whether this is the specialist."""
        return self.role == "specialist"

    def is_party(self, kind: str, code: str) -> bool:
        """Whether this is that very grower or brewery."""
        return self.role == kind and self.party_code == code

    def acts_for(self, kind: str, code: str) -> bool:
        """Whether this caller may act as that party: the party itself, or the specialist."""
        return self.is_specialist or self.is_party(kind, code)


ANYONE = Caller("anyone")


class TokenLine(Fact, frozen=True, kw_only=True):
    """A token in a list: everything but the token itself, of which only a digest is kept."""

    id: int
    role: str
    party_code: str | None
    label: str | None
    made_at: datetime
    last_used_on: date | None
    revoked_at: datetime | None


def require_known(caller: Caller) -> None:
    """Refuse a caller without a token.

    Raises:
        TokenNeeded: no known token came along.

    """
    if caller.role == "anyone":
        raise TokenNeeded("this call needs a token: Authorization: Bearer TOKEN")


def require_specialist(caller: Caller) -> None:
    """Refuse everybody but the specialist.

    Raises:
        TokenNeeded, NotAllowed.

    """
    require_known(caller)
    if not caller.is_specialist:
        raise NotAllowed("only the specialist may do that")


def acting_party(caller: Caller, *, kind: str, named: str | None) -> str:
    """Whose record is being made: the caller's own, or the party the specialist names.

    Raises:
        TokenNeeded: no known token came along.
        NotAllowed: the token belongs to another kind of party, or to another party.
        InvalidRequest: the specialist named nobody.

    >>> acting_party(Caller("grower", "ALDER"), kind="grower", named=None)
    'ALDER'

    """
    require_known(caller)
    if caller.is_specialist:
        if named is None:
            raise InvalidRequest(
                f"name the {kind} you act for",
                errors=[{"pointer": f"#/{kind}_code", "detail": f"The specialist names the {kind}."}],
            )
        return named
    if caller.role != kind or caller.party_code is None:
        raise NotAllowed(f"only a {kind} or the specialist may do that")
    if named not in (None, caller.party_code):
        raise NotAllowed(f"this token belongs to {caller.party_code}, not to {named}")
    return caller.party_code
