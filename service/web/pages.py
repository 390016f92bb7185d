"""Registers the HTML pages on an app: the front page, the problem pages, the documentation page."""

from flask import Blueprint, Flask, Response, render_template

from service.web import documentation, problems

SECURITY = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "font-src 'self'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

bp = Blueprint(
    "web",
    __name__,
    template_folder="templates",
    static_folder="static",
    static_url_path="/static",
)
bp.register_blueprint(problems.bp)
bp.register_blueprint(documentation.bp)


@bp.get("/")
def front_page() -> str:
    """Say what the service is, and where its documentation is."""
    return render_template("front.html")


@bp.after_request
def guard(answer: Response) -> Response:
    """Let a page load nothing but what this service serves."""
    for name, value in SECURITY.items():
        answer.headers.setdefault(name, value)
    return answer


def register(app: Flask) -> None:
    """Register the pages on an app."""
    app.register_blueprint(bp)
