"""What a brewery wants: a request, and when it may exist."""

import hashlib
from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal

from service.errors import IllegalStep, InvalidRequest
from service.facts import Fact, field, field_names
from service.market.brewing.bitterness_targets import BitternessTarget, target_faults
from service.market.goods.cultivars import NamedCultivar
from service.market.goods.provenance import wanted_provenance_faults
from service.market.matching.weights import chosen_weights
from service.reference.assumptions import get_assumption

FIRMNESS = ("interest", "intent", "firm")
REQUEST_STATES = ("open", "filled", "withdrawn")
SHOWN_REQUEST_STATES = (*REQUEST_STATES, "lapsed")
PARTS = ("freshness", "oil", "price", "distance", "evidence", "cultivar", "role", "profile")
DELIVERIES_MAX = 24
# A brewery has no oxygen measured in packages that it opened itself.
# Nobody plans hops further ahead; house rule, assumption, no source.
AHEAD_MAX = timedelta(days=3653)
# Bales weigh a little more or less than was agreed: a request counts as filled from here on. House figure;
# assumption, no source.
FILLED_FROM_SHARE = 0.98


# What may change of a request while it wants the same.
NOT_WANTED = ("code", "brewery_code", "state", "standing", "note", "made_at", "made_by")


class Delivery(Fact, frozen=True, kw_only=True):
    """How much is needed on a day: a mass, or an alpha mass, or a bitterness."""

    needed_on: date
    mass_kg: Decimal | None = None
    alpha_kg: Decimal | None = None
    bitterness: BitternessTarget | None = None

    @property
    def alpha_kg_needed(self) -> float | None:
        """The alpha acids this delivery must bring; None where a mass is wanted."""
        if self.bitterness is not None:
            return self.bitterness.alpha_kg
        return None if self.alpha_kg is None else float(self.alpha_kg)


class OilLike(Fact, frozen=True, kw_only=True):
    """Whose oil profile is wished for: a cultivar's as published, or a lot's as measured."""

    cultivar: str | None = None
    lot_code: str | None = None


class Request(Fact, frozen=True, kw_only=True):
    """What a brewery wants, when, within which limits, and how much each wish weighs."""

    code: str = ""
    brewery_code: str = ""
    state: str = "open"
    role: str
    role_strict: bool = False
    firmness: str = "intent"
    cultivars: tuple[str, ...] = ()
    accept_others: bool = True
    forms: tuple[str, ...] = ()
    packings: tuple[str, ...] = ()
    certifications: tuple[str, ...] = ()
    origins: tuple[str, ...] = ()
    deliveries: tuple[Delivery, ...]
    alpha_percent_min: float | None = None
    alpha_percent_max: float | None = None
    hop_storage_index_max: float | None = None
    moisture_percent_max: float | None = None
    oil_ml_per_100g_min: float | None = None
    kept_from: date | None = None
    kept_at_c: float | None = None
    kept_packing: str | None = None
    within_km: float | None = None
    price_per_kg_max: Decimal | None = None
    price_per_kg_alpha_max: Decimal | None = None
    currency: str | None = None
    lots_max: int | None = None
    parcel_kg_min: Decimal | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    oil_like: OilLike | None = None
    standing: bool = False
    note: str | None = None
    made_at: datetime | None = None
    made_by: str = ""

    @property
    def last_needed_on(self) -> date:
        """The day of the last delivery."""
        return max(d.needed_on for d in self.deliveries)

    @property
    def mass_kg(self) -> Decimal:
        """What is wanted by mass, over all deliveries."""
        return sum((d.mass_kg for d in self.deliveries if d.mass_kg is not None), Decimal(0))

    @property
    def alpha_kg(self) -> float:
        """What is wanted by its alpha acids, over all deliveries."""
        return sum(d.alpha_kg_needed or 0.0 for d in self.deliveries)

    @property
    def wants_alpha(self) -> bool:
        """Whether a delivery is wanted by its alpha acids."""
        return any(d.mass_kg is None for d in self.deliveries)

    @property
    def wish_key(self) -> str:
        """A short name of all that is wanted; another once anything of it was changed."""
        wanted = [(name, getattr(self, name)) for name in field_names(Request) if name not in NOT_WANTED]
        told = [
            (name, sorted(value.items()) if isinstance(value, Mapping) else value) for name, value in wanted
        ]
        return hashlib.sha256(repr(told).encode()).hexdigest()[:16]

    def shown_state(self, today: date) -> str:
        """The state as callers see it: a request whose last day has passed has lapsed."""
        return "lapsed" if self.state == "open" and self.last_needed_on < today else self.state


def accept_request(request: Request, *, today: date, before: Request | None = None) -> Request:
    """Let a request into the books, or name everything in it that cannot be.

    Deliveries that stood in the request `before` a change may have passed meanwhile.

    Raises:
        InvalidRequest: with one error for each fault.

    """
    known = before.deliveries if before else ()
    faults = [
        *_delivery_faults(request, today, known),
        *_limit_faults(request),
        *wanted_provenance_faults(request.certifications, request.origins),
        *_keeping_faults(request, today, before),
        *_price_faults(request),
        *_wish_faults(request),
    ]
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in faults],
        )
    return request


def decide_change(request: Request) -> None:
    """Let a request be changed or withdrawn, unless it was withdrawn.

    Raises:
        IllegalStep: it was withdrawn.

    """
    if request.state == "withdrawn":
        raise IllegalStep(f"request {request.code} was withdrawn", state="withdrawn")


