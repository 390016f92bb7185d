"""The database narrows, the decision decides: both must call the same lots in."""

import math
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import event
from sqlalchemy.orm import Session

from service.market.goods.lots import Package
from service.market.matching.candidates import LotColumns
from service.market.matching.evidence import Evidence
from service.market.matching.matching import join_near_misses, near_misses_of, rank_lots
from service.market.matching.requests import Delivery, Request
from service.market.matching.search_figures import figures_to_keep
from service.market.people.parties import unit_vector
from service.records.goods import lots
from service.records.matching import matching
from service.records.people import parties
from tests.factories import (
    NOW,
    TODAY,
    CertificationRowFactory,
    LabReportFactory,
    ListedLotFactory,
    LotRowFactory,
    PartyFactory,
    PartyRowFactory,
)

ON = date(2027, 2, 1)
NEAR = unit_vector(latitude_deg=45.0, longitude_deg=-64.0)
REQUEST = Request(
    code="FINCH-REQ-01", role="bittering", deliveries=(Delivery(needed_on=ON, mass_kg=Decimal(60)),)
)


def wanting(*, keeping: tuple[int, float, str] | None = None, **told: object) -> Request:
    plain = {"code": "FINCH-REQ-01", "role": "bittering", "deliveries": REQUEST.deliveries}
    if keeping is not None:
        days, kept_at_c, packing = keeping
        told |= {"kept_from": TODAY + timedelta(days=days), "kept_at_c": kept_at_c, "kept_packing": packing}
    return Request(**{**plain, **told})


def read(
    session: Session,
    request: Request,
    *,
    loosened: bool = False,
    keys: tuple[str, ...] = (),
    certified: bool = False,
) -> LotColumns:
    told = {"cultivar_keys": keys, "near": NEAR, "today": TODAY, "now": NOW}
    if loosened:
        return matching.near_candidates(session, request, **told).lots
    return matching.candidates(session, request, certified=certified, **told)


@pytest.fixture
def region(session: Session) -> list[str]:
    """Sixty lots of three yards that differ in everything a limit can be about."""
    growers = []
    for n in range(3):
        x, y, z = unit_vector(latitude_deg=45.0 + n, longitude_deg=-64.0)
        growers.append(PartyRowFactory(unit_x=x, unit_y=y, unit_z=z))
    rows = []
    for n in range(60):
        rows.append(
            LotRowFactory(
                grower_id=growers[n % 3].id,
                role=("aroma", "bittering", "dual")[n % 3],
                cultivar_key=("CASCADE", "NUGGET")[n % 2],
                form=("pellet", "whole_cone")[n % 2],
                packing=(None, "open", "barrier_vacuum")[n % 3],
                mass_kg=Decimal(10 + 5 * (n % 13)),
                price_per_kg=None if n % 5 == 0 else Decimal(15 + n % 20),
                currency=None if n % 5 == 0 else ("CAD", "USD")[n % 7 == 0],
                search_day=TODAY.toordinal() - n,
                search_log_alpha=None if n % 11 == 0 else math.log(4 + n % 12),
                search_alpha_sd_log=0.1,
                search_log_resin=None if n % 4 == 0 else math.log(0.95 - 0.003 * n),
                search_index_sd_log=0.05,
                search_rate_per_day=0.0005,
                search_rate_low_per_day=0.0004,
                search_rate_high_per_day=0.0006,
                search_base_rate_per_day=0.002 + 0.0001 * (n % 7),
                search_learnt_rate_per_day=0.004 if n % 3 == 0 else None,
                search_learnt_packings=("barrier_air,open", None, None)[n % 3],
                origin_country=(None, "CA", "CA", "US")[n % 4],
                origin_subdivision=("CA-NS" if n % 4 == 1 else None),
                search_oil_ml_per_100g=None if n % 6 == 0 else 0.5 + 0.02 * n,
                search_moisture_percent=None if n % 8 == 0 else 8 + 0.1 * (n % 40),
            )
        )
    for n, row in enumerate(rows):
        for kind, scheme, every, until in (
            ("organic", "River Organic", 2, date(2027, 6, 1)),
            ("other", "Valley Green", 3, date(2026, 12, 20)),
        ):
            if n % every == 0:
                CertificationRowFactory(lot_id=row.id, kind=kind, scheme=scheme, valid_until=until)
    return [row.code for row in rows]


