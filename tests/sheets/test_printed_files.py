"""What every printed file owes its reader: embedded fonts, a code that reads, a title, a language, an outline."""

import pytest
import zxingcpp

from service.sheets.offer import render_offer
from service.sheets.plan import render_plan
from service.sheets.slip import render_slip
from tests.sheets import test_offer, test_plan, test_slip
from tests.sheets.made import picture, read

OFFER = test_offer.facts(3)
FILES = {
    "offer": lambda paper: render_offer(OFFER, paper=paper),
    "plan": lambda paper: render_plan(test_plan.allocation(), url=test_plan.URL, paper=paper),
    "slip": lambda paper: render_slip(test_slip.FACTS, paper=paper),
}
ADDRESSES = {"plan": test_plan.URL, "slip": test_slip.FACTS.public_url, "offer": OFFER.public_url}


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", FILES)
def test_a_file_carries_its_fonts_its_code_and_its_particulars(name: str, paper: str) -> None:
    file = FILES[name](paper)
    reader = read(file)

    for page in reader.pages:
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object().get("/FontDescriptor")
            assert described is None or "/FontFile2" in described
    assert [code.text for code in zxingcpp.read_barcodes(picture(file))] == [ADDRESSES[name]]
    assert reader.metadata.title
    assert reader.metadata.author
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.outline
    width = float(reader.pages[0].mediabox.width)
    assert width == pytest.approx(595.28 if paper == "a4" else 612, abs=0.1)
    assert file == FILES[name](paper)
