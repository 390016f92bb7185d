"""Who goes first when the crop is short: the rules, each with the proof that belongs to it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.market.allocation_bounds import better_prices, flow_bound
from service.market.allocation_model import Model, grid_of, make_model, to_the_gram
from service.market.allocation_solving import Effort, Solution, solve
from service.market.allocation_start import take_in_turn
from service.market.requests import FIRMNESS
from service.science.arrays import Flags, Numbers, np

RULE_WORDS = {
    "largest_value": "the plan of the largest value, whoever asked first",
    "firmness": "firm requests first, then intents, then interests; the parcels of those before stand",
    "arrival": "in order of arrival, each request takes what is best for it of what is left",
    "pro_rata": "every request gets the same share of its need as far as its lots reach; nobody gets more before"
    " others who could have it got as much",
}
# So many levels of shares are told apart; those above share one more level.
LEVELS = 12
SHARES_TIME = 0.4
WHATEVER_RULE = "all requests, against any plan under no rule"
IN_TURN = "each request in order of arrival takes what is best for it"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruled:
    """A plan under a rule: the masses, and each step's solution under the name of what it plans."""

    mass_kg: Numbers
    steps: tuple[tuple[str, Solution], ...]
    shares: Numbers | None = None


def plan_by_rule(
    model: Model, *, rule: str, firmness: Sequence[str], arrival: Sequence[int], effort: Effort
) -> Ruled:
    """Plan by one of the rules; `arrival` is the order in which the requests came."""
    if rule == "firmness":
        return _by_firmness(model, firmness, effort)
    if rule == "arrival":
        mass = take_in_turn(model, arrival)
        return Ruled(mass_kg=mass, steps=((WHATEVER_RULE, _against_any(model, mass, effort, IN_TURN)),))
    if rule == "pro_rata":
        return _pro_rata(model, effort)
    found = solve(model, effort)
    return Ruled(mass_kg=found.mass_kg, steps=(("all requests", found),))


def _by_firmness(model: Model, firmness: Sequence[str], effort: Effort) -> Ruled:
    mass: Numbers = np.zeros(model.pairs)
    steps = []
    asked = [kind for kind in reversed(FIRMNESS) if kind in firmness]
    for place, kind in enumerate(asked):
        among = np.array([own == kind for own in firmness], dtype=np.bool_)
        left_kg = to_the_gram(model.stock_kg - model.taken_kg(mass))
        part = narrowed(model, among=among, stock_kg=left_kg)
        until = effort.clock() + effort.left() / (len(asked) - place)
        found = solve(part, replace(effort, until=until))
        mass[part.origin] += found.mass_kg
        steps.append((f"{kind} requests, of what those before left", found))
    steps.append((WHATEVER_RULE, _against_any(model, mass, effort, "the steps above together")))
    return Ruled(mass_kg=mass, steps=tuple(steps))


def _pro_rata(model: Model, effort: Effort) -> Ruled:
    effort.tell("finding the shares")
    shares = fair_shares(model, effort)
    part = narrowed(model, need_kg=np.minimum(model.need_kg, to_the_gram(shares * model.need_kg)))
    found = solve(part, effort)
    mass: Numbers = np.zeros(model.pairs)
    mass[part.origin] = found.mass_kg
    steps = (
        ("all requests, each up to its share", found),
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
    )


def _against_any(model: Model, mass_kg: Numbers, effort: Effort, method: str) -> Solution:
    """The plan beside what no plan exceeds, whatever the rule: what the rule costs is in this gap."""
    began = effort.clock()
    grid = grid_of(model)
    bound = better_prices(model, grid, flow_bound(model, grid), rounds=effort.price_rounds // 10)
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


def fair_shares(model: Model, effort: Effort) -> Numbers:
    """The share of its need that each request gets at most: as even as the lots allow.

    Level by level (max-min fairness): raise everybody's share until some requests' lots are used up; these keep that
    share, the others go on. Smallest parcels and the number of lots are left out of it. A request without a pair
    has the share 0.
    """
    requests = len(model.need_kg)
    shares: Numbers = np.zeros(requests)
    rising = np.bincount(model.request, minlength=requests) > 0
    end = effort.clock() + effort.left() * SHARES_TIME
    for level in range(LEVELS):
        if not rising.any() or (effort.rounds is None and level > 0 and effort.clock() > end):
            break
        share, holds_back = _raised(model, shares, rising)
        shares[rising] = share
        rising = rising & ~holds_back & (share < 1 - 1e-9)
    if rising.any():
        shares = np.maximum(shares, _filled_up(model, shares))
    return np.minimum(shares, 1.0)


def _raised(model: Model, shares: Numbers, rising: Flags) -> tuple[float, Flags]:
    """The highest share that all rising requests can have together, and who holds the others back."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import linprog  # noqa: PLC0415 -- slow import

    covered, taken = _flow_rows(model)

    # What is covered is at least the share: -covered + share * need <= 0, or -covered <= -kept.
    by_share = sparse.csr_array(np.where(rising, model.need_kg, 0.0)[:, None])
    nothing = sparse.csr_array((len(model.stock_kg), 1))
    rows = sparse.block_array([[-covered, by_share], [taken, nothing]], format="csr")
    kept = np.where(rising, 0.0, -(shares * model.need_kg) * (1 - 1e-9))
    found = linprog(
        np.append(np.zeros(model.pairs), -1.0),
        A_ub=rows,
        b_ub=np.concatenate([kept, model.stock_kg]),
        bounds=[*((0, None) for _ in range(model.pairs)), (0, 1)],
        method="highs",
    )
    if found.x is None:
        return 0.0, rising
    price = -found.ineqlin.marginals[: len(model.need_kg)]
    held = rising & (price * model.need_kg > 1e-9)
    return float(found.x[-1]), held if held.any() else rising


def _filled_up(model: Model, shares: Numbers) -> Numbers:
    """What the others could have beyond the last level, at most."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import linprog  # noqa: PLC0415 -- slow import

    covered, taken = _flow_rows(model)

    found = linprog(
        -model.covers,
        A_ub=sparse.vstack([-covered, covered, taken]).tocsr(),
        b_ub=np.concatenate([-(shares * model.need_kg) * (1 - 1e-9), model.need_kg, model.stock_kg]),
        method="highs",
    )
    if found.x is None:
        return shares
    reached: Numbers = np.asarray(covered @ found.x) / np.where(model.need_kg > 0, model.need_kg, 1.0)
    return reached


def _flow_rows(model: Model) -> tuple[Any, Any]:
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import

    across = np.arange(model.pairs)
    covered = sparse.csr_array(
        (model.covers, (model.request, across)), shape=(len(model.need_kg), model.pairs)
    )
    taken = sparse.csr_array(
        (np.ones(model.pairs), (model.lot, across)), shape=(len(model.stock_kg), model.pairs)
    )
    return covered, taken
