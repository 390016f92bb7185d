"""Who goes first when the crop is short: the rules, each with the proof that belongs to it."""

from collections.abc import Sequence

import numpy as np

from service.facts import Fact, replace
from service.market.goods.stock import to_the_gram
from service.market.matching.requests import FIRMNESS
from service.market.planning.allocation_bounds import better_prices, first_flow, flow_bound
from service.market.planning.allocation_flow import NO_HURRY
from service.market.planning.allocation_model import Model, grid_of, make_model, without_sizes
from service.market.planning.allocation_shares import fair_shares
from service.market.planning.allocation_solving import Effort, Solution, solve
from service.market.planning.allocation_start import take_in_turn
from service.science.arrays import Flags, Numbers

RULE_WORDS = {
    "largest_value": "the plan of the largest value, whoever asked first",
    "firmness": "firm requests first, then intents, then interests; the parcels of those before stand",
    "arrival": "in order of arrival, each request takes what is best for it of what is left",
    "pro_rata": "every request gets the same share of its need as far as its lots reach; nobody gets more before"
    " others who could have it got as much",
}
SHARES_TIME = 0.4
# What the comparison with any plan may take beyond the time there was.
AFTERWARDS_S = 20.0
WHATEVER_RULE = "all requests, against any plan under no rule"
IN_TURN = "each request in order of arrival takes what is best for it"


class Ruled(Fact, frozen=True, kw_only=True):
    """A plan under a rule: the masses, and each step's solution under the name of what it plans."""

    mass_kg: Numbers
    steps: tuple[tuple[str, Solution], ...]
    shares: Numbers | None = None


def plan_by_rule(
    model: Model, *, rule: str, firmness: Sequence[str], arrival: Sequence[int], effort: Effort
) -> Ruled:
    """Plan by one of the rules; `arrival` is the order in which the requests came."""
    if rule == "firmness":
        return _by_firmness(model, firmness, arrival, effort)
    if rule == "arrival":
        mass = take_in_turn(model, arrival)
        return Ruled(mass_kg=mass, steps=((WHATEVER_RULE, _against_any(model, mass, effort, IN_TURN)),))
    if rule == "pro_rata":
        return _pro_rata(model, arrival, effort)
    found = solve(model, effort, arrival=arrival)
    return Ruled(mass_kg=found.mass_kg, steps=(("all requests", found),))


def _by_firmness(model: Model, firmness: Sequence[str], arrival: Sequence[int], effort: Effort) -> Ruled:
    mass: Numbers = np.zeros(model.pairs)
    steps = []
    asked = [kind for kind in reversed(FIRMNESS) if kind in firmness]
    for place, kind in enumerate(asked):
        among = np.array([own == kind for own in firmness], dtype=np.bool_)
        left_kg = to_the_gram(model.stock_kg - model.taken_kg(mass))
        part = narrowed(model, among=among, stock_kg=left_kg)
        until = effort.clock() + effort.left() / (len(asked) - place)
        found = solve(part, replace(effort, until=until), arrival=arrival)
        mass[part.origin] += found.mass_kg
        steps.append((f"{kind} requests, of what those before left", found))
    steps.append((WHATEVER_RULE, _against_any(model, mass, effort, "the steps above together")))
    return Ruled(mass_kg=mass, steps=tuple(steps))


def _pro_rata(model: Model, arrival: Sequence[int], effort: Effort) -> Ruled:
    effort.tell("finding the shares")
    hurry = NO_HURRY if effort.rounds is not None else max(0.1, effort.left() * SHARES_TIME)
    told = fair_shares(without_sizes(model), seconds=hurry)
    shares = np.ones(len(model.need_kg)) if told is None else told
    name = "all requests, each up to its share"
    if told is None:
        name = "all requests; the shares could not be told in the time there was"
    part = narrowed(model, need_kg=np.minimum(model.need_kg, to_the_gram(shares * model.need_kg)))
    found = solve(part, effort, arrival=arrival)
    mass: Numbers = np.zeros(model.pairs)
    mass[part.origin] = found.mass_kg
    steps = (
        (name, found),
        (WHATEVER_RULE, _against_any(model, mass, effort, "the step above")),
    )
    return Ruled(mass_kg=mass, steps=steps, shares=shares)


def narrowed(
    model: Model,
    *,
    among: Flags | None = None,
    need_kg: Numbers | None = None,
    stock_kg: Numbers | None = None,
) -> Model:
    """The same with some requests only, smaller needs or less stock; `origin` is the place in this model."""
    lots_max = model.lots_max if among is None else np.where(among, model.lots_max, 0)
    return make_model(
        need_kg=model.need_kg if need_kg is None else need_kg,
        lots_max=lots_max,
        stock_kg=model.stock_kg if stock_kg is None else stock_kg,
        step_kg=model.step_kg,
        request=model.request,
        lot=model.lot,
        worth_per_kg=model.worth_per_kg,
        covers=model.covers,
        least_kg=model.least_kg,
        whole=model.whole,
    )


def _against_any(model: Model, mass_kg: Numbers, effort: Effort, method: str) -> Solution:
    """The plan beside what no plan exceeds, whatever the rule: what the rule costs is in this gap."""
    began = effort.clock()
    loose = without_sizes(model)
    grid = grid_of(loose)
    hurry = NO_HURRY if effort.rounds is not None else AFTERWARDS_S
    begin = flow_bound(loose, grid, first_flow(loose, seconds=hurry))
    bound = better_prices(loose, grid, begin, rounds=effort.price_rounds // 10)
    worth = model.worth(mass_kg)
    return Solution(
        mass_kg=mass_kg,
        worth=worth,
        bound=max(bound.worth, worth),
        bound_name=bound.name,
        is_optimal=False,
        method=method,
        rounds=0,
        seconds=effort.clock() - began,
    )
