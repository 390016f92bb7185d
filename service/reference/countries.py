"""The countries of ISO 3166-1, so that a code that merely looks like one is seen."""

from functools import cache

from service.reference.load import load_table

# Codes that people write and the standard does not give.
MEANT = {"UK": "GB", "EL": "GR", "EN": "GB"}


@cache
def country_names() -> dict[str, str]:
    """Give the name of each country by its code.

    >>> country_names()["CZ"]
    'Czech Republic'

    """
    return {row.text("code"): row.text("name") for row in load_table("countries", has_unit=False)}


def country_fault(code: str) -> str | None:
    """Say what is wrong with a code; None if it is a country.

    >>> country_fault("UK")
    'UK is no country of ISO 3166-1; is GB meant?'
    >>> country_fault("GB") is None
    True

    """
    if code in country_names():
        return None
    hint = f"; is {MEANT[code]} meant?" if code in MEANT else ""
    return f"{code} is no country of ISO 3166-1{hint}"
