"""The bitterness of a brew over JSON, as it goes out."""

from collections.abc import Mapping, Sequence
from typing import Any

import marshmallow as ma

from service.api.brewing.brew_schemas import AdditionBody
from service.api.fields import AnswerBody, EstimateBody, Number, Percent, estimate, lines
from service.market.brewing.bitterness import AdditionResult, Bitterness
from service.market.brewing.bitterness_words import own_words
from service.market.brewing.calibrations import OwnUtilization
from service.market.brewing.methods import RecoveryUsed
from service.science.uncertainty import Estimate

BIG = (0, 1e12)


class RangeAnswer(AnswerBody):
    """A range; not an estimate with a middle."""

    low = Number(*BIG, required=True)
    high = Number(*BIG, required=True)


class AdditionAnswer(AnswerBody):
    """What was sent, and what the addition gives; ibu = utilization × form factor × alpha × mass / volume."""

    lot_code = ma.fields.String()
    alpha_percent = Percent()
    form = ma.fields.String()
    mass_g = Number(*BIG, required=True)
    at = ma.fields.String(required=True)
    minutes = Number(*BIG)
    temperature_c = Number(0, 130)
    gravity_sg = Number(1, 1.2)
    gravity_plato = Number(0, 40)
    form_factor = Number(0, 2, required=True)
    alpha_percent_used = Percent(required=True)
    alpha_method = ma.fields.String(required=True, allow_none=True)
    alpha_report = ma.fields.String(required=True, allow_none=True)
    utilization_percent = Number(*BIG, required=True, allow_none=True)
    ibu = estimate(required=True, allow_none=True)
    alpha_alone_ibu = estimate(required=True, allow_none=True)
    reason = ma.fields.String(required=True, allow_none=True)
    humulinone_bitterness_iso_mg_per_l = ma.fields.Nested(
        RangeAnswer,
        required=True,
        allow_none=True,
        metadata={"description": "By taste, of dry hops, as iso-alpha acids that taste as bitter; not IBU"},
    )
    water_l = Number(*BIG, required=True, allow_none=True, metadata={"description": "That wet hops bring"})
    cautions = lines(required=True)


class RecoveryAnswer(AnswerBody):
    """A recovery that the kinetic method counted with, its interval, and the published extremes beside it."""

    value = Percent(required=True)
    low = Percent(required=True)
    high = Percent(required=True)
    published_low = Percent(required=True)
    published_high = Percent(required=True)
    is_default = ma.fields.Boolean(required=True)
    source = ma.fields.String(required=True)


class OwnUtilizationAnswer(AnswerBody):
    """What the brewery keeps of measured brews, and where; with three or more, method brewhouse uses them."""

    brews = ma.fields.Integer(required=True)
    is_used = ma.fields.Boolean(required=True)
    see = ma.fields.String(required=True)
    words = ma.fields.String(required=True)


class BitternessAnswer(AnswerBody):
    """The estimated bitterness of a brew, and of each addition in the order sent.

    `ibu` holds what differs from lot to lot and from brewery to brewery; `alpha_alone_ibu` what is left for a
    brewery that knows its own utilization.
    """

    method = ma.fields.String(required=True)
    alpha_basis = ma.fields.String(required=True)
    ibu = estimate(required=True, allow_none=True)
    alpha_alone_ibu = estimate(required=True, allow_none=True)
    additions = ma.fields.List(ma.fields.Nested(AdditionAnswer), required=True)
    volume_of = ma.fields.String(required=True)
    volume_l_used = Number(*BIG, required=True)
    recoveries_percent = ma.fields.Dict(
        keys=ma.fields.String(), values=ma.fields.Nested(RecoveryAnswer), required=True
    )
    own_utilization = ma.fields.Nested(OwnUtilizationAnswer, required=True, allow_none=True)
    inputs_not_used = lines(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)
    sources = lines(required=True)


SENT = tuple(name for name in AdditionBody().fields if name != "form_factor")


def bitterness_body(found: Bitterness, sent: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """A bitterness as plain JSON, each addition after what was sent; by hand, for brewers ask in tight loops."""
    return {
        "method": found.method,
        "alpha_basis": found.alpha_basis,
        "ibu": _estimate(found.ibu),
        "alpha_alone_ibu": _estimate(found.alpha_alone_ibu),
        "additions": [_addition(r, told) for r, told in zip(found.additions, sent, strict=True)],
        "volume_of": found.wort.volume_of,
        "volume_l_used": found.volume_used_l,
        "recoveries_percent": {name: _recovery(used) for name, used in found.recoveries.items()},
        "own_utilization": _own(found.own_utilization),
        "inputs_not_used": list(found.inputs_not_used),
        "assumptions": list(found.assumptions),
        "cautions": list(found.cautions),
        "sources": list(found.sources),
    }


def _addition(result: AdditionResult, told: Mapping[str, Any]) -> dict[str, Any]:
    addition, range_ = result.addition, result.humulinone_bitterness
    return {
        **{name: told[name] for name in SENT if name in told},
        "form_factor": addition.form_factor,
        "alpha_percent_used": addition.alpha.percent,
        "alpha_method": addition.alpha.method,
        "alpha_report": addition.alpha.report,
        "utilization_percent": result.utilization_percent,
        "ibu": _estimate(result.ibu),
        "alpha_alone_ibu": _estimate(result.alpha_alone_ibu),
        "reason": result.reason,
        "humulinone_bitterness_iso_mg_per_l": (
            None if range_ is None else {"low": range_.low_iso_mg_per_l, "high": range_.high_iso_mg_per_l}
        ),
        "water_l": result.water_l,
        "cautions": list(result.cautions),
    }


def _estimate(found: Estimate | None) -> dict[str, float] | None:
    if found is None:
        return None
    return {name: getattr(found, name) for name in EstimateBody().fields}


def _recovery(used: RecoveryUsed) -> dict[str, Any]:
    return {
        "value": used.percent,
        "low": used.low_percent,
        "high": used.high_percent,
        "published_low": used.published_low_percent,
        "published_high": used.published_high_percent,
        "is_default": used.is_default,
        "source": used.source,
    }


def _own(own: OwnUtilization | None) -> dict[str, Any] | None:
    if own is None:
        return None
    path = f"/v1/breweries/{own.brewery_code}"
    return {
        "brews": own.brews,
        "is_used": own.is_used,
        "see": f"{path}/utilization" if own.is_used else f"{path}/brews",
        "words": own_words(own),
    }
