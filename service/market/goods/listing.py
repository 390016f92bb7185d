"""When a lot may be shown to brewers, and as what."""

from datetime import date

from service.errors import IllegalStep, ListingIncomplete
from service.facts import replace
from service.market.goods.lab_reports import standing_figures
from service.market.goods.lots import READINESS, Lot
from service.market.goods.quality_holds import require_not_on_hold

PICKED = ("harvested_on", "mass_kg")
STORED = ("packing", "stored_at_c")
ACIDS = ("moisture_percent", "alpha_percent", "beta_percent")
ANNOUNCED = ("expected_kg", "harvest_window_from", "harvest_window_to")


def decide_listing(lot: Lot, *, readiness: str, today: date) -> Lot:
    """List a lot, or name everything that its listing lacks.

    Raises:
        ListingIncomplete: `missing` names every figure and statement that is wanted.
        LotOnHold: somebody raised a concern about it.
        IllegalStep: the lot would step back, from analysed to awaiting analysis, say.

    """
    if lot.state == "listed" and READINESS.index(readiness) < READINESS.index(lot.readiness or READINESS[0]):
        raise IllegalStep(
            f"lot {lot.code} is listed as {lot.readiness}; it does not step back to {readiness}",
            state=lot.readiness,
        )
    require_not_on_hold(lot)
    missing = missing_for_listing(lot, readiness=readiness)
    if missing:
        raise ListingIncomplete(
            f"lot {lot.code} lacks {', '.join(missing)} to be listed as {readiness}",
            lot_code=lot.code,
            missing=missing,
        )
    if readiness == "announced" and lot.harvest_window_to and lot.harvest_window_to < today:
        raise ListingIncomplete(
            f"the picking window of lot {lot.code} closed on {lot.harvest_window_to}; give the harvest instead",
            lot_code=lot.code,
            missing=["harvested_on"],
        )
    return replace(lot, state="listed", readiness=readiness, first_listed_on=lot.first_listed_on or today)


def keep_listed(lot: Lot) -> Lot:
    """Let a changed lot stay listed, unless the change took away what its listing needs.

    Raises:
        ListingIncomplete: `missing` names what must stay; withdraw the lot first.

    """
    if lot.state != "listed" or lot.readiness is None:
        return lot
    missing = missing_for_listing(lot, readiness=lot.readiness)
    if missing:
        raise ListingIncomplete(
            f"lot {lot.code} is listed as {lot.readiness} and needs {', '.join(missing)}; withdraw it first",
            lot_code=lot.code,
            missing=missing,
        )
    return lot


def missing_for_listing(lot: Lot, *, readiness: str) -> list[str]:
    """Everything a lot lacks to be listed, in the order in which a grower would fill it in."""
    if readiness == "announced":
        return [name for name in ANNOUNCED if getattr(lot, name) is None]
    missing = [name for name in PICKED if getattr(lot, name) is None]
    if lot.form == "wet_hop":
        return missing
    missing += [name for name in STORED if getattr(lot, name) is None]
    if readiness == "analysed":
        figures = standing_figures(lot.reports)
        missing += [name for name in ACIDS if getattr(figures, name) is None]
    return missing


def decide_withdrawal(lot: Lot) -> Lot:
    """Take a lot out of every search; commitments on it stand.

    Raises:
        IllegalStep: it is not listed.

    """
    if lot.state != "listed":
        raise IllegalStep(f"lot {lot.code} is not listed", state=lot.state)
    return replace(lot, state="withdrawn")
