"""The document that callers read is the one the program writes, and it is valid OpenAPI 3.1."""

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from flask import Flask
from openapi_spec_validator import validate

from service.api.documents import document_text

FILE = Path(__file__).resolve().parents[1] / "openapi" / "openapi.yaml"
VERBS = ("get", "post", "put", "patch", "delete")


@pytest.fixture(scope="module")
def written() -> dict[str, Any]:
    """The document as it lies in the repository."""
    return dict(yaml.safe_load(FILE.read_text(encoding="utf-8")))


def operations(document: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    """Every operation with its address."""
    return [
        (verb, path, item[verb]) for path, item in document["paths"].items() for verb in VERBS if verb in item
    ]


def test_the_written_document_is_the_programs_own(app: Flask) -> None:
    assert document_text(app) == FILE.read_text(encoding="utf-8"), "run: oastbook openapi"


def test_the_document_is_valid(written: dict[str, Any]) -> None:
    assert written["openapi"] == "3.1.1"
    validate(written)


def test_every_operation_says_what_it_does_under_a_name_of_its_own(written: dict[str, Any]) -> None:
    found = operations(written)
    names = [operation.get("operationId") for _, _, operation in found]

    assert len(found) > 30
    assert [(verb, path) for verb, path, operation in found if not operation.get("summary")] == []
    assert None not in names
    assert sorted(names) == sorted(set(names))


def test_every_problem_is_spoken_as_a_problem(written: dict[str, Any]) -> None:
    wrong = [
        (verb, path, status)
        for verb, path, operation in operations(written)
        for status, answer in operation["responses"].items()
        if status[0] in "45"
        and "$ref" not in answer
        and list(answer["content"]) != ["application/problem+json"]
    ]

    assert wrong == []


def test_bodies_refuse_what_they_do_not_know(written: dict[str, Any]) -> None:
    schemas = written["components"]["schemas"]
    bodies = {
        content["schema"]["$ref"].rsplit("/", 1)[-1]
        for _, path, operation in operations(written)
        for content in operation.get("requestBody", {}).get("content", {}).values()
        if "$ref" in content["schema"] and not re.search("beerjson|calculations", path)
    }

    assert len(bodies) > 8
    assert [name for name in sorted(bodies) if schemas[name].get("additionalProperties") is not False] == []
