"""What may change of a lot, and until when."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from service.errors import FixedByListing, IllegalStep, InvalidRequest
from service.market.lots import Lot, StorageSpell, accept_lot

STORAGE_FIELDS = ("packing", "stored_at_c", "residual_oxygen_percent")
FIXED_ONCE_LISTED = ("cultivar", "cultivar_code", "form", "role")
FIXED_ONCE_GIVEN = ("harvested_on", "harvested_until")


def revise_lot(lot: Lot, changes: Mapping[str, Any], *, today: date) -> Lot:
    """Change a lot's record, as far as nobody relies on what it says.

    On a draft the open spell is corrected; later, a change of storage opens a new spell today and never
    rewrites the past.

    Raises:
        FixedByListing: a part that is fixed, or a mass below what is promised.
        InvalidRequest: as `accept_lot`.

    """
    _refuse_fixed(lot, changes)
    stored = {name: value for name, value in changes.items() if name in STORAGE_FIELDS}
    plain = {name: value for name, value in changes.items() if name not in STORAGE_FIELDS}
    if "packages" in plain:
        plain["packages"] = tuple(plain["packages"])
    changed = replace(lot, **plain)
    if changed.harvested_on is not None:
        changed = replace(changed, crop_year=changed.harvested_on.year)
    elif lot.state == "draft":
        changed = replace(changed, crop_year=None)
    if stored:
        changed = replace(changed, spells=_respelled(changed, stored, today))
    changed = replace(changed, spells=_begun_with_harvest(changed))
    if changed.stock_kg < lot.taken_kg + lot.held_kg:
        promised = lot.taken_kg + lot.held_kg
        raise FixedByListing(
            f"lot {lot.code} has {promised} kg promised or delivered; its mass cannot be {changed.stock_kg} kg",
            lot_code=lot.code,
            promised_kg=promised,
        )
    return accept_lot(changed, today=today)


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


def _respelled(lot: Lot, stored: Mapping[str, Any], today: date) -> tuple[StorageSpell, ...]:
    last = lot.spells[-1] if lot.spells else None
    packing = stored.get("packing", last.packing if last else None)
    stored_at_c = stored.get("stored_at_c", last.stored_at_c if last else None)
    if packing is None and stored_at_c is None and lot.state == "draft":
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
        return (replace(spell, began_on=lot.harvested_on or today),)
    if lot.state == "draft":
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


def decide_discard(lot: Lot, *, sheets_issued: int = 0, bookings_made: int = 0) -> None:
    """Only a draft is taken out of the books, and only while no sheet was handed out and nothing was booked of it.

    Raises:
        IllegalStep: the lot was listed, a sheet of it was issued, or kilograms of it were booked.

    """
    if bookings_made:
        raise IllegalStep(f"kilograms of lot {lot.code} were booked; it stays in the books", state=lot.state)
    if sheets_issued:
        raise IllegalStep(f"a sheet of lot {lot.code} was handed out; it stays in the books", state=lot.state)
    if lot.first_listed_on is not None or lot.state != "draft":
        raise IllegalStep(f"lot {lot.code} was listed; withdraw it instead", state=lot.state)
