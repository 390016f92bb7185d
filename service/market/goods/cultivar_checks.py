"""Which cultivar, and which finding about planting it, may enter the region's books."""

import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from datetime import date, timedelta
from functools import cache
from itertools import count

from service.errors import AlreadyExists, InvalidRequest, NotAllowed
from service.facts import replace
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar
from service.market.goods.lab_quantities import QUANTITY_OF
from service.reference import cultivars as books
from service.reference.cultivars import Figure
from service.reference.names import folds

CODE_LENGTH_MAX = 24
WORD = re.compile(r"[^\W_]+(?:['’`][^\W_]+)*")
# What a shipped cultivar takes from the region; all else in it is published.
OPEN_IN_SHIPPED = frozenset({"availability"})
# The words that stand beside each figure of these quantities, as in the shipped books.
UNITS = {
    "alpha_percent": "% by weight as is",
    "beta_percent": "% by weight as is",
    "cohumulone_percent_of_alpha": "% of alpha",
    "oil_ml_per_100g": "mL/100 g",
    "myrcene_percent_of_oil": "% of oil",
    "humulene_percent_of_oil": "% of oil",
    "caryophyllene_percent_of_oil": "% of oil",
    "farnesene_percent_of_oil": "% of oil",
}
OIL_SHARES = tuple(quantity for quantity, unit in UNITS.items() if unit == "% of oil")
SHARE_BASES = ("us", "european")
OIL_ML_PER_100G_MAX = QUANTITY_OF["oil_ml_per_100g"].body_max
Fault = tuple[str, str]


def accept_cultivar(
    cultivar: RegionalCultivar,
    *,
    regional: Sequence[RegionalCultivar],
    statuses: Sequence[CultivarStatus] = (),
    today: date,
) -> RegionalCultivar:
    """Let a cultivar into the region's books, or name everything in it that cannot be.

    Args:
        cultivar: the new one; without a code it is given one, made from its denomination.
        regional: every cultivar the region has; one with the same code is this one before a change.
        statuses: what was found out about planting it.
        today: the UTC date.

    Raises:
        InvalidRequest: with one error for each fault.
        AlreadyExists: a name is known already; `known` says which, and whose.

    """
    _refuse(
        [
            *_name_faults(cultivar),
            *_figure_faults(cultivar.figures),
            *_sum_faults(cultivar.figures),
            *_status_faults(statuses, today),
        ]
    )
    others = [other for other in regional if other.code != cultivar.code]
    _refuse_known(cultivar, others)
    if cultivar.code:
        return cultivar
    taken = {known.code for known in books.all_cultivars()} | {other.code for other in others}
    return replace(cultivar, code=code_for(cultivar.denomination, taken))


def accept_statuses(statuses: Sequence[CultivarStatus], *, today: date) -> None:
    """Let findings about planting a cultivar into the books, or name everything in them that cannot be.

    Raises:
        InvalidRequest: with one error for each fault.

    """
    _refuse(list(_status_faults(statuses, today)))


def decide_shipped_change(code: str, changed: Collection[str]) -> None:
    """Let the region say where a shipped cultivar may be planted, and nothing else about it.

    Raises:
        NotAllowed: something published would change.

    """
    fixed = sorted(set(changed) - OPEN_IN_SHIPPED)
    if fixed:
        raise NotAllowed(
            f"{code} is shipped with the service: what is published of it stands, and only availability changes",
            fields=fixed,
        )


def code_for(denomination: str, taken: Collection[str]) -> str:
    """Make a code of a denomination, with a number where it is taken; empty where no letter of A to Z is.

    >>> code_for("Brewer's Früher No. 7", ())
    'BREWERS-FRUEHER-NO-7'
    >>> code_for("Own Seedling", {"OWN-SEEDLING"})
    'OWN-SEEDLING-2'

    """
    words = WORD.findall(unicodedata.normalize("NFC", denomination))
    plain = (re.sub("[^A-Z0-9]", "", folds(word)[-1].upper()) for word in words)
    stem = "-".join(filter(None, plain))[:CODE_LENGTH_MAX].rstrip("-")
    if stem not in taken:
        return stem
    tails = (f"-{number}" for number in count(2))
    numbered = (stem[: CODE_LENGTH_MAX - len(tail)].rstrip("-") + tail for tail in tails)
    return next(code for code in numbered if code not in taken)


