"""The bitterness of a BeerJSON recipe, its hop additions bound to lots where that is asked."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest
from service.facts import replace
from service.market.brewing.beerjson import RecipeRead, other_reading_caution, read_recipe
from service.market.brewing.bitterness import Bitterness
from service.market.people.access import Caller
from service.records.session import Session
from service.usecases.brewing.brews import method_of, reckon_brew


def bitterness_of_recipe(
    session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> tuple[RecipeRead, Bitterness]:
    """Read a recipe and estimate its bitterness.

    Raises:
        InvalidRequest: the recipe lacks what is needed, or an addition is bound twice.
        NotFound, FigureMissing, NoStorageModel, OutOfRange: as `reckon_brew`.
        TokenNeeded, NotAllowed, UnfitBrews: as `reckon_brew`.

    """
    lots: dict[int, str] = {}
    for bound in asked.get("lots", ()):
        if lots.setdefault(bound["addition"], bound["lot_code"]) != bound["lot_code"]:
            text = f"addition {bound['addition']} is bound to two lots"
            raise InvalidRequest(text, errors=[{"pointer": "#/lots", "detail": text}])
    recipe = read_recipe(
        asked["beerjson"],
        recipe=asked["recipe"],
        lot_by_addition=lots,
        reach=method_of(session, caller, asked).reach,
        elevation_m=asked.get("elevation_m"),
        gravity={name: asked[name] for name in ("gravity_sg", "gravity_plato") if name in asked},
    )
    found = reckon_brew(session, caller=caller, asked={**asked, **recipe.brew}, now=now)
    cautions = [*found.cautions, *recipe.cautions]
    if recipe.other_brew is not None:
        other = reckon_brew(session, caller=caller, asked={**asked, **recipe.other_brew}, now=now)
        cautions.append(other_reading_caution(other.ibu.estimate if other.ibu else None))
    return recipe, replace(
        found,
        inputs_not_used=(*found.inputs_not_used, *recipe.inputs_not_used),
        assumptions=(*found.assumptions, *recipe.assumptions),
        cautions=tuple(cautions),
    )
