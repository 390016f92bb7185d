"""The texts of the sheets: every one is used, and dates and numbers cannot be misread."""

import re
import string
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import service.sheets
from service.market.goods.lab_quantities import LAB_NAMES
from service.science.uncertainty import Estimate
from service.sheets.words import ENGLISH, Words

SHEETS = Path(service.sheets.__file__).parent
SOURCE = "".join(path.read_text(encoding="utf-8") for path in SHEETS.glob("*.py") if path.name != "words.py")
# Keys that end in a code of the books, written with a placeholder in the source.
BUILT = re.findall(r'f"([a-z_]+_)\{', SOURCE)


def test_every_text_is_used() -> None:
    used = set(re.findall(r'"([a-z0-9_]+)"', SOURCE)) | set(
        re.findall(r'self\.say\(\s*"([a-z_]+)"', (SHEETS / "words.py").read_text(encoding="utf-8"))
    )
    used |= set(LAB_NAMES)
    unused = [
        key for key in ENGLISH.texts if key not in used and not any(key.startswith(begin) for begin in BUILT)
    ]

    assert unused == []


def test_every_place_in_a_text_has_a_name() -> None:
    for text in ENGLISH.texts.values():
        assert all(name != "" for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def test_another_language_writes_its_own_months_and_texts() -> None:
    german = Words(language="de", months=("Januar",) * 12, texts={"from_to": "{first} bis {last}"})

    assert german.days(date(2026, 1, 3), date(2026, 1, 5)) == "3 Januar 2026 bis 5 Januar 2026"


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (date(2026, 8, 29), date(2026, 9, 1), "29 Aug 2026 to 1 Sep 2026"),
        (date(2026, 8, 29), date(2026, 8, 29), "29 Aug 2026"),
        (None, date(2026, 9, 1), "1 Sep 2026"),
        (None, None, None),
    ],
    ids=["span", "one day", "one end", "none"],
)
def test_days_are_written_as_a_span(first: date | None, last: date | None, said: str | None) -> None:
    assert ENGLISH.days(first, last) == said


@given(st.floats(0.001, 9999.0))
def test_a_number_is_what_it_was_to_four_digits(value: float) -> None:
    said = ENGLISH.number(value)

    assert "e" not in said
    assert float(said) == float(f"{value:.4g}")


@given(st.decimals(Decimal("0.001"), Decimal(10**7), places=3))
def test_a_mass_is_written_to_the_gram(mass: Decimal) -> None:
    assert Decimal(ENGLISH.mass(mass)) == mass


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (Estimate(84.71, 71.2, 103.9), "85 (71 to 104)"),
        (Estimate(3.97, 2.95, 4.0), "4.0 (3.0 to 4.0)"),
        (Estimate(0.0312, 0.021, 0.04), "0.031 (0.021 to 0.040)"),
        (Estimate(0.0, 0.0, 0.4), "0.0000 (0.0000 to 0.4000)"),
    ],
    ids=["tens", "ones", "hundredths", "nothing"],
)
def test_an_estimate_and_its_ends_have_one_number_of_decimals(found: Estimate, said: str) -> None:
    assert ENGLISH.estimate(found) == said
