"""Puts the JSON door together, and writes openapi.yaml from the views' own notes."""

from typing import Any, cast

from flask import Flask

from service.api import health, problems
from service.api.brewing import beerjson, bitterness, fits
from service.api.calculations import calculations
from service.api.contract import refuse_what_no_view_reads
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
    bookings,
    bulk,
    certificates,
    changes,
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
from service.api.problems import ProblemApi
from service.api.processing import kilning, steps
from service.api.sheet import many_sheets, printed_plans, sheets
from service.api.storage import report_comparison, storage, temperature_readings
from service.api.trade import delivery_notes, notices, recalls, receipts, reservations, rub_samples, trees

VERSION = "1"
DOORS = (
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
    trees.bp,
    storage.bp,
    temperature_readings.bp,
    bitterness.bp,
    beerjson.bp,
    fits.bp,
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
    changes.bp,
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


def register(app: Flask) -> ProblemApi:
    """Open the JSON door on an app."""
    app.config.update(
        API_TITLE="Oastbook",
        API_VERSION=VERSION,
        OPENAPI_VERSION="3.1.1",
        OPENAPI_URL_PREFIX="/v1",
        OPENAPI_JSON_PATH="openapi.json",
        API_SPEC_OPTIONS={
            "info": INFO,
            "servers": [{"url": "/"}],
            "security": [{}, {"bearer": []}],
        },
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    door = ProblemApi(app)
    door.spec.components.security_scheme("bearer", {"type": "http", "scheme": "bearer"})
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
        door.register_field(field, kind, shape)
    for bp in DOORS:
        door.register_blueprint(bp)
    problems.register(app)
    app.before_request(refuse_what_no_view_reads)
    app.extensions["oastbook-documents"] = door
    return door


def document(app: Flask) -> dict[str, Any]:
    """The OpenAPI document of an app."""
    return cast(dict[str, Any], app.extensions["oastbook-documents"].document())


def document_text(app: Flask) -> str:
    """The OpenAPI document as YAML, in the order of the views."""
    import yaml  # noqa: PLC0415 -- slow import, and only the command needs it

    return yaml.safe_dump(_plain(document(app)), sort_keys=False, allow_unicode=True, width=100)


def _plain(thing: Any) -> Any:
    # Ordered and lazy mappings of the spec library become what YAML and a test can compare.
    if isinstance(thing, dict):
        return {str(name): _plain(value) for name, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [_plain(value) for value in thing]
    return thing
