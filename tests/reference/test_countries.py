"""Countries by their codes."""

import re

import pytest

from service.reference.countries import country_fault, country_names
from service.reference.seed_wordings import EUROPEAN_UNION


def test_every_code_is_two_letters_and_has_a_name() -> None:
    assert len(country_names()) == 249
    assert all(re.fullmatch("[A-Z]{2}", code) for code in country_names())
    assert all(country_names().values())


def test_the_member_states_are_countries() -> None:
    assert country_names().keys() >= EUROPEAN_UNION
    assert len(EUROPEAN_UNION) == 27


@pytest.mark.parametrize(("code", "meant"), [("UK", "GB"), ("EL", "GR"), ("XX", None), ("CA", "")])
def test_what_is_no_country_is_told_with_what_may_be_meant(code: str, meant: str | None) -> None:
    fault = country_fault(code)

    assert (fault is None) == (meant == "")
    assert meant is None or fault is None or f"is {meant} meant?" in fault
