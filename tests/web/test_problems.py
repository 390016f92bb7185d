"""Every refusal has a page, and the page says what the refusal says."""

import pytest
from flask.testing import FlaskClient

from service import errors
from service.web.problems import problem_pages

CODES = sorted(
    kind.code
    for kind in vars(errors).values()
    if isinstance(kind, type) and issubclass(kind, errors.Refusal) and kind is not errors.Refusal
)


def test_problem_pages_hold_every_refusal() -> None:
    assert sorted(problem_pages()) == CODES


@pytest.mark.parametrize("code", CODES)
def test_one_problem_is_explained(client: FlaskClient, code: str) -> None:
    page = problem_pages()[code]

    answer = client.get(f"/problems/{code}")

    assert answer.status_code == 200
    assert answer.mimetype == "text/html"
    assert f"<h1>{page.title.replace(chr(39), '&#39;')}</h1>" in answer.text
    assert answer.text.count("<p>") == len(page.paragraphs) + 2


def test_all_problems_are_listed(client: FlaskClient) -> None:
    answer = client.get("/problems/")

    assert [code for code in CODES if f'href="/problems/{code}"' in answer.text] == CODES


def test_an_unknown_problem_is_not_found_and_its_name_is_escaped(client: FlaskClient) -> None:
    answer = client.get("/problems/<script>")

    assert answer.status_code == 404
    assert "<script>" not in answer.text
    assert "&lt;script&gt;" in answer.text
