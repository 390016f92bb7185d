"""What a delivery note prints, and what accounts need of deliveries; the service issues no invoice.

A delivery note is not kept. It is made of the records and of what the sender gives (package numbers, gross
mass, cold); what is left out is left to the pen. An amount in `deliveries.csv` is the price agreed at
receipt, else the lot's present price, and `price_from` says which: promises keep no price of their own.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

from service.errors import IllegalStep, InvalidRequest
from service.facts import Fact
from service.market.goods.lots import Lot
from service.market.people.parties import Party
from service.market.trade.deliveries import Receipt
from service.market.trade.reservations import COMMITTED, Reservation

HANDOVERS = ("collection", "delivery")
CENT = Decimal("0.01")
# A spreadsheet takes a cell that begins so for a formula.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


class NotedParcel(Fact, frozen=True, kw_only=True):
    """One parcel of a note: the promise, its lot, and what was written of its packages; None is left to the pen."""

    promise: Reservation
    lot: Lot
    package_numbers: str | None = None
    gross_kg: Decimal | None = None

    @property
    def net_kg(self) -> Decimal:
        """What was delivered, or what is confirmed and to be handed over."""
        return self.promise.delivered_kg or self.promise.mass_kg


class DeliveryNoteFacts(Fact, frozen=True, kw_only=True):
    """Everything a delivery note prints; None where the pen is to say it."""

    grower: Party
    brewery: Party
    parcels: tuple[NotedParcel, ...]
    handover: str | None
    is_cold: bool | None
    printed_on: date
    public_url: str

    @property
    def is_delivered(self) -> bool:
        """Whether the books have every parcel as delivered."""
        return all(parcel.promise.state == "delivered" for parcel in self.parcels)

    @property
    def net_kg(self) -> Decimal:
        """The net mass of all parcels."""
        return sum((parcel.net_kg for parcel in self.parcels), Decimal(0))

    @property
    def gross_kg(self) -> Decimal | None:
        """The gross mass of all parcels; None unless each was given."""
        given = [parcel.gross_kg for parcel in self.parcels if parcel.gross_kg is not None]
        return sum(given, Decimal(0)) if len(given) == len(self.parcels) else None


def require_one_note(parcels: Sequence[NotedParcel]) -> None:
    """Refuse what no single note can say.

    Raises:
        IllegalStep: a promise is neither confirmed nor delivered.
        InvalidRequest: they are not of one grower and one brewery, one comes twice, or gross is under net.

    """
    faults = []
    for place, parcel in enumerate(parcels):
        promise = parcel.promise
        if promise.state not in COMMITTED:
            raise IllegalStep(
                f"reservation {promise.code} is {promise.state}; a delivery note is for what both sides confirmed",
                state=promise.state,
            )
        if parcel.gross_kg is not None and parcel.gross_kg < parcel.net_kg:
            text = f"gross {parcel.gross_kg} kg is under the net {parcel.net_kg} kg"
            faults.append({"pointer": f"#/parcels/{place}/gross_kg", "detail": text})
    if len({p.promise.code for p in parcels}) < len(parcels):
        faults.append({"pointer": "#/parcels", "detail": "Each reservation is named once."})
    if len({(p.promise.grower_code, p.promise.brewery_code) for p in parcels}) > 1:
        faults.append({"pointer": "#/parcels", "detail": "A note is of one grower and one brewery."})
    if faults:
        raise InvalidRequest("; ".join(fault["detail"] for fault in faults), errors=faults)


class DeliveryLine(Fact, frozen=True, kw_only=True):
    """One delivery as accounts need it."""

    promise: Reservation
    lot: Lot
    receipt: Receipt | None
    grower_name: str
    brewery_name: str

    @property
    def kept_kg(self) -> Decimal:
        """What was delivered and did not come back."""
        return self.promise.taken_kg

    @property
    def billed_kg(self) -> Decimal:
        """What the brewery pays for: the kilograms it accepted, or all that it kept while it has not received them."""
        return self.kept_kg if self.receipt is None else self.receipt.accepted_kg

    @property
    def price(self) -> tuple[Decimal, str, str] | None:
        """The price per kg, its currency, and where it comes from; None where the two agree it elsewhere."""
        found = self.receipt
        if found is not None and found.agreed_price_per_kg is not None and found.currency is not None:
            return found.agreed_price_per_kg, found.currency, "agreed at receipt"
        if self.lot.price_per_kg is None or self.lot.currency is None:
            return None
        return self.lot.price_per_kg, self.lot.currency, "price of the lot as it stands"

    @property
    def amount(self) -> Decimal | None:
        """The billed mass times the price, to the cent."""
        return (
            None if self.price is None else (self.billed_kg * self.price[0]).quantize(CENT, ROUND_HALF_EVEN)
        )


COLUMNS = (
    "delivered_on",
    "reservation",
    "grower",
    "grower_name",
    "brewery",
    "brewery_name",
    "lot",
    "cultivar",
    "crop_year",
    "delivered_kg",
    "returned_kg",
    "kept_kg",
    "billed_kg",
    "price_per_kg",
    "currency",
    "amount",
    "price_from",
    "receipt",
    "received_on",
    "accepted_kg",
    "refused_kg",
    "short_kg",
)


def deliveries_csv(lines: Sequence[DeliveryLine]) -> str:
    """Deliveries as a table: each column with its unit, no cell that a spreadsheet would run as a formula."""
    file = io.StringIO()
    table = csv.DictWriter(file, COLUMNS, lineterminator="\r\n")
    table.writeheader()
    for line in lines:
        table.writerow({name: _cell(value) for name, value in dict(_told(line)).items()})
    return file.getvalue()


def _told(line: DeliveryLine) -> Iterator[tuple[str, object]]:
    promise, lot, receipt, price = line.promise, line.lot, line.receipt, line.price
    told: Mapping[str, object] = {
        "delivered_on": promise.delivered_on,
        "reservation": promise.code,
        "grower": promise.grower_code,
        "grower_name": line.grower_name,
        "brewery": promise.brewery_code,
        "brewery_name": line.brewery_name,
        "lot": promise.lot_code,
        "cultivar": lot.shown_cultivar or "blend",
        "crop_year": lot.crop_year,
        "delivered_kg": promise.delivered_kg,
        "returned_kg": promise.returned_kg,
        "kept_kg": line.kept_kg,
        "billed_kg": line.billed_kg,
        "price_per_kg": price[0] if price else None,
        "currency": price[1] if price else None,
        "amount": line.amount,
        "price_from": price[2] if price else "by agreement",
        "receipt": "received" if receipt else "not received yet",
        "received_on": receipt.received_on if receipt else None,
        "accepted_kg": receipt.accepted_kg if receipt else None,
        "refused_kg": receipt.refused_kg if receipt else None,
        "short_kg": receipt.short_kg(promise) if receipt else None,
    }
    yield from told.items()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return format(value, "f")
    text = str(value)
    return f"'{text}" if text.startswith(FORMULA_SIGNS) else text
