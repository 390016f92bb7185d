"""A region-wide allocation: what the specialist asks for, and the plan that comes back, told from every side."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal

from service.facts import Fact, field
from service.market.goods.lots import Package

RULES = ("largest_value", "firmness", "arrival", "pro_rata")


class AllocationOrder(Fact, frozen=True, kw_only=True):
    """What the specialist asks for; `rule` says who goes first when the crop is short."""

    rule: str = "largest_value"
    seconds_max: float = 60.0
    lots_max: int | None = None
    parcel_kg_min: Decimal | None = None
    note: str | None = None


class Parcel(Fact, frozen=True, kw_only=True):
    """A part of a lot that the plan gives to a request.

    `covers_kg` is how much of the need it covers: the mass itself, or for a need of alpha acids the mass this is
    worth among the lots that could serve it. `value` is the score times what is covered.
    """

    request_code: str
    brewery_code: str
    lot_code: str
    grower_code: str
    cultivar: str
    form: str
    mass_kg: Decimal
    covers_kg: Decimal
    score: float
    value: float
    distance_km: int
    price_per_kg: Decimal | None = None
    currency: str | None = None
    # Empty where the lot is sold in any mass, and in plans that were kept before packages were.
    packages: tuple[Package, ...] = ()
    # What its request wanted when the plan was made.
    wish_key: str = ""


class RequestInPlan(Fact, frozen=True, kw_only=True):
    """What a request gets, and what it lacks.

    `wanted_kg` is what was still open when the plan was made, after what is promised already.
    """

    request_code: str
    brewery_code: str
    brewery_name: str
    firmness: str
    needed_on: date
    wanted_kg: Decimal
    by_alpha: bool
    served_kg: Decimal
    parcels: tuple[Parcel, ...]
    lacks: tuple[str, ...] = ()

    @property
    def lacks_kg(self) -> Decimal:
        """How much of the need stays open."""
        return max(Decimal(0), self.wanted_kg - self.served_kg)


class LotInPlan(Fact, frozen=True, kw_only=True):
    """What is taken from a lot, and by whom."""

    lot_code: str
    grower_code: str
    grower_name: str
    cultivar: str
    form: str
    free_kg: Decimal
    parcels: tuple[Parcel, ...]

    @property
    def taken_kg(self) -> Decimal:
        """What the plan takes of it."""
        return sum((parcel.mass_kg for parcel in self.parcels), Decimal(0))

    @property
    def left_kg(self) -> Decimal:
        """What stays free."""
        return self.free_kg - self.taken_kg


class GrowerInPlan(Fact, frozen=True, kw_only=True):
    """One grower's part of a plan: its lots, and who takes what from each."""

    grower_code: str
    grower_name: str
    lots: tuple[LotInPlan, ...]

    @property
    def taken_kg(self) -> Decimal:
        """What the plan takes of all its lots."""
        return sum((lot.taken_kg for lot in self.lots), Decimal(0))


class Tally(Fact, frozen=True, kw_only=True):
    """A plan in a few figures; a request is served when it gets something, filled when it gets its whole need.

    `mass_kg` is what the growers give, `covered_kg` how much of the needs that covers. A plan that was kept before
    needs were added up has no `wanted_kg`, `covered_kg` and `requests`.
    """

    value: float
    mass_kg: Decimal
    wanted_kg: Decimal | None = None
    covered_kg: Decimal | None = None
    requests: int | None = None
    requests_served: int
    requests_filled: int
    parcels: int
    distance_km_mean: float | None


class Proof(Fact, frozen=True, kw_only=True):
    """How near to the best a plan is, or a step `of` it: nothing has more than `bound`.

    The gap is (bound - value) / bound. `is_cut` says that the time ended the work.
    """

    of: str = "all requests"
    value: float
    bound: float
    bound_name: str
    gap_percent: float
    is_optimal: bool
    method: str
    seconds: float
    is_cut: bool = False


class AllocationPlan(Fact, frozen=True, kw_only=True):
    """Which lots for which requests, with the proof, and first come, first served beside it."""

    rule: str
    planned_on: date
    requests: tuple[RequestInPlan, ...]
    lots: tuple[LotInPlan, ...]
    tally: Tally
    first_come: Tally
    proofs: tuple[Proof, ...]
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def proof(self) -> Proof:
        """The proof of the whole plan; the last step's where a rule plans in steps."""
        return self.proofs[-1]

    @property
    def summary(self) -> tuple[str, ...]:
        """The plan beside first come, first served, in requests, kilograms and kilometres."""
        return tuple(_in_words(self.tally, self.first_come))

    def by_grower(self) -> Iterator[GrowerInPlan]:
        """The plan grower by grower, as far as anything is taken, in the order of their codes."""
        taken: dict[tuple[str, str], list[LotInPlan]] = {}
        for lot in self.lots:
            if lot.parcels:
                taken.setdefault((lot.grower_code, lot.grower_name), []).append(lot)
        for (code, name), lots in sorted(taken.items()):
            yield GrowerInPlan(grower_code=code, grower_name=name, lots=tuple(lots))


def _in_words(plan: Tally, before: Tally) -> Iterator[str]:
    beside = "first come, first served"
    of_all = "" if plan.requests is None else f" of {plan.requests}"
    yield (
        f"{plan.requests_filled}{of_all} requests get their whole need and"
        f" {plan.requests_served - plan.requests_filled} a part of it; {beside}:"
        f" {before.requests_filled} and {before.requests_served - before.requests_filled}"
    )
    if plan.covered_kg is not None:
        yield (
            f"{plan.covered_kg:.1f} kg of the {plan.wanted_kg:.1f} kg wanted are covered; {beside}:"
            f" {before.covered_kg:.1f} kg"
        )
        if plan.covered_kg > 0:
            score = plan.value / float(plan.covered_kg)
            yield (
                f"the value {plan.value:.1f} is these kilograms times their scores, which are {score:.2f} on average;"
                f" {beside}: {before.value:.1f}"
            )
    if plan.distance_km_mean is not None:
        km = "no kilogram" if before.distance_km_mean is None else f"{before.distance_km_mean:.0f} km"
        yield f"a kilogram travels {plan.distance_km_mean:.0f} km on average; {beside}: {km}"


class ListedAllocation(Fact, frozen=True, kw_only=True):
    """What the specialist asked for, and who accepted the plan, without the plan itself."""

    code: str = ""
    order: AllocationOrder = field(default_factory=AllocationOrder)
    asked_at: datetime
    asked_by: str
    accepted_at: datetime | None = None
    accepted_by: str | None = None


class Allocation(ListedAllocation, frozen=True, kw_only=True):
    """An allocation with its plan."""

    plan: AllocationPlan
