"""Which lots together meet a request."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.facts import replace
from service.market.goods.cultivars import keys_for_search
from service.market.matching.brewery_storage import figures_on
from service.market.matching.combination_infeasibility import why_none
from service.market.matching.combination_report import codes_of, tell_combination
from service.market.matching.combinations import CombinationAnswer, CombinationOrder
from service.market.matching.combining import combine, kept_out, without_limits_of_the_mix
from service.market.matching.search_figures import alpha_on
from service.market.people.access import Caller
from service.records.goods import cultivars, lots
from service.records.matching import matching
from service.records.people import parties
from service.records.session import Session
from service.usecases.matching.matching import unknown_names
from service.usecases.matching.oil_wishes import compared_with_wish
from service.usecases.matching.request_access import request_to_see


def combine_for_request(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> CombinationAnswer:
    """The cheapest or best scored lots that together meet a request, or the limits that clash.

    Raises:
        TokenNeeded, NotFound: the request is not the caller's.
        InvalidRequest: prices in several currencies cannot be added up, and none is named.

    """
    request = request_to_see(session, code, caller=caller)
    order = CombinationOrder(**asked)
    near = parties.get(session, "brewery", request.brewery_code).unit_vector
    regional = cultivars.search(session)
    keys = tuple(key for name in request.cultivars for key in keys_for_search(name, regional))
    today = now.date()
    found = matching.candidates(
        session, without_limits_of_the_mix(request), cultivar_keys=keys, near=near, today=today, now=now
    )
    found = compared_with_wish(session, request, found, regional=regional, now=now)
    combined = combine(request, found, order, cultivar_keys=keys, today=today)
    codes = codes_of(combined)
    why = None
    if not codes:
        near_misses = matching.near_candidates(
            session, without_limits_of_the_mix(request), cultivar_keys=keys, near=near, today=today, now=now
        ).lots
        others = kept_out(request, near_misses, cultivar_keys=keys, today=today)
        why = why_none(request, combined, seconds=order.seconds_max, others=others)
    alphas = {}
    for lot_code in codes:
        lot = lots.get(session, lot_code, now=now)
        on = combined.ranking.needs.last_on
        figures = figures_on(lot, request, on, today=today)
        alphas[lot_code] = alpha_on(figures, on), figures.alpha_method
    told = tell_combination(request, order, combined, alphas=alphas, why=why)
    return replace(told, cautions=(*unknown_names(request, regional), *told.cautions))
