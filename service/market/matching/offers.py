"""What an offer of lots for a request prints."""

from collections.abc import Sequence
from datetime import date

from service.facts import Fact
from service.market.matching.matching import Match, NearMiss
from service.market.matching.requests import Request
from service.market.people.parties import Party

LOTS_ON_AN_OFFER = 6
NEAR_MISSES_ON_AN_OFFER = 5


class OfferFacts(Fact, frozen=True, kw_only=True):
    """The matching lots, best first, as the matches tell them."""

    request: Request
    brewery: Party
    matches: Sequence[Match]
    has_more: bool
    near_misses: Sequence[NearMiss]
    assumptions: Sequence[str]
    cautions: Sequence[str]
    printed_on: date
    public_url: str
