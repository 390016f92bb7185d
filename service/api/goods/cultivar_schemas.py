"""How a cultivar looks over JSON."""

from functools import cache
from typing import Any

import marshmallow as ma

from service.api.contract import (
    patch_of,
)
from service.api.fields import AnswerBody, Body, Choice, Country, Day, Percent, Text, lines
from service.market.goods.cultivar_checks import SHARE_BASES, UNITS
from service.market.goods.cultivar_views import (
    CONFIDENCE,
    ELSEWHERE_WORDS,
    TOLD_MARK,
    CultivarView,
    view_cultivar,
)
from service.market.goods.cultivars import CultivarStatus
from service.reference.cultivar_rows import ROLES, STATUSES
from service.reference.cultivars import Figure, by_code


class CultivarFigureBody(Body):
    """One published figure: a range by `low` and `high`, or a single published `mean`."""

    quantity = Choice(tuple(UNITS), required=True)
    low = Percent(load_default=None, allow_none=True)
    high = Percent(load_default=None, allow_none=True)
    mean = Percent(load_default=None, allow_none=True)
    unit = Text(
        longest=40,
        load_default=None,
        allow_none=True,
        metadata={"description": "Compared with the quantity's unit"},
    )
    basis = Choice(
        SHARE_BASES,
        load_default=None,
        allow_none=True,
        metadata={"description": "Of a share of the oil: US and European figures do not compare"},
    )
    source = Text(longest=500, required=True)
    note = Text(longest=500, load_default=None, allow_none=True)

    @ma.validates_schema
    def is_a_range_or_a_mean(self, given: dict[str, Any], **_kw: Any) -> None:
        """Either both ends, or the mean alone."""
        ends = [given.get("low") is not None, given.get("high") is not None]
        if (given.get("mean") is None) != all(ends) or any(ends) != all(ends):
            raise ma.ValidationError("Give low and high of a range, or the mean alone.")

    @ma.post_load
    def as_fact(self, given: dict[str, Any], **_kw: Any) -> Figure:
        """Give the fact."""
        mean = given["mean"]
        return Figure(
            quantity=given["quantity"],
            low=given["low"] if mean is None else mean,
            high=given["high"] if mean is None else mean,
            unit=given["unit"] or UNITS[given["quantity"]],
            is_single_mean=mean is not None,
            basis=given["basis"],
            mark=TOLD_MARK,
            source=given["source"],
            note=given["note"],
        )


class CultivarStatusBody(Body):
    """Whether a cultivar may be planted in a country, as a source said on a day."""

    country = Country(required=True)
    status = Choice(STATUSES, required=True)
    source = Text(longest=500, required=True)
    checked_on = Day(required=True)


class CultivarBody(Body):
    """A cultivar that the service does not ship."""

    denomination = Text(longest=80, required=True)
    synonyms = ma.fields.List(Text(longest=80), load_default=list, validate=ma.validate.Length(max=20))
    role = Choice(ROLES, required=True)
    source = Text(longest=500, required=True)
    figures = ma.fields.List(
        ma.fields.Nested(CultivarFigureBody), load_default=list, validate=ma.validate.Length(max=len(UNITS))
    )
    availability = ma.fields.List(
        ma.fields.Nested(CultivarStatusBody),
        load_default=list,
        validate=ma.validate.Length(max=250),
        metadata={
            "description": "What the region itself found out, one finding for each country. As every list in a "
            "merge patch it is given whole; what is shipped with the service stands beside it."
        },
    )


CultivarPatch = patch_of(CultivarBody, "CultivarPatch", never_null=("denomination", "role", "source"))


class CultivarFigureAnswer(AnswerBody):
    """One published figure: `low` and `high` of a range, or `mean` where one mean was published."""

    quantity = ma.fields.String(required=True)
    low = Percent()
    high = Percent()
    mean = Percent(attribute="middle")
    unit = ma.fields.String(required=True)
    is_single_mean = ma.fields.Boolean(required=True)
    basis = ma.fields.String(required=True, allow_none=True)
    mark = ma.fields.String(required=True)
    source = ma.fields.String(required=True)
    note = ma.fields.String(required=True, allow_none=True)

    @ma.post_dump
    def show_a_mean_as_one(self, shown: dict[str, Any], **_kw: Any) -> dict[str, Any]:
        """A single mean is no tolerance band, so it is never shown as a range."""
        hidden = ("low", "high") if shown["is_single_mean"] else ("mean",)
        return {name: value for name, value in shown.items() if name not in hidden}


