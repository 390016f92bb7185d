"""What the answer about the region's shortfall looks like."""

import marshmallow as ma

from service.api.fields import AnswerBody, Number, Query, Whole, lines
from service.api.planning.region_schemas import WishKindAnswer, sum_kg


class ShortfallQuery(Query):
    """How many requests are judged; each takes 3 to 20 ms beside 5,000 lots."""

    requests_max = Whole(
        1,
        2000,
        in_query=True,
        load_default=500,
        metadata={"description": "The newest open requests are judged"},
    )


class BetweenAnswer(AnswerBody):
    """A shortage between two figures: it is no less than the one and need be no more than the other."""

    at_least = Number(0, 1e15, required=True)
    at_most = Number(0, 1e15, required=True)


class WhyAnswer(AnswerBody):
    """A limit that keeps free lots out of requests that are not met."""

    limit = ma.fields.String(required=True)
    lacks = ma.fields.String(required=True, metadata={"description": "What the region lacks for it"})
    requests = ma.fields.Integer(required=True)
    lots = ma.fields.Integer(required=True)
    free_kg = sum_kg()
    not_measured_lots = ma.fields.Integer(required=True)
    words = ma.fields.String(required=True)


class StandingsAnswer(AnswerBody):
    """How many requests stand how."""

    met = ma.fields.Integer(required=True)
    contested = ma.fields.Integer(required=True)
    too_little = ma.fields.Integer(required=True)
    none_fits = ma.fields.Integer(required=True)


class ShortSumAnswer(AnswerBody):
    """What requests still want, what fits any of them, what is short."""

    requests = ma.fields.Integer(required=True)
    breweries = ma.fields.Integer(required=True)
    standings = ma.fields.Nested(StandingsAnswer, required=True)
    still_wanted_kg = sum_kg()
    still_wanted_alpha_kg = Number(0, 1e12, required=True)
    fitting_lots = ma.fields.Integer(required=True)
    fitting_kg = sum_kg(metadata={"description": "Each kilogram once; rows overlap"})
    short_kg = ma.fields.Nested(BetweenAnswer, required=True)
    short_alpha_kg = ma.fields.Nested(BetweenAnswer, required=True)
    why = ma.fields.List(ma.fields.Nested(WhyAnswer), required=True)


class NamedAnswer(WishKindAnswer):
    """Which requests, and what is free of the cultivars they name, whatever else they ask."""

    named_kg = sum_kg(allow_none=True)


class ShortRowAnswer(ShortSumAnswer, NamedAnswer):
    """The open requests of one wish."""


class RoleAnswer(AnswerBody):
    """Which role."""

    role = ma.fields.String(required=True)


class ShortRoleAnswer(ShortSumAnswer, RoleAnswer):
    """The open requests for one role."""


class UnmetAnswer(AnswerBody):
    """A request that is not met; its matches and near misses stand under its own address."""

    request_code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    firmness = ma.fields.String(required=True)
    standing = ma.fields.String(required=True)
    still_wanted_kg = sum_kg()
    still_wanted_alpha_kg = Number(0, 1e12, required=True)
    fitting_lots = ma.fields.Integer(required=True)
    fitting_kg = sum_kg()
    short_kg = ma.fields.Nested(BetweenAnswer, required=True)
    short_alpha_kg = ma.fields.Nested(BetweenAnswer, required=True)
    why = lines(required=True)


class ShortfallAnswer(AnswerBody):
    """What the region lacks."""

    as_of = ma.fields.Date(required=True)
    free_lots = ma.fields.Integer(required=True)
    free_kg = sum_kg()
    rows = ma.fields.List(ma.fields.Nested(ShortRowAnswer), required=True)
    by_role = ma.fields.List(ma.fields.Nested(ShortRoleAnswer), required=True)
    totals = ma.fields.Nested(ShortSumAnswer, required=True)
    unmet = ma.fields.List(ma.fields.Nested(UnmetAnswer), required=True)
    methods = lines(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)
