"""Every refusal has a page, and the page says what the refusal says."""

import inspect

import pytest
from flask import Flask, render_template
from flask.testing import FlaskClient

from service import errors
from service.web.problems import ProblemPage, problem_pages

KINDS = [
    kind
    for kind in vars(errors).values()
    if isinstance(kind, type) and issubclass(kind, errors.Refusal) and kind is not errors.Refusal
]
CODES = sorted(kind.code for kind in KINDS)


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


def test_what_a_docstring_marks_as_code_is_shown_as_code(client: FlaskClient) -> None:
    answer = client.get("/problems/token-needed")

    assert "<code>Authorization: Bearer TOKEN</code>" in answer.text
    assert "`" not in answer.text


def test_every_docstring_closes_the_code_that_it_opens() -> None:
    assert [kind.code for kind in KINDS if (inspect.getdoc(kind) or "").count("`") % 2] == []


def test_a_problem_page_escapes_its_words(app: Flask) -> None:
    page = ProblemPage("a-code", "1 < 2 & 3", ("<b>loud</b> and `<i>`",))

    with app.test_request_context():
        text = render_template("problem.html", page=page)

    assert "<h1>1 &lt; 2 &amp; 3</h1>" in text
    assert "<p>&lt;b&gt;loud&lt;/b&gt; and <code>&lt;i&gt;</code></p>" in text


def test_an_address_without_the_closing_slash_leads_to_the_index(client: FlaskClient) -> None:
    answer = client.get("/problems")

    assert answer.status_code == 308
    assert answer.headers["Location"].endswith("/problems/")
