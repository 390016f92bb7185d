"""The whole API under generated requests: never a 500, every answer as the document says."""

from collections.abc import Iterator

import pytest
import schemathesis
from hypothesis import HealthCheck, settings

from service.app import create_app
from service.records.migrations import migrate
from service.records.session import open_records
from service.request_context import Runtime
from service.settings import Settings
from tests.builders import World
from tests.conftest import clock

PUBLIC_URL = "https://hops.example.org"
# `--hypothesis-profile=long` gives each operation a hundred requests.
EXAMPLES = settings().max_examples // 20
IS_LONG = EXAMPLES > 3

CONFIG = {
    # The coverage phase sends each operation dozens of requests; the long run has it.
    "phases": {"coverage": {"enabled": IS_LONG}},
    "checks": {
        # 422: a body that fits its schema may still not make sense: dates in order, a price with currency.
        "positive_data_acceptance": {"expected-statuses": ["2xx", "3xx", 401, 403, 404, 409, 412, 422, 428]},
        "missing_required_header": {"expected-statuses": [401, 422, 428]},
        # 413: a list of more entries than may be is over the body's limit before anybody counts them.
        "negative_data_rejection": {
            "expected-statuses": [400, 401, 403, 404, 405, 409, 412, 413, 415, 422, 428]
        },
    },
}


@schemathesis.serializer(
    "application/pdf",
    "image/png",
    "image/jpeg",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
)
def as_bytes(_context: object, value: object) -> bytes:
    """Files are sent as they are; what is generated for one is hardly ever one."""
    return value if isinstance(value, bytes) else str(value).encode("utf-8", "replace")


APP = create_app(Settings(database_url="sqlite:///unused.sqlite3"), clock=clock)
DOOR = schemathesis.openapi.from_wsgi("/v1/openapi.json", APP, config=schemathesis.Config.from_dict(CONFIG))


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """Records of this module's own with one listed lot and a draft, whose writes stay."""
    path = tmp_path_factory.mktemp("fuzz") / "fuzz.sqlite3"
    migrate(f"sqlite:///{path}")
    records = open_records(f"sqlite:///{path}")
    APP.extensions["oastbook"] = Runtime(records=records, public_url=PUBLIC_URL, clock=clock)
    world = World(records, APP.test_client())
    world.grower("ALDER")
    world.brewery("FINCH")
    world.listed()
    world.draft()
    yield world
    records.close()


@pytest.mark.slow
@DOOR.parametrize()
@settings(
    max_examples=EXAMPLES,
    derandomize=True,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_operation_answers_as_the_document_says(case: schemathesis.Case, world: World) -> None:
    who = ("specialist", "ALDER", "FINCH", None)[len(case.formatted_path) % 4]
    case.headers = {**(case.headers or {}), **world.bearing(who)}
    if case.method == "DELETE":
        case.headers.pop("If-Match", None)
    case.call_and_validate()


def test_the_document_lists_enough_to_fuzz() -> None:
    assert len(list(DOOR.get_all_operations())) >= 20
