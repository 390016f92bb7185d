"""What a row's refusal becomes, and lists in one cell."""

from datetime import date
from decimal import Decimal

from service.errors import ImpossibleReport, InvalidRequest, ListingIncomplete, OutOfRange
from service.market.goods.bulk import (
    RowFault,
    certifications_text,
    faults_of,
    listed_as,
    named_text,
    packages_text,
    spells_text,
)
from service.market.goods.lots import Package
from service.market.goods.provenance import Certification
from tests.factories import SpellFactory

COLUMNS = {"mass_kg": "mass_lb"}


def test_a_refusal_stands_at_the_column_as_the_file_calls_it() -> None:
    refusal = InvalidRequest(
        "two",
        errors=[{"pointer": "#/mass_kg", "detail": "a"}, {"pointer": "#/packages/0/count", "detail": "b"}],
    )

    assert faults_of(refusal, 7, COLUMNS) == [
        RowFault(row=7, column="mass_lb", detail="a"),
        RowFault(row=7, column="packages", detail="b"),
    ]


def test_every_kind_of_refusal_is_told() -> None:
    impossible = ImpossibleReport(
        "x", faults=[{"field": "alpha_percent", "found": 120, "detail": "over 100"}]
    )
    incomplete = ListingIncomplete("x", missing=["moisture_percent", "alpha_percent"])
    out = OutOfRange("mass_kg must be over 0", name="mass_kg")

    assert [f.column for f in faults_of(impossible, 2, {})] == ["alpha_percent"]
    assert [f.column for f in faults_of(incomplete, 2, {})] == ["moisture_percent", "alpha_percent"]
    assert faults_of(out, 2, COLUMNS) == [RowFault(row=2, column="mass_lb", detail="mass_kg must be over 0")]
    assert faults_of(InvalidRequest("odd"), 2, {})[0].column is None


def test_lists_stand_in_one_cell() -> None:
    boxes = (
        Package(kind="box", count=6, net_kg=Decimal(20)),
        Package(kind="foil", count=1, net_kg=Decimal("0.5")),
    )
    oxygen = SpellFactory(packing="barrier_low_oxygen", residual_oxygen_percent=0.5)
    held = Certification(
        kind="organic", scheme="Green Leaf", certifier="Field & Co", number="7", valid_until=date(2027, 1, 31)
    )

    assert packages_text(boxes) == "6 box 20 kg; 1 foil 0.5 kg"
    assert spells_text((oxygen,)) == "2026-08-29 barrier_low_oxygen -2.0 oxygen 0.5"
    assert certifications_text((held,)) == "organic | Green Leaf | Field & Co | 7 | 2027-01-31"
    assert named_text({"myrcene": 48.0}) == "myrcene 48.0"
    assert (listed_as("analysed"), listed_as("sold")) == ("analysed", None)
