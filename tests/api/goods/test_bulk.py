"""Lots by the file, over HTTP: every fault named, all or none, and out again without loss."""

import csv
import io
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.api.goods.bulk_columns import COLUMNS
from service.api.goods.bulk_export import HEADER
from service.files.tables import read_table
from service.files.writing import write_csv, write_xlsx
from tests.builders import World

GOOD = {
    "cultivar": "Willamette",
    "form": "whole_cone",
    "harvested_on": "2026-08-29",
    "mass_kg": "120.5",
    "packing": "barrier_vacuum",
    "stored_at_c": "-2",
}
ANALYSED = {
    "laboratory": "Quarry Lane",
    "drawn_by": "grower",
    "sampled_on": "2026-09-03",
    "analysed_on": "2026-09-08",
    "moisture_percent": "9.1",
    "alpha_percent": "5.4",
    "beta_percent": "3.9",
    "method_alpha_beta": "asbc_hops_14",
    "method_moisture": "asbc_hops_4",
    "list_as": "analysed",
}


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.grower("ROWAN")
    return world


def as_file(*rows: dict[str, Any], xlsx: bool = False) -> bytes:
    header = list(dict.fromkeys(name for row in rows for name in row))
    cells = [[row.get(name) for name in header] for row in rows]
    return write_xlsx(header, cells, title="x") if xlsx else write_csv(header, cells)


def send(world: World, content: bytes, *, who: str | None = "ALDER", **query: Any) -> Any:
    return world.client.post(
        "/v1/imports/lots",
        data=content,
        query_string=query,
        headers=world.bearing(who),
        content_type="text/csv",
    )


def own(world: World, who: str = "ALDER") -> list[dict[str, Any]]:
    return list(world.get("/v1/lots", who=who, mine="true", limit=100).json["items"])


@pytest.mark.parametrize("xlsx", [False, True])
def test_a_file_of_lots_is_taken_with_reports_and_listed(valley: World, xlsx: bool) -> None:
    answer = send(valley, as_file(GOOD | ANALYSED, {**GOOD, "cultivar": "Nugget"}, xlsx=xlsx))

    assert answer.status_code == 201, answer.text
    assert (answer.json["rows"], answer.json["written"]) == (2, 2)
    assert answer.json["lot_codes"] == ["ALDER-2026-01", "ALDER-2026-02"]
    assert [(lot["code"], lot["state"]) for lot in own(valley)] == [
        ("ALDER-2026-01", "listed"),
        ("ALDER-2026-02", "draft"),
    ]
    (found,) = valley.get("/v1/lots", alpha_percent_min=5).json["items"]
    assert found["code"] == "ALDER-2026-01"
    by = {
        line["by"] for line in valley.get("/v1/changes", who="ALDER", lot_code="ALDER-2026-01").json["items"]
    }
    assert by == {"grower:ALDER"}
    assert valley.draft() == "ALDER-2026-03"


def test_a_lot_by_file_is_the_lot_that_the_door_would_have_made(valley: World) -> None:
    send(valley, as_file(GOOD | ANALYSED))
    by_hand = valley.draft(price_per_kg=None, currency=None)
    told = {k: v for k, v in ANALYSED.items() if not k.startswith(("method", "list"))}
    numbers = {k: float(v) if k.endswith("percent") else v for k, v in told.items()}
    methods = {"alpha_beta": "asbc_hops_14", "moisture": "asbc_hops_4"}
    valley.post(f"/v1/lots/{by_hand}/lab-reports", {**numbers, "methods": methods}, who="ALDER")
    valley.post(f"/v1/lots/{by_hand}/listing", who="ALDER")

    one, two = (valley.get(f"/v1/lots/{code}", who="ALDER").json for code in ("ALDER-2026-01", by_hand))

    assert {**one, "code": "", "made_at": ""} == {**two, "code": "", "made_at": ""}


def test_every_fault_is_named_by_row_and_column_and_nothing_is_written(valley: World) -> None:
    rows = [
        GOOD,
        {**GOOD, "cultivar": "Cascad", "mass_kg": "twelve", "stored_at_c": "60"},
        {**GOOD, "cultivar": "Own Seedling"},
        {**GOOD, **ANALYSED, "alpha_percent": "99", "beta_percent": "9"},
        {**GOOD, **ANALYSED, "alpha_percent": None},
        {"form": "whole_cone", "note": "no cultivar"},
    ]
    answer = send(valley, as_file(*rows))

    assert (answer.status_code, answer.json["type"]) == (422, "/problems/import-refused")
    told = {(fault["row"], fault["column"]) for fault in answer.json["faults"]}
    assert {(3, "mass_kg"), (3, "stored_at_c"), (4, "role"), (6, "alpha_percent"), (7, "cultivar")} <= told
    assert any(row == 5 for row, _ in told)
    assert answer.json["faults_in_all"] == len(answer.json["faults"])
    assert own(valley) == []


def test_row_by_row_keeps_what_can_be_and_a_dry_run_keeps_nothing(valley: World) -> None:
    content = as_file(GOOD, {**GOOD, "mass_kg": "-5"}, GOOD)

    dry = send(valley, content, dry_run="true")
    assert (dry.status_code, dry.json["lots"], dry.json["written"]) == (200, 2, 0)
    assert own(valley) == []
    kept = send(valley, content, mode="row_by_row")
    assert (kept.status_code, kept.json["written"], kept.json["faults"][0]["row"]) == (201, 2, 3)
    assert len(own(valley)) == 2


