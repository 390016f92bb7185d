"""Reading the trail: whose lines somebody may see."""

import pytest

from service.market.goods.audit_trail import Reading, Signature
from service.records.goods import audit_trail
from service.records.session import Records
from service.records.tables import ChangeRow
from tests.factories import NOW


@pytest.fixture
def lines(records: Records) -> Records:
    """Lines of two growers and two breweries, with some that could leak."""
    told = [
        {"kind": "lot", "code": "ALDER-2026-01", "lot_code": "ALDER-2026-01", "grower_code": "ALDER"},
        {"kind": "lot", "code": "BIRCH-2026-01", "lot_code": "BIRCH-2026-01", "grower_code": "BIRCH"},
        {"kind": "request", "code": "FINCH-01", "brewery_code": "FINCH"},
        {
            "kind": "reservation",
            "code": "TEAL-RES-01",
            "lot_code": "ALDER-2026-01",
            "grower_code": "ALDER",
            "brewery_code": "TEAL",
        },
    ]

    def work(session: object) -> None:
        for line in told:
            session.add(ChangeRow(at=NOW, by="specialist", act="made", fields={}, **line))
            session.flush()

    records.write(work, signed=Signature(by="specialist", at=NOW))
    return records


def codes(records: Records, reading: Reading, **named: object) -> list[str | None]:
    found = records.read(lambda session: audit_trail.search(session, reading, limit=50, **named))
    return [change.code for change in found]


@pytest.mark.parametrize(
    ("reading", "seen"),
    [
        (Reading(everything=True), ["TEAL-RES-01", "FINCH-01", "BIRCH-2026-01", "ALDER-2026-01"]),
        (Reading(grower_code="ALDER"), ["TEAL-RES-01", "ALDER-2026-01"]),
        (Reading(brewery_code="FINCH"), ["FINCH-01"]),
        (Reading(brewery_code="FINCH", of_lot="ALDER-2026-01"), ["FINCH-01", "ALDER-2026-01"]),
        (Reading(brewery_code="TEAL"), ["TEAL-RES-01"]),
        (Reading(), []),
    ],
)
def test_each_reads_its_own_lines_and_no_others(lines: Records, reading: Reading, seen: list[str]) -> None:
    assert codes(lines, reading) == seen


def test_filters_and_pages_narrow_the_lines(lines: Records) -> None:
    everything = Reading(everything=True)

    assert codes(lines, everything, lot_code="ALDER-2026-01") == ["TEAL-RES-01", "ALDER-2026-01"]
    assert codes(lines, everything, kind="lot") == ["BIRCH-2026-01", "ALDER-2026-01"]
    assert codes(lines, everything, code="FINCH-01") == ["FINCH-01"]
    newest = lines.read(lambda session: audit_trail.search(session, everything, limit=1))[0]
    assert codes(lines, everything, after=newest.number)[0] == "FINCH-01"
