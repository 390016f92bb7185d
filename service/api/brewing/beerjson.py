"""BeerJSON at the door: a recipe's bitterness, and a lot as a hop entry."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.brewing.beerjson_schemas import BeerJsonBody, HopVarietyBody
from service.api.brewing.bitterness import REFUSES
from service.api.brewing.brew_answers import BitternessAnswer, bitterness_body
from service.api.contract import (
    READING,
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, Number, estimate
from service.errors import FigureMissing
from service.market.brewing.beerjson import HopRead
from service.market.brewing.bitterness import Bitterness
from service.market.sheet.beerjson_entry import hop_document
from service.request_context import caller, now, read
from service.usecases.brewing.beerjson import bitterness_of_recipe
from service.usecases.goods.lots import show_lot

bp = Blueprint(
    "beerjson", __name__, url_prefix="/v1", description="Recipes and lots in the open exchange format"
)


class IbuValueAnswer(AnswerBody):
    """A bitterness as the standard writes it."""

    unit = ma.fields.String(required=True)
    value = Number(0, 1e12, required=True)


class IbuEstimateAnswer(AnswerBody):
    """The standard's own place for an estimated bitterness; a changed rule is called Other there."""

    method = ma.fields.String(required=True)
    value = ma.fields.Nested(IbuValueAnswer, required=True)


class RecipeHopAnswer(AnswerBody):
    """A hop of the recipe: its bitterness, or null and the reason why there is none."""

    name = ma.fields.String(required=True)
    ibu = estimate(required=True, allow_none=True)
    reason = ma.fields.String(required=True, allow_none=True)


class RecipeBitternessAnswer(AnswerBody):
    """The bitterness of a recipe; `hops` in the order of the document."""

    recipe = ma.fields.String(required=True)
    hops = ma.fields.List(ma.fields.Nested(RecipeHopAnswer), required=True)
    ibu_estimate = ma.fields.Nested(IbuEstimateAnswer, required=True, allow_none=True)
    bitterness = ma.fields.Nested(BitternessAnswer, required=True)


HOP = RecipeHopAnswer()


class HopDocumentPart(AnswerBody):
    """The root of the document."""

    version = Number(0, 100, required=True)
    hop_varieties = ma.fields.List(ma.fields.Nested(HopVarietyBody), required=True)


class HopDocumentAnswer(AnswerBody):
    """A BeerJSON document with the lot as its only hop."""

    beerjson = ma.fields.Nested(HopDocumentPart, required=True)


@bp.route("/bitterness/beerjson", methods=["POST"])
@bp.arguments(BeerJsonBody)
@bp.response(200, RecipeBitternessAnswer)
@bp.refuses(*REFUSES)
def post_beerjson_bitterness(asked: dict[str, Any]) -> Response:
    """Estimate the bitterness of a BeerJSON recipe, each hop optionally bound to a lot"""
    recipe, found = read(
        lambda session: bitterness_of_recipe(session, caller=caller(), asked=asked, now=now())
    )
    return json_response(
        {
            "recipe": recipe.name,
            "hops": [HOP.dump(_hop(hop, found)) for hop in recipe.hops],
            "ibu_estimate": _ibu_estimate(found),
            "bitterness": bitterness_body(found, recipe.brew["additions"]),
        }
    )


def _hop(hop: HopRead, found: Bitterness) -> dict[str, Any]:
    if hop.addition is None:
        return {"name": hop.name, "ibu": None, "reason": hop.reason}
    result = found.additions[hop.addition]
    return {"name": hop.name, "ibu": result.ibu, "reason": result.reason}


def _ibu_estimate(found: Bitterness) -> dict[str, Any] | None:
    if found.ibu is None:
        return None
    plain = found.method == "tinseth" and all(
        r.addition.at == "boil" and r.addition.form_factor == 1.0
        for r in found.additions
        if r.ibu is not None
    )
    return {
        "method": "Tinseth" if plain else "Other",
        "value": {"unit": "IBUs", "value": found.ibu.estimate},
    }


@bp.route("/lots/<code>/beerjson")
@bp.response(200, HopDocumentAnswer)
@bp.refuses(*READING, FigureMissing)
def get_lot_beerjson(code: str) -> Response:
    """A lot as a hop entry of BeerJSON, as analysed"""
    view = read(lambda session: show_lot(session, code, caller=caller(), now=now()))
    return json_response(hop_document(view))
