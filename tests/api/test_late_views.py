"""Views whose notes wait."""

import pytest
from flask import Flask, url_for
from werkzeug.routing.exceptions import BuildError

from service.api.late_views import LateRule, late


def test_a_note_is_worked_out_once_and_not_before_the_first_call() -> None:
    worked_out = []

    def doubled(view):
        worked_out.append("doubled")
        return lambda number: 2 * view(number)

    def one_more(number: int) -> int:
        """Count on."""
        return number + 1

    view = late(one_more)
    view.note(doubled)
    before = list(worked_out)

    assert (view(1), view(2), before, worked_out) == (4, 6, [], ["doubled"])


def test_notes_are_worked_out_from_the_innermost_to_the_outermost() -> None:
    view = late(lambda: "hops")
    view.note(lambda inner: lambda: f"[{inner()}]")
    view.note(lambda inner: lambda: f"({inner()})")

    assert view() == "([hops])"


def test_a_view_that_takes_notes_keeps_its_name_and_takes_more() -> None:
    def lots() -> str:
        """Tell of lots."""
        return ""

    view = late(lots)

    assert late(view) is view
    assert (view.__name__, view.__doc__) == ("lots", "Tell of lots.")


def test_a_late_rule_writes_the_same_address_as_an_early_one() -> None:
    written = []
    for kind in (LateRule, Flask.url_rule_class):
        app = Flask(__name__)
        app.url_rule_class = kind
        app.add_url_rule("/lots/<code>/sheets/<int:number>", "sheet", lambda code, number: code)
        with app.test_request_context():
            written.append(url_for("sheet", code="A B/7", number=3, on="2026-11-26"))
            written.append(url_for("sheet", code="A", number=4))
            with pytest.raises(BuildError):
                url_for("sheet", code="A")

    assert written[:2] == ["/lots/A%20B/7/sheets/3?on=2026-11-26", "/lots/A/sheets/4"]
    assert written[2:] == written[:2]
