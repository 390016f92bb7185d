"""One page per refusal: where a problem's `type` leads."""

import inspect
from collections.abc import Iterator

from flask import Blueprint, Response, make_response, render_template

from service.errors import Refusal
from service.facts import Fact

bp = Blueprint("problems", __name__, url_prefix="/problems")


class ProblemPage(Fact, frozen=True):
    """A refusal as its page explains it."""

    code: str
    title: str
    paragraphs: tuple[str, ...]


def problem_pages() -> dict[str, ProblemPage]:
    """A page for every refusal, by code."""
    pages = (
        ProblemPage(kind.code, kind.title, _paragraphs(inspect.getdoc(kind) or ""))
        for kind in _kinds(Refusal)
    )
    return {page.code: page for page in sorted(pages, key=lambda page: page.code)}


def _kinds(kind: type[Refusal]) -> Iterator[type[Refusal]]:
    for below in kind.__subclasses__():
        yield below
        yield from _kinds(below)


def _paragraphs(text: str) -> tuple[str, ...]:
    return tuple(" ".join(part.split()) for part in text.split("\n\n"))


@bp.get("/")
def all_problems() -> str:
    """List every refusal."""
    return render_template("problems.html", pages=problem_pages().values())


@bp.get("/<code>")
def one_problem(code: str) -> Response:
    """Explain one refusal."""
    page = problem_pages().get(code)
    if page is None:
        return make_response(render_template("no_problem.html", code=code), 404)
    return make_response(render_template("problem.html", page=page))
