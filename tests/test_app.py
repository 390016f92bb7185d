"""Building the house."""

import gc

import pytest

from service.app import create_app, resting_collector
from service.settings import Settings


def test_the_collector_works_again_once_the_house_stands() -> None:
    app = create_app(Settings(database_url="sqlite:///unused.sqlite3"))

    assert gc.isenabled()
    assert app.test_client().get("/v1/no-such-thing").status_code == 404


def test_the_collector_works_again_after_a_failure_and_stays_off_where_it_was_off() -> None:
    with pytest.raises(ZeroDivisionError), resting_collector():
        raise ZeroDivisionError
    assert gc.isenabled()

    gc.disable()
    try:
        with resting_collector():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