limits = st.fixed_dictionaries(
    {},
    optional={
        "role_strict": st.booleans(),
        "forms": st.sampled_from([("pellet",), ("whole_cone",)]),
        "packings": st.sampled_from([("open",), ("open", "barrier_vacuum")]),
        "alpha_percent_min": st.floats(0, 14),
        "alpha_percent_max": st.floats(4, 20),
        "hop_storage_index_max": st.floats(0.25, 0.5),
        "moisture_percent_max": st.floats(8, 12),
        "oil_ml_per_100g_min": st.floats(0.4, 1.8),
        "within_km": st.floats(1, 300),
        "price_per_kg_max": st.decimals(10, 40, places=2),
        "price_per_kg_alpha_max": st.decimals(100, 500, places=2),
        "currency": st.just("CAD"),
        "lots_max": st.sampled_from([1, 3]),
        "parcel_kg_min": st.decimals(1, 50, places=1),
        "origins": st.sampled_from([("CA",), ("CA-NS",), ("CA-NS", "US")]),
        "certifications": st.sampled_from([("organic",), ("Valley Green",), ("organic", "Valley Green")]),
        "keeping": st.tuples(
            st.integers(0, 68), st.floats(-20, 35), st.sampled_from(["open", "barrier_air", "barrier_vacuum"])
        ),
    },
)


@given(told=limits)
@settings(max_examples=40)
def test_the_database_and_the_decision_call_the_same_lots_in(
    session: Session, region: list[str], told: dict[str, object]
) -> None:
    request = wanting(**{"currency": "CAD", **told})
    everything = read(session, wanting(), certified=True)

    narrowed = rank_lots(request, read(session, request), cultivar_keys=(), today=TODAY)
    wide = rank_lots(request, everything, cultivar_keys=(), today=TODAY)

    assert len(everything) == 60
    assert {narrowed.lots.code[p] for p in narrowed.order} == {wide.lots.code[p] for p in wide.order}
    # Only the price of alpha is left to the decision alone.
    assert "price_per_kg_alpha_max" in told or len(narrowed.order) == len(narrowed.lots)


@given(told=limits)
@settings(max_examples=40)
def test_both_readings_together_find_every_near_miss(
    session: Session, region: list[str], told: dict[str, object]
) -> None:
    request = wanting(**{"currency": "CAD", **told})

    found = join_near_misses(
        *(
            near_misses_of(request, read(session, request, loosened=loosened), cultivar_keys=(), today=TODAY)
            for loosened in (False, True)
        )
    )

    everything = read(session, wanting(), certified=True)
    wide = near_misses_of(request, everything, cultivar_keys=(), today=TODAY)
    assert [(miss.lot_code, miss.fails) for miss in found] == [(miss.lot_code, miss.fails) for miss in wide]


def test_cultivars_are_a_limit_only_where_others_are_not_accepted(
    session: Session, region: list[str]
) -> None:
    strict = wanting(cultivars=("Nugget",), accept_others=False)

    assert set(read(session, strict, keys=("NUGGET",)).cultivar_key) == {"NUGGET"}
    assert len(read(session, wanting(cultivars=("Nugget",)), keys=("NUGGET",))) == 60


def test_the_nearest_come_first_and_drafts_and_empty_lots_never(session: Session, region: list[str]) -> None:
    grower = PartyRowFactory()
    LotRowFactory(grower_id=grower.id, state="draft")
    LotRowFactory(grower_id=grower.id, taken_kg=Decimal(100))

    found = read(session, wanting())

    assert len(found) == 60
    assert found.distance_km.tolist() == sorted(found.distance_km.tolist())
    assert len(read(session, wanting(), loosened=True)) == 0


