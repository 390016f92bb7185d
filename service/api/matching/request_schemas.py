"""How a request looks over JSON."""

from typing import Any

import marshmallow as ma

from service.api.contract import (
    patch_of,
)
from service.api.fields import (
    AnswerBody,
    Body,
    Choice,
    Code,
    Currency,
    Day,
    Flag,
    Instant,
    Kilograms,
    Money,
    Number,
    Percent,
    Text,
    Whole,
)
from service.market.brewing.brews import HOT
from service.market.goods.lots import FORMS, PACKINGS, UNMEASURED_PACKINGS
from service.market.matching.requests import DELIVERIES_MAX, FIRMNESS, PARTS
from service.reference.cultivar_rows import ROLES
from service.request_context import today


class WantedBitternessBody(Body):
    """A bitterness wanted in a volume of beer; one of gravity_sg and gravity_plato is given."""

    ibu = Number(0, 1000, above=True, required=True)
    volume_l = Number(0.1, 10_000_000, required=True)
    gravity_sg = Number(1.0, 1.15)
    gravity_plato = Number(0, 34)
    at = Choice(HOT, load_default="boil")
    minutes = Number(0, 240, above=True, load_default=60.0)
    temperature_c = Number(60, 130, load_default=None, allow_none=True)


class DeliveryBody(Body):
    """What is needed on a day: exactly one of mass_kg, alpha_kg, bitterness."""

    needed_on = Day(required=True)
    mass_kg = Kilograms(load_default=None, allow_none=True)
    alpha_kg = Kilograms(load_default=None, allow_none=True)
    bitterness = ma.fields.Nested(WantedBitternessBody, load_default=None, allow_none=True)


def _choices(choices: tuple[str, ...]) -> ma.fields.List[Any]:
    return ma.fields.List(Choice(choices), load_default=list, validate=ma.validate.Length(max=len(choices)))


class OilLikeBody(Body):
    """Whose oil profile is wished for: exactly one of a cultivar (as published) and a lot (as measured)."""

    cultivar = Text(longest=80, allow_none=True)
    lot_code = Code(allow_none=True)


class RequestBody(Body):
    """A request."""

    brewery_code = Code(party=True, load_default=None, allow_none=True)
    role = Choice(ROLES, required=True)
    role_strict = Flag(load_default=False)
    firmness = Choice(FIRMNESS, load_default="intent")
    cultivars = ma.fields.List(Text(longest=80), load_default=list, validate=ma.validate.Length(max=50))
    accept_others = Flag(load_default=True)
    forms = _choices(FORMS)
    packings = _choices(PACKINGS)
    certifications = ma.fields.List(
        Text(longest=100),
        load_default=list,
        validate=ma.validate.Length(max=10),
        metadata={
            "description": "`organic`, or a scheme's name; all of them, on the day the goods are taken"
        },
    )
    origins = ma.fields.List(
        Text(longest=6),
        load_default=list,
        validate=ma.validate.Length(max=50),
        metadata={"description": "Any of these countries (ISO 3166-1) or subdivisions (ISO 3166-2)"},
    )
    deliveries = ma.fields.List(
        ma.fields.Nested(DeliveryBody), required=True, validate=ma.validate.Length(1, DELIVERIES_MAX)
    )
    alpha_percent_min = Percent(load_default=None, allow_none=True)
    alpha_percent_max = Percent(load_default=None, allow_none=True)
    hop_storage_index_max = Number(0.05, 2.03, load_default=None, allow_none=True)
    moisture_percent_max = Percent(load_default=None, allow_none=True)
    oil_ml_per_100g_min = Number(0, 20, load_default=None, allow_none=True)
    kept_from = Day(
        load_default=None,
        allow_none=True,
        metadata={
            "description": "From when the brewery keeps the hops itself; with kept_at_c and kept_packing"
        },
    )
    kept_at_c = Number(-30, 40, load_default=None, allow_none=True)
    kept_packing = Choice(UNMEASURED_PACKINGS, load_default=None, allow_none=True)
    within_km = Number(0, 20_040, above=True, load_default=None, allow_none=True)
    price_per_kg_max = Money(load_default=None, allow_none=True)
    price_per_kg_alpha_max = Money(load_default=None, allow_none=True)
    currency = Currency(load_default=None, allow_none=True)
    lots_max = Whole(1, 1000, load_default=None, allow_none=True)
    parcel_kg_min = Kilograms(load_default=None, allow_none=True)
    weights = ma.fields.Dict(
        keys=Choice(PARTS),
        values=Number(0, 100),
        load_default=dict,
        metadata={"description": "How much each part of the score counts; parts not named keep their own"},
    )
    oil_like = ma.fields.Nested(
        OilLikeBody,
        load_default=None,
        allow_none=True,
        metadata={"description": "Lots whose oil is like this score higher, by the part `profile`"},
    )
    standing = Flag(load_default=False, metadata={"description": "be told of every new lot that meets it"})
    note = Text(longest=2000, load_default=None, allow_none=True)


