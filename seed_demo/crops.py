"""What the growers picked over two crop years: sixty lots, with figures drawn inside the published ranges."""

import random
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from seed_demo.people import GROWERS
from service.facts import Fact, field
from service.reference.cultivars import find_cultivar

CULTIVARS = (
    "Cascade",
    "Nugget",
    "Willamette",
    "Centennial",
    "Chinook",
    "Galena",
    "Mt. Hood",
    "Crystal",
    "Sterling",
    "Fuggle",
    "Northern Brewer",
    "Saazer",
)
LABORATORIES = ("Quarry Lane Laboratory", "Saltmarsh College Hop Bench")
# Nobody publishes anything of this one: a seedling of the valley.
SEEDLING = "Sallow Seedling 4"
LOTS_A_YEAR = 30
PACKINGS = {
    "pellet": ("barrier_nitrogen", "barrier_vacuum"),
    "whole_cone": ("barrier_vacuum", "barrier_air", "bale_cloth"),
}
OF_OIL = "_percent_of_oil"
OF_THE_OIL = ("oil_ml_per_100g", "oil_shares_percent", "oil_shares_basis")
ACIDS = ("alpha_percent", "beta_percent", "hop_storage_index")


class Crop(Fact, frozen=True):
    """A lot as its grower would tell it: the draft, the reports, and as what it is listed (None: not)."""

    grower_code: str
    draft: dict[str, Any]
    reports: tuple[dict[str, Any], ...] = ()
    readiness: str | None = "analysed"
    is_withdrawn: bool = False
    note: str = field(default="")


def crops(today: date) -> Iterator[Crop]:
    """Sixty lots of the last two harvests before a day; the same for every run on that day."""
    chance = random.Random(1871)
    last = today.year if today >= date(today.year, 11, 1) else today.year - 1
    for year in (last - 1, last):
        for number in range(LOTS_A_YEAR):
            crop = _crop(chance, year, number, today)
            yield _unusual(crop, number, today, chance) if year == last else crop


def _crop(chance: random.Random, year: int, number: int, today: date) -> Crop:
    cultivar = CULTIVARS[(number * 5 + year) % len(CULTIVARS)]
    picked = date(year, 8, 22) + timedelta(days=chance.randint(0, 24))
    form = "pellet" if number % 3 == 0 else "whole_cone"
    packing = chance.choice(PACKINGS[form])
    boxes, net_kg = chance.randint(2, 14), Decimal(chance.choice((5, 10, 20)))
    draft = {
        "cultivar": cultivar,
        "harvested_on": picked,
        "form": form,
        "packing": packing,
        "stored_at_c": chance.choice((-18.0, -2.0, 2.0, 4.0)),
        "mass_kg": boxes * net_kg,
        "packages": [
            {"kind": "bale" if packing == "bale_cloth" else "box", "count": boxes, "net_kg": net_kg}
        ],
        "sold_in": "whole_packages" if number % 7 == 0 else "any_mass",
        "price_per_kg": Decimal(chance.randint(32, 68)) / 2,
        "currency": "CAD",
        "price_open": number % 2 == 0,
        "own_lot_number": f"{year % 100}-{number + 1}",
    }
    sampled = min(picked + timedelta(days=chance.randint(4, 12)), today)
    return Crop(GROWERS[number % len(GROWERS)][0], draft, (_report(chance, cultivar, sampled, form, today),))


