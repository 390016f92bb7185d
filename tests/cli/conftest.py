"""Commands run by the clock of the tests, in this process and in others."""

import pytest

from tests.factories import NOW

CLOCK = {"OASTBOOK_TODAY": f"{NOW:%Y-%m-%dT%H:%M:%SZ}"}


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in CLOCK.items():
        monkeypatch.setenv(name, value)
