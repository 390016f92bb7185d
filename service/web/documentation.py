"""The documentation page: the OpenAPI document, to be read and tried out.

The viewer is vendored, with licence, version and SHA-256 beside it. It needs inline styles, so this page
alone allows them; scripts are limited to files that this service serves.
"""

from flask import Blueprint, Response, make_response, render_template

bp = Blueprint("documentation", __name__)

# The viewer writes styles into its own elements; scripts are limited to files that this service serves.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; font-src 'self'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)


@bp.get("/docs")
def documentation_page() -> Response:
    """Show the OpenAPI document."""
    answer = make_response(render_template("documentation.html"))
    answer.headers["Content-Security-Policy"] = POLICY
    return answer
