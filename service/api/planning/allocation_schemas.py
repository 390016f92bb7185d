"""What an allocation looks like over JSON."""

import marshmallow as ma

from service.api.fields import AnswerBody, Body, Choice, Instant, Kilograms, Money, Number, Text, Whole, lines
from service.api.goods.lot_schemas import PackageAnswer
from service.market.planning.allocations import RULES, AllocationOrder

DEFAULT = AllocationOrder()


class AllocationBody(Body):
    """A plan asked for."""

    command = AllocationOrder

    rule = Choice(
        RULES,
        load_default=DEFAULT.rule,
        metadata={"description": "Who goes first when the crop is short"},
    )
    seconds_max = Number(
        1,
        600,
        load_default=DEFAULT.seconds_max,
        metadata={
            "description": "How long to plan once the region is read; the answer says if that cut it short"
        },
    )
    lots_max = Whole(
        1,
        1000,
        load_default=None,
        allow_none=True,
        metadata={"description": "Lots a request, beside its own"},
    )
    parcel_kg_min = Kilograms(
        load_default=None,
        allow_none=True,
        metadata={"description": "No parcel under this, or under their own; where nobody names one, 5 kg"},
    )
    note = Text(longest=2000, load_default=None, allow_none=True)


class ParcelAnswer(AnswerBody):
    """A part of a lot for a request; `covers_kg` counts in the request's need."""

    request_code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    form = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True)
    covers_kg = Kilograms(required=True)
    score = Number(0, 1, required=True)
    value = Number(0, 1e12, required=True)
    distance_km = ma.fields.Integer(required=True)
    price_per_kg = Money(required=True, allow_none=True)
    currency = ma.fields.String(required=True, allow_none=True)
    packages = ma.fields.List(
        ma.fields.Nested(PackageAnswer),
        required=True,
        metadata={"description": "Which packages it is made of; none where the lot is sold in any mass"},
    )


class RequestInPlanAnswer(AnswerBody):
    """What a request gets, and what it lacks."""

    request_code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    brewery_name = ma.fields.String(required=True)
    firmness = ma.fields.String(required=True)
    needed_on = ma.fields.Date(required=True)
    wanted_kg = Kilograms(required=True, metadata={"description": "What no promise covered yet"})
    by_alpha = ma.fields.Boolean(
        required=True,
        metadata={"description": "Wanted by alpha acids: the mass of the middle lot that suits it"},
    )
    served_kg = Kilograms(required=True)
    lacks_kg = Kilograms(required=True)
    lacks = lines(required=True)
    parcels = ma.fields.List(ma.fields.Nested(ParcelAnswer), required=True)


class LotInPlanAnswer(AnswerBody):
    """What is taken from a lot, and by whom."""

    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    grower_name = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    form = ma.fields.String(required=True)
    free_kg = Kilograms(required=True)
    taken_kg = Kilograms(required=True)
    left_kg = Kilograms(required=True)
    parcels = ma.fields.List(ma.fields.Nested(ParcelAnswer), required=True)


class TallyAnswer(AnswerBody):
    """A plan in a few figures."""

    value = Number(0, 1e12, required=True)
    mass_kg = Kilograms(required=True, metadata={"description": "What the growers give"})
    wanted_kg = Kilograms(required=True, allow_none=True, metadata={"description": "All needs together"})
    covered_kg = Kilograms(
        required=True, allow_none=True, metadata={"description": "How much of them it covers"}
    )
    requests = ma.fields.Integer(required=True, allow_none=True)
    requests_served = ma.fields.Integer(required=True)
    requests_filled = ma.fields.Integer(required=True)
    parcels = ma.fields.Integer(required=True)
    distance_km_mean = Number(0, 21_000, required=True, allow_none=True)


class ProofAnswer(AnswerBody):
    """How near to the best: the gap is (bound - value) / bound, in percent."""

    of = ma.fields.String(required=True)
    value = Number(0, 1e12, required=True)
    bound = Number(0, 1e12, required=True)
    bound_name = ma.fields.String(required=True)
    gap_percent = Number(0, 100, required=True)
    is_optimal = ma.fields.Boolean(required=True)
    method = ma.fields.String(required=True)
    is_cut = ma.fields.Boolean(required=True, metadata={"description": "Whether the time ended the work"})
    seconds = Number(0, 1e9, required=True)


class AllocationPlanAnswer(AnswerBody):
    """Which lots for which requests, and first come, first served beside it."""

    rule = ma.fields.String(required=True)
    rule_words = ma.fields.String(required=True)
    planned_on = ma.fields.Date(required=True)
    summary = lines(required=True)
    tally = ma.fields.Nested(TallyAnswer, required=True)
    first_come = ma.fields.Nested(TallyAnswer, required=True)
    proofs = ma.fields.List(
        ma.fields.Nested(ProofAnswer),
        required=True,
        metadata={"description": "One for each step of the rule; the last is that of the whole plan"},
    )
    requests = ma.fields.List(ma.fields.Nested(RequestInPlanAnswer), required=True)
    lots = ma.fields.List(ma.fields.Nested(LotInPlanAnswer), required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)


class AllocationLine(AnswerBody):
    """An allocation without its plan."""

    code = ma.fields.String(required=True)
    rule = ma.fields.String(required=True, attribute="order.rule")
    seconds_max = Number(1, 600, required=True, attribute="order.seconds_max")
    lots_max = ma.fields.Integer(required=True, allow_none=True, attribute="order.lots_max")
    parcel_kg_min = Kilograms(required=True, allow_none=True, attribute="order.parcel_kg_min")
    note = ma.fields.String(required=True, allow_none=True, attribute="order.note")
    asked_at = Instant(required=True)
    asked_by = ma.fields.String(required=True)
    accepted_at = Instant(required=True, allow_none=True)
    accepted_by = ma.fields.String(required=True, allow_none=True)


class AllocationAnswer(AllocationLine):
    """An allocation with its plan."""

    plan = ma.fields.Nested(AllocationPlanAnswer, required=True)


class AcceptanceBody(Body):
    """How long the offers stand; without it, until somebody takes them back."""

    held_until = Instant(load_default=None, allow_none=True)


class OfferLineAnswer(AnswerBody):
    """A parcel that became an offer."""

    request_code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True)
    reservation_code = ma.fields.String(required=True)


class RefusedLineAnswer(AnswerBody):
    """A parcel that can no longer be, and the refusal that stands against it."""

    request_code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True)
    refusal = ma.fields.String(required=True, metadata={"description": "The code of a problem"})
    detail = ma.fields.String(required=True)


class AcceptanceAnswer(AnswerBody):
    """What became of the plan, parcel by parcel."""

    allocation_code = ma.fields.String(required=True)
    offers = ma.fields.List(ma.fields.Nested(OfferLineAnswer), required=True)
    refused = ma.fields.List(ma.fields.Nested(RefusedLineAnswer), required=True)
