"""Wet hops: sold against a picking window that the grower narrows, and old within hours.

The window may narrow, and does not move while kilograms are promised. Until the hour of picking is given,
the age is unknown, not zero.
"""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from service.errors import FixedByListing, InvalidRequest
from service.facts import Fact
from service.market.goods.lab_reports import Figures
from service.market.goods.lots import Lot, is_future
from service.reference.assumptions import get_assumption
from service.reference.cautions import get_caution
from service.science.uncertainty import Estimate

WINDOW = ("harvest_window_from", "harvest_window_to")
# A brewery fetches wet hops on the day of picking or the next; house rule, assumption, no source.
COLLECTED_WITHIN = timedelta(days=2)


class WetHops(Fact, frozen=True, kw_only=True):
    """What matters of wet hops beside any lot's record; `age_hours` is None until the hour of picking is known."""

    picked_at: datetime | None
    collect_at: datetime | None
    age_hours: float | None
    moisture_percent: Estimate
    moisture_is_measured: bool
    words: tuple[str, ...]


def wet_hops(lot: Lot, figures: Figures, *, now: datetime) -> WetHops | None:
    """What matters of a wet lot at a moment; None for any other form."""
    if lot.form != "wet_hop":
        return None
    assumed = get_assumption("wet_hop_moisture_percent")
    measured = figures.moisture_percent
    words = []
    if measured is None:
        words.append(f"{assumed.words} ({assumed.mark}: {assumed.source})")
    if lot.picked_at is None and lot.harvested_on is not None:
        words.append("The hour of picking was not given, so the age is not known.")
    words += [get_caution(code).words for code in ("mould", "harvest_interval")]
    moisture = (
        Estimate(assumed.value, assumed.low, assumed.high)
        if measured is None
        else Estimate(measured.value, measured.value, measured.value)
    )
    return WetHops(
        picked_at=lot.picked_at,
        collect_at=lot.collect_at,
        age_hours=_hours(now - lot.picked_at) if lot.picked_at else None,
        moisture_percent=moisture,
        moisture_is_measured=measured is not None,
        words=tuple(words),
    )


def _hours(past: timedelta) -> float:
    return max(0.0, round(past.total_seconds() / 3600, 1))


def refuse_wet_faults(lot: Lot, *, today: date) -> None:
    """Refuse a lot whose picking hour or collection cannot be, all faults at once.

    Raises:
        InvalidRequest: with one error for each fault.

    """
    faults = _faults(lot, today)
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in faults],
        )


def _faults(lot: Lot, today: date) -> list[tuple[str, str]]:
    if lot.form != "wet_hop":
        return [
            (name, "only wet hops are told by the hour; leave it out")
            for name in ("picked_at", "collect_at")
            if getattr(lot, name) is not None
        ]
    faults = []
    if lot.picked_at is not None:
        if lot.harvested_on is None:
            faults.append(("harvested_on", "give the day of picking too"))
        elif abs((lot.picked_at.date() - (lot.picked_until or lot.harvested_on)).days) > 1:
            text = f"{lot.picked_at:%Y-%m-%dT%H:%MZ} is not on the last day of picking, {lot.picked_until}"
            faults.append(("picked_at", text))
        elif is_future(lot.picked_at.date(), today=today):
            faults.append(("picked_at", "it is in the future; announce the hour of collection as collect_at"))
    faults += _collection_faults(lot)
    return faults


def _collection_faults(lot: Lot) -> list[tuple[str, str]]:
    first = lot.harvested_on or lot.harvest_window_from
    last = lot.picked_until or lot.harvest_window_to
    if lot.collect_at is None:
        return []
    if first is None or last is None:
        return [("collect_at", "give the picking day or its window first")]
    # Dates are those of the yard and moments are UTC, so a day on either side is no fault.
    earliest, latest = first - timedelta(days=1), last + COLLECTED_WITHIN
    if not earliest <= lot.collect_at.date() <= latest:
        return [
            (
                "collect_at",
                f"wet hops are collected between {first} and {latest}, two days after picking at the latest",
            )
        ]
    return []


def refuse_moved_window(lot: Lot, changes: Mapping[str, Any]) -> None:
    """Let the window of listed wet hops narrow, and move only while nobody relies on it.

    Raises:
        FixedByListing: kilograms are promised and the new window reaches beyond the old one.

    """
    promised = lot.taken_kg + lot.held_kg
    if lot.form != "wet_hop" or lot.state != "listed" or promised == Decimal(0):
        return
    begin, end = (changes.get(name, getattr(lot, name)) for name in WINDOW)
    old_begin, old_end = (getattr(lot, name) for name in WINDOW)
    if None in (old_begin, old_end):
        return
    if begin is None or end is None or begin < old_begin or end > old_end:
        raise FixedByListing(
            f"{promised} kg of lot {lot.code} are promised for picking between {old_begin} and {old_end}; the window may"
            " narrow, and not move, until the breweries have released them",
            lot_code=lot.code,
            promised_kg=promised,
        )
