"""What a delivery note may say, and the table of deliveries."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, InvalidRequest
from service.market.trade.delivery_notes import (
    FORMULA_SIGNS,
    DeliveryLine,
    NotedParcel,
    deliveries_csv,
    require_one_note,
)
from service.market.trade.reservations import Reservation
from tests.factories import NOW, ListedLotFactory


def promise(**told: object) -> Reservation:
    """A delivered promise."""
    given = {
        "code": "FINCH-RES-01",
        "lot_code": "ALDER-2026-07",
        "grower_code": "ALDER",
        "brewery_code": "FINCH",
        "state": "delivered",
        "mass_kg": Decimal("40.5"),
        "delivered_on": date(2026, 11, 20),
        "delivered_kg": Decimal("40.5"),
        "made_at": NOW,
        "made_by": "brewery:FINCH",
        "changed_at": NOW,
        "changed_by": "grower:ALDER",
    }
    return Reservation(**{**given, **told})


def test_a_note_is_of_one_grower_and_one_brewery() -> None:
    lot = ListedLotFactory()
    parcels = [
        NotedParcel(promise=promise(), lot=lot),
        NotedParcel(promise=promise(code="B-2", brewery_code="WREN"), lot=lot),
    ]

    with pytest.raises(InvalidRequest, match="one grower and one brewery"):
        require_one_note(parcels)
    with pytest.raises(IllegalStep, match="is held"):
        require_one_note([NotedParcel(promise=promise(state="held"), lot=lot)])


@given(st.sampled_from(["", *FORMULA_SIGNS]), st.text(max_size=12))
def test_no_name_becomes_a_formula(sign: str, name: str) -> None:
    line = DeliveryLine(
        promise=promise(), lot=ListedLotFactory(), receipt=None, grower_name=sign + name, brewery_name="Finch"
    )
    (row,) = csv.DictReader(io.StringIO(deliveries_csv([line]), newline=""))

    assert not any(cell.startswith(FORMULA_SIGNS) for cell in row.values())
    assert row["grower_name"].removeprefix("'") == (sign + name).removeprefix("'")


def test_the_amount_counts_what_was_kept_to_the_cent() -> None:
    line = DeliveryLine(
        promise=promise(returned_kg=Decimal("10.111")),
        lot=ListedLotFactory(price_per_kg=Decimal("24.00"), currency="CAD"),
        receipt=None,
        grower_name="Alder",
        brewery_name="Finch",
    )

    assert (line.kept_kg, line.amount) == (Decimal("30.389"), Decimal("729.34"))
