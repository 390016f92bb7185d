"""The published checks of a topic are all there: none gets lost when a data file is tidied."""

import json
from collections import Counter
from pathlib import Path

FILES = ("lab_storage", "kettle_oil")
DATA = Path(__file__).parents[1] / "data"
# How many published checks each topic has, by the letters of their codes.
WHOLE = {
    "LAB": 8,
    "HSI": 18,
    "STO": 22,
    "CUL": 16,
    "MOI": 20,
    "ISO": 26,
    "ALT": 19,
    "COOL": 6,
    "IBU": 18,
    "DRY": 8,
    "OIL": 3,
    "XCH": 4,
}


def test_no_check_of_these_topics_is_missing() -> None:
    files = [json.loads((DATA / f"checks_{name}.json").read_text("utf-8")) for name in FILES]

    found = Counter(check["id"].split("-")[0] for checks in files for check in checks)

    assert dict(found) == WHOLE
