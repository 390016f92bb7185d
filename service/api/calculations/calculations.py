"""The calculators: every public formula behind one address, checked by what its own docstring says."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

import marshmallow as ma
import numpy as np
from flask import Response

from service.api.calculations.formula_types import Bounds, decode, encode, faulty
from service.api.calculations.formulas import Formula, Input, all_formulas
from service.api.contract import (
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, facts, lines
from service.errors import (
    FigureMissing,
    InvalidRequest,
    NoCorrection,
    NotFound,
    OutOfRange,
    UnfitBrews,
    UnlikeProfiles,
    UnlikeReports,
    UnreadableReadings,
)

bp = Blueprint(
    "calculations", __name__, url_prefix="/v1/calculations", description="Calculators, one formula each"
)
# "measured from 90 to 130", "published 27 to 93": where the evidence lies, inside what is taken.
EVIDENCE = re.compile(r"(measured from|published) (-?[\d.]+) to (-?[\d.]+)")
MARKS = (
    "common practice, no source",
    "assumption, no source",
    "convention",
    "derived",
    "quoted",
    "second hand",
)


class InputAnswer(AnswerBody):
    """One input, with unit and range."""

    name = ma.fields.String(required=True)
    meaning = ma.fields.String(required=True)
    unit = ma.fields.String(required=True)
    low = ma.fields.Float(required=True, allow_none=True)
    high = ma.fields.Float(required=True, allow_none=True)
    kind = ma.fields.String(
        required=True, metadata={"description": "number, integer, text, flag, array or object"}
    )
    is_required = ma.fields.Boolean(required=True)
    default = ma.fields.Raw(required=True, allow_none=True)


class FormulaAnswer(AnswerBody):
    """A formula: what it takes, what it gives, where it comes from."""

    name = ma.fields.String(required=True)
    topic = ma.fields.String(required=True)
    summary = ma.fields.String(required=True)
    explanation = ma.fields.String(required=True)
    inputs = ma.fields.List(ma.fields.Nested(InputAnswer), required=True)
    result = ma.fields.String(required=True)
    unit = ma.fields.String(required=True)
    source = ma.fields.String(required=True)
    example = facts(required=True, allow_none=True)


class FormulaList(AnswerBody):
    """All formulas, by topic."""

    items = ma.fields.List(ma.fields.Nested(FormulaAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


class InputsBody(ma.Schema):
    """The formula's inputs by name, as the list of formulas gives them; nothing else."""

    class Meta:
        """Each formula has its own."""

        unknown = ma.INCLUDE


class ResultAnswer(AnswerBody):
    """What a formula gave."""

    name = ma.fields.String(required=True)
    result = ma.fields.Raw(
        required=True,
        allow_none=True,
        metadata={"description": "A number, true or false, an estimate, an array or an object"},
    )
    unit = ma.fields.String(required=True)
    inputs = facts(required=True)
    source = ma.fields.String(required=True)
    cautions = lines(required=True)


@bp.route("")
@bp.response(200, FormulaList)
def get_calculations() -> Response:
    """Every formula with its inputs, units, ranges and source"""
    return json_response({"items": [formula_body(f) for f in all_formulas().values()], "next": None})


@bp.route("/<name>", methods=["POST"])
@bp.arguments(InputsBody, unknown=ma.INCLUDE)
@bp.response(200, ResultAnswer)
@bp.refuses(
    NotFound,
    InvalidRequest,
    OutOfRange,
    UnfitBrews,
    UnlikeProfiles,
    UnlikeReports,
    UnreadableReadings,
    NoCorrection,
    FigureMissing,
)
def post_calculation(asked: dict[str, Any], name: str) -> Response:
    """Compute one formula"""
    formula = all_formulas().get(name)
    if formula is None:
        raise NotFound(f"there is no calculation {name}")
    arguments = read_inputs(formula, asked)
    result = formula.function(**arguments)
    return json_response(
        {
            "name": name,
            "result": encode(result),
            "unit": formula.unit,
            "inputs": {i.name: encode(arguments.get(i.name, i.default)) for i in formula.inputs},
            "source": formula.source,
            "cautions": list(cautions_of(formula, arguments)),
        }
    )


def read_inputs(formula: Formula, asked: Mapping[str, Any]) -> dict[str, Any]:
    """Read a formula's inputs strictly: each known, each there, each a value in its range.

    Raises:
        InvalidRequest: an input that is not known, is missing, or has another shape; arrays of several lengths.
        OutOfRange: a figure outside its range, or no number at all; it names input, range and unit.

    """
    known = {wanted.name: wanted for wanted in formula.inputs}
    faults = [(f"#/{name}", "This field is not known here.") for name in asked if name not in known]
    faults += [
        (f"#/{wanted.name}", f"This is needed: {wanted.meaning}{_in(wanted)}.")
        for wanted in formula.inputs
        if wanted.is_required and wanted.name not in asked
    ]
    if faults:
        raise faulty(faults)
    read = {
        name: decode(
            known[name].hint,
            value,
            Bounds(name, known[name].low, known[name].high, known[name].unit, f"#/{name}"),
        )
        for name, value in asked.items()
    }
    lengths = {name: len(read[name]) for name in known if isinstance(read.get(name), np.ndarray)}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} has {length}" for name, length in lengths.items())
        raise faulty([(f"#/{name}", f"Arrays of one length are wanted: {told}.") for name in lengths])
    return read


def _in(wanted: Input) -> str:
    return f", in {wanted.unit}" if wanted.unit else ""


def cautions_of(formula: Formula, arguments: Mapping[str, Any]) -> Iterator[str]:
    """What the docstring itself gives a reader to mind: inputs beyond the evidence, and sources that are none."""
    for wanted in formula.inputs:
        evidence, value = EVIDENCE.search(wanted.meaning), arguments.get(wanted.name)
        if evidence is not None and isinstance(value, int | float):
            low, high = float(evidence[2]), float(evidence[3])
            if not low <= value <= high:
                yield (
                    f"{wanted.name} of {value:g}{' ' + wanted.unit if wanted.unit else ''} lies outside of what "
                    f"was {evidence[1].removesuffix(' from')} ({low:g} to {high:g}): extrapolated."
                )
    told = f"{formula.source}; {formula.explanation}"
    marks = [mark for mark in MARKS if mark in told.lower()]
    if marks:
        yield f"Not measurement alone stands behind this: {'; '.join(marks)}."


def formula_body(formula: Formula) -> dict[str, Any]:
    """A formula as plain JSON."""
    return {
        "name": formula.name,
        "topic": formula.topic,
        "summary": formula.summary,
        "explanation": formula.explanation,
        "inputs": [
            {
                "name": wanted.name,
                "meaning": wanted.meaning,
                "unit": wanted.unit,
                "low": wanted.low,
                "high": wanted.high,
                "kind": wanted.kind,
                "is_required": wanted.is_required,
                "default": encode(wanted.default),
            }
            for wanted in formula.inputs
        ],
        "result": formula.result,
        "unit": formula.unit,
        "source": formula.source,
        "example": encode(formula.example),
    }
