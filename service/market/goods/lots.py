"""What a lot is, and when it may exist."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from service.errors import InvalidRequest
from service.facts import Fact, field
from service.market.goods.lab_reports import LabReport
from service.market.goods.provenance import Certification, certification_faults, origin_faults
from service.market.goods.temperature_logs import TemperatureLog
from service.reference.packings import LOW_OXYGEN, all_packings

# Steps whose product is the same goods as before, so that what was measured of them still holds.
SAME_GOODS = ("splitting", "opening")
FORMS = ("whole_cone", "pellet", "pellet_enriched", "wet_hop")
PELLETS = FORMS[1:3]
PACKINGS = tuple(packing.code for packing in all_packings())
# Packings that count without a measurement of the pack's own.
UNMEASURED_PACKINGS = tuple(code for code in PACKINGS if code != LOW_OXYGEN)
PACKAGE_KINDS = ("bale", "box", "foil")
SOLD_IN = ("any_mass", "whole_packages")
# What stands for the cultivar of a lot made of several; callers see null.
BLEND = "blend"
STATES = ("draft", "listed", "withdrawn")
READINESS = ("announced", "awaiting_analysis", "analysed")


class Package(Fact, frozen=True, kw_only=True):
    """So many equal packages."""

    kind: str
    count: int
    net_kg: Decimal


class StorageSpell(Fact, frozen=True, kw_only=True):
    """A stretch of storage from a day on, at one temperature, in one packing."""

    began_on: date
    packing: str
    stored_at_c: float
    residual_oxygen_percent: float | None = None


class Step(Fact, frozen=True, kw_only=True):
    """How a lot was made of others."""

    lot_code: str
    kind: str
    began_on: date
    done_on: date
    processor: str | None = None
    note: str | None = None
    made_at: datetime
    made_by: str

    @property
    def keeps_goods(self) -> bool:
        """Whether the lot holds the same goods as the one it was part of, so that its reports still speak."""
        return self.kind in SAME_GOODS


class Lot(Fact, frozen=True, kw_only=True):
    """One grower's lot, with all that is known of it.

    `taken_kg` counts what is delivered, confirmed, moved on or lost; `held_kg` the holds that have not expired.
    """

    code: str
    grower_code: str
    state: str = "draft"
    readiness: str | None = None
    cultivar: str
    cultivar_code: str | None = None
    role: str
    form: str
    crop_year: int | None = None
    harvested_on: date | None = None
    harvested_until: date | None = None
    expected_kg: Decimal | None = None
    harvest_window_from: date | None = None
    harvest_window_to: date | None = None
    picked_at: datetime | None = None
    collect_at: datetime | None = None
    mass_kg: Decimal | None = None
    taken_kg: Decimal = Decimal(0)
    held_kg: Decimal = Decimal(0)
    price_per_kg: Decimal | None = None
    currency: str | None = None
    price_open: bool = False
    own_lot_number: str | None = None
    packages: tuple[Package, ...] = ()
    sold_in: str = "any_mass"
    order_kg_min: Decimal | None = None
    note: str | None = None
    spells: tuple[StorageSpell, ...] = ()
    reports: tuple[LabReport, ...] = field(default=())
    logs: tuple[TemperatureLog, ...] = field(default=())
    made_at: datetime
    made_by: str
    first_listed_on: date | None = None
    on_hold: bool = False
    block: str | None = None
    origin_country: str | None = None
    origin_subdivision: str | None = None
    certifications: tuple[Certification, ...] = ()

    @property
    def known(self) -> bool:
        """Whether the service knows the cultivar."""
        return self.cultivar_code is not None

    @property
    def is_blend(self) -> bool:
        """Whether it was made of several cultivars."""
        return self.cultivar == BLEND

    @property
    def shown_cultivar(self) -> str | None:
        """The cultivar as callers see it: none of a lot made of several."""
        return None if self.is_blend else self.cultivar

    @property
    def stock_kg(self) -> Decimal:
        """What the lot was made with, or what is expected of it before picking."""
        return self.mass_kg or self.expected_kg or Decimal(0)

    @property
    def free_kg(self) -> Decimal:
        """What can still be promised."""
        return self.stock_kg - self.taken_kg - self.held_kg

    @property
    def shown_state(self) -> str:
        """The state as callers see it: a listed lot with nothing free is sold out."""
        return "sold_out" if self.state == "listed" and self.free_kg <= 0 else self.state

    @property
    def open_spell(self) -> StorageSpell | None:
        """How the lot is stored now."""
        return self.spells[-1] if self.spells else None

    @property
    def packing(self) -> str | None:
        """The packing of the open spell."""
        return self.spells[-1].packing if self.spells else None

    @property
    def stored_at_c(self) -> float | None:
        """The temperature of the open spell."""
        return self.spells[-1].stored_at_c if self.spells else None

    @property
    def residual_oxygen_percent(self) -> float | None:
        """The residual oxygen measured in the open spell's packages."""
        return self.spells[-1].residual_oxygen_percent if self.spells else None

    @property
    def report_codes(self) -> tuple[str, ...]:
        """The codes of its reports, oldest first."""
        return tuple(report.code for report in self.reports)

    @property
    def picked_until(self) -> date | None:
        """The last day of picking."""
        return self.harvested_until or self.harvested_on


