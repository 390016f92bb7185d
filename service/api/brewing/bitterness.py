"""The bitterness of a brew, and how much of a lot it takes, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.brewing.brew_answers import BIG, BitternessAnswer, bitterness_body
from service.api.brewing.brew_schemas import BitternessBody, DoseBody
from service.api.contract import (
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, Money, Number, Percent, lines
from service.errors import (
    FigureMissing,
    InvalidRequest,
    NoStorageModel,
    NotAllowed,
    NotFound,
    OutOfRange,
    TokenNeeded,
    UnfitBrews,
)
from service.market.brewing.doses import Dose
from service.request_context import caller, now, read
from service.usecases.brewing.bitterness import bitterness_of_brew, dose_hops

bp = Blueprint(
    "bitterness", __name__, url_prefix="/v1/bitterness", description="Bitterness of brews, and doses"
)
REFUSES = (
    InvalidRequest,
    TokenNeeded,
    NotAllowed,
    NotFound,
    FigureMissing,
    NoStorageModel,
    OutOfRange,
    UnfitBrews,
)


class DoseCostAnswer(AnswerBody):
    """What the dose costs, where the lot's price may be seen."""

    amount = Money(required=True)
    currency = ma.fields.String(required=True)
    per_10_ibu_hl = Number(*BIG, required=True)


class SwapAnswer(AnswerBody):
    """What becomes of the oil when one hop takes another's place; a similar profile is no more than that."""

    replaced_mass_g = Number(*BIG, required=True)
    mass_g = Number(*BIG, required=True)
    oil_before_ml_per_hl = Number(*BIG, required=True, allow_none=True)
    oil_after_ml_per_hl = Number(*BIG, required=True, allow_none=True)
    oil_similarity = Number(0, 1, required=True, allow_none=True)
    oil_parts = lines(required=True)
    oil_not_compared = ma.fields.String(required=True, allow_none=True)


class DoseAnswer(AnswerBody):
    """A mass of hops, and the bitterness of the beer with it."""

    mass_g = Number(*BIG, required=True)
    share_percent = Percent(required=True, allow_none=True)
    oil_dosed_ml_per_hl = Number(*BIG, required=True, allow_none=True)
    cost = ma.fields.Nested(DoseCostAnswer, required=True, allow_none=True)
    swap = ma.fields.Nested(SwapAnswer, required=True, allow_none=True)
    bitterness = ma.fields.Nested(BitternessAnswer, required=True)
    cautions = lines(required=True)


ANSWER_SCHEMA = DoseAnswer(exclude=("bitterness",))


@bp.route("", methods=["POST"])
@bp.arguments(BitternessBody)
@bp.response(200, BitternessAnswer)
@bp.refuses(*REFUSES)
def post_bitterness(asked: dict[str, Any]) -> Response:
    """Estimate the bitterness of a brew, addition by addition"""
    found = read(lambda session: bitterness_of_brew(session, caller=caller(), asked=asked, now=now()))
    return json_response(bitterness_body(found, asked["additions"]))


@bp.route("/dose", methods=["POST"])
@bp.arguments(DoseBody)
@bp.response(200, DoseAnswer)
@bp.refuses(*REFUSES)
def post_dose(asked: dict[str, Any]) -> Response:
    """How much of a lot brings a wanted bitterness, or takes another hop's place at equal bitterness"""
    found = read(lambda session: dose_hops(session, caller=caller(), asked=asked, now=now()))
    return json_response(dose_body(found, asked))


def dose_body(found: Dose, asked: dict[str, Any]) -> dict[str, Any]:
    """A dose as plain JSON."""
    sent = [dict(told) for told in asked["additions"]]
    dosed = {**asked["dose"], "mass_g": found.mass_g}
    if found.place < len(sent):
        kept = {name: v for name, v in sent[found.place].items() if name not in HOPS_OF_THEIR_OWN}
        sent[found.place] = {**kept, **dosed}
    else:
        sent.append(dosed)
    return {**ANSWER_SCHEMA.dump(found), "bitterness": bitterness_body(found.bitterness, sent)}


HOPS_OF_THEIR_OWN = ("lot_code", "alpha_percent", "form", "form_factor")