def _report(chance: random.Random, cultivar: str, sampled: date, form: str, today: date) -> dict[str, Any]:
    report: dict[str, Any] = {
        "laboratory": chance.choice(LABORATORIES),
        "drawn_by": chance.choice(("grower", "grower", "laboratory", "official")),
        "sampled_on": sampled,
        "analysed_on": min(sampled + timedelta(days=chance.randint(2, 9)), today),
        "packages_cored": chance.randint(1, 6),
        "moisture_percent": round(chance.uniform(7.6, 10.8), 1),
        "alpha_percent": _drawn(chance, cultivar, "alpha_percent", (4.0, 9.0)),
        "beta_percent": _drawn(chance, cultivar, "beta_percent", (3.5, 6.0)),
        "hop_storage_index": round(chance.uniform(0.25, 0.31), 3),
        "methods": {
            "alpha_beta": chance.choice(("asbc_hops_14", "asbc_hops_14", "asbc_hops_6", "ebc_7_7")),
            "hop_storage_index": "asbc_hops_12",
            "moisture": "asbc_hops_4",
        },
    }
    if chance.random() < 0.8:
        report["oil_ml_per_100g"] = _drawn(chance, cultivar, "oil_ml_per_100g", (0.6, 1.6))
        report["methods"]["oil"] = "asbc_hops_13"
        report |= _oil_shares(cultivar, sampled)
    return report


def _oil_shares(cultivar: str, sampled: date) -> dict[str, Any]:
    """The parts of the oil within a tenth of the middle that is published; nothing where nothing is."""
    known = find_cultivar(cultivar)
    published = [f for f in known.figures if f.quantity.endswith(OF_OIL)] if known else []
    if not published:
        return {}
    # Drawn apart, so that the other figures stay what they are without them.
    chance = random.Random(f"{cultivar} {sampled}")
    shares = {
        f.quantity.removesuffix(OF_OIL): round(f.middle * chance.uniform(0.9, 1.1), 1) for f in published
    }
    return {"oil_shares_percent": shares, "oil_shares_basis": "peak_area"}


def _drawn(chance: random.Random, cultivar: str, quantity: str, otherwise: tuple[float, float]) -> float:
    """A figure inside the published range; around a single mean, a tenth either way."""
    known = find_cultivar(cultivar)
    figure = known.figure(quantity) if known else None
    low, high = (figure.low, figure.high) if figure else otherwise
    if low == high:
        low, high = 0.9 * low, 1.1 * high
    return round(chance.uniform(low, high), 2)


def _unusual(crop: Crop, number: int, today: date, chance: random.Random) -> Crop:
    """Of the last harvest some lots are not like the others, as in every region."""
    draft, reports, grower = dict(crop.draft), crop.reports, crop.grower_code
    if number == 4:
        return Crop(grower, draft, (), "awaiting_analysis", note="the sample is at the laboratory")
    if number == 9:
        for name in ("harvested_on", "mass_kg", "packing", "stored_at_c", "packages"):
            draft.pop(name)
        draft |= {
            "sold_in": "any_mass",
            "expected_kg": Decimal(90),
            "harvest_window_from": today + timedelta(days=20),
            "harvest_window_to": today + timedelta(days=27),
        }
        return Crop(grower, draft, (), "announced", note="still on the bine")
    if number == 13:
        wet = {**draft, "form": "wet_hop", "harvested_on": today, "packing": None, "stored_at_c": None}
        return Crop(grower, {**wet, "packages": [], "sold_in": "any_mass"}, (), note="wet hops, picked today")
    if number == 17:
        return Crop(
            grower, {**draft, "cultivar": SEEDLING, "role": "aroma"}, reports, note="a seedling nobody knows"
        )
    if number == 20:
        wrong = {**reports[0], "alpha_percent": round(reports[0]["alpha_percent"] * 1.4, 2)}
        right = {**reports[0], "corrects": "R1", "reason": "the laboratory had exchanged two samples"}
        return Crop(grower, draft, (wrong, right), note="a corrected report")
    if number == 22:
        left_out = (*ACIDS, *OF_THE_OIL)
        spectrum = {name: value for name, value in reports[0].items() if name not in left_out}
        spectrum["methods"] = {"alpha_beta": "asbc_hops_6", "moisture": "asbc_hops_4"}
        reading = {"a275": 0.158, "a325": 0.577, "a355": 0.590, "dilution_factor": 0.6667}
        return Crop(grower, draft, ({**spectrum, "absorbance": reading},), note="absorbances, not acids")
    if number == 25:
        return Crop(grower, draft, reports, is_withdrawn=True, note="withdrawn again")
    if number == 28:
        return Crop(grower, draft, (), None, note="only a draft")
    return crop