def test_columns_that_nobody_knows_are_named_with_what_may_be_meant(valley: World) -> None:
    answer = send(valley, as_file({**GOOD, "alpha_precent": "5.4", "mass_lb": "9"}))

    told = {fault["column"]: fault["detail"] for fault in answer.json["faults"]}
    assert "alpha_percent" in told["alpha_precent"]
    assert "mass_kg says the same" in told["mass_lb"]


def test_customary_units_are_read_to_the_gram(valley: World) -> None:
    told = {k: v for k, v in GOOD.items() if k not in ("mass_kg", "stored_at_c")}
    row = told | {
        "mass_lb": "100",
        "stored_at_f": "28",
        "price_per_lb": "10",
        "currency": "USD",
        "packages": "2 box 44 lb",
    }

    send(valley, as_file(row))

    (lot,) = own(valley)
    assert (lot["mass_kg"], lot["stored_at_c"], lot["price_per_kg"]) == (45.359, -2.22, 22.0462)
    assert lot["packages"][0]["net_kg"] == 19.958


def test_a_second_row_of_a_lot_brings_another_report(valley: World) -> None:
    again = {
        **{k: v for k, v in ANALYSED.items() if k != "list_as"},
        "lot": "B-14",
        "sampled_on": "2026-10-03",
        "analysed_on": "2026-10-08",
        "alpha_percent": "5.1",
    }

    answer = send(valley, as_file({"lot": "B-14", **GOOD, **ANALYSED}, again))

    assert answer.json["written"] == 1, answer.text
    reports = valley.get("/v1/lots/ALDER-2026-01/lab-reports", who="ALDER").json["items"]
    assert [report["alpha_percent"] for report in reports] == [5.4, 5.1]
    twice = send(valley, as_file({"lot": "B-14", **GOOD}, {"lot": "B-14", **GOOD}))
    assert twice.json["faults"][0]["column"] == "lot"


def test_who_may_not_is_told_so(valley: World) -> None:
    valley.brewery()
    content = as_file(GOOD)

    assert send(valley, content, who=None).status_code == 401
    assert send(valley, content, who="FINCH").status_code == 403
    assert send(valley, content, grower_code="ROWAN").status_code == 403
    assert send(valley, content, who="specialist", grower_code="ROWAN").status_code == 201
    assert send(valley, b"\x00\x01").json["type"] == "/problems/unreadable-table"
    assert valley.get("/v1/exports/lots", who="FINCH").status_code == 403


def everything(world: World, who: str) -> list[dict[str, Any]]:
    left_out = ("code", "grower_code", "made_at", "made_by", "first_listed_on")
    found = []
    for line in own(world, who):
        lot = world.get(f"/v1/lots/{line['code']}", who=who).json
        reports = world.get(f"/v1/lots/{line['code']}/lab-reports", who=who).json["items"]
        bare = [{k: v for k, v in r.items() if not k.startswith("filed")} for r in reports]
        found.append({k: v for k, v in lot.items() if k not in left_out} | {"reports": bare})
    return found


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_what_comes_out_goes_in_again_without_loss(valley: World, kind: str) -> None:
    valley.listed(
        note="=SUM(A1)\nsecond line; with, marks",
        own_lot_number="007",
        packages=[{"kind": "box", "count": 6, "net_kg": 20.0}],
        certifications=[
            {
                "kind": "organic",
                "scheme": "Green Leaf",
                "certifier": "Field & Co",
                "number": "7",
                "valid_until": "2027-01-31",
            }
        ],
        report={
            "oil_shares_percent": {"myrcene": 48.0, "humulene": 24.25},
            "oil_shares_basis": "peak_area",
            "uncertainty": {"alpha_percent": 0.2},
        },
    )
    absorbed = valley.draft(block="North field", cultivar="Žatecký", role="aroma")
    valley.post(
        f"/v1/lots/{absorbed}/lab-reports",
        {
            "laboratory": "Quarry Lane",
            "drawn_by": "laboratory",
            "sampled_on": "2026-09-03",
            "analysed_on": "2026-09-08",
            "absorbance": {"a275": 0.132, "a325": 0.596, "a355": 0.615, "dilution_factor": 0.6667},
            "methods": {"alpha_beta": "asbc_hops_6"},
        },
        who="ALDER",
    )
    valley.patch(f"/v1/lots/{absorbed}", {"packing": "open", "stored_at_c": 4.5}, who="ALDER")

    content = valley.get("/v1/exports/lots", who="ALDER", format=kind).data
    taken = send(valley, content, who="ROWAN")

    assert taken.status_code == 201, taken.text
    before, after = everything(valley, "ALDER"), everything(valley, "ROWAN")
    for one in (*before, *after):
        one.pop("planting", None)
    assert after == before


def test_the_exports_columns_are_the_imports(valley: World) -> None:
    content = valley.get("/v1/exports/lots", who="ALDER").data.decode("utf-8-sig")

    assert tuple(next(csv.reader(io.StringIO(content)))) == HEADER
    assert set(HEADER) <= set(COLUMNS)


TEXTS = st.text(
    st.characters(blacklist_categories=("Cs",), blacklist_characters="\x00"), min_size=1, max_size=30
).filter(lambda text: text.strip() == text)


@given(note=TEXTS, mass=st.decimals("0.001", 9000, places=3), celsius=st.floats(-30, 40))
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_and_number_survives_a_file(note: str, mass: Any, celsius: float) -> None:
    row = (note, mass, celsius)

    for content in (write_csv(("a", "b", "c"), [row]), write_xlsx(("a", "b", "c"), [row], title="x")):
        got = read_table(content).rows[0].cells

        assert str(got[0]).replace("\r\n", "\n").replace("\r", "\n") == note.replace("\r\n", "\n").replace(
            "\r", "\n"
        )
        assert (float(str(got[1])), float(str(got[2]))) == (float(mass), celsius)
