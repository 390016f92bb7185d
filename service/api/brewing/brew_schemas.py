"""A brew over JSON, as it comes in: wort, additions, kettle, recoveries, and how the hops are stored until then."""

from typing import Any

import marshmallow as ma

from service.api.fields import Body, Choice, Code, Day, Number, Percent, Whole
from service.market.brewing.base_methods import BASE_MODELS, BREWHOUSE, DEFAULT_MODEL, METHODS
from service.market.brewing.brews import AT, VOLUMES
from service.market.goods.lots import FORMS, PACKINGS
from service.science.brewhouse import ALPHA_BASES
from service.science.recoveries import (
    KETTLE_TO_WORT_PERCENT_MAX,
    KETTLE_TO_WORT_PERCENT_MIN,
    WORT_TO_BEER_PERCENT_MAX,
    WORT_TO_BEER_PERCENT_MIN,
)

ADDITIONS_MAX = 100
READINGS_MAX = 10_000
GRAVITY_SG = (1.0, 1.15)
GRAVITY_PLATO = (0, 34)
# A dry hop may lie for 100 days; the hot side is held to what the method reaches.
MINUTES = (0, 144_000)


def one_gravity(asked: dict[str, Any], *, needed: bool) -> None:
    """Refuse two gravities, and none where one is needed.

    Raises:
        ValidationError: as said.

    """
    given = [name for name in ("gravity_sg", "gravity_plato") if asked.get(name) is not None]
    if len(given) == 2:
        raise ma.ValidationError("Give gravity_sg or gravity_plato, not both.", "gravity_plato")
    if needed and not given:
        raise ma.ValidationError("Give gravity_sg or gravity_plato.", "gravity_sg")


class WortBody(Body):
    """The wort, or the beer it becomes."""

    volume_l = Number(0.1, 10_000_000, required=True)
    volume_of = Choice(VOLUMES, load_default="finished_beer")
    gravity_sg = Number(*GRAVITY_SG)
    gravity_plato = Number(*GRAVITY_PLATO)
    elevation_m = Number(-500, 5000, metadata={"description": "Where the kettle stands"})

    @ma.validates_schema
    def has_one_gravity(self, asked: dict[str, Any], **_kw: Any) -> None:
        """One scale is enough."""
        one_gravity(asked, needed=True)


class HopsBody(Body):
    """Hops of a lot, or hops of which the alpha is told; wet hops may come without either."""

    lot_code = Code()
    alpha_percent = Percent(above=True, metadata={"description": "As used, on the day of the brew"})
    form = Choice(FORMS)
    form_factor = Number(0.5, 2, metadata={"description": "Utilization against whole cones; default 1.00"})

    @ma.validates_schema
    def has_one_alpha(self, asked: dict[str, Any], **_kw: Any) -> None:
        """Alpha comes from the lot or from the caller."""
        if "lot_code" in asked and "alpha_percent" in asked:
            raise ma.ValidationError("Give lot_code or alpha_percent, not both.", "alpha_percent")
        if "lot_code" not in asked and "alpha_percent" not in asked and asked.get("form") != "wet_hop":
            raise ma.ValidationError("Give lot_code or alpha_percent.", "alpha_percent")


class PlacedHopsBody(HopsBody):
    """Hops, and where, how long and how hot they go in."""

    at = Choice(AT, required=True)
    minutes = Number(
        *MINUTES, metadata={"description": "How long they stay; in the whirlpool to the cooling"}
    )
    temperature_c = Number(0, 130, metadata={"description": "Of the whirlpool"})
    gravity_sg = Number(*GRAVITY_SG, metadata={"description": "Of the wort at this addition"})
    gravity_plato = Number(*GRAVITY_PLATO)

    @ma.validates_schema
    def has_at_most_one_gravity(self, asked: dict[str, Any], **_kw: Any) -> None:
        """One scale is enough."""
        one_gravity(asked, needed=False)


class AdditionBody(PlacedHopsBody):
    """A hop addition."""

    mass_g = Number(0, 10_000_000, above=True, required=True)


def additions(**kw: Any) -> ma.fields.List[Any]:
    """The hop additions of a brew."""
    least = 1 if kw.get("required") else 0
    return ma.fields.List(
        ma.fields.Nested(AdditionBody), validate=ma.validate.Length(least, ADDITIONS_MAX), **kw
    )


class ReadingsBody(Body):
    """The wort's temperature after the heat is off; straight lines between the readings."""

    at_minutes = ma.fields.List(Number(0, 1440), required=True, validate=ma.validate.Length(2, READINGS_MAX))
    temperatures_c = ma.fields.List(
        Number(0, 130), required=True, validate=ma.validate.Length(2, READINGS_MAX)
    )


