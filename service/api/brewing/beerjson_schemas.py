"""BeerJSON as far as hops go: what is read of a document is checked, everything else is passed over."""

from typing import Any

import marshmallow as ma

from service.api.brewing.brew_schemas import MethodBody
from service.api.fields import Body, Choice, Code, Flag, Number, SharedSchema, Text, Whole
from service.market.brewing.beerjson import FORM_BY_WORD, LITRES_BY_UNIT
from service.science.interchange import GRAMS_BY_UNIT, MINUTES_BY_UNIT

# The standard's words for what a hop is grown for.
TYPES = (
    "aroma",
    "bittering",
    "flavor",
    "aroma/bittering",
    "bittering/flavor",
    "aroma/flavor",
    "aroma/bittering/flavor",
)
OIL_PARTS = (
    "humulene",
    "caryophyllene",
    "cohumulone",
    "myrcene",
    "farnesene",
    "geraniol",
    "b_pinene",
    "linalool",
    "limonene",
    "nerol",
    "pinene",
    "polyphenols",
    "xanthohumol",
)
LARGE = (-1_000_000_000, 1_000_000_000)
ENTRIES_MAX = 1000


class Part(SharedSchema):
    """A part of the document: the standard has more members than are read here."""

    class Meta:
        """What is not read is kept, so that it can be named."""

        unknown = ma.INCLUDE


def measured(name: str, units: tuple[str, ...], low: float, high: float, *, above: bool = False) -> Any:
    """A value with its unit, as the standard writes every quantity."""
    return type(
        name,
        (Body,),
        {
            "__doc__": "A value with its unit.",
            "unit": Choice(units, required=True),
            "value": Number(low, high, above=above, required=True),
        },
    )


PercentValue = measured("BeerJsonPercent", ("%",), 0, 100)
AlphaValue = measured("BeerJsonAlpha", ("%",), 0, 100, above=True)
VolumeValue = measured("BeerJsonVolume", tuple(LITRES_BY_UNIT), 0, LARGE[1], above=True)
AlphaRead = measured("BeerJsonAlphaRead", ("%",), 0, 100)
AmountValue = measured("BeerJsonAmount", (*GRAMS_BY_UNIT, *LITRES_BY_UNIT), 0, LARGE[1], above=True)
StockValue = measured("BeerJsonStock", (*GRAMS_BY_UNIT, *LITRES_BY_UNIT), 0, LARGE[1])
GravityValue = measured("BeerJsonGravity", ("sg", "plato", "brix"), 0, 100)
TemperatureValue = measured("BeerJsonTemperature", ("C", "F"), -50, 400)
AcidityValue = measured("BeerJsonAcidity", ("pH",), 0, 14)


class TimeValue(Part):
    """A time."""

    unit = Choice(tuple(MINUTES_BY_UNIT), required=True)
    value = Number(0, 1_000_000, required=True)


class TimingBody(Part):
    """When, where and how long an addition goes in."""

    time = ma.fields.Nested(TimeValue)
    duration = ma.fields.Nested(TimeValue)
    continuous = Flag()
    step = Whole(0, 1000)
    use = ma.fields.String()


class AmountRead(Part):
    """How much of a hop; only mass is reckoned."""

    unit = ma.fields.String(required=True)
    value = Number(0, LARGE[1], required=True)


class HopAdditionBody(Part):
    """A hop addition of a recipe."""

    name = ma.fields.String(required=True)
    alpha_acid = ma.fields.Nested(AlphaRead)
    form = ma.fields.String()
    timing = ma.fields.Nested(TimingBody)
    amount = ma.fields.Nested(AmountRead)


class HopBody(Body):
    """What names a hop."""

    name = Text(longest=200, required=True)
    producer = Text(longest=200)
    product_id = Text(longest=200)
    origin = Text(longest=200)
    year = Text(longest=20)
    form = Choice(("extract", *FORM_BY_WORD))
    alpha_acid = ma.fields.Nested(AlphaValue, required=True)
    beta_acid = ma.fields.Nested(PercentValue)


class InventoryBody(Body):
    """What is in stock of a hop."""

    amount = ma.fields.Nested(StockValue)


