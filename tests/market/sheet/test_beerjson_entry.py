"""A lot as a hop entry: what is known is written, what is not is left out."""

import pytest

from service.errors import FigureMissing
from service.market.sheet.beerjson_entry import hop_document, hop_entry
from service.market.sheet.lot_view import view_lot
from tests.factories import TODAY, LabReportFactory, LotFactory, PartyFactory


def entry(*, report=None, **told):  # type: ignore[no-untyped-def]
    lot = LotFactory(reports=(LabReportFactory(code="R1", **(report or {})),), **told)
    return hop_entry(view_lot(lot, grower=PartyFactory(), statuses=(), today=TODAY))


def test_an_entry_of_the_bare_minimum_holds_no_empty_member() -> None:
    bare = {
        "beta_percent": None,
        "hop_storage_index": None,
        "oil_ml_per_100g": None,
        "moisture_percent": None,
    }
    found = entry(report=bare, cultivar="Unknown", cultivar_code=None, crop_year=None)

    assert set(found) == {
        "name",
        "producer",
        "product_id",
        "origin",
        "form",
        "type",
        "alpha_acid",
        "notes",
        "inventory",
    }
    assert "Storage Index" not in found["notes"]


@pytest.mark.parametrize(
    ("form", "word"),
    [("whole_cone", "leaf"), ("wet_hop", "leaf (wet)"), ("pellet", "pellet"), ("pellet_enriched", "pellet")],
)
def test_forms_are_written_in_the_standards_words(form: str, word: str) -> None:
    assert entry(form=form)["form"] == word


def test_the_storage_index_never_stands_in_percent_lost() -> None:
    # The published six-month figure of Cascade is 60 % lost (USDA-ARS accession 21092), whatever the index.
    for index in (0.25, 0.30, 0.60):
        found = entry(report={"hop_storage_index": index}, cultivar="Cascade", cultivar_code="CASCADE")
        assert found["percent_lost"] == {"unit": "%", "value": 60.0}


def test_shares_say_their_basis() -> None:
    shares = {"oil_shares_percent": {"myrcene": 40.0}, "oil_shares_basis": "mass"}

    found = entry(report=shares)

    assert "Parts of the oil by share of mass." in found["notes"]
    assert found["oil_content"]["myrcene"] == {"unit": "%", "value": 40.0}


def test_without_alpha_there_is_no_document() -> None:
    view = view_lot(LotFactory(), grower=PartyFactory(), statuses=(), today=TODAY)

    with pytest.raises(FigureMissing):
        hop_document(view)
