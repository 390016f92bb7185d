"""What the breweries want: seventeen requests, dated from the day they are made."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

DEFAULTS: dict[str, Any] = {
    "role_strict": False,
    "firmness": "intent",
    "cultivars": [],
    "accept_others": True,
    "forms": [],
    "packings": [],
    "weights": {},
}


def wants(today: date) -> list[tuple[str, dict[str, Any]]]:
    """Each brewery's code with what it asks for."""

    def on(days: int, kg: int) -> list[dict[str, Any]]:
        return [{"needed_on": today + timedelta(days=days), "mass_kg": Decimal(kg)}]

    target = {"ibu": 35.0, "volume_l": 4000.0, "gravity_sg": 1.052, "at": "boil", "minutes": 60.0}
    told: list[tuple[str, dict[str, Any]]] = [
        (
            "FINCH",
            {
                "role": "bittering",
                "cultivars": ["Nugget"],
                "deliveries": on(68, 60),
                "alpha_percent_min": 9.0,
                "within_km": 200.0,
                "price_per_kg_max": Decimal(30),
                "currency": "CAD",
            },
        ),
        (
            "FINCH",
            {
                "role": "aroma",
                "cultivars": ["Cascade", "Centennial"],
                "deliveries": on(40, 30),
                "hop_storage_index_max": 0.36,
            },
        ),
        (
            "LANTERN",
            {
                "role": "aroma",
                "deliveries": on(30, 25),
                "oil_ml_per_100g_min": 1.0,
                "forms": ["pellet"],
                "oil_like": {"cultivar": "Cascade"},
            },
        ),
        (
            "LANTERN",
            {"role": "bittering", "deliveries": on(90, 40), "alpha_percent_min": 11.0, "firmness": "firm"},
        ),
        (
            "OTTER",
            {"role": "aroma", "cultivars": ["Willamette"], "accept_others": False, "deliveries": on(60, 20)},
        ),
        (
            "OTTER",
            {
                "role": "dual",
                "deliveries": on(120, 35),
                "within_km": 60.0,
                "origins": ["CA"],
                "kept_from": today + timedelta(days=20),
                "kept_at_c": 6.0,
                "kept_packing": "barrier_vacuum",
            },
        ),
        (
            "COBBLE",
            {
                "role": "bittering",
                "deliveries": [{"needed_on": today + timedelta(days=45), "bitterness": target}],
            },
        ),
        (
            "HERON",
            {"role": "aroma", "deliveries": on(20, 10), "moisture_percent_max": 10.0, "firmness": "firm"},
        ),
        ("SLATE", {"role": "aroma", "cultivars": ["Saazer", "Sterling"], "deliveries": on(75, 15)}),
        (
            "SLATE",
            {
                "role": "bittering",
                "deliveries": [{"needed_on": today + timedelta(days=75), "alpha_kg": Decimal("2.5")}],
            },
        ),
        (
            "TILLER",
            {"role": "aroma", "deliveries": on(15, 8), "packings": ["barrier_vacuum", "barrier_nitrogen"]},
        ),
        (
            "WREN",
            {
                "role": "aroma",
                "deliveries": on(25, 12),
                "within_km": 40.0,
                "certifications": ["organic"],
                "firmness": "interest",
            },
        ),
        ("WREN", {"role": "bittering", "cultivars": ["Galena"], "deliveries": on(50, 18)}),
        ("FORGE", {"role": "dual", "cultivars": ["Chinook"], "deliveries": [*on(35, 10), *on(95, 10)]}),
        (
            "MOTH",
            {"role": "aroma", "deliveries": on(55, 22), "price_per_kg_max": Decimal(22), "currency": "CAD"},
        ),
        # What the region lacks: nobody presses Saazer, and Willamette is strong in one crop only.
        (
            "TILLER",
            {
                "role": "aroma",
                "cultivars": ["Saazer"],
                "accept_others": False,
                "forms": ["pellet"],
                "deliveries": on(70, 45),
            },
        ),
        (
            "HERON",
            {
                "role": "aroma",
                "cultivars": ["Willamette"],
                "accept_others": False,
                "deliveries": on(80, 260),
                "alpha_percent_min": 6.0,
                "firmness": "firm",
            },
        ),
    ]
    return [(brewery, {**DEFAULTS, **asked}) for brewery, asked in told]