def accept_lot(
    lot: Lot, *, today: date, booked_kg: Decimal = Decimal(0), moved_kg: Decimal = Decimal(0)
) -> Lot:
    """Let a lot into the books, or name everything in it that cannot be.

    Of a lot that gave samples, or packages into other lots, `booked_kg` says how much its packages may lack, and
    `moved_kg` how much of its mass they can no longer hold.

    Raises:
        InvalidRequest: with one error for each fault.

    """
    faults = [
        *_date_faults(lot, today),
        *_goods_faults(lot, booked_kg, moved_kg),
        *_price_faults(lot),
        *_storage_faults(lot),
        *origin_faults(lot.origin_country, lot.origin_subdivision),
        *certification_faults(lot.certifications),
    ]
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in faults],
        )
    return lot


def is_future(day: date, *, today: date) -> bool:
    """Whether a day counts as future: after tomorrow's UTC date, since the world spans two dates.

    >>> is_future(date(2026, 11, 26), today=date(2026, 11, 25))
    False

    """
    return day > today + timedelta(days=1)


def _date_faults(lot: Lot, today: date) -> list[tuple[str, str]]:
    faults = []
    first, last = lot.harvested_on, lot.harvested_until
    if first and is_future(first, today=today):
        faults.append(
            ("harvested_on", f"{first} is in the future; an announced lot gives its picking window")
        )
    if last and not first:
        faults.append(("harvested_until", "give the first day of picking too, as harvested_on"))
    if first and last and last < first:
        faults.append(("harvested_until", f"picking cannot end ({last}) before it began ({first})"))
    if last and is_future(last, today=today):
        faults.append(("harvested_until", f"{last} is in the future"))
    begin, end = lot.harvest_window_from, lot.harvest_window_to
    if begin and end and end < begin:
        faults.append(("harvest_window_to", f"the window cannot close ({end}) before it opens ({begin})"))
    sampled = min((r.sampled_on for r in lot.reports if r.corrected_by is None), default=None)
    if first and sampled and first > sampled:
        faults.append(
            ("harvested_on", f"picked from {first} on, but a report was sampled on {sampled}, before that")
        )
    return faults


def _goods_faults(lot: Lot, booked_kg: Decimal, moved_kg: Decimal) -> list[tuple[str, str]]:
    packed = sum((p.count * p.net_kg for p in lot.packages), Decimal(0))
    if not lot.packages:
        return (
            [("packages", "a lot sold in whole packages says which")]
            if lot.sold_in == "whole_packages"
            else []
        )
    if lot.mass_kg is None:
        return [("mass_kg", "a lot with packages gives its mass")]
    if packed > lot.mass_kg - moved_kg:
        rest = "" if not moved_kg else f", since {moved_kg} kg moved into other lots"
        here_kg = lot.mass_kg - moved_kg
        return [("packages", f"the packages hold {packed} kg, the lot only {here_kg} kg{rest}")]
    if lot.sold_in == "whole_packages" and packed < lot.mass_kg - booked_kg:
        return [("packages", f"sold in whole packages, they must add up: {packed} kg of {lot.mass_kg} kg")]
    return []


def _price_faults(lot: Lot) -> list[tuple[str, str]]:
    if (lot.price_per_kg is None) != (lot.currency is None):
        missing = "currency" if lot.currency is None else "price_per_kg"
        return [(missing, "a price and its currency are given together")]
    return []


def _storage_faults(lot: Lot) -> list[tuple[str, str]]:
    spell = lot.open_spell
    if spell and spell.packing == LOW_OXYGEN and spell.residual_oxygen_percent is None:
        return [("residual_oxygen_percent", f"{LOW_OXYGEN} counts only with residual oxygen measured")]
    return []
