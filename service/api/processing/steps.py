"""Steps that change goods, over JSON: splitting, opening, pelletizing, blending."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    Blueprint,
    creation_response,
)
from service.api.fields import AnswerBody, Body, Choice, Code, Day, Kilograms, Number, Percent, Text
from service.api.goods.lot_schemas import STORED_C, PackageAnswer, PackageBody
from service.errors import (
    IllegalStep,
    LotOnHold,
    NotEnoughStock,
    NotSoldInThatMass,
    OutOfRange,
    UnbalancedStep,
    UnfitGoods,
)
from service.market.goods.lots import PACKINGS, PELLETS, UNMEASURED_PACKINGS, Lot
from service.reference.cultivar_rows import ROLES
from service.request_context import caller, now
from service.usecases.processing.parts import open_packages, split_lot
from service.usecases.processing.runs import blend_lots, pelletize_lots

bp = Blueprint("steps", __name__, url_prefix="/v1", description="Steps that make lots of lots")
FEW_PACKAGES = ma.validate.Length(max=50)


class SplitBody(Body):
    """What is split off: a mass, or packages, or both where some lie loose."""

    mass_kg = Kilograms(load_default=None, allow_none=True)
    packages = ma.fields.List(ma.fields.Nested(PackageBody), load_default=list, validate=FEW_PACKAGES)
    done_on = Day(required=True)
    own_lot_number = Text(longest=60, load_default=None, allow_none=True)
    note = Text(longest=2000, load_default=None, allow_none=True)


class OpeningBody(Body):
    """Which packages are opened, and how they lie from then on."""

    mass_kg = Kilograms(load_default=None, allow_none=True)
    packages = ma.fields.List(ma.fields.Nested(PackageBody), load_default=list, validate=FEW_PACKAGES)
    opened_on = Day(required=True)
    packing = Choice(UNMEASURED_PACKINGS, load_default="open")
    stored_at_c = Number(
        *STORED_C, load_default=None, allow_none=True, metadata={"description": "Default: as before"}
    )
    own_lot_number = Text(longest=60, load_default=None, allow_none=True)
    note = Text(longest=2000, load_default=None, allow_none=True)


class InputBody(Body):
    """What one lot gives."""

    lot_code = Code(required=True)
    mass_kg = Kilograms(required=True)
    packages = ma.fields.List(ma.fields.Nested(PackageBody), load_default=list, validate=FEW_PACKAGES)


class RunBody(Body):
    """Lots in, kilograms out, kilograms lost: in is out and lost, to the gram."""

    grower_code = Code(
        party=True,
        load_default=None,
        allow_none=True,
        metadata={"description": "Who keeps the new lot; the specialist names it when several growers pool"},
    )
    lots = ma.fields.List(
        ma.fields.Nested(InputBody), required=True, validate=ma.validate.Length(min=1, max=50)
    )
    done_on = Day(required=True)
    mass_kg = Kilograms(required=True, metadata={"description": "What came out"})
    role = Choice(
        ROLES,
        load_default=None,
        allow_none=True,
        metadata={"description": "Needed where the lots' roles differ"},
    )
    packing = Choice(PACKINGS, load_default=None, allow_none=True)
    stored_at_c = Number(*STORED_C, load_default=None, allow_none=True)
    residual_oxygen_percent = Percent(0, 21, load_default=None, allow_none=True)
    packages = ma.fields.List(ma.fields.Nested(PackageBody), load_default=list, validate=FEW_PACKAGES)
    own_lot_number = Text(longest=60, load_default=None, allow_none=True)
    note = Text(longest=2000, load_default=None, allow_none=True)


class PelletizingBody(RunBody):
    """A pelletizing run, at home or elsewhere."""

    form = Choice(PELLETS, load_default="pellet")
    processor = Text(longest=120, load_default=None, allow_none=True)
    began_on = Day(load_default=None, allow_none=True)
    loss_kg = Kilograms(above=False, required=True)


class BlendBody(RunBody):
    """A blend of lots of one form."""

    loss_kg = Kilograms(above=False, load_default=Decimal(0))


class MadeLotAnswer(AnswerBody):
    """The lot that a step made: a draft, to be listed by its grower."""

    code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    state = ma.fields.String(attribute="shown_state", required=True)
    cultivar = ma.fields.String(attribute="shown_cultivar", required=True, allow_none=True)
    role = ma.fields.String(required=True)
    crop_year = ma.fields.Integer(required=True, allow_none=True)
    form = ma.fields.String(required=True)
    packing = ma.fields.String(required=True, allow_none=True)
    stored_at_c = Number(*STORED_C, required=True, allow_none=True)
    mass_kg = Kilograms(required=True)
    free_kg = Kilograms(required=True, above=False)
    packages = ma.fields.List(ma.fields.Nested(PackageAnswer), required=True)
    reports = ma.fields.List(
        ma.fields.String(),
        attribute="report_codes",
        required=True,
        metadata={"description": "The reports that came along"},
    )


ANSWER_SCHEMA = MadeLotAnswer()


def _made(step: Callable[[Any], Lot]) -> Response:
    return creation_response(
        lambda session: step(session),
        ANSWER_SCHEMA.dump,
        headers=lambda lot: {"Location": f"/v1/lots/{lot.code}"},
    )


@bp.route("/lots/<code>/parts", methods=["POST"])
@bp.arguments(SplitBody)
@bp.response(201, MadeLotAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, OutOfRange, NotEnoughStock, NotSoldInThatMass)
@bp.repeatable
def post_part(asked: dict[str, Any], code: str) -> Response:
    """Split free kilograms off a lot; the part carries its record, promises stay with the whole"""
    return _made(lambda session: split_lot(session, code, caller=caller(), asked=asked, now=now()))


@bp.route("/lots/<code>/openings", methods=["POST"])
@bp.arguments(OpeningBody)
@bp.response(201, MadeLotAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, OutOfRange, NotEnoughStock, NotSoldInThatMass)
@bp.repeatable
def post_opening(asked: dict[str, Any], code: str) -> Response:
    """Open packages of a lot: a lot of its own, whose storage starts a new spell that day"""
    return _made(lambda session: open_packages(session, code, caller=caller(), asked=asked, now=now()))


@bp.route("/pelletizings", methods=["POST"])
@bp.arguments(PelletizingBody)
@bp.response(201, MadeLotAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, OutOfRange, NotEnoughStock, UnbalancedStep, UnfitGoods)
@bp.repeatable
def post_pelletizing(asked: dict[str, Any]) -> Response:
    """Press lots into pellets; the cones' reports stay with the cones"""
    return _made(lambda session: pelletize_lots(session, caller=caller(), asked=asked, now=now()))


@bp.route("/blends", methods=["POST"])
@bp.arguments(BlendBody)
@bp.response(201, MadeLotAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, OutOfRange, NotEnoughStock, UnbalancedStep, UnfitGoods)
@bp.repeatable
def post_blend(asked: dict[str, Any]) -> Response:
    """Blend lots of one form; cultivar and crop year are null where they differ"""
    return _made(lambda session: blend_lots(session, caller=caller(), asked=asked, now=now()))
