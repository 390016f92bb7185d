"""Who goes first when the crop is short: the rules, each with the proof that belongs to it."""

from collections.abc import Sequence

import numpy as np

from service.facts import Fact, replace
from service.market.goods.stock import to_the_gram
from service.market.matching.requests import FILLED_FROM_SHARE, FIRMNESS
from service.market.planning.first_come import take_in_turn
from service.market.planning.model import Model, narrowed, widened
from service.market.planning.solving import (
    FIRST_COME,
    Effort,
    Solution,
    bound_of,
    row_sums,
    solve,
)
from service.science.arrays import Flags, Numbers

RULE_WORDS = {
    "largest_value": "the plan of the largest value, whoever asked first",
    "firmness": "firm requests first, then intents, then interests; the parcels of those before stand",
    "arrival": "in order of arrival, each request takes what is best for it of what is left",
    "pro_rata": "every request gets the same share of its need as far as its lots reach; nobody gets more before"
    " others who could have it got as much",
}
# The share of the time that finding the shares of the crop may take.
SHARES_TIME = 0.4
# The more requests, the coarser the shares: 200 steps of half a percent for a few, 20 of five percent for thousands.
STEPS_MAX, STEPS_MIN, STEPS_IN_ALL = 200, 20, 40_000
# What a kilogram counts beside its score in a plan that must not be worse than first come, first served.
KILOGRAM_COUNTS = (0.1, 1.0)
UNDER_NO_RULE = "all requests, against any plan under no rule"


class Ruled(Fact, frozen=True, kw_only=True):
    """A plan under a rule: the masses, and each step's solution under the name of what it plans."""

    mass_kg: Numbers
    steps: tuple[tuple[str, Solution], ...]
    shares: Numbers | None = None


class Figures(Fact, frozen=True, kw_only=True):
    """A plan in three figures: requests met, kilograms of need covered, kilometres that a kilogram travels."""

    requests_met: int
    covered_kg: float
    km: float

    def is_worse_in_all(self, other: "Figures") -> bool:
        """Whether another plan meets more requests, covers more kilograms and travels less."""
        fewer = self.requests_met < other.requests_met and self.covered_kg < other.covered_kg
        return fewer and self.km > other.km


def figures_of(model: Model, mass_kg: Numbers, distance_km: Numbers) -> Figures:
    """A plan in three figures, as exact as they are shown; `distance_km` is that of each pair."""
    parcels_kg = model.parcels_kg(mass_kg)
    total_kg = float(parcels_kg.sum())
    return Figures(
        requests_met=int(is_met(model, mass_kg).sum()),
        covered_kg=round(float(model.covered_kg(mass_kg).sum()), 3),
        km=round(float(distance_km @ parcels_kg) / total_kg, 1) if total_kg > 0 else 0.0,
    )


def is_met(model: Model, mass_kg: Numbers) -> Flags:
    """Which requests get their whole need."""
    covered = model.covered_kg(mass_kg)
    met: Flags = (covered > 0) & (covered >= FILLED_FROM_SHARE * model.need_kg)
    return met


def plan_by_rule(
    model: Model,
    *,
    rule: str,
    firmness: Sequence[str],
    arrival: Sequence[int],
    distance_km: Numbers,
    effort: Effort,
) -> Ruled:
    """Plan by one of the rules; `arrival` is the order in which the requests came."""
    if rule == "firmness":
        return _by_firmness(model, firmness, arrival, effort)
    if rule == "arrival":
        mass_kg = take_in_turn(model, arrival)
        return Ruled(
            mass_kg=mass_kg, steps=((UNDER_NO_RULE, _against_any(model, mass_kg, effort, FIRST_COME)),)
        )
    if rule == "pro_rata":
        return _pro_rata(model, arrival, effort)
    return _of_largest_value(model, arrival, distance_km, effort)


def _of_largest_value(model: Model, arrival: Sequence[int], distance_km: Numbers, effort: Effort) -> Ruled:
    """The plan of the largest value that is not worse than first come in requests, kilograms and kilometres alike.

    Value counts kilograms by their score, so a plan of more value can be worse in all three figures. Then plans are
    made in which kilograms count more. First come, first served is the last resort.
    """
    first_come = take_in_turn(model, arrival)
    least = figures_of(model, first_come, distance_km)
    found = solve(model, effort, arrival=arrival)
    plans = [(found.mass_kg, found.method)]
    for counts in KILOGRAM_COUNTS:
        if not figures_of(model, plans[-1][0], distance_km).is_worse_in_all(least):
            break
        effort.log("the plan is worse than first come, first served in all figures; kilograms count more")
        heavier = replace(model, worth_per_kg=model.worth_per_kg + counts * model.covers)
        weighed = solve(heavier, effort, arrival=arrival)
        plans.append((weighed.mass_kg, f"{weighed.method}, kilograms counting more"))
    plans.append((first_come, FIRST_COME))
    held = [plan for plan in plans if not figures_of(model, plan[0], distance_km).is_worse_in_all(least)]
    mass_kg, method = max(held, key=lambda plan: model.worth(plan[0]))
    is_best = mass_kg is found.mass_kg
    reported = replace(
        found,
        mass_kg=mass_kg,
        worth=model.worth(mass_kg),
        method=method,
        is_optimal=found.is_optimal and is_best,
    )
    return Ruled(mass_kg=mass_kg, steps=(("all requests", reported),))


