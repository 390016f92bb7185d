"""Registers all views, and writes openapi.yaml from what they declare."""

from typing import Any, cast

import yaml
from flask import Flask
from flask_smorest import Api

from service.api import health, problems
from service.api.brewing import beerjson, bitterness, measured_brews
from service.api.calculations import calculations
from service.api.contract import (
    json_response,
    judge_request,
)
from service.api.fields import (
    Code,
    Country,
    Currency,
    Day,
    Flag,
    Instant,
    Kilograms,
    Money,
    Number,
    Percent,
    Subdivision,
    Text,
    Whole,
)
from service.api.goods import (
    audit_trail,
    bookings,
    bulk,
    certificates,
    consistency,
    cultivars,
    lab_reports,
    listing,
    lots,
    quality_holds,
    quality_reports,
    submissions,
)
from service.api.growing import licences, sprays
from service.api.matching import combinations, matches, requests
from service.api.people import parties, tokens
from service.api.planning import allocations, region
from service.api.problems import PROBLEM, ProblemBody
from service.api.processing import kilning, steps
from service.api.sheet import many_sheets, printed_plans, sheets
from service.api.storage import report_comparison, storage, temperature_readings
from service.api.trade import (
    delivery_notes,
    notices,
    recalls,
    receipts,
    reservations,
    rub_samples,
    traceability,
)

VERSION = "1"
BLUEPRINTS = (
    health.bp,
    parties.growers,
    parties.breweries,
    tokens.bp,
    cultivars.bp,
    lots.bp,
    bulk.bp,
    lab_reports.bp,
    certificates.bp,
    submissions.bp,
    report_comparison.bp,
    listing.bp,
    quality_holds.bp,
    sprays.bp,
    licences.bp,
    quality_reports.bp,
    bookings.bp,
    steps.bp,
    kilning.bp,
    traceability.bp,
    storage.bp,
    temperature_readings.bp,
    bitterness.bp,
    beerjson.bp,
    measured_brews.bp,
    calculations.bp,
    sheets.bp,
    requests.bp,
    matches.bp,
    combinations.bp,
    reservations.bp,
    allocations.bp,
    receipts.bp,
    delivery_notes.bp,
    many_sheets.bp,
    printed_plans.bp,
    rub_samples.bp,
    recalls.bp,
    notices.bp,
    audit_trail.bp,
    consistency.bp,
    region.bp,
)
INFO = {
    "description": (
        "Hop lots a brewer can trust: lots with lab values, estimated storage loss, bitterness, matching, "
        "reservations and spec sheets. Metric; the unit is the last word of a name. Estimates carry their "
        "interval (5th to 95th percentile) and their method; a value nobody measured is absent or null."
    ),
    "license": {"name": "Apache 2.0", "identifier": "Apache-2.0"},
}


class OpenApi(Api):  # type: ignore[misc]  # the library has no type hints
    """The library's registry of views; every error that a view does not document is a problem."""

    ERROR_SCHEMA = ProblemBody
    DEFAULT_ERROR_RESPONSE_NAME = "PROBLEM"


def register(app: Flask) -> None:
    """Register the JSON API on an app."""
    app.config.update(
        API_TITLE="Oastbook",
        API_VERSION=VERSION,
        OPENAPI_VERSION="3.1.1",
        API_SPEC_OPTIONS={
            "info": INFO,
            "servers": [{"url": "/"}],
            "security": [{}, {"bearer": []}],
        },
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    api = OpenApi(app)
    api.spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer"})
    for field, kind, shape in (
        (Kilograms, "number", None),
        (Money, "number", None),
        (Percent, "number", None),
        (Number, "number", None),
        (Whole, "integer", None),
        (Flag, "boolean", None),
        (Day, "string", "date"),
        (Instant, "string", "date-time"),
        (Text, "string", None),
        (Code, "string", None),
        (Country, "string", None),
        (Subdivision, "string", None),
        (Currency, "string", None),
    ):
        api.register_field(field, kind, shape)
    problem = {"description": "Any other problem", "content": {PROBLEM: {"schema": ProblemBody}}}
    api.spec.components.response("PROBLEM", problem)
    for blueprint in BLUEPRINTS:
        api.register_blueprint(blueprint)
    # The library's own handler of HTTP errors gives way to this one.
    problems.register(app)
    app.before_request(judge_request)
    app.extensions["oastbook-openapi"] = api
    app.add_url_rule("/v1/openapi.json", "openapi", lambda: json_response(document(app)))


def document(app: Flask) -> dict[str, Any]:
    """The OpenAPI document of an app."""
    found = cast(dict[str, Any], app.extensions["oastbook-openapi"].spec.to_dict())
    # The library describes a pagination header that no view here sends.
    found["components"]["schemas"].pop("PaginationMetadata", None)
    return found


def document_text(app: Flask) -> str:
    """The OpenAPI document as YAML, in the order of the views."""
    return yaml.safe_dump(_plain(document(app)), sort_keys=False, allow_unicode=True, width=100)


def _plain(thing: Any) -> Any:
    # Ordered and lazy mappings of the spec library become what YAML and a test can compare.
    if isinstance(thing, dict):
        return {str(name): _plain(value) for name, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [_plain(value) for value in thing]
    return thing
