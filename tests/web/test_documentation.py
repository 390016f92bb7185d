"""The documentation page loads what this house serves, and nothing else."""

from flask.testing import FlaskClient


def test_documentation_page_names_the_document_and_the_viewer(client: FlaskClient) -> None:
    answer = client.get("/docs")

    assert answer.status_code == 200
    assert 'href="/v1/openapi.json"' in answer.text
    assert 'src="/static/vendor/swagger-ui/swagger-ui-bundle.js"' in answer.text
    assert "script-src 'self';" in answer.headers["Content-Security-Policy"]


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
