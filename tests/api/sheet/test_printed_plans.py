"""Offers and plans over HTTP: who may, what is refused, and that the figures are the answer's."""

import io

import pypdf
import pytest

from tests.api.matching.test_requests import place
from tests.builders import World


def text_of(file: bytes) -> str:
    """The words of a PDF, without spaces."""
    return "".join("".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(file)).pages)


@pytest.fixture
def valley(world: World) -> World:
    """Two growers and a brewery."""
    world.grower("ALDER")
    world.grower("ROWAN", latitude_deg=45.70, longitude_deg=-64.40)
    world.brewery("FINCH")
    return world


def test_an_offer_says_what_the_matches_say(valley: World) -> None:
    for who in ("ALDER", "ROWAN"):
        valley.listed(who, cultivar="Nugget", report={"alpha_percent": 13.0, "beta_percent": 4.5})
    place(valley, firmness="firm")
    matches = valley.get("/v1/requests/FINCH-REQ-01/matches", who="FINCH").json["items"]

    answer = valley.get("/v1/requests/FINCH-REQ-01/offer.pdf", who="FINCH")
    text = text_of(answer.data)

    assert (answer.status_code, answer.mimetype, len(matches)) == (200, "application/pdf", 2)
    for match in matches:
        alpha = match["alpha_percent_when_needed"]
        assert match["lot_code"] in text
        assert f"{alpha['estimate']:.1f}({alpha['low']:.1f}to{alpha['high']:.1f})" in text
        assert f"{match['cost']['amount']:.2f}CAD;{match['cost']['per_kg_alpha']:.2f}akgofalpha" in text
        assert f"{match['lot_code']}:" in text
    assert "None" not in text
    assert valley.get("/v1/requests/FINCH-REQ-01/offer.pdf", who="FINCH").data == answer.data
    one = text_of(valley.get("/v1/requests/FINCH-REQ-01/offer.pdf", who="specialist", lots=1).data)
    assert "Morelotsmeetit" in one
    assert valley.get("/v1/requests/FINCH-REQ-01/offer.pdf", who="ALDER").status_code in (403, 404)


def test_an_offer_without_a_lot_says_so_and_what_nearly_does(valley: World) -> None:
    weak = valley.listed()
    place(valley)

    text = text_of(valley.get("/v1/requests/FINCH-REQ-01/offer.pdf", who="FINCH", paper="letter").data)

    assert "Nolistedlotmeetseverylimitofthisrequest." in text
    assert f"{weak}(Willamette):itwouldtakealphafrom" in text


def test_a_plan_is_printed_for_the_specialist_alone(valley: World) -> None:
    code = valley.post("/v1/allocations", {}, who="specialist").json["code"]
    address = f"/v1/allocations/{code}/plan.pdf"

    assert "Nothingistakeninthisplan." in text_of(valley.get(address, who="specialist").data)
    assert valley.get(address, who="ALDER").status_code == 403
    assert valley.get(address).status_code == 401
    assert valley.get("/v1/allocations/ALLOCATION-9999/plan.pdf", who="specialist").status_code == 404
