"""Runs that make new goods of lots: pelletizing and blending. What was measured before says nothing of the product."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import InvalidRequest, UnfitGoods
from service.market.goods.lots import BLEND, PELLETS, Lot, Package, StorageSpell, accept_lot

# The key under which a search would find a blend by its cultivar: none does.
NO_CULTIVAR_KEY = ""


def make_product(
    lots: Sequence[Lot],
    *,
    code: str,
    grower_code: str,
    form: str,
    role: str | None,
    mass_kg: Decimal,
    done_on: date,
    packing: str | None,
    stored_at_c: float | None,
    residual_oxygen_percent: float | None = None,
    packages: Sequence[Package] = (),
    own_lot_number: str | None = None,
    note: str | None = None,
    now: datetime,
    made_by: str,
) -> Lot:
    """Make the draft of what came out of a run over several lots.

    Cultivar, crop year, block and place of origin are those of all lots, or none where they differ; the harvest runs
    from the first day of picking to the last. It has no report: what was measured of its parts was measured of other
    goods. It carries no certification either, since processing wants one of its own.

    Raises:
        InvalidRequest: the role is not clear, storage is told by half, or as `accept_lot`.

    """
    named = {(lot.cultivar, lot.cultivar_code) for lot in lots}
    cultivar, cultivar_code = named.pop() if len(named) == 1 else (BLEND, None)
    years = {lot.crop_year for lot in lots}
    picked = [lot.harvested_on for lot in lots if lot.harvested_on]
    ended = [lot.picked_until for lot in lots if lot.picked_until]
    all_picked = len(picked) == len(lots)
    last = max(ended) if all_picked else None
    product = Lot(
        code=code,
        grower_code=grower_code,
        cultivar=cultivar,
        cultivar_code=cultivar_code,
        role=_role(lots, role),
        form=form,
        crop_year=years.pop() if len(years) == 1 else None,
        harvested_on=min(picked) if all_picked else None,
        harvested_until=last if all_picked and last != min(picked) else None,
        mass_kg=mass_kg,
        packages=tuple(packages),
        own_lot_number=own_lot_number,
        note=note,
        spells=_spells(done_on, packing, stored_at_c, residual_oxygen_percent),
        block=_common(lots, "block") if len({lot.grower_code for lot in lots}) == 1 else None,
        origin_country=_common(lots, "origin_country"),
        origin_subdivision=_common(lots, "origin_subdivision"),
        made_at=now,
        made_by=made_by,
    )
    return accept_lot(product, today=now.date())


def require_cones(lots: Sequence[Lot], *, form: str) -> None:
    """Refuse to pelletize anything but dried cones, or pellets into enriched ones.

    Raises:
        UnfitGoods: a lot is something else.

    """
    fit = ("whole_cone", "pellet") if form == "pellet_enriched" else ("whole_cone",)
    for lot in lots:
        if lot.form not in fit or form not in PELLETS:
            raise UnfitGoods(
                f"lot {lot.code} is {lot.form}; {form} is made of {' or '.join(fit)}",
                lot_code=lot.code,
                form=lot.form,
            )


def require_one_form(lots: Sequence[Lot]) -> str:
    """The form that all lots of a blend share.

    Raises:
        UnfitGoods: they differ.

    """
    for lot in lots:
        if lot.form != lots[0].form:
            raise UnfitGoods(
                f"lot {lot.code} is {lot.form}, lot {lots[0].code} is {lots[0].form}; a blend is of one form",
                lot_code=lot.code,
                form=lot.form,
            )
    return lots[0].form


def _common(lots: Sequence[Lot], name: str) -> str | None:
    """What all lots say alike; None where they differ."""
    said: set[str | None] = {getattr(lot, name) for lot in lots}
    return said.pop() if len(said) == 1 else None


def _role(lots: Sequence[Lot], given: str | None) -> str:
    roles = {lot.role for lot in lots}
    if given is not None:
        return given
    if len(roles) == 1:
        return roles.pop()
    text = f"the lots serve as {' and '.join(sorted(roles))}; say the role of what was made of them"
    raise InvalidRequest(text, errors=[{"pointer": "#/role", "detail": text}])


def _spells(
    done_on: date, packing: str | None, stored_at_c: float | None, oxygen: float | None
) -> tuple[StorageSpell, ...]:
    if packing is None and stored_at_c is None:
        return ()
    if packing is None or stored_at_c is None:
        name = "packing" if packing is None else "stored_at_c"
        text = "packing and stored_at_c are given together"
        raise InvalidRequest(text, errors=[{"pointer": f"#/{name}", "detail": text}])
    return (
        StorageSpell(
            began_on=done_on, packing=packing, stored_at_c=stored_at_c, residual_oxygen_percent=oxygen
        ),
    )