def require_open(request: Request, *, today: date) -> None:
    """Refuse to promise anything to a request that takes no more.

    Raises:
        IllegalStep: it is filled, withdrawn or lapsed.

    """
    state = request.shown_state(today)
    if state != "open":
        raise IllegalStep(f"request {request.code} is {state} and takes no more lots", state=state)


def is_filled(request: Request, *, mass_kg: Decimal, alpha_kg: float) -> bool:
    """Whether confirmed and delivered promises cover the request.

    What is wanted by alpha is covered by the alpha of what the wanted masses leave over.

    Args:
        request: the request.
        mass_kg: what is confirmed or delivered for it.
        alpha_kg: the alpha acids in that, estimated for the days needed.

    """
    if mass_kg <= 0 or float(mass_kg) < FILLED_FROM_SHARE * float(request.mass_kg):
        return False
    over = max(0.0, float((mass_kg - request.mass_kg) / mass_kg))
    return not request.wants_alpha or alpha_kg * over >= FILLED_FROM_SHARE * request.alpha_kg


def smallest_parcel_kg(*named: Decimal | None) -> Decimal:
    """The smallest parcel that satisfies everybody who named one; where nobody did, the house figure.

    A need or a lot that is smaller is taken whole.
    """
    figures = [kg for kg in named if kg is not None]
    return max(figures) if figures else Decimal(repr(get_assumption("smallest_parcel_kg").value))


def rename_cultivars(request_cultivars: tuple[str, ...], named: list[NamedCultivar]) -> tuple[str, ...]:
    """Write wanted cultivars by their denomination, each once."""
    return tuple(dict.fromkeys(n.denomination for n in named)) if request_cultivars else ()


def _delivery_faults(request: Request, today: date, known: tuple[Delivery, ...]) -> Iterator[tuple[str, str]]:
    if not 1 <= len(request.deliveries) <= DELIVERIES_MAX:
        yield "deliveries", f"a request has 1 to {DELIVERIES_MAX} deliveries"
    for place, delivery in enumerate(request.deliveries):
        where = f"deliveries/{place}"
        if delivery.needed_on < today and delivery not in known:
            yield f"{where}/needed_on", f"{delivery.needed_on} has passed"
        if delivery.needed_on > today + AHEAD_MAX:
            yield f"{where}/needed_on", f"{delivery.needed_on} is more than ten years ahead"
        given = [delivery.mass_kg, delivery.alpha_kg, delivery.bitterness]
        if sum(thing is not None for thing in given) != 1:
            yield where, "a delivery has exactly one of mass_kg, alpha_kg, bitterness"
        elif delivery.bitterness is not None:
            yield from target_faults(delivery.bitterness, f"{where}/bitterness")
    if request.deliveries and known and request.last_needed_on < today:
        yield "deliveries", "the last day needed has passed"


def _limit_faults(request: Request) -> Iterator[tuple[str, str]]:
    low, high = request.alpha_percent_min, request.alpha_percent_max
    if low is not None and high is not None and low > high:
        yield "alpha_percent_min", f"the lower limit {low:g} is over the upper one {high:g}"
    parcel = request.parcel_kg_min
    if parcel is not None and not request.wants_alpha and parcel > request.mass_kg:
        yield (
            "parcel_kg_min",
            f"the smallest parcel ({parcel} kg) is over the whole need ({request.mass_kg} kg)",
        )


def _keeping_faults(request: Request, today: date, before: Request | None) -> Iterator[tuple[str, str]]:
    on = request.kept_from
    told = (on, request.kept_at_c, request.kept_packing)
    if any(part is None for part in told) and any(part is not None for part in told):
        yield "kept_from", "how hops will be kept is told by kept_from, kept_at_c and kept_packing together"
    if on is None:
        return
    if on < today and (before is None or on != before.kept_from):
        yield "kept_from", f"{on} has passed"
    if request.deliveries and on > request.last_needed_on:
        yield "kept_from", f"{on} is after the last day needed, {request.last_needed_on}"


def _price_faults(request: Request) -> Iterator[tuple[str, str]]:
    limits = (request.price_per_kg_max, request.price_per_kg_alpha_max)
    if request.currency is None and any(limit is not None for limit in limits):
        yield "currency", "a price limit names its currency; prices are never compared across currencies"


def _wish_faults(request: Request) -> Iterator[tuple[str, str]]:
    if not request.accept_others and not request.cultivars:
        yield "cultivars", "where others are not accepted, name the cultivars that are"
    for name in request.weights:
        if name not in PARTS:
            yield f"weights/{name}", f"a weight belongs to one of {', '.join(PARTS)}"
    like = request.oil_like
    if like is not None and (like.cultivar is None) == (like.lot_code is None):
        yield (
            "oil_like",
            "an oil profile is like that of a cultivar or of a lot: name one, and null for the other",
        )
    if like is None and "profile" in request.weights:
        yield "weights/profile", "a weight of the oil profile needs oil_like, which says whose it is to be"
    chosen = chosen_weights(
        request.role,
        request.weights,
        names_cultivars=bool(request.cultivars),
        names_oil=like is not None,
    )
    if not any(chosen.values()):
        yield "weights", "at least one weight of a part that can count is over 0"
