"""A large invented region in a database of its own: growers in a square of land, lots of a dozen kinds."""

import math
import random
import tempfile
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from service.market.matching.search import FIGURES_VERSION
from service.market.people.parties import unit_vector
from service.records.migrations import migrate
from service.records.session import Records, make_engine
from service.records.tables import LotRow, PartyRow
from service.reference.names import fold

TODAY = date(2026, 11, 25)
GROWERS = 1000
# One lot in ten is of the first kind, which the benchmarks ask for.
KINDS = tuple((f"KIND-{number}", role) for number, role in enumerate(("bittering", *["aroma"] * 9)))


def fill(lots: int, folder: Path | None = None) -> Records:
    """Make a migrated SQLite file with so many listed lots, and open it."""
    path = (folder or Path(tempfile.mkdtemp(prefix="region-"))) / f"{lots}.sqlite3"
    migrate(f"sqlite:///{path}")
    engine = make_engine(f"sqlite:///{path}")
    chance = random.Random(7)
    with engine.begin() as connection:
        connection.execute(sa.insert(PartyRow), [_grower(number, chance) for number in range(1, GROWERS + 1)])
        for start in range(0, lots, 20_000):
            numbers = range(start + 1, min(start + 20_000, lots) + 1)
            connection.execute(sa.insert(LotRow), [_lot(number, chance) for number in numbers])
    with engine.connect() as connection:
        connection.exec_driver_sql("ANALYZE")
        connection.commit()
    return Records(engine)


def _grower(number: int, chance: random.Random) -> dict[str, Any]:
    latitude, longitude = chance.uniform(43, 47), chance.uniform(-67, -60)
    x, y, z = unit_vector(latitude_deg=latitude, longitude_deg=longitude)
    return {
        "id": number,
        "kind": "grower",
        "code": f"G{number}",
        "name": f"Yard {number}",
        "country": "CA",
        "locality": "Somewhere",
        "latitude_deg": latitude,
        "longitude_deg": longitude,
        "unit_x": x,
        "unit_y": y,
        "unit_z": z,
        "things_made": 0,
    }


def _lot(number: int, chance: random.Random) -> dict[str, Any]:
    cultivar, role = KINDS[number % len(KINDS)]
    alpha = chance.uniform(3, 15)
    return {
        "id": number,
        "code": f"G{number % GROWERS + 1}-2026-{number}",
        "grower_id": number % GROWERS + 1,
        "state": "listed",
        "readiness": "analysed",
        "cultivar": cultivar,
        "cultivar_code": None,
        "cultivar_key": fold(cultivar),
        "role": role,
        "crop_year": 2026,
        "harvested_on": date.fromordinal(TODAY.toordinal() - chance.randint(60, 100)),
        "form": chance.choice(("whole_cone", "pellet")),
        "packing": "barrier_vacuum",
        "mass_kg": Decimal(chance.randint(20, 400)),
        "taken_kg": Decimal(0),
        "price_per_kg": Decimal(chance.randint(12, 40)),
        "currency": "CAD",
        "price_open": True,
        "sold_in": "any_mass",
        "made_at": datetime(2026, 10, 1, tzinfo=UTC),
        "made_by": "specialist",
        "first_listed_on": TODAY,
        "search_day": TODAY.toordinal() - chance.randint(10, 60),
        "search_log_alpha": math.log(alpha),
        "search_alpha_sd_log": 0.1,
        "search_log_resin": -chance.uniform(0.01, 0.3),
        "search_index_sd_log": 0.05,
        "search_rate_per_day": 0.0008,
        "search_rate_low_per_day": 0.0004,
        "search_rate_high_per_day": 0.0014,
        "search_spread_low": 0.0,
        "search_spread_high": 0.0,
        "search_alpha_method": "asbc_hops_14",
        "search_oil_ml_per_100g": chance.uniform(0.5, 3),
        "search_moisture_percent": 9.0,
        "search_alpha_reports": 1 + number % 3,
        "search_alpha_drawn_by": ("grower", "laboratory", "official")[number % 3],
        "search_alpha_packages_cored": None if number % 4 == 0 else number % 9 + 1,
        "search_alpha_spread": None if number % 3 == 0 else 0.05,
        "search_version": FIGURES_VERSION,
    }
