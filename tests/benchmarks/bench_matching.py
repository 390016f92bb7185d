"""Matching one request against many listed lots, over its floor: bare SQL to 5,000 candidates and a bare scoring."""

import math
import sqlite3
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import numpy as np

from service.market.people.access import Caller
from service.market.people.parties import EARTH_RADIUS_KM, Party
from service.records.people import parties
from service.records.session import Records
from service.science.storage_index import log_resin_left_limit
from service.usecases.matching.matching import match_request
from service.usecases.matching.requests import place_request
from tests.benchmarks.measure import Result, best_seconds, compare
from tests.benchmarks.region import TODAY, fill

LOTS = 100_000
NOW = datetime(TODAY.year, TODAY.month, TODAY.day, 12, tzinfo=UTC)
NEEDED = date(2027, 2, 1)
BREWERY = Party(
    kind="brewery",
    code="FINCH",
    name="Finch Street Brewing",
    email=None,
    country="CA",
    locality="Somewhere",
    latitude_deg=45.0,
    longitude_deg=-63.5,
)
ASKED = {
    "role": "bittering",
    "forms": ["pellet"],
    "deliveries": [{"needed_on": NEEDED, "mass_kg": Decimal(60)}],
    "alpha_percent_min": 9.0,
    "alpha_percent_max": 15.0,
    "hop_storage_index_max": 0.42,
    "price_per_kg_max": Decimal(30),
    "currency": "CAD",
    "weights": {},
}
# One request leaves fewer candidates than are compared at most, the other more.
SELECTIVE = {**ASKED, "within_km": 150.0}
WIDE = {**ASKED, "within_km": 400.0}


# A page that begins above every score is the first one without its near misses.
ABOVE_ALL = (2.0, "")
# What near misses, which the floor knows nothing of, may cost beside it: our own gate.
WITH_NEAR_MISSES = 3.0


def run() -> list[Result]:
    """Measure a page of matches against the floor, without and with the near misses that stand on the first page."""
    records = fill(LOTS)
    found = []
    for name, asked in (("some", SELECTIVE), ("too many", WIDE)):
        floor = floor_of(records, asked)
        told = f"{LOTS:,} lots, {floor():,} fit ({name})"
        ranked = matcher(records, asked, after=ABOVE_ALL)
        found.append(compare(f"matching among {told}", ranked, floor, 2.0, rounds=15))
        full = matcher(records, asked)
        found.append(compare(f"with near misses, {told}", full, floor, WITH_NEAR_MISSES, rounds=15))
    records.close()
    return found


def growth() -> None:
    """Print how matching grows with the number of lots: `python -m tests.benchmarks.bench_matching`."""
    for lots in (1_000, 10_000, 100_000, 1_000_000):
        records = fill(lots)
        ours, floor = matcher(records, WIDE), floor_of(records, WIDE)
        our_s, floor_s = best_seconds(ours, floor, rounds=5)
        print(f"{lots:>9} lots: {1000 * our_s:8.1f} ms a page, floor {1000 * floor_s:8.1f} ms", flush=True)
        records.close()


def matcher(
    records: Records, asked: dict[str, Any], *, after: tuple[float, str] | None = None
) -> Callable[[], object]:
    """Place a request; give the work that answers a page of its matches, by default the first with near misses."""
    brewery = Caller("brewery", "FINCH")

    def place(session: Any) -> str:
        if not parties.search(session, "brewery", after=None, limit=1):
            parties.add(session, BREWERY)
        return place_request(session, caller=brewery, asked=asked, now=NOW).code

    code = records.write(place)

    def work() -> object:
        page = records.read(
            lambda session: match_request(session, code, caller=brewery, now=NOW, after=after, limit=20)
        )
        assert len(page.matches) == 20
        assert len(page.near_misses) == (20 if after is None else 0)
        return page

    return work


def floor_of(records: Records, asked: dict[str, Any]) -> Callable[[], int]:
    """The same limits as one bare SELECT, nearest first, at most 5,000, and their scores in numpy."""
    raw = sqlite3.connect(str(records.engine.url.database))
    x, y, z = BREWERY.unit_vector
    day = NEEDED.toordinal()
    chord = f"((unit_x - {x})*(unit_x - {x}) + (unit_y - {y})*(unit_y - {y}) + (unit_z - {z})*(unit_z - {z}))"
    gone = f"search_rate_per_day*({day} - search_day)"
    reach = (2 * math.sin(asked["within_km"] / (2 * EARTH_RADIUS_KM))) ** 2
    statement = f"""
        SELECT lot.id, role = 'bittering' OR role = 'dual', {chord}, price_per_kg/10000.0,
            coalesce(mass_kg, expected_kg) - taken_kg - (
                SELECT coalesce(sum(mass_kg), 0) FROM reservation
                WHERE lot_id = lot.id AND state = 'held' AND held_until > '2026-11-25 12:00:00') AS free,
            search_log_alpha - {gone}, search_log_resin - {gone}, search_alpha_reports,
            search_alpha_packages_cored, search_alpha_method = 'asbc_hops_14', search_alpha_drawn_by = 'official'
        FROM lot JOIN party ON party.id = lot.grower_id
        WHERE lot.state = 'listed' AND free > 0 AND form = 'pellet'
            AND search_log_alpha - {gone} BETWEEN {math.log(9)} AND {math.log(15)}
            AND search_log_resin - {gone} >= {log_resin_left_limit(hop_storage_index_max=0.42)}
            AND (price_per_kg IS NULL OR price_per_kg <= 300000 AND currency = 'CAD')
            AND {chord} <= {reach}
        ORDER BY {chord} LIMIT 5000"""  # noqa: S608 -- our own numbers

    def work() -> int:
        rows = np.array(raw.execute(statement).fetchall(), dtype=np.float64)
        _, role, chord_squared, price, _, alpha, resin, reports, cored, method, drawer = rows.T
        cost = price / np.exp(alpha)
        km = 2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(chord_squared) / 2)
        cored = np.where(np.isnan(cored), 1.0, cored)
        evidence = (0.7 + 0.3 * method + 0.6 + 0.4 * drawer + cored / (cored + 2) + 1 - 0.5**reports) / 4
        score = 0.1 * np.exp(resin) + 0.4 * cost.min() / cost + 0.15 * 200 / (200 + km)
        score += 0.15 * evidence + 0.1 * role
        best = np.argsort(-score)[:20]
        assert len(best) == 20
        return len(rows)

    return work


if __name__ == "__main__":
    sys.exit(growth())
