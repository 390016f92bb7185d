"""What storage leaves of a lot, over JSON."""

from datetime import date
from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import Door, speak
from service.api.fields import AnswerBody, Choice, Day, Number, Percent, Query, estimate, facts, lines
from service.errors import FigureMissing, InvalidRequest, NoStorageModel, NotFound, OutOfRange, TokenNeeded
from service.market.lots import PACKINGS
from service.market.storage import StorageOutlook, StoragePlan
from service.usecases.storage import storage_of_lot
from service.visit import now, read, today, visitor

bp = Door("storage", __name__, url_prefix="/v1/lots", description="What storage leaves of a lot")


class StorageQuery(Query):
    """The day, and what a buyer will do until then; default: as the lot is stored now."""

    on = Day(metadata={"description": "Default today; not before the sampling"})
    from_ = Day(data_key="from", metadata={"description": "From when the plan counts; default today"})
    kept_at_c = Number(-30, 40, in_query=True)
    packing = Choice(PACKINGS)

    @ma.validates_schema
    def plan_is_whole(self, asked: dict[str, Any], **_kw: Any) -> None:
        """A plan says at what temperature, in what packing."""
        if any(name in asked for name in ("from_", "kept_at_c", "packing")):
            for name in ("kept_at_c", "packing"):
                if name not in asked:
                    raise ma.ValidationError("A plan gives kept_at_c and packing together.", name)


class StorageAnswer(AnswerBody):
    """An estimate of what is left, with its method, inputs and assumptions."""

    lot_code = ma.fields.String(required=True)
    on = ma.fields.Date(required=True)
    alpha_percent = estimate(required=True)
    alpha_loss_percent = estimate(required=True)
    beta_percent = estimate(allow_none=True)
    hop_storage_index = estimate(allow_none=True)
    resin_loss_percent = Percent(allow_none=True)
    report = ma.fields.String(required=True)
    method = ma.fields.String(required=True)
    inputs = facts(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)
    sources = lines(required=True)


SHOWN = StorageAnswer()


@bp.route("/<code>/storage")
@bp.arguments(StorageQuery, location="query")
@bp.response(200, StorageAnswer)
@bp.refuses(NotFound, TokenNeeded, InvalidRequest, NoStorageModel, FigureMissing, OutOfRange)
def get_storage(asked: dict[str, Any], code: str) -> Response:
    """Estimate what storage leaves of alpha, beta and the Hop Storage Index on a day"""
    outlook = read(
        lambda session: storage_of_lot(
            session, code, visitor=visitor(), on=asked.get("on"), plan=_plan(asked, today()), now=now()
        )
    )
    return speak(storage_body(outlook))


def _plan(asked: dict[str, Any], day: date) -> StoragePlan | None:
    if "kept_at_c" not in asked:
        return None
    return StoragePlan(
        from_on=asked.get("from_") or day, kept_at_c=asked["kept_at_c"], packing=asked["packing"]
    )


def storage_body(outlook: StorageOutlook) -> Any:
    """An outlook as plain JSON."""
    return SHOWN.dump(outlook)
