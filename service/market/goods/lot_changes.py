"""What may change of a lot, and until when."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from service.errors import FixedByListing, FixedByStep, IllegalStep, InvalidRequest
from service.facts import replace
from service.market.goods.lots import Lot, Step, StorageSpell, accept_lot
from service.market.goods.quality_holds import require_not_on_hold
from service.market.goods.wet_hops import refuse_moved_window, refuse_wet_faults

STORAGE_FIELDS = ("packing", "stored_at_c", "residual_oxygen_percent")
FIXED_ONCE_LISTED = ("cultivar", "cultivar_code", "form", "role")
# The spray record hangs on the block.
FIXED_ONCE_GIVEN = ("harvested_on", "harvested_until", "block")
# A lot that was made of others is what went into it.
FIXED_BY_STEP = ("cultivar", "form", "mass_kg", "harvested_on", "harvested_until")
FIXED_BY_KILN = ("form", "mass_kg")


def revise_lot(
    lot: Lot,
    changes: Mapping[str, Any],
    *,
    today: date,
    made: Step | None = None,
    booked_kg: Decimal = Decimal(0),
    moved_kg: Decimal = Decimal(0),
) -> Lot:
    """Change a lot's record, as far as nobody relies on what it says.

    On a draft the open spell is corrected; later, and on a part that brought its storage along, a change of storage
    opens a new spell today and never rewrites the past. `made` is the step that made the lot of others, `booked_kg`
    what left it other than by delivery, `moved_kg` what of that went into other lots.

    Raises:
        FixedByListing: a part that is fixed, or a mass below what is promised.
        FixedByStep: a part that follows from what the lot was made of.
        InvalidRequest: as `accept_lot`.

    """
    _refuse_fixed(lot, changes)
    refuse_moved_window(lot, changes)
    if made is not None:
        _refuse_made(lot, changes, made)
    stored = {name: value for name, value in changes.items() if name in STORAGE_FIELDS}
    plain = {name: value for name, value in changes.items() if name not in STORAGE_FIELDS}
    for parts in ("packages", "certifications"):
        if parts in plain:
            plain[parts] = tuple(plain[parts])
    changed = replace(lot, **plain)
    came_along = made is not None and made.kind == "splitting"
    if stored:
        corrects = lot.state == "draft" and not came_along
        first_on = made.done_on if made is not None and made.kind != "drying" else changed.harvested_on
        spells = _respelled(changed, stored, today, corrects=corrects, first_on=first_on)
        changed = replace(changed, spells=spells)
    if made is None or made.kind == "drying":
        if changed.harvested_on is not None:
            changed = replace(changed, crop_year=changed.harvested_on.year)
        elif lot.state == "draft":
            changed = replace(changed, crop_year=None)
        changed = replace(changed, spells=_begun_with_harvest(changed))
    if changed.stock_kg < lot.taken_kg + lot.held_kg:
        promised = lot.taken_kg + lot.held_kg
        raise FixedByListing(
            f"lot {lot.code} has {promised} kg promised or delivered; its mass cannot be {changed.stock_kg} kg",
            lot_code=lot.code,
            promised_kg=promised,
        )
    refuse_wet_faults(changed, today=today)
    return accept_lot(changed, today=today, booked_kg=booked_kg, moved_kg=moved_kg)


def _refuse_made(lot: Lot, changes: Mapping[str, Any], made: Step) -> None:
    wanted = FIXED_BY_KILN if made.kind == "drying" else FIXED_BY_STEP
    if lot.block is not None:
        wanted = (*wanted, "block")
    fixed = [name for name in wanted if name in changes and changes[name] != getattr(lot, name)]
    if fixed:
        raise FixedByStep(
            f"lot {lot.code} was made by {made.kind} on {made.done_on}; its {', '.join(fixed)} follow from that",
            lot_code=lot.code,
            step=made.kind,
            fields=fixed,
        )


def _refuse_fixed(lot: Lot, changes: Mapping[str, Any]) -> None:
    if lot.first_listed_on is None:
        return
    fixed = [name for name in FIXED_ONCE_LISTED if name in changes and changes[name] != getattr(lot, name)]
    fixed += [
        name
        for name in FIXED_ONCE_GIVEN
        if name in changes and getattr(lot, name) is not None and changes[name] != getattr(lot, name)
    ]
    if fixed:
        raise FixedByListing(
            f"lot {lot.code} was listed; its {', '.join(n for n in fixed if n != 'cultivar_code')} can no longer change",
            lot_code=lot.code,
            fields=fixed,
        )


def _respelled(
    lot: Lot, stored: Mapping[str, Any], today: date, *, corrects: bool, first_on: date | None
) -> tuple[StorageSpell, ...]:
    last = lot.spells[-1] if lot.spells else None
    packing = stored.get("packing", last.packing if last else None)
    stored_at_c = stored.get("stored_at_c", last.stored_at_c if last else None)
    if packing is None and stored_at_c is None and corrects:
        return ()
    if packing is None or stored_at_c is None:
        name = "packing" if packing is None else "stored_at_c"
        text = "packing and stored_at_c are given together"
        raise InvalidRequest(text, errors=[{"pointer": f"#/{name}", "detail": text}])
    same_packing = last is not None and packing == last.packing
    kept_oxygen = last.residual_oxygen_percent if last is not None and same_packing else None
    spell = StorageSpell(
        began_on=today,
        packing=packing,
        stored_at_c=stored_at_c,
        residual_oxygen_percent=stored.get("residual_oxygen_percent", kept_oxygen),
    )
    if last is None:
        return (replace(spell, began_on=first_on or today),)
    if corrects:
        return (*lot.spells[:-1], replace(spell, began_on=last.began_on))
    if spell == replace(last, began_on=today):
        return lot.spells
    # A second change on one day corrects the spell that began that day.
    return (*lot.spells[:-1], spell) if last.began_on >= today else (*lot.spells, spell)


def _begun_with_harvest(lot: Lot) -> tuple[StorageSpell, ...]:
    """The first spell begins with the harvest, once that is known."""
    if not lot.spells or lot.harvested_on is None:
        return lot.spells
    return (replace(lot.spells[0], began_on=lot.harvested_on), *lot.spells[1:])


def decide_discard(
    lot: Lot, *, sheets_issued: int = 0, bookings_made: int = 0, holds_placed: int = 0
) -> None:
    """Only a draft is taken out of the books, and only while nothing else in them tells of it.

    Raises:
        IllegalStep: the lot was listed, a sheet of it was issued, kilograms of it were booked, or it was on hold once.
        LotOnHold: a concern about it is open, and would be lost with it.

    """
    require_not_on_hold(lot)
    if holds_placed:
        raise IllegalStep(f"lot {lot.code} was on hold once; it stays in the books", state=lot.state)
    if bookings_made:
        raise IllegalStep(f"kilograms of lot {lot.code} were booked; it stays in the books", state=lot.state)
    if sheets_issued:
        raise IllegalStep(f"a sheet of lot {lot.code} was handed out; it stays in the books", state=lot.state)
    if lot.first_listed_on is not None or lot.state != "draft":
        raise IllegalStep(f"lot {lot.code} was listed; withdraw it instead", state=lot.state)
