"""Which listed lots meet a request, and which nearly do."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from service.facts import Fact
from service.market.goods.cultivars import RegionalCultivar, codes_of_name, keys_for_search
from service.market.matching.brewery_storage import figures_on, keeping_words, kept_plan
from service.market.matching.matching import (
    Match,
    NearMiss,
    Ranking,
    describe_match,
    join_near_misses,
    near_misses_in,
    near_misses_of,
    page_of_places,
    rank_lots,
)
from service.market.matching.offers import OfferFacts
from service.market.matching.oil_similarity import wish_assumptions
from service.market.matching.requests import Request
from service.market.matching.search import SearchFigures
from service.market.people.access import Caller
from service.records.goods import cultivars
from service.records.goods import lots as lots_in_books
from service.records.matching import matching, matching_growers
from service.records.people import parties
from service.records.session import Session
from service.reference.assumptions import get_assumption
from service.usecases.matching.oil_wishes import compared_with_wish
from service.usecases.matching.request_access import request_to_see

Position = tuple[float, str]


class MatchPage(Fact, frozen=True, kw_only=True):
    """A page of matches; near misses stand on the first page."""

    matches: Sequence[Match]
    position: Position | None
    near_misses: Sequence[NearMiss]
    weights: dict[str, float]
    assumptions: Sequence[str]
    cautions: Sequence[str]


def match_request(
    session: Session, code: str, *, caller: Caller, now: datetime, after: Position | None, limit: int
) -> MatchPage:
    """Rank the listed lots for a request.

    Raises:
        TokenNeeded, NotFound: the request is not the caller's.

    """
    request = request_to_see(session, code, caller=caller)
    near = parties.get(session, "brewery", request.brewery_code).unit_vector
    regional = cultivars.search(session)
    keys = tuple(key for name in request.cultivars for key in keys_for_search(name, regional))
    today = now.date()
    growers = matching_growers.growers_around(session, near)
    lots = matching.candidates(
        session, request, cultivar_keys=keys, near=near, today=today, now=now, growers=growers, lean=True
    )
    lots = compared_with_wish(session, request, lots, regional=regional, now=now)
    ranking = rank_lots(request, lots, cultivar_keys=keys, today=today)
    misses: list[NearMiss] = []
    near_growers = None
    if after is None:
        others = matching.near_candidates(
            session, request, cultivar_keys=keys, near=near, today=today, now=now, growers=growers
        )
        near_growers = others.growers
        misses = join_near_misses(
            near_misses_in(ranking),
            near_misses_of(request, others.lots, cultivar_keys=keys, today=today),
        )
    places = page_of_places(ranking, after=after, limit=limit + 1)
    shown = places[:limit]
    reports = matching.reports_of(session, [lots.code[place] for place in shown])
    full = matching.in_full(session, lots, shown, now=now)
    when_needed = _when_needed(session, ranking, [lots.code[place] for place in shown], now=now)
    matches = [
        describe_match(
            ranking,
            place,
            lot=full[code],
            reports=reports[code],
            when_needed=when_needed.get(code),
        )
        for place in shown
        if (code := lots.code[place])
    ]
    return MatchPage(
        matches=matches,
        position=ranking.position(shown[-1]) if len(places) > limit else None,
        near_misses=misses,
        weights=dict(ranking.scores.weights),
        assumptions=_assumptions(request, today=today),
        cautions=[*unknown_names(request, regional), *_cautions(ranking, matches, near_growers)],
    )


def _when_needed(
    session: Session, ranking: Ranking, codes: Sequence[str], *, now: datetime
) -> dict[str, tuple[SearchFigures, SearchFigures]]:
    """The figures of lots for the first and the last day needed, where a brewery will keep them in its own store."""
    request, needs, today = ranking.request, ranking.needs, now.date()
    if kept_plan(request, today=today) is None:
        return {}
    return {
        code: (
            figures_on(lot, request, needs.first_on, today=today),
            figures_on(lot, request, needs.last_on, today=today),
        )
        for code, lot in lots_in_books.get_many(session, codes, now=now).items()
    }


def unknown_names(request: Request, regional: Sequence[RegionalCultivar]) -> Iterator[str]:
    """Wanted cultivars whose name nobody knows, with those that are near."""
    for name in request.cultivars:
        codes, said = codes_of_name(name, regional)
        if not codes:
            yield from said


def _assumptions(request: Request, *, today: date) -> list[str]:
    said = [
        "weights and scales of the score are house figures (assumption, no source); a request may set its own"
        " weights, and a part that nobody can tell counts as 0.5",
        "the chance takes the figures as lognormal; alpha and the Hop Storage Index share the doubt about storage,"
        " and all other errors are independent of each other",
        "distances are great-circle distances, not roads",
        "parcels and costs are for the whole of what is due from today on, whatever is promised for it already",
        *keeping_words(request, today=today),
    ]
    if request.oil_like is not None:
        said += wish_assumptions(published=request.oil_like.lot_code is None)
    if any(d.bitterness is not None for d in request.deliveries):
        spread = get_assumption("tinseth_model_spread_ratio")
        said.append(f"alpha for a bitterness by Tinseth's utilization; {spread.words} ({spread.mark})")
    return said


def _cautions(ranking: Ranking, shown: Sequence[Match], near_growers: int | None) -> list[str]:
    said = []
    if any(match.form == "wet_hop" for match in shown):
        said.append(
            "wet hops are used within a day or two of picking: no storage is estimated for them on any later day"
        )
    if len(ranking.lots) >= matching.CANDIDATES_MAX:
        said.append(f"only the nearest {matching.CANDIDATES_MAX} lots were compared; narrow the request")
    if near_growers is not None:
        said.append(f"near misses were sought among the lots of the {near_growers} nearest growers only")
    methods = sorted({match.alpha_method for match in shown if match.alpha_method})
    if len(methods) > 1:
        said.append(f"alpha was measured by {', '.join(methods)}, which are not one scale")
    return said


def offer_for_request(
    session: Session, code: str, *, caller: Caller, now: datetime, limit: int, address: str
) -> OfferFacts:
    """The best matches of a request side by side, as a page to hold.

    Raises:
        TokenNeeded, NotFound: the request is not the caller's.

    """
    page = match_request(session, code, caller=caller, now=now, after=None, limit=limit)
    request = request_to_see(session, code, caller=caller)
    return OfferFacts(
        request=request,
        brewery=parties.get(session, "brewery", request.brewery_code),
        matches=page.matches,
        has_more=page.position is not None,
        near_misses=page.near_misses,
        assumptions=page.assumptions,
        cautions=page.cautions,
        printed_on=now.date(),
        public_url=address,
    )
