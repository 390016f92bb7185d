"""The cultivars, shipped and regional: list them, show them, welcome one, revise what the region told."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

from service.facts import replace
from service.market.goods.cultivar_checks import accept_cultivar, accept_statuses, decide_shipped_change
from service.market.goods.cultivar_views import (
    CultivarView,
    Position,
    position_of,
    shipped_in_order,
    view_cultivar,
)
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar, codes_of_name
from service.market.people.access import Caller, require_specialist
from service.records.goods import cultivars
from service.records.session import Session
from service.reference.cultivars import Cultivar, by_code

LISTS = {"synonyms", "figures"}
TEXTS = {"denomination", "source"}


def list_cultivars(
    session: Session, *, name: str | None, after: Position | None, limit: int
) -> tuple[Sequence[CultivarView], tuple[str, ...]]:
    """Shipped and regional cultivars together, by denomination; a name keeps to those it may mean.

    Gives them with what a reader of that name should know.
    """
    regional = cultivars.search(session)
    codes, cautions = (None, ()) if name is None else codes_of_name(name, regional)
    # A code that came to be shipped later stands for the shipped cultivar.
    both: list[tuple[Position, Cultivar | RegionalCultivar]] = list(shipped_in_order())
    both += ((position_of(added), added) for added in regional if by_code(added.code) is None)
    wanted = (one for one in both if codes is None or one[1].code in codes)
    left = sorted((one for one in wanted if after is None or one[0] > after), key=lambda one: one[0])
    page = [cultivar for _, cultivar in left[:limit]]
    statuses = cultivars.search_all_statuses(session, [one.code for one in page])
    return [view_cultivar(one, statuses=statuses[one.code]) for one in page], cautions


def show_cultivar(session: Session, code: str) -> CultivarView:
    """One cultivar, shipped or regional.

    Raises:
        NotFound: there is none of that code.

    """
    known = by_code(code) or cultivars.get(session, code)
    return view_cultivar(known, statuses=cultivars.search_statuses(session, code))


def welcome_cultivar(
    session: Session, *, caller: Caller, asked: Mapping[str, Any], today: date
) -> CultivarView:
    """Take a cultivar that the service does not ship into the region's books.

    Raises:
        TokenNeeded, NotAllowed: only the specialist does that.
        InvalidRequest: something in it cannot be.
        AlreadyExists: one of its names is known.

    """
    require_specialist(caller)
    regional = cultivars.search(session, lock=True)
    facts, told = _facts(asked)
    statuses = _statuses("", told or ())
    cultivar = accept_cultivar(
        RegionalCultivar(code="", **facts), regional=regional, statuses=statuses, today=today
    )
    cultivars.add(session, cultivar)
    cultivars.change_statuses(session, cultivar.code, statuses)
    return show_cultivar(session, cultivar.code)


def revise_cultivar(
    session: Session,
    code: str,
    *,
    caller: Caller,
    changes: Mapping[str, Any],
    today: date,
    unless_changed: Callable[[CultivarView], None],
) -> CultivarView:
    """Change what the region told of a cultivar; of a shipped one that is its availability by country.

    Raises:
        TokenNeeded, NotAllowed: only the specialist does that, and nobody changes what is published.
        NotFound: there is no such cultivar.
        PreconditionNeeded, PreconditionStale: from `unless_changed`.
        InvalidRequest: something in it cannot be.
        AlreadyExists: a new name is known.

    """
    require_specialist(caller)
    regional = cultivars.search(session, lock=True)
    unless_changed(show_cultivar(session, code))
    facts, told = _facts(changes)
    statuses = _statuses(code, told or ())
    if by_code(code) is not None:
        decide_shipped_change(code, changes)
        accept_statuses(statuses, today=today)
    else:
        _revise_regional(session, code, facts, regional=regional, statuses=statuses, today=today)
    if told is not None:
        cultivars.change_statuses(session, code, statuses)
    return show_cultivar(session, code)


def _revise_regional(
    session: Session,
    code: str,
    facts: Mapping[str, Any],
    *,
    regional: Sequence[RegionalCultivar],
    statuses: Sequence[CultivarStatus],
    today: date,
) -> None:
    before = next(added for added in regional if added.code == code)
    changed = accept_cultivar(replace(before, **facts), regional=regional, statuses=statuses, today=today)
    cultivars.change(session, changed)


def _facts(asked: Mapping[str, Any]) -> tuple[dict[str, Any], Sequence[Mapping[str, Any]] | None]:
    """The parts of a cultivar, and apart from them what is told of its availability; None where nothing is."""
    facts: dict[str, Any] = dict(asked)
    for name in LISTS & set(facts):
        facts[name] = tuple(facts[name] or ())
    for name in TEXTS & set(facts):
        facts[name] = facts[name].strip()
    if "synonyms" in facts:
        facts["synonyms"] = tuple(name.strip() for name in facts["synonyms"])
    if "availability" not in facts:
        return facts, None
    return facts, facts.pop("availability") or ()


def _statuses(code: str, told: Sequence[Mapping[str, Any]]) -> tuple[CultivarStatus, ...]:
    return tuple(CultivarStatus(cultivar_code=code, **finding) for finding in told)