OilContentBody = type(
    "OilContentBody",
    (Body,),
    {
        "__doc__": "Total oil, and its parts as shares; cohumulone stands here though it is a share of alpha.",
        "total_oil_ml_per_100g": Number(0, 20),
        **{part: ma.fields.Nested(PercentValue) for part in OIL_PARTS},
    },
)


class HopVarietyBody(HopBody):
    """A record of a hop; `percent_lost` is the alpha lost in six months, never a Hop Storage Index."""

    type = Choice(TYPES)
    notes = Text(longest=10_000)
    percent_lost = ma.fields.Nested(PercentValue)
    substitutes = Text(longest=2000)
    oil_content = ma.fields.Nested(OilContentBody)
    inventory = ma.fields.Nested(InventoryBody)


class VarietyRead(Part):
    """A record of a hop, of which only `percent_lost` is read."""

    percent_lost = ma.fields.Nested(PercentValue)


class BoilStepBody(Part):
    """A step of the boil: its temperatures tell a hop stand from the boil."""

    start_temperature = ma.fields.Nested(TemperatureValue)
    end_temperature = ma.fields.Nested(TemperatureValue)
    step_time = ma.fields.Nested(TimeValue)


class BoilBody(Part):
    """The boil."""

    boil_time = ma.fields.Nested(TimeValue)
    boil_steps = ma.fields.List(ma.fields.Nested(BoilStepBody), validate=ma.validate.Length(max=ENTRIES_MAX))


class FermentableBody(Part):
    """A fermentable: its mass and its yield."""

    name = ma.fields.String()
    type = ma.fields.String()
    amount = ma.fields.Nested(AmountRead)


class EfficiencyBody(Part):
    """How much of the extract comes into the fermenter."""

    brewhouse = ma.fields.Nested(PercentValue)


class IngredientsBody(Part):
    """The ingredients: the hops, and the fermentables where the recipe gives no gravity."""

    hop_additions = ma.fields.List(
        ma.fields.Nested(HopAdditionBody), validate=ma.validate.Length(max=100), load_default=list
    )
    fermentable_additions = ma.fields.List(
        ma.fields.Nested(FermentableBody), validate=ma.validate.Length(max=100)
    )


class RecipeBody(Part):
    """A recipe; its batch size is what goes into the fermenter."""

    name = ma.fields.String(required=True)
    efficiency = ma.fields.Nested(EfficiencyBody)
    batch_size = ma.fields.Nested(VolumeValue, required=True)
    ingredients = ma.fields.Nested(IngredientsBody, required=True)
    original_gravity = ma.fields.Nested(GravityValue)
    boil = ma.fields.Nested(BoilBody)


class DocumentBody(Part):
    """The root of a document."""

    version = Number(0, 100, required=True)
    recipes = ma.fields.List(ma.fields.Nested(RecipeBody), validate=ma.validate.Length(max=ENTRIES_MAX))
    hop_varieties = ma.fields.List(
        ma.fields.Nested(VarietyRead), validate=ma.validate.Length(max=ENTRIES_MAX)
    )


class BoundLotBody(Body):
    """A lot in the place of a recipe's hop; its own alpha is taken."""

    addition = Whole(0, 99, required=True)
    lot_code = Code(required=True)


class BeerJsonBody(MethodBody):
    """A BeerJSON document, which may be sent as it is; beside it, how its hops shall be reckoned."""

    beerjson = ma.fields.Nested(DocumentBody, required=True)
    recipe = Whole(0, ENTRIES_MAX - 1, load_default=0)
    lots = ma.fields.List(
        ma.fields.Nested(BoundLotBody), load_default=list, validate=ma.validate.Length(max=100)
    )
    elevation_m = Number(-500, 5000)
    gravity_sg = Number(
        1.0, 1.15, metadata={"description": "Of the wort; it goes before the document's own gravity"}
    )
    gravity_plato = Number(0, 34, metadata={"description": "Instead of gravity_sg"})

    @ma.validates_schema
    def gravity_is_one(self, asked: dict[str, Any], **_kw: Any) -> None:
        """The gravity stands in one scale."""
        if "gravity_sg" in asked and "gravity_plato" in asked:
            raise ma.ValidationError("Give gravity_sg or gravity_plato, not both.", "gravity_plato")
