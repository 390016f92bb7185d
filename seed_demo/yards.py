"""The growers' yards: blocks, certifications, spray records, a licence, and what was found in samples of cones."""

from datetime import date, timedelta
from typing import Any

from seed_demo.crops import SEEDLING, Crop
from service.facts import Fact
from service.market.goods.provenance import Certification
from service.market.growing.licences import DeclareLicence

BLOCKS = ("Riverside", "Upper rows")
ORGANIC = ("TANSY", "HOLLY")
SUBDIVISION = "CA-NS"
# Products of an invented world: month and day, interval as on the label.
SEASON = (
    ("Sallow Mildew Guard 80", "an invented sulfur", (6, 14), 14),
    ("Aphid Soap 40", "invented fatty acid salts", (7, 11), 1),
)
# Of the last harvest, these growers had samples of cones sorted.
SORTED = ("ALDER", "KESTREL", "LINNET")


class Slip(Fact, frozen=True):
    """An entry with a wrong interval, found too late, and its correction."""

    grower_code: str
    wrong: dict[str, Any]
    right: dict[str, Any]


def yard_of(crop: Crop, today: date) -> dict[str, Any]:
    """Where a crop grew, and what is certified of it."""
    number = str(crop.draft.get("own_lot_number", "0")).rpartition("-")[2]
    told: dict[str, Any] = {
        "block": BLOCKS[int(number) // 2 % len(BLOCKS)],
        "origin_subdivision": SUBDIVISION,
        "certifications": (),
    }
    if crop.grower_code in ORGANIC:
        # One certifier's paper holds, the other's has run out.
        until = today + timedelta(days=200 if crop.grower_code == ORGANIC[0] else -20)
        told["certifications"] = (
            Certification(
                kind="organic",
                scheme="Sallow Valley Organic",
                certifier="Heron Marsh Certification",
                number=f"SVO-{crop.grower_code}",
                valid_until=until,
            ),
        )
    return told


def sprays_of(grower_code: str, seasons: tuple[int, ...]) -> list[dict[str, Any]]:
    """A grower's spray record: both blocks, season by season; of organic yards the soap only."""
    return [
        _spray(block, product, ingredient, date(season, *on), days)
        for season in seasons
        for block in BLOCKS
        for product, ingredient, on, days in (SEASON[1:] if grower_code in ORGANIC else SEASON)
    ]


def slip_of(grower_code: str, block: str, picked_on: date) -> Slip:
    """A spray three days before picking: the label asks one day, and somebody wrote fourteen."""
    product, ingredient, _, days = SEASON[1]
    wrong = _spray(block, product, ingredient, picked_on - timedelta(days=3), 14)
    right = {**wrong, "harvest_interval_days": days, "corrects": None, "reason": "the label asks 1 day"}
    return Slip(grower_code, wrong, right)


def _spray(block: str, product: str, ingredient: str, on: date, days: int) -> dict[str, Any]:
    return {
        "block": block,
        "season": None,
        "product": product,
        "active_ingredient": ingredient,
        "sprayed_on": on,
        "harvest_interval_days": days,
        "note": None,
        "corrects": None,
        "reason": None,
    }


def licence() -> DeclareLicence:
    """What the grower of the seedling declares."""
    return DeclareLicence(cultivar=SEEDLING, licensor="Sallow Valley Seedling Trust", number="SVST-4")


def cone_sample(crop: Crop, today: date) -> dict[str, Any]:
    """What was found in a sample: seeds, leaf and stem, waste, and the cones by class."""
    picked: date = crop.draft["harvested_on"]
    return {
        "measured_by": "Saltmarsh College Hop Bench",
        "drawn_by": "laboratory",
        "sampled_on": min(picked + timedelta(days=6), today),
        "method_note": None,
        "sample_g": 250.0,
        "seeds_g": 2.5,
        "leaf_and_stem_g": 3.1 + picked.day % 3,
        "waste_g": 1.8,
        "seed_percent": None,
        "leaf_and_stem_percent": None,
        "waste_percent": None,
        "cone_sort": {
            "masses_g": {
                "ripe": 24.0 - picked.day % 5,
                "under_ripe": 3.2,
                "over_ripe": 1.6,
                "mechanically_damaged": 1.1,
                "pest_or_disease_damaged": 0.4,
            },
            "cones_counted": 205,
        },
        "corrects": None,
        "reason": None,
    }
