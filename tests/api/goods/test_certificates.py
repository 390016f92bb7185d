"""Certificate files over HTTP: in the database or a directory, to those who may read the report."""

import hashlib
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from service.request_context import Runtime
from tests.builders import World
from tests.conftest import PUBLIC_URL, clock
from tests.market.goods.test_certificates import JPEG, PDF


@pytest.fixture(params=["database", "directory"])
def valley(request: pytest.FixtureRequest, world: World, app: Flask, tmp_path: Path) -> World:
    directory = tmp_path if request.param == "directory" else None
    app.extensions["oastbook"] = Runtime(
        records=world.records,
        public_url=PUBLIC_URL,
        clock=clock,
        files_dir=directory,
        file_limit_bytes=50_000,
    )
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    return world


def attach(world: World, lot: str, content: bytes, *, who: str | None = "ALDER", report: str = "R1") -> Any:
    path = f"/v1/lots/{lot}/lab-reports/{report}/files"
    return world.client.post(path, data=content, headers=world.bearing(who), content_type="text/html")


def test_a_certificate_comes_back_as_it_went_and_is_only_ever_saved(valley: World) -> None:
    lot = valley.listed()

    made = attach(valley, lot, PDF)
    got = valley.get(made.headers["Location"])

    assert made.status_code == 201, made.text
    assert made.json["sha256"] == hashlib.sha256(PDF).hexdigest()
    assert got.data == PDF
    assert got.headers["Content-Type"] == "application/pdf"
    assert got.headers["Content-Disposition"] == f'attachment; filename="{lot}-R1.pdf"'
    assert got.headers["X-Content-Type-Options"] == "nosniff"
    assert got.headers["Content-Security-Policy"].startswith("sandbox")
    assert got.headers["ETag"] == f'"{made.json["sha256"]}"'
    items = valley.get(f"/v1/lots/{lot}/lab-reports/R1/files").json["items"]
    assert [item["kind"] for item in items] == ["pdf"]
    assert attach(valley, lot, PDF).json == made.json
    assert valley.patch(f"/v1/lots/{lot}", {"note": "new words"}, who="ALDER").status_code == 200
    assert valley.get(made.headers["Location"]).data == PDF


def test_bad_input_is_named_and_loses_nothing(valley: World) -> None:
    lot = valley.listed()
    attach(valley, lot, JPEG)

    answers = [attach(valley, lot, content) for content in (b"", b"<html>", PDF[:15])]
    large = attach(valley, lot, PDF + b" " * 60_000)

    assert [(a.status_code, a.json["type"]) for a in answers] == [(422, "/problems/unfit-file")] * 3
    assert large.status_code == 413
    assert len(valley.get(f"/v1/lots/{lot}/lab-reports/R1/files").json["items"]) == 1


def test_a_buyers_certificate_is_for_both_sides_only(valley: World) -> None:
    lot = valley.listed()
    for who in ("FINCH", "TEAL"):
        valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 10}, who=who)
    own = valley.report(lot, "FINCH", drawn_by="buyer", sampled_on="2026-10-03", analysed_on="2026-10-08")
    made = attach(valley, lot, PDF, who="FINCH", report=own)

    assert made.status_code == 201, made.text
    assert valley.get(made.headers["Location"], who="ALDER").data == PDF
    for who in ("TEAL", None):
        assert valley.get(made.headers["Location"], who=who).status_code == 404
    assert attach(valley, lot, PDF, report=own).status_code == 403
    assert attach(valley, lot, PDF, who="TEAL").status_code == 403
    assert attach(valley, lot, PDF, who=None).status_code == 401
    assert attach(valley, lot, PDF, report="R9").status_code == 404


def test_a_file_that_the_directory_lost_is_said_plainly(valley: World, tmp_path: Path) -> None:
    lot = valley.listed()
    made = attach(valley, lot, PDF)
    lying = [path for path in tmp_path.rglob("*") if path.is_file()]
    for path in lying:
        assert path.name == made.json["sha256"]
        path.unlink()

    got = valley.get(made.headers["Location"])

    assert got.status_code == (404 if lying else 200)
