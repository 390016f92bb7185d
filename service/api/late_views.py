"""Views whose notes are worked out when they are first called, or first told of.

What a view takes, gives and refuses is noted on it by decorators. To work the notes out (make the schemas, copy what
the document will say) takes as long as loading the module did, and most workers never answer most calls.
"""

from collections.abc import Callable
from functools import update_wrapper
from typing import Any

from werkzeug.routing import Rule

View = Callable[..., Any]


class LateView:
    """A view and the notes on it, innermost first."""

    takes_query = False

    def __init__(self, view: View) -> None:
        self._notes: list[Callable[[View], View]] = []
        self._made: View | None = None
        self._plain = view
        update_wrapper(self, view)

    def note(self, decorate: Callable[[View], View]) -> None:
        """Put a note on the view."""
        self._notes.append(decorate)

    def made(self) -> View:
        """The view with its notes worked out; two threads may both do so, and either result will do."""
        if self._made is None:
            view = self._plain
            for decorate in self._notes:
                view = decorate(view)
            self._made = view
        return self._made

    def __call__(self, *args: Any, **kw: Any) -> Any:
        """Answer a call."""
        return self.made()(*args, **kw)


def late(view: View) -> LateView:
    """The view as one that takes notes."""
    return view if isinstance(view, LateView) else LateView(view)


class LateRule(Rule):
    """A route that compiles how its address is written when somebody first asks for it; we write our own."""

    def _compile_builder(self, *told: Any, **named: Any) -> Callable[..., tuple[str, str]]:
        made: list[Callable[..., tuple[str, str]]] = []
        compiled = super()._compile_builder

        def build(*args: Any, **kw: Any) -> tuple[str, str]:
            if not made:
                made.append(compiled(*told, **named))
            return made[0](*args, **kw)

        return build
