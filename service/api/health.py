"""Whether the service and its database answer."""

from typing import Any

import marshmallow as ma

from service.api.contract import (
    Blueprint,
)
from service.api.fields import AnswerBody
from service.errors import Overloaded
from service.request_context import runtime
from service.usecases.health import look_at_records

bp = Blueprint("health", __name__, url_prefix="/v1/health", description="Whether the service answers")


class HealthAnswer(AnswerBody):
    """The database answered."""

    status = ma.fields.String(required=True)


@bp.route("")
@bp.response(200, HealthAnswer)
@bp.refuses(Overloaded)
def get_health() -> Any:
    """Say whether the database answers"""
    # Whoever asks, with whatever token: a monitor wants to hear of the database only.
    runtime().records.read(look_at_records)
    return {"status": "ok"}
