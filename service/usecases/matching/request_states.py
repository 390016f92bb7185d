"""Whether a request is filled: told anew whenever what is promised for it changes."""

from decimal import Decimal

from service.facts import replace
from service.market.matching.requests import Request, is_filled
from service.records.matching import requests
from service.records.session import Session
from service.records.trade import reservations


def settled(session: Session, request: Request) -> Request:
    """The request, open or filled by what is confirmed and delivered for it; a withdrawn one stays so."""
    if request.state == "withdrawn":
        return request
    covering = reservations.search_covering(session, request.code)
    filled = is_filled(
        request,
        mass_kg=sum((promise.taken_kg for promise in covering), Decimal(0)),
        alpha_kg=sum(promise.taken_alpha_kg for promise in covering),
    )
    return replace(request, state="filled" if filled else "open")


def settle_request(session: Session, code: str | None) -> None:
    """Write whether a request is filled now; the lot is locked before it."""
    if code is None:
        return
    request = requests.get(session, code, lock=True)
    now = settled(session, request)
    if now != request:
        requests.change(session, now)