def test_a_lot_travels_with_its_columns_packages_and_evidence(session: Session) -> None:
    parties.add(session, PartyFactory(code="ALDER", latitude_deg=46.0, longitude_deg=-64.0))
    boxes = (Package(kind="box", count=6, net_kg=Decimal(20)),)
    reports = (
        LabReportFactory(code="R1", alpha_percent=5.0),
        LabReportFactory(
            code="R2",
            sampled_on=date(2026, 10, 1),
            alpha_percent=6.0,
            moisture_percent=10.0,
            basis="dry",
            drawn_by="official",
        ),
        LabReportFactory(code="R3", drawn_by="buyer", alpha_percent=9.0),
        LabReportFactory(code="R4", corrected_by="R5", alpha_percent=9.0),
    )
    lot = ListedLotFactory(
        code="ALDER-2026-01",
        mass_kg=Decimal(120),
        packages=boxes,
        sold_in="whole_packages",
        order_kg_min=Decimal(20),
        reports=reports,
    )
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    lots.change(session, lot)

    found = read(session, wanting())

    assert (found.code, found.grower_code, found.packages) == (["ALDER-2026-01"], ["ALDER"], {0: boxes})
    assert (found.free_kg.tolist(), found.order_kg_min.tolist()) == ([120.0], [20.0])
    assert found.distance_km[0] == pytest.approx(111.2, abs=0.1)
    shown = matching.in_full(session, found, [0], now=NOW)["ALDER-2026-01"]
    assert (shown.packages, shown.free_kg, shown.price_per_kg) == (boxes, Decimal(120), lot.price_per_kg)
    assert (shown.figures, shown.distance_km) == (figures_to_keep(lot), found.distance_km[0])
    assert shown.evidence == Evidence(
        reports=2,
        method="asbc_hops_14",
        drawn_by="official",
        packages_cored=3,
        alpha_spread=pytest.approx(0.4 / 5.2),
    )
    assert np.exp(found.log_alpha[0]) == pytest.approx(np.exp(shown.figures.log_alpha))
    assert matching.reports_of(session, ["ALDER-2026-01", "NONE"]) == {
        "ALDER-2026-01": list(reports),
        "NONE": [],
    }


def test_the_number_of_statements_does_not_grow_with_the_lots(session: Session, region: list[str]) -> None:
    said: list[str] = []
    bind = session.get_bind()

    def count(_conn: object, _cursor: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(bind, "before_cursor_execute", count)
    try:
        read(session, wanting(role_strict=True))
        few = len(said)
        read(session, wanting())
    finally:
        event.remove(bind, "before_cursor_execute", count)

    assert (few, len(said) - few) == (2, 2)
    assert isinstance(bind, sa.Connection | sa.Engine)


def test_a_large_region_is_read_grower_by_grower_from_the_nearest(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    for far in range(12):
        x, y, z = unit_vector(latitude_deg=45.0 + far / 2, longitude_deg=-64.0)
        grower = PartyRowFactory(unit_x=x, unit_y=y, unit_z=z)
        for _ in range(5):
            LotRowFactory(grower_id=grower.id, search_oil_ml_per_100g=2.0 if far % 2 else 1.0)
    monkeypatch.setattr(matching, "GROWERS_FIRST", 1)
    monkeypatch.setattr(matching, "CANDIDATES_MAX", 20)
    monkeypatch.setattr(matching, "NEAR_MISSES_READ", 10)
    rich = wanting(oil_ml_per_100g_min=1.5)
    told = {"cultivar_keys": (), "near": NEAR, "today": TODAY, "now": NOW}

    found = matching.candidates(session, rich, **told)
    near = matching.near_candidates(session, rich, **told)
    lean = matching.candidates(session, rich, **told, lean=True)

    assert found.distance_km.round().tolist() == [round(55.6 * n) for n in (1, 3, 5, 7) for _ in range(5)]
    assert near.lots.distance_km.round().tolist() == [round(55.6 * n) for n in (0, 2) for _ in range(5)]
    assert near.growers is not None
    assert near.growers < 12
    assert (lean.code, lean.free_kg.tolist()) == (found.code, found.free_kg.tolist())
    assert len(matching.candidates(session, wanting(within_km=60), **told)) == 10


def test_a_lean_reading_ranks_as_a_full_one(session: Session, region: list[str]) -> None:
    request = wanting(role="aroma", cultivars=("Nugget",), alpha_percent_min=6.0, forms=("pellet",))
    told = {"cultivar_keys": ("NUGGET",), "near": NEAR, "today": TODAY, "now": NOW}

    lean, full = (
        rank_lots(
            request,
            matching.candidates(session, request, **told, lean=lean),
            cultivar_keys=("NUGGET",),
            today=TODAY,
        )
        for lean in (True, False)
    )

    assert lean.order == full.order != ()
    assert lean.scores.score.tolist() == full.scores.score.tolist()