class KettleBody(Body):
    """The kettle, for the kinetic method: default, it boils as long as the first hops do."""

    boil_minutes = Number(0, 600)
    readings = ma.fields.Nested(ReadingsBody)


PUBLISHED_IN_WORT = {
    "description": f"Published {KETTLE_TO_WORT_PERCENT_MIN:g} to {KETTLE_TO_WORT_PERCENT_MAX:g}"
}
PUBLISHED_IN_BEER = {"description": f"Published {WORT_TO_BEER_PERCENT_MIN:g} to {WORT_TO_BEER_PERCENT_MAX:g}"}


class RecoveriesBody(Body):
    """What the brewery knows of its losses; without it documented defaults are used, and shown."""

    kettle_to_wort_percent = Percent(above=True, metadata=PUBLISHED_IN_WORT)
    wort_to_beer_percent = Percent(above=True, metadata=PUBLISHED_IN_BEER)
    wort_lost_percent = Percent(0, 90, metadata={"description": "Cold wort that does not become beer"})


class KeptBody(Body):
    """How the brewer keeps the hops until the brew; default: as each lot is stored now."""

    from_ = Day(data_key="from", metadata={"description": "Default today"})
    kept_at_c = Number(-30, 40, required=True)
    packing = Choice(PACKINGS, metadata={"description": "Default: the packing stays as it is"})


class BrewBody(Body):
    """A brew that was made: wort and additions."""

    wort = ma.fields.Nested(WortBody, required=True)
    additions = additions(required=True)
    kettle = ma.fields.Nested(KettleBody)


class MethodBody(Body):
    """By which method, and on which alpha."""

    method = Choice(METHODS, load_default=DEFAULT_MODEL)
    brewed_on = Day(metadata={"description": "The day for which alpha is estimated; default today"})
    alpha_basis = Choice(ALPHA_BASES, load_default="estimated")
    storage = ma.fields.Nested(KeptBody)
    recoveries = ma.fields.Nested(RecoveriesBody)
    brewery_code = Code(party=True, metadata={"description": "For the specialist, with method brewhouse"})
    base_model = Choice(
        BASE_MODELS,
        metadata={"description": f"What the brewery's own factors stand on; default {DEFAULT_MODEL}"},
    )

    @ma.validates_schema
    def own_utilization_is_meant(self, asked: dict[str, Any], **_kw: Any) -> None:
        """A brewery's own factors belong to the method that uses them."""
        for name in ("brewery_code", "base_model"):
            if asked.get(name) is not None and asked.get("method") != BREWHOUSE:
                raise ma.ValidationError("Goes with method brewhouse.", name)


class BitternessBody(MethodBody, BrewBody):
    """A brew whose bitterness is wanted."""


class DosedHopsBody(PlacedHopsBody):
    """The hops whose mass is sought; their place is given, unless they take that of others."""

    at = Choice(AT)


class DoseBody(MethodBody):
    """A brew, and the hops that shall bring a wanted bitterness, or take the place of others in it."""

    wort = ma.fields.Nested(WortBody, required=True)
    additions = additions(load_default=list)
    kettle = ma.fields.Nested(KettleBody)
    dose = ma.fields.Nested(DosedHopsBody, required=True)
    wanted_ibu = Number(0, 1000, above=True, metadata={"description": "Of the whole beer"})
    share_percent = Percent(above=True, metadata={"description": "Part of wanted_ibu by these hops alone"})
    replaces = Whole(
        0,
        ADDITIONS_MAX - 1,
        metadata={"description": "The addition, from 0, whose place these hops take at equal bitterness"},
    )

    @ma.validates_schema
    def says_how_much(self, asked: dict[str, Any], **_kw: Any) -> None:
        """A wanted bitterness, or another hop's place."""
        if ("wanted_ibu" in asked) == ("replaces" in asked):
            raise ma.ValidationError("Give wanted_ibu, or replaces.", "wanted_ibu")
        if "share_percent" in asked and "wanted_ibu" not in asked:
            raise ma.ValidationError("A share is a share of wanted_ibu.", "share_percent")
        placed = [name for name in ("at", "minutes", "temperature_c") if name in asked.get("dose", {})]
        if "replaces" in asked and placed:
            raise ma.ValidationError(
                {"dose": {name: ["The place is that of the hops replaced."] for name in placed}}
            )
        if "wanted_ibu" in asked and "at" not in asked.get("dose", {}):
            raise ma.ValidationError({"dose": {"at": ["Missing data for required field."]}})
