"""Makes a lot of what its grower gives.

A lot grew in its grower's country unless it says otherwise; the country is written down when it is drafted,
the subdivision is never guessed. Origin may change after listing, and the audit trail keeps what it was;
the block may not, since the spray record hangs on it.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest
from service.market.goods.cultivars import NamedCultivar
from service.market.goods.lot_changes import STORAGE_FIELDS, revise_lot
from service.market.goods.lots import Lot
from service.market.goods.provenance import place_grown
from service.market.people.parties import Party
from service.reference.cultivars import suggest


def make_lot(
    asked: Mapping[str, Any], *, code: str, grower: Party, named: NamedCultivar, now: datetime, made_by: str
) -> Lot:
    """Draft a lot; where its origin is not told, it is the grower's country.

    Raises:
        InvalidRequest: something in it cannot be.

    """
    given = {name: value for name, value in asked.items() if name not in ("cultivar", "grower_code")}
    role = role_of(given.pop("role", None), named)
    if given.get("origin_country") is None:
        given["origin_country"] = place_grown(given.get("origin_subdivision"), grower.country)
    told = {name: value for name, value in given.items() if name not in STORAGE_FIELDS or value is not None}
    lot = Lot(
        code=code,
        grower_code=grower.code,
        cultivar=named.denomination,
        cultivar_code=named.code,
        role=role,
        made_at=now,
        made_by=made_by,
        form=told.pop("form"),
    )
    return revise_lot(lot, told, today=now.date())


def crop_year_asked(asked: Mapping[str, Any], *, now: datetime) -> int:
    """The year that the code of a new lot carries: the harvest's, else this one."""
    harvested_on = asked.get("harvested_on")
    return harvested_on.year if harvested_on else now.year


def role_of(given: str | None, named: NamedCultivar) -> str:
    """The role of a lot: as told, else its cultivar's.

    Raises:
        InvalidRequest: neither is known; near names are offered.

    """
    role = given or named.role
    if role is None:
        near = suggest(named.denomination)
        hint = f"; or did you mean {' or '.join(near)}?" if near else ""
        text = (
            f"the service does not know {named.denomination}, so say its role: aroma, bittering or dual{hint}"
        )
        raise InvalidRequest(text, errors=[{"pointer": "#/role", "detail": text}])
    return role
