"""The page as a picture: nothing overflows, nothing overlaps, and it looks as it did when it was looked at."""

import io
from datetime import date
from pathlib import Path

import numpy as np
import pdfplumber
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from service.facts import replace
from service.market.goods.cultivars import CultivarStatus
from service.market.goods.lots import Lot
from service.sheets.lot_sheet import render_lot_sheet
from service.sheets.papers import PAPERS
from tests.factories import PartyFactory
from tests.sheets.made import (
    LONG_NAME,
    analysed,
    announced,
    awaiting,
    certified,
    crowded,
    facts_of,
    picture,
    stated,
    wet,
)

GOLDEN = Path(__file__).resolve().parents[1] / "data" / "sheets"
LONG = {"name": (LONG_NAME * 2)[:200], "locality": (LONG_NAME * 2)[:200]}
PROTECTED = CultivarStatus(
    cultivar_code="WILLAMETTE",
    country="CA",
    status="protected",
    source="an invented register of plant breeders' rights",
    checked_on=date(2026, 11, 1),
)


def crowded_statements() -> Lot:
    """The fullest lot, and every certification that the door lets in."""
    held = replace(
        certified().certifications[0], scheme=LONG_NAME[:80], certifier=LONG_NAME[:120], number="7" * 80
    )
    return replace(crowded(), block=LONG_NAME[:60], origin_country="US", certifications=(held,) * 20)


CASES = {
    "analysed": lambda: facts_of(analysed()),
    "far_outside": lambda: facts_of(
        analysed(cultivar="Cascade", cultivar_code="CASCADE", report={"alpha_percent": 14.2}), revision=None
    ),
    "stated": lambda: facts_of(certified(), statuses=(PROTECTED,), stated=stated()),
    "stated_crowded": lambda: facts_of(
        crowded_statements(), grower=LONG, revision=None, statuses=(PROTECTED,), stated=stated(licences=())
    ),
    "announced": lambda: facts_of(announced()),
    "wet": lambda: facts_of(wet()),
    "awaiting": lambda: facts_of(awaiting()),
    "crowded": lambda: facts_of(crowded(), grower=LONG, revision=None),
    "crowded_unprintable": lambda: facts_of(crowded(), grower={"name": "山" * 200, "locality": "田" * 200}),
}
EVERY_CASE = pytest.mark.parametrize("name", CASES)
BOTH_PAPERS = pytest.mark.parametrize("paper", list(PAPERS))


def lines_of(file: bytes) -> list[list[dict[str, float]]]:
    """Every drawn line of text of each page, as the box of its letters."""
    with pdfplumber.open(io.BytesIO(file)) as document:
        return [
            page.extract_words(use_text_flow=False, keep_blank_chars=False, x_tolerance=1.5, y_tolerance=1)
            for page in document.pages
        ]


def overlapping(words: list[dict[str, float]]) -> list[tuple[str, str]]:
    """Pairs of words whose boxes share more than a hair; the boxes of a font are a little higher than its letters."""
    ends = np.array([[w["x0"], w["x1"], w["top"], w["bottom"]] for w in words])
    across = np.minimum(ends[:, None, 1], ends[None, :, 1]) - np.maximum(ends[:, None, 0], ends[None, :, 0])
    down = np.minimum(ends[:, None, 3], ends[None, :, 3]) - np.maximum(ends[:, None, 2], ends[None, :, 2])
    found = np.argwhere(np.triu((across > 0.4) & (down > 1.2), k=1))
    return [(str(words[a]["text"]), str(words[b]["text"])) for a, b in found]


@EVERY_CASE
@BOTH_PAPERS
def test_nothing_leaves_the_margins_and_nothing_overlaps(name: str, paper: str) -> None:
    size = PAPERS[paper]
    for words in lines_of(render_lot_sheet(CASES[name](), paper=paper)):
        assert [
            w["text"] for w in words if w["x0"] < size.side - 0.5 or w["x1"] > size.width - size.side + 0.5
        ] == []
        assert [w["text"] for w in words if w["top"] < 20 or w["bottom"] > size.height - 20] == []
        assert overlapping(words) == []


@given(
    cultivar=st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=200),
    grower=st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), min_size=1, max_size=200),
    alpha=st.floats(0.0, 35.0),
    oil=st.one_of(st.none(), st.floats(0.0, 20.0)),
)
@settings(max_examples=12)
def test_whatever_is_written_in_the_books_the_page_holds_it(
    cultivar: str, grower: str, alpha: float, oil: float | None
) -> None:
    lot = analysed(
        cultivar=cultivar, cultivar_code=None, report={"alpha_percent": alpha, "oil_ml_per_100g": oil}
    )
    pages = lines_of(render_lot_sheet(facts_of(lot, grower={"name": grower}), paper="letter"))

    assert [overlapping(words) for words in pages] == [[]]


@EVERY_CASE
def test_the_page_looks_as_it_did_when_it_was_looked_at(name: str) -> None:
    seen = np.asarray(drawn(name), dtype=float)
    with Image.open(GOLDEN / f"{name}.png") as image:
        wanted = np.asarray(image, dtype=float)

    assert seen.shape == wanted.shape
    # Of 255 levels: a lost bar, a moved column or another font is far over it, another anti-aliasing far under.
    assert np.abs(seen - wanted).mean() < 2.0


def test_another_page_does_not_pass_for_it() -> None:
    one, other = (np.asarray(drawn(name), dtype=float) for name in ("analysed", "far_outside"))

    assert np.abs(one - other).mean() > 2.0


def test_the_one_ink_stays_dark_in_a_grey_print() -> None:
    page = np.asarray(drawn("analysed", dots_per_inch=110))

    # The cultivar's name is the only thing in the left of this band, and it is in the ink.
    assert page[115:160, 100:380].min() < 90


def drawn(name: str, *, dots_per_inch: int = 60) -> Image.Image:
    """A case as a picture, with the same party whatever ran before."""
    PartyFactory.reset_sequence()
    return picture(render_lot_sheet(CASES[name]()), dots_per_inch=dots_per_inch)


def keep_all() -> None:
    """Keep today's pictures as the golden ones: ``python -m tests.sheets.test_lot_blocks``, then look at each."""
    GOLDEN.mkdir(parents=True, exist_ok=True)
    for name in CASES:
        drawn(name).save(GOLDEN / f"{name}.png", optimize=True)


if __name__ == "__main__":
    keep_all()
