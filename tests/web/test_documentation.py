"""The documentation page loads what this house serves, and nothing else."""

from flask.testing import FlaskClient

from service.web.pages import SECURITY


def test_documentation_page_names_the_document_and_the_viewer(client: FlaskClient) -> None:
    answer = client.get("/docs")

    assert answer.status_code == 200
    assert 'href="/v1/openapi.json"' in answer.text
    assert 'src="/static/vendor/swagger-ui/swagger-ui-bundle.js"' in answer.text


def test_documentation_page_is_looser_in_styles_alone(client: FlaskClient) -> None:
    policy = client.get("/docs").headers["Content-Security-Policy"]

    assert policy == SECURITY["Content-Security-Policy"].replace(
        "style-src 'self'", "style-src 'self' 'unsafe-inline'"
    )


def test_documentation_page_finds_all_its_files(client: FlaskClient) -> None:
    for path in (
        "/v1/openapi.json",
        "/static/oastbook.css",
        "/static/oastbook.svg",
        "/static/documentation.js",
        "/static/vendor/swagger-ui/swagger-ui.css",
        "/static/vendor/swagger-ui/swagger-ui-bundle.js",
    ):
        with client.get(path) as answer:
            assert answer.status_code == 200, path