class RequestPatch(
    patch_of(  # type: ignore[misc]  # a class that is made by a call
        RequestBody,
        "RequestPatch",
        without=("brewery_code",),
        never_null=(
            "role",
            "role_strict",
            "firmness",
            "cultivars",
            "accept_others",
            "standing",
            "forms",
            "packings",
            "certifications",
            "origins",
            "deliveries",
            "weights",
        ),
    )
):
    """A change of RequestBody: only what changes; null removes."""

    # A merge patch goes into objects: a weight that is null is removed.
    weights = ma.fields.Dict(keys=Choice(PARTS), values=Number(0, 100, allow_none=True))


class WantedBitternessAnswer(AnswerBody):
    """A bitterness wanted, and the alpha acids it is estimated to take."""

    ibu = Number(0, 1000, required=True)
    volume_l = Number(0, 10_000_000, required=True)
    gravity_sg = Number(1.0, 1.17, required=True)
    at = ma.fields.String(required=True)
    minutes = Number(0, 240, required=True)
    temperature_c = Number(60, 130, required=True, allow_none=True)


class DeliveryAnswer(AnswerBody):
    """What is needed on a day."""

    needed_on = ma.fields.Date(required=True)
    mass_kg = Kilograms(required=True, allow_none=True)
    alpha_kg = Kilograms(required=True, allow_none=True)
    bitterness = ma.fields.Nested(WantedBitternessAnswer, required=True, allow_none=True)


class OilLikeAnswer(AnswerBody):
    """Whose oil profile is wished for; a lot is read when lots are matched."""

    cultivar = ma.fields.String(required=True, allow_none=True)
    lot_code = ma.fields.String(required=True, allow_none=True)


class RequestAnswer(AnswerBody):
    """A request; `lapsed` is read from the clock."""

    code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    state = ma.fields.Function(
        lambda request: request.shown_state(today()), metadata={"type": "string"}, required=True
    )
    role = ma.fields.String(required=True)
    role_strict = ma.fields.Boolean(required=True)
    firmness = ma.fields.String(required=True)
    cultivars = ma.fields.List(ma.fields.String(), required=True)
    accept_others = ma.fields.Boolean(required=True)
    forms = ma.fields.List(ma.fields.String(), required=True)
    packings = ma.fields.List(ma.fields.String(), required=True)
    certifications = ma.fields.List(ma.fields.String(), required=True)
    origins = ma.fields.List(ma.fields.String(), required=True)
    deliveries = ma.fields.List(ma.fields.Nested(DeliveryAnswer), required=True)
    alpha_percent_min = Percent(required=True, allow_none=True)
    alpha_percent_max = Percent(required=True, allow_none=True)
    hop_storage_index_max = Number(0.05, 2.03, required=True, allow_none=True)
    moisture_percent_max = Percent(required=True, allow_none=True)
    oil_ml_per_100g_min = Number(0, 20, required=True, allow_none=True)
    kept_from = ma.fields.Date(required=True, allow_none=True)
    kept_at_c = Number(-30, 40, required=True, allow_none=True)
    kept_packing = ma.fields.String(required=True, allow_none=True)
    within_km = Number(0, 20_040, required=True, allow_none=True)
    price_per_kg_max = Money(required=True, allow_none=True)
    price_per_kg_alpha_max = Money(required=True, allow_none=True)
    currency = ma.fields.String(required=True, allow_none=True)
    lots_max = ma.fields.Integer(required=True, allow_none=True)
    parcel_kg_min = Kilograms(required=True, allow_none=True)
    weights = ma.fields.Dict(keys=ma.fields.String(), values=Number(0, 100), required=True)
    oil_like = ma.fields.Nested(OilLikeAnswer, required=True, allow_none=True)
    standing = ma.fields.Boolean(required=True)
    note = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


ANSWER_SCHEMA = RequestAnswer()
OWNED = RequestAnswer(only=tuple(name for name in RequestBody().fields if name != "brewery_code"))