def _by_firmness(model: Model, firmness: Sequence[str], arrival: Sequence[int], effort: Effort) -> Ruled:
    mass_kg = model.nothing
    steps = []
    asked = [kind for kind in reversed(FIRMNESS) if kind in firmness]
    for place, kind in enumerate(asked):
        among = np.array([own == kind for own in firmness], dtype=np.bool_)
        left_kg = to_the_gram(model.stock_kg - model.taken_kg(mass_kg))
        part = narrowed(model, among=among, stock_kg=left_kg)
        until = effort.clock() + effort.left() / (len(asked) - place)
        found = solve(part, replace(effort, until=until), arrival=arrival)
        mass_kg = mass_kg + widened(model, part, found.mass_kg)
        steps.append((f"{kind} requests, of what those before left", found))
    steps.append((UNDER_NO_RULE, _against_any(model, mass_kg, effort, "the steps above together")))
    return Ruled(mass_kg=mass_kg, steps=tuple(steps))


def _pro_rata(model: Model, arrival: Sequence[int], effort: Effort) -> Ruled:
    effort.log("finding the share of its need that each request can have")
    shares = fair_shares(model, seconds=effort.left() * SHARES_TIME)
    name = "all requests, each up to its share"
    if shares is None:
        name = "all requests; the time did not suffice to find the shares"
    up_to = np.ones(model.requests) if shares is None else shares
    part = narrowed(model, need_kg=np.minimum(model.need_kg, to_the_gram(up_to * model.need_kg)))
    found = solve(part, effort, arrival=arrival)
    mass_kg = widened(model, part, found.mass_kg)
    against = _against_any(model, mass_kg, effort, "the step above")
    return Ruled(mass_kg=mass_kg, steps=((name, found), (UNDER_NO_RULE, against)), shares=up_to)


def _against_any(model: Model, mass_kg: Numbers, effort: Effort, method: str) -> Solution:
    """The plan beside what no plan exceeds, whatever the rule: the gap is what the rule costs, and more."""
    began = effort.clock()
    effort.log("comparing with any plan under no rule")
    bound, name = bound_of(model, seconds=effort.left())
    worth = model.worth(mass_kg)
    return Solution(
        mass_kg=mass_kg,
        worth=worth,
        bound=max(bound, worth),
        bound_name=name,
        is_optimal=False,
        is_cut=effort.left() <= 0,
        method=method,
        seconds=effort.clock() - began,
    )


def fair_shares(model: Model, *, seconds: float) -> Numbers | None:
    """The share of its need that each request can have, as even as the lots allow; None if the time did not suffice.

    Each need is cut into steps of the same share, and the first steps of all count more than the second ones, and so
    on: kilograms that two requests could have go to the one with the smaller share so far. Smallest parcels and
    packages are left out, and lots are counted in shares of what they can give.
    """
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import linprog  # noqa: PLC0415 -- slow import

    if model.pairs == 0:
        return np.zeros(model.requests)
    if seconds <= 0:
        return None
    lot_kg, steps = model.lot_kg, steps_for(model.requests)
    of_request = np.repeat(np.arange(model.requests), steps)
    rows = sparse.block_array(
        [
            [
                -row_sums(model.covers, model.request, model.requests),
                row_sums(np.ones(len(of_request)), of_request, model.requests),
            ],
            [row_sums(np.ones(model.pairs), model.lot, len(lot_kg)), None],
            [row_sums(1 / model.most_kg, model.request, model.requests), None],
        ],
        format="csr",
    )
    counted = np.minimum(model.lots_max, model.pairs).astype(float)
    counts_more = np.tile(np.arange(steps, 0, -1, dtype=float), model.requests)
    highest = np.concatenate([model.most_kg, np.repeat(model.need_kg / steps, steps)])
    found = linprog(
        np.concatenate([np.zeros(model.pairs), -counts_more]),
        A_ub=rows,
        b_ub=np.concatenate([np.zeros(model.requests), lot_kg, counted]),
        bounds=np.stack([np.zeros(len(highest)), highest], axis=1),
        method="highs-ipm",
        options={"time_limit": seconds},
    )
    if found.status != 0:
        return None
    given = np.bincount(of_request, found.x[model.pairs :], model.requests)
    need_kg = np.where(model.need_kg > 0, model.need_kg, np.inf)
    shares: Numbers = np.clip(given / need_kg, 0.0, 1.0)
    return shares


def steps_for(requests: int) -> int:
    """Into how many steps each need is cut.

    >>> steps_for(15), steps_for(2000)
    (200, 20)

    """
    return int(min(STEPS_MAX, max(STEPS_MIN, STEPS_IN_ALL // max(requests, 1))))
