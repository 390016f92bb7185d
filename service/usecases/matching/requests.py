"""A brewery's requests: place, show, revise, withdraw."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest
from service.facts import replace
from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.goods.cultivars import NamedCultivar, name_cultivar
from service.market.matching.requests import (
    Delivery,
    Request,
    accept_request,
    decide_change,
    rename_cultivars,
)
from service.market.people.access import Caller, acting_party, require_known
from service.records.goods import cultivars
from service.records.matching import requests
from service.records.matching.requests import LISTS
from service.records.people import parties
from service.records.session import Session
from service.science.bitterness import sg_from_plato
from service.usecases.matching.oil_wishes import name_wish
from service.usecases.matching.request_access import request_to_see
from service.usecases.matching.request_states import settled


def place_request(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Request:
    """Take a brewery's request into the books.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that brewery.
        NotFound: the specialist named a brewery that does not exist, or the oil of a lot is wished for that the
            brewery does not see.
        InvalidRequest: something in it cannot be.

    """
    given = dict(asked)
    brewery_code = acting_party(caller, kind="brewery", named=given.pop("brewery_code", None))
    parties.get(session, "brewery", brewery_code)
    facts = _facts(session, given)
    if "oil_like" in given:
        facts["oil_like"] = name_wish(
            session, given["oil_like"], before=None, brewery_code=brewery_code, now=now
        )
    request = Request(brewery_code=brewery_code, made_at=now, made_by=caller.name, **facts)
    accept_request(request, today=now.date())
    coded = replace(request, code=requests.next_code(session, brewery_code))
    requests.add(session, coded)
    return coded


def show_request(session: Session, code: str, *, caller: Caller) -> Request:
    """A request, for its brewery and the specialist.

    Raises:
        TokenNeeded, NotFound: as `request_to_see`.

    """
    return request_to_see(session, code, caller=caller)


def list_requests(
    session: Session,
    *,
    caller: Caller,
    state: str | None,
    after: int | None,
    limit: int,
    now: datetime,
) -> Sequence[tuple[Request, int]]:
    """The caller's own requests, newest first; the specialist sees everybody's, a grower none.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    if caller.role == "grower":
        return []
    return requests.search(
        session, brewery_code=caller.party_code, state=state, today=now.date(), after=after, limit=limit
    )


def revise_request(
    session: Session,
    code: str,
    *,
    caller: Caller,
    changes: Mapping[str, Any],
    now: datetime,
    unless_changed: Callable[[Request], None],
) -> Request:
    """Change a request; whether it is filled is told anew.

    Raises:
        TokenNeeded, NotFound: it is not the caller's; or the oil of a lot is wished for that its brewery does not see.
        PreconditionNeeded, PreconditionStale: from `unless_changed`.
        IllegalStep: it was withdrawn.
        InvalidRequest: something in it cannot be.

    """
    request = request_to_see(session, code, caller=caller, lock=True)
    unless_changed(request)
    decide_change(request)
    facts = _facts(session, dict(changes), before=request)
    if "oil_like" in changes:
        facts["oil_like"] = name_wish(
            session, changes["oil_like"], before=request.oil_like, brewery_code=request.brewery_code, now=now
        )
    changed = replace(request, **facts)
    accept_request(changed, today=now.date(), before=request)
    told_anew = settled(session, changed)
    requests.change(session, told_anew)
    return told_anew


def withdraw_request(
    session: Session, code: str, *, caller: Caller, unless_changed: Callable[[Request], None]
) -> None:
    """Take a request back; what is promised for it stands.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.
        PreconditionNeeded, PreconditionStale: from `unless_changed`.
        IllegalStep: it was withdrawn before.

    """
    request = request_to_see(session, code, caller=caller, lock=True)
    unless_changed(request)
    decide_change(request)
    requests.change(session, replace(request, state="withdrawn"))


def _facts(session: Session, given: dict[str, Any], *, before: Request | None = None) -> dict[str, Any]:
    """Turn what was asked into the parts of a request; weights are merged with those before, null removes one."""
    made = {name: tuple(value) if name in LISTS else value for name, value in given.items()}
    if "weights" in given:
        kept = {**(before.weights if before else {}), **given["weights"]}
        made["weights"] = {name: weight for name, weight in kept.items() if weight is not None}
    if "deliveries" in given:
        made["deliveries"] = tuple(_delivery(told, place) for place, told in enumerate(given["deliveries"]))
    if given.get("cultivars"):
        made["cultivars"] = rename_cultivars(made["cultivars"], _named(session, given["cultivars"]))
    return made


def _named(session: Session, names: Sequence[str]) -> list[NamedCultivar]:
    regional, named = cultivars.search(session), []
    for place, name in enumerate(names):
        try:
            named.append(name_cultivar(name, regional))
        except InvalidRequest as refusal:
            fault = {"pointer": f"#/cultivars/{place}", "detail": refusal.detail}
            raise InvalidRequest(refusal.detail, errors=[fault]) from None
    return named


def _delivery(told: Mapping[str, Any], place: int) -> Delivery:
    parts = {name: value for name, value in told.items() if name != "bitterness"}
    target = told.get("bitterness")
    return Delivery(**parts, bitterness=None if target is None else _target(target, place))


def _target(told: Mapping[str, Any], place: int) -> BitternessTarget:
    parts = dict(told)
    plato, gravity_sg = parts.pop("gravity_plato", None), parts.pop("gravity_sg", None)
    if (plato is None) == (gravity_sg is None):
        text = "give the wort's gravity once, as gravity_sg or as gravity_plato"
        raise InvalidRequest(
            text, errors=[{"pointer": f"#/deliveries/{place}/bitterness/gravity_sg", "detail": text}]
        )
    return BitternessTarget(**parts, gravity_sg=gravity_sg or sg_from_plato(gravity_plato=plato))
