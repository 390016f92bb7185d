"""Combinations: the lots that together meet a request at the lowest cost or with the best score, or why none do."""

from decimal import Decimal

from service.facts import Fact
from service.science.uncertainty import Estimate

AIMS = ("cheapest", "best_scored")


class CombinationOrder(Fact, frozen=True, kw_only=True):
    """What is asked: what to aim at, and what stands in place of the request's own."""

    aim: str = "cheapest"
    currency: str | None = None
    lots_max: int | None = None
    parcel_kg_min: Decimal | None = None
    seconds_max: float = 5.0


class CombinedParcel(Fact, frozen=True, kw_only=True):
    """A lot's part in a combination; `covers_percent` is its share of every delivery."""

    lot_code: str
    grower_code: str
    cultivar: str
    form: str
    mass_kg: Decimal
    covers_percent: float
    score: float
    alpha_percent_when_needed: Estimate | None
    alpha_method: str | None
    distance_km: int
    price_per_kg: Decimal | None
    currency: str | None
    amount: Decimal | None


class MixedLimit(Fact, frozen=True, kw_only=True):
    """A limit on the mix, and what the mix has; None where nothing in it counts for that."""

    limit: str
    wanted: float
    found: float | None


class CombinedFigures(Fact, frozen=True, kw_only=True):
    """The mix as a whole, by the mass of its parcels; None where a lot of it was not measured or priced.

    `alpha_percent_when_needed` is the point estimate on the last day needed.
    """

    mass_kg: Decimal
    lots: int
    alpha_kg: float | None
    alpha_percent_when_needed: float | None
    hop_storage_index_when_needed: float | None
    oil_ml_per_100g: float | None
    moisture_percent: float | None
    score: float
    distance_km_mean: float
    amounts: dict[str, Decimal]
    by_agreement_kg: Decimal
    per_kg_alpha: float | None


class Combination(Fact, frozen=True, kw_only=True):
    """The lots together, what they have, and each limit on the mix beside it."""

    parcels: tuple[CombinedParcel, ...]
    figures: CombinedFigures
    limits: tuple[MixedLimit, ...]


class LetGo(Fact, frozen=True, kw_only=True):
    """A limit that would have to give way: from what is wanted to what would do."""

    limit: str
    wanted: float
    would_do: float
    unit: str
    words: str


class WhyNone(Fact, frozen=True, kw_only=True):
    """Why no lots together meet the request.

    Each of `any_one` would do alone; where none does, `together` is a smallest set of limits that clash: let go
    together, they let a combination in. `words` says it for a person.
    """

    words: str
    any_one: tuple[LetGo, ...] = ()
    together: tuple[LetGo, ...] = ()


class CombinationProof(Fact, frozen=True, kw_only=True):
    """How near to the best: nothing undercuts `bound` in what counted; the gap is their difference over the value."""

    counted: str
    value: float
    bound: float
    gap_percent: float
    is_optimal: bool


class CombinationAnswer(Fact, frozen=True, kw_only=True):
    """A combination with its proof, or why there is none; `candidates` lots were looked at."""

    request_code: str
    aim: str
    candidates: int
    combination: Combination | None
    proof: CombinationProof | None
    why_none: WhyNone | None
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
