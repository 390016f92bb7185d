"""The submission slip: long names and missing values, and the same facts give the same bytes."""

import pytest

from service.errors import OutOfRange
from service.facts import replace
from service.market.goods.submissions import TESTS, SlipFacts, Submission
from service.sheets.slip import render_slip
from tests.factories import NOW, TODAY, LotFactory, PartyFactory
from tests.sheets.made import LONG_NAME, printed_text, read

FACTS = SlipFacts(
    submission=Submission(
        code="S1",
        lot_code="ALDER-2026-01",
        mass_g=150,
        sent_on=TODAY,
        laboratory=LONG_NAME,
        tests=TESTS,
        made_at=NOW,
        made_by="grower:ALDER",
    ),
    lot=LotFactory(code="ALDER-2026-01", harvested_on=None, own_lot_number=None),
    grower=PartyFactory(name=LONG_NAME),
    public_url="https://hops.example.org/v1/lots/ALDER-2026-01",
)


def test_what_is_missing_is_left_to_the_pen_and_nothing_says_none() -> None:
    file = render_slip(FACTS)

    text = printed_text(file)
    assert len(read(file).pages) == 1
    assert "None" not in text
    assert "……" in text
    assert file == render_slip(FACTS)
    assert file != render_slip(replace(FACTS, submission=replace(FACTS.submission, mass_g=200)))


def test_there_is_no_paper_of_that_name() -> None:
    with pytest.raises(OutOfRange):
        render_slip(FACTS, paper="b5")