def _refuse(faults: Sequence[Fault]) -> None:
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{place}", "detail": text} for place, text in faults],
        )


def _places(cultivar: RegionalCultivar) -> Iterator[tuple[str, str]]:
    yield "denomination", cultivar.denomination
    yield from ((f"synonyms/{place}", name) for place, name in enumerate(cultivar.synonyms))


def _name_faults(cultivar: RegionalCultivar) -> Iterator[Fault]:
    if not code_for(cultivar.denomination, ()):
        yield "denomination", "a denomination holds letters A to Z or digits; write others as synonyms"
    seen: set[str] = set()
    for place, name in _places(cultivar):
        keys = set(folds(name)) - {""}
        if not name.isprintable():
            yield place, "a name stands on one line, without control characters"
        elif not keys:
            yield place, "a name holds letters or digits"
        elif keys & seen:
            yield place, f"{name} is the same name as one before it"
        seen |= keys


@cache
def _shipped_names() -> dict[str, str]:
    names = ((name, c.code) for c in books.all_cultivars() for name in (c.denomination, *c.synonyms))
    return {key: code for name, code in names for key in folds(name)}


def _refuse_known(cultivar: RegionalCultivar, others: Sequence[RegionalCultivar]) -> None:
    owners = {key: other.code for other in others for key in other.keys} | _shipped_names()
    known, words = [], []
    for place, name in _places(cultivar):
        vague = books.ambiguity(name)
        codes = {owners[key] for key in folds(name) if key in owners}
        if vague is not None:
            words.append(f"{name} may already be {' or '.join(vague.candidates)}")
        elif codes:
            words.append(f"{name} is a name of {' and '.join(sorted(codes))}")
        else:
            continue
        known.append({"pointer": f"#/{place}", "name": name, "cultivar_codes": sorted(codes)})
    if known:
        raise AlreadyExists("; ".join(words), known=known)


def _figure_faults(figures: Sequence[Figure]) -> Iterator[Fault]:
    seen: set[str] = set()
    for place, figure in enumerate(figures):
        at, quantity = f"figures/{place}", figure.quantity
        if quantity in seen:
            yield f"{at}/quantity", f"{quantity} stands twice; give one figure of it, with its source"
        seen.add(quantity)
        if figure.unit != UNITS[quantity]:
            yield f"{at}/unit", f"{quantity} is written in {UNITS[quantity]}, not in {figure.unit}"
        if figure.low > figure.high:
            yield f"{at}/low", f"low {figure.low:g} is over high {figure.high:g}"
        if quantity == "oil_ml_per_100g" and max(figure.low, figure.high) > OIL_ML_PER_100G_MAX:
            yield f"{at}/high", f"oil is at most {OIL_ML_PER_100G_MAX:g} mL/100 g"
        if figure.basis is not None and quantity not in OIL_SHARES:
            yield f"{at}/basis", "only shares of the oil have a basis"


def _sum_faults(figures: Sequence[Figure]) -> Iterator[Fault]:
    for whole, parts in (("the hop", ("alpha_percent", "beta_percent")), ("the oil", OIL_SHARES)):
        least = sum(figure.low for figure in figures if figure.quantity in parts)
        if least > 100:
            yield "figures", f"the parts of {whole} come to at least {least:g} %"
    bases = {figure.basis for figure in figures if figure.quantity in OIL_SHARES}
    if len(bases) > 1:
        yield "figures", "shares of the oil stand on one basis; US and European figures do not compare"


def _status_faults(statuses: Sequence[CultivarStatus], today: date) -> Iterator[Fault]:
    seen: set[str] = set()
    for place, status in enumerate(statuses):
        if status.country in seen:
            yield f"availability/{place}/country", f"{status.country} stands twice"
        seen.add(status.country)
        # Somewhere it is tomorrow already.
        if status.checked_on > today + timedelta(days=1):
            yield f"availability/{place}/checked_on", f"{status.checked_on} is in the future"
