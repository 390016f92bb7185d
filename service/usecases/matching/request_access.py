"""Reading a request as somebody: who may know of it."""

from service.errors import NotFound
from service.market.matching.requests import Request
from service.market.people.access import Caller, require_known
from service.records.matching import requests
from service.records.session import Session


def request_to_see(session: Session, code: str, *, caller: Caller, lock: bool = False) -> Request:
    """A request, for its brewery and the specialist.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is none, or the caller must not know of it.

    """
    require_known(caller)
    request = requests.get(session, code, lock=lock)
    if not caller.acts_for("brewery", request.brewery_code):
        raise NotFound(f"there is no request {code}")
    return request