class StorageFigureAnswer(AnswerBody):
    """What one source says is left of the alpha after six months; a bound has one end."""

    remaining_percent_low = Percent(required=True, allow_none=True)
    remaining_percent_high = Percent(required=True, allow_none=True)
    unit = ma.fields.String(required=True)
    kind = ma.fields.String(required=True)
    mark = ma.fields.String(required=True)
    source = ma.fields.String(required=True)
    accession = ma.fields.String(required=True, allow_none=True)
    note = ma.fields.String(required=True, allow_none=True)


class SixMonthStorageAnswer(AnswerBody):
    """Alpha lost in 180 days, unprotected, at 20 °C; an estimate, and every figure published for it."""

    quantity = ma.fields.Constant("alpha_loss_percent", required=True)
    estimate = Percent(attribute="loss.lost_percent", required=True)
    low = Percent(attribute="loss.low_percent", required=True)
    high = Percent(attribute="loss.high_percent", required=True)
    confidence = ma.fields.Constant(CONFIDENCE, required=True, metadata={"type": "number"})
    basis = ma.fields.String(attribute="loss.basis_words", required=True)
    is_bound = ma.fields.Boolean(attribute="loss.is_bound", required=True)
    is_assumption = ma.fields.Boolean(attribute="loss.is_assumption", required=True)
    assumptions = lines(required=True)
    rows = ma.fields.List(ma.fields.Nested(StorageFigureAnswer), attribute="loss.rows", required=True)


class AvailabilityAnswer(AnswerBody):
    """Whether a cultivar may be planted in a country, as its source says; `checked_on` null is not recorded."""

    country = ma.fields.String(required=True)
    status = ma.fields.String(required=True)
    checked_on = ma.fields.Date(required=True, allow_none=True)
    mark = ma.fields.String(required=True)
    source = ma.fields.String(required=True)
    note = ma.fields.String(required=True, allow_none=True)


class CultivarAnswer(AnswerBody):
    """A cultivar: what is published of it, each figure with its source and mark."""

    code = ma.fields.String(required=True)
    denomination = ma.fields.String(required=True)
    synonyms = lines(required=True)
    shipped = ma.fields.Boolean(required=True)
    role = ma.fields.String(required=True)
    role_mark = ma.fields.String(required=True)
    aroma_words = lines(required=True)
    aroma_mark = ma.fields.String(required=True, allow_none=True)
    origin_country = ma.fields.String(required=True, allow_none=True)
    release_year = ma.fields.Integer(required=True, allow_none=True)
    maturity = ma.fields.String(required=True, allow_none=True)
    parentage = ma.fields.String(required=True, allow_none=True)
    figures = ma.fields.List(ma.fields.Nested(CultivarFigureAnswer), required=True)
    oil_shares_basis = ma.fields.String(required=True, allow_none=True)
    six_month_storage = ma.fields.Nested(SixMonthStorageAnswer, required=True)
    availability = ma.fields.List(ma.fields.Nested(AvailabilityAnswer), required=True)
    availability_elsewhere = ma.fields.Constant(ELSEWHERE_WORDS, required=True, metadata={"type": "string"})
    note = ma.fields.String(required=True, allow_none=True)
    mark = ma.fields.String(required=True)
    source = ma.fields.String(required=True)
    sources = lines(required=True)
    addresses = lines(required=True)


class FoundAnswer(CultivarStatusBody):
    """What the region itself found out, as a version counts it."""


ANSWER_SCHEMA = CultivarAnswer()
FOUND = FoundAnswer()
# What the region told of its own cultivar, and may change.
TOLD = CultivarAnswer(only=("denomination", "synonyms", "role", "source", "figures"))


def shown(view: CultivarView) -> dict[str, Any]:
    """A cultivar as plain JSON; what ships and was added to by nobody is written once a process."""
    if view.shipped and not view.found:
        return _shipped_body(view.code)
    return dict(ANSWER_SCHEMA.dump(view))


@cache
def _shipped_body(code: str) -> dict[str, Any]:
    cultivar = by_code(code)
    return {} if cultivar is None else dict(ANSWER_SCHEMA.dump(view_cultivar(cultivar)))


def owned(view: CultivarView) -> dict[str, Any]:
    """What the region may change of a cultivar; a new edition of the shipped books makes no ETag stale."""
    body = {} if view.shipped else dict(TOLD.dump(view))
    findings: tuple[CultivarStatus, ...] = view.found
    return {**body, "availability": FOUND.dump(findings, many=True)}
