"""The fonts: those that were fetched, their licence beside them; what they lack is found; lines hold their width."""

import hashlib
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.sheets.fonts import REGULAR, Style, cut, printable, width_of, wrap

STYLE = Style(REGULAR, 8.0, 10.0, (0.0, 0.0, 0.0))
FOLDER = resources.files("service.sheets") / "fonts"


def test_each_file_is_the_one_that_was_fetched() -> None:
    lines = (FOLDER / "SHA256SUMS").read_text(encoding="utf-8").split("\n")[:-1]
    sums = {name: digest for digest, name in (line.split("  ") for line in lines)}
    files = {
        f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in FOLDER.iterdir() if f.name != "SHA256SUMS"
    }

    assert files == sums


def test_the_licence_lies_beside_the_fonts() -> None:
    assert "Permission is hereby granted, free of charge" in (FOLDER / "LICENSE").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "name",
    [
        "Žatecký poloraný červeňák",
        "Обʼєднання хмелярів Ґалаґан",
        "Συνεταιρισμός Λυκίσκου",
        "Nguyễn Văn Ánh",
        "Þórður Åß",
    ],
    ids=["Czech", "Ukrainian", "Greek", "Vietnamese", "northern"],
)
def test_latin_greek_and_cyrillic_names_print_as_they_are(name: str) -> None:
    assert printable(name) == (name, ())


def test_a_letter_and_its_accent_print_as_one() -> None:
    assert printable("Z\u030catec") == ("Žatec", ())


@pytest.mark.parametrize(
    ("text", "shown", "lacking"),
    [
        ("山田", "[U+5C71][U+7530]", ("U+5C71", "U+7530")),
        ("שלום", "[U+05E9][U+05DC][U+05D5][U+05DD]", ("U+05E9", "U+05DC", "U+05D5", "U+05DD")),
        ("hop 🍺🍺", "hop [U+1F37A][U+1F37A]", ("U+1F37A",)),
    ],
    ids=["without a glyph", "right to left", "picture"],
)
def test_what_cannot_be_printed_is_written_by_its_number(
    text: str, shown: str, lacking: tuple[str, ...]
) -> None:
    assert printable(text) == (shown, lacking)


def test_invisible_signs_and_line_breaks_do_not_reach_the_page() -> None:
    assert printable("A\u202ebc\u00ad\r\n\t d") == ("Abc d", ())


@given(st.text(max_size=120))
@settings(max_examples=60)
def test_whatever_comes_in_only_signs_with_a_glyph_come_out(text: str) -> None:
    shown, _ = printable(text)

    assert printable(shown) == (shown, ())
    assert shown.isprintable()


@given(
    st.text(st.characters(codec="latin-1", exclude_categories=("Cc", "Cf")), max_size=200), st.integers(1, 4)
)
@settings(max_examples=60)
def test_no_line_is_wider_than_its_room_nor_are_there_too_many(text: str, most: int) -> None:
    lines = wrap(printable(text)[0], STYLE, 80.0, most)

    assert len(lines) <= most
    assert all(width_of(line, STYLE) <= 80.0 + 1e-6 for line in lines)


def test_a_text_that_fits_keeps_every_sign() -> None:
    text = "Donaudampfschiffahrtsgesellschaft and so on"

    assert "".join(wrap(text, STYLE, 60.0, 9)).replace(" ", "") == text.replace(" ", "")


def test_a_text_that_is_cut_ends_in_an_ellipsis() -> None:
    assert wrap("one two three four five six", STYLE, 30.0, 1) == ("one t…",)
    assert cut("one two", STYLE, 100.0) == "one two"
