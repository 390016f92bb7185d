"""Building the app."""

from service.app import create_app
from service.settings import Settings


def test_an_app_answers_as_soon_as_it_is_built() -> None:
    app = create_app(Settings(database_url="sqlite:///unused.sqlite3"))

    assert app.test_client().get("/v1/no-such-thing").status_code == 404
