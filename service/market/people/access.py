"""Who is asking, and what they may do."""

from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.facts import Fact


class Visitor(Fact, frozen=True):
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
        """Whether this visitor may act as that party: the party itself, or the specialist."""
        return self.is_specialist or self.is_party(kind, code)


ANYONE = Visitor("anyone")


def require_known(visitor: Visitor) -> None:
    """Refuse a visitor without a token.

    Raises:
        TokenNeeded: no known token came along.

    """
    if visitor.role == "anyone":
        raise TokenNeeded("this call needs a token: Authorization: Bearer TOKEN")


def require_specialist(visitor: Visitor) -> None:
    """Refuse everybody but the specialist.

    Raises:
        TokenNeeded, NotAllowed.

    """
    require_known(visitor)
    if not visitor.is_specialist:
        raise NotAllowed("only the specialist may do that")


def acting_party(visitor: Visitor, *, kind: str, named: str | None) -> str:
    """Whose record is being made: the visitor's own, or the party the specialist names.

    Raises:
        TokenNeeded: no known token came along.
        NotAllowed: the token belongs to another kind of party, or to another party.
        InvalidRequest: the specialist named nobody.

    >>> acting_party(Visitor("grower", "ALDER"), kind="grower", named=None)
    'ALDER'

    """
    require_known(visitor)
    if visitor.is_specialist:
        if named is None:
            raise InvalidRequest(
                f"name the {kind} you act for",
                errors=[{"pointer": f"#/{kind}_code", "detail": f"The specialist names the {kind}."}],
            )
        return named
    if visitor.role != kind or visitor.party_code is None:
        raise NotAllowed(f"only a {kind} or the specialist may do that")
    if named not in (None, visitor.party_code):
        raise NotAllowed(f"this token belongs to {visitor.party_code}, not to {named}")
    return visitor.party_code
