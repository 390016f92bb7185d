"""What the region's answers look like: supply and harvest."""

import marshmallow as ma

from service.api.fields import (
    AnswerBody,
    Choice,
    Kilograms,
    Money,
    Number,
    Percent,
    Query,
    Text,
    Whole,
    estimate,
    lines,
)
from service.market.goods.lots import FORMS
from service.reference.cultivar_rows import ROLES

SPECIALIST_ONLY = {"description": "null for others than the specialist"}


def sum_kg(**kw: object) -> Kilograms:
    """Kilograms of many lots together."""
    return Kilograms(0, 1e15, above=False, required=True, **kw)


def told_kg() -> Kilograms:
    """Kilograms that the specialist alone reads."""
    return sum_kg(allow_none=True, metadata=SPECIALIST_ONLY)


class HarvestQuery(Query):
    """Which goods."""

    cultivar = Text(longest=80, metadata={"description": "Denomination or synonym"})
    role = Choice(ROLES, metadata={"description": "aroma or bittering finds dual too"})
    crop_year = Whole(1900, 2200, in_query=True)
    form = Choice(FORMS)


class SupplyQuery(HarvestQuery):
    """Which goods are summed."""


class PlacesAnswer(AnswerBody):
    """Where kilograms are."""

    free_kg = sum_kg(metadata={"description": "Listed and not promised"})
    not_offered_kg = told_kg()
    held_kg = told_kg()
    confirmed_kg = told_kg()
    delivered_kg = told_kg()
    moved_kg = told_kg()
    lost_kg = told_kg()


class WeighedSumAnswer(AnswerBody):
    """What lots weighed when they were made."""

    lots = ma.fields.Integer(required=True)
    mass_kg = sum_kg()
    grown_kg = told_kg()
    from_lots_kg = told_kg()
    reported_kg = sum_kg(metadata={"description": "Mass of lots with a lab report that stands"})
    reported_percent = Percent(required=True, allow_none=True)


class WeighedAnswer(PlacesAnswer, WeighedSumAnswer):
    """Lots with a weight; `grown_kg` leaves out what came out of other lots."""


class ExpectedSumAnswer(AnswerBody):
    """What growers expect of lots."""

    lots = ma.fields.Integer(required=True)
    expected_kg = sum_kg(attribute="mass_kg")


class AnnouncedAnswer(PlacesAnswer, ExpectedSumAnswer):
    """Lots announced before picking; expected is not weighed."""


class QuantilesAnswer(AnswerBody):
    """The spread of lots, each counted once."""

    least = Number(0, 100, required=True)
    quarter = Number(0, 100, required=True)
    median = Number(0, 100, required=True)
    three_quarters = Number(0, 100, required=True)
    largest = Number(0, 100, required=True)


class AlphaOnOfferAnswer(AnswerBody):
    """The alpha acids in the weighed hops that are free today."""

    lots = ma.fields.Integer(required=True)
    analysed_kg = sum_kg()
    not_analysed_kg = sum_kg()
    alpha_kg = estimate(required=True, allow_none=True)
    alpha_percent = ma.fields.Nested(QuantilesAnswer, required=True, allow_none=True)
    methods = lines(required=True)


class PriceRangeAnswer(AnswerBody):
    """The least and the largest price of what is free, in one currency."""

    currency = ma.fields.String(required=True)
    lots = ma.fields.Integer(required=True)
    free_kg = sum_kg()
    least_per_kg = Money(required=True)
    largest_per_kg = Money(required=True)


class SupplySumAnswer(AnswerBody):
    """What stands behind all rows together."""

    growers = ma.fields.Integer(required=True)
    weighed = ma.fields.Nested(WeighedAnswer, required=True)
    announced = ma.fields.Nested(AnnouncedAnswer, required=True)
    alpha = ma.fields.Nested(AlphaOnOfferAnswer, required=True)
    prices = ma.fields.List(ma.fields.Nested(PriceRangeAnswer), required=True)


class GoodsKindAnswer(AnswerBody):
    """What a row stands for; the cultivar is null where lots were made of several."""

    cultivar = ma.fields.String(required=True, allow_none=True)
    role = ma.fields.String(attribute="kind.role", required=True)
    crop_year = ma.fields.Integer(attribute="kind.crop_year", required=True, allow_none=True)
    form = ma.fields.String(attribute="kind.form", required=True)


class SupplyRowAnswer(SupplySumAnswer, GoodsKindAnswer):
    """The lots of one cultivar, role, crop year and form."""


class SupplyAnswer(AnswerBody):
    """What the region grows."""

    as_of = ma.fields.Date(required=True)
    is_whole = ma.fields.Boolean(required=True, metadata={"description": "false: listed lots alone"})
    rows = ma.fields.List(ma.fields.Nested(SupplyRowAnswer), required=True)
    totals = ma.fields.Nested(SupplySumAnswer, required=True)
    methods = lines(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)


class HarvestRowAnswer(AnswerBody):
    """Lots announced with one picking window."""

    cultivar = ma.fields.String(required=True, allow_none=True)
    role = ma.fields.String(required=True)
    form = ma.fields.String(required=True)
    harvest_window_from = ma.fields.Date(required=True, allow_none=True)
    harvest_window_to = ma.fields.Date(required=True, allow_none=True)
    is_overdue = ma.fields.Boolean(
        required=True, metadata={"description": "The window passed without a weight"}
    )
    growers = ma.fields.Integer(required=True)
    announced = ma.fields.Nested(AnnouncedAnswer, attribute="stock", required=True)


class HarvestAnswer(AnswerBody):
    """What growers announced before picking."""

    as_of = ma.fields.Date(required=True)
    is_whole = ma.fields.Boolean(required=True, metadata={"description": "false: listed lots alone"})
    rows = ma.fields.List(ma.fields.Nested(HarvestRowAnswer), required=True)
    totals = ma.fields.Nested(AnnouncedAnswer, required=True)
    overdue_kg = sum_kg()
    methods = lines(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)


class WantedAnswer(AnswerBody):
    """What is wanted from today on: covered by promises, and still wanted."""

    wanted_kg = sum_kg()
    covered_kg = sum_kg()
    still_wanted_kg = sum_kg()
    wanted_alpha_kg = Number(0, 1e12, required=True)
    covered_alpha_kg = Number(0, 1e12, required=True)
    still_wanted_alpha_kg = Number(0, 1e12, required=True)


class FirmnessAnswer(AnswerBody):
    """What is wanted with one firmness."""

    firmness = ma.fields.String(required=True)
    requests = ma.fields.Integer(required=True)
    wanted = ma.fields.Nested(WantedAnswer, required=True)


class MonthAnswer(AnswerBody):
    """What is needed in one month."""

    month = ma.fields.String(required=True, metadata={"pattern": r"^\d{4}-\d{2}$"})
    requests = ma.fields.Integer(required=True)
    wanted = ma.fields.Nested(WantedAnswer, required=True)


class PromisedAnswer(AnswerBody):
    """All that is promised for the requests, for deliveries that passed too."""

    held_kg = sum_kg()
    confirmed_kg = sum_kg()
    delivered_kg = sum_kg()


class DemandSumAnswer(AnswerBody):
    """What requests together want; alpha acids and kilograms are wanted apart."""

    requests = ma.fields.Integer(required=True)
    breweries = ma.fields.Integer(required=True)
    wanted = ma.fields.Nested(WantedAnswer, required=True)
    promised = ma.fields.Nested(PromisedAnswer, required=True)
    by_firmness = ma.fields.List(ma.fields.Nested(FirmnessAnswer), required=True)
    by_month = ma.fields.List(ma.fields.Nested(MonthAnswer), required=True)


class WishKindAnswer(AnswerBody):
    """Which requests: any of these cultivars will do; none named is any at all."""

    cultivars = lines(attribute="kind.cultivars", required=True)
    accepts_others = ma.fields.Boolean(attribute="kind.accepts_others", required=True)
    role = ma.fields.String(attribute="kind.role", required=True)


class DemandRowAnswer(DemandSumAnswer, WishKindAnswer):
    """The open requests of one wish."""


class DemandAnswer(AnswerBody):
    """What the region wants."""

    as_of = ma.fields.Date(required=True)
    rows = ma.fields.List(ma.fields.Nested(DemandRowAnswer), required=True)
    totals = ma.fields.Nested(DemandSumAnswer, required=True)
    methods = lines(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)
