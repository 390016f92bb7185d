"""What storage leaves of a lot: the published rule over its spells, with an interval and what it rests on."""

import math
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import FigureMissing, InvalidRequest, NoStorageModel, OutOfRange
from service.market.storage.storage import StoragePlan, planned_spells, storage_outlook
from service.reference.assumptions import get_assumption
from service.reference.six_month_storage import six_month_loss
from tests.factories import LabReportFactory, ListedLotFactory, LotFactory, SpellFactory, log_of

SAMPLED = date(2026, 9, 3)
LOSS = six_month_loss("Cascade")


def open_lot(**told: object) -> object:
    """A lot of Cascade, open at 20 °C since picking."""
    report = LabReportFactory(code="R1", alpha_percent=6.3, beta_percent=5.6)
    spells = (SpellFactory(packing="open", stored_at_c=20.0),)
    return ListedLotFactory(
        cultivar="Cascade", cultivar_code="CASCADE", reports=(report,), spells=spells, **told
    )


def test_six_months_open_leave_what_the_usda_found() -> None:
    # USDA-ARS accession 21092 (read): Cascade keeps 40 % of its alpha in six months; 6.3 % -> 2.52 %.
    outlook = storage_outlook(open_lot(), on=SAMPLED + timedelta(days=180), loss=LOSS)

    assert outlook.alpha_percent.estimate == pytest.approx(2.52, abs=1e-9)
    assert outlook.alpha_loss_percent.estimate == pytest.approx(60)
    assert outlook.report == "R1"
    assert outlook.inputs["days"] == 180


def test_on_the_day_of_sampling_nothing_is_lost() -> None:
    outlook = storage_outlook(open_lot(), on=SAMPLED, loss=LOSS)

    assert outlook.alpha_percent.estimate == pytest.approx(6.3)
    assert outlook.alpha_loss_percent.high == 0
    assert outlook.hop_storage_index is not None
    assert outlook.hop_storage_index.estimate == pytest.approx(0.27)


def test_an_index_under_the_baseline_starts_unclamped_and_shows_no_negative_loss() -> None:
    report = LabReportFactory(code="R1", hop_storage_index=0.2215)
    outlook = storage_outlook(ListedLotFactory(reports=(report,)), on=SAMPLED, loss=LOSS)

    assert outlook.hop_storage_index is not None
    assert outlook.hop_storage_index.estimate == pytest.approx(0.2215)
    assert outlook.resin_loss_percent == 0
    assert any("baseline" in caution for caution in outlook.cautions)


@given(st.integers(0, 700), st.integers(0, 700))
def test_estimates_lie_in_their_intervals_and_fall_with_time(days: int, more: int) -> None:
    early = storage_outlook(open_lot(), on=SAMPLED + timedelta(days=days), loss=LOSS)
    late = storage_outlook(open_lot(), on=SAMPLED + timedelta(days=days + more), loss=LOSS)

    for one in (early.alpha_percent, early.alpha_loss_percent, early.beta_percent, early.hop_storage_index):
        assert one is not None
        assert one.low <= one.estimate <= one.high
    assert late.alpha_percent.estimate <= early.alpha_percent.estimate
    assert late.alpha_loss_percent.low >= 0


@given(st.integers(1, 300))
def test_splitting_a_spell_changes_nothing(days: int) -> None:
    whole = open_lot()
    parts = (
        SpellFactory(packing="open", stored_at_c=20.0),
        SpellFactory(began_on=SAMPLED + timedelta(days=days), packing="open", stored_at_c=20.0),
    )
    on = SAMPLED + timedelta(days=301)

    split = storage_outlook(ListedLotFactory(reports=whole.reports, spells=parts), on=on, loss=LOSS)  # type: ignore[attr-defined]

    assert split.alpha_percent.estimate == pytest.approx(
        storage_outlook(whole, on=on, loss=LOSS).alpha_percent.estimate, rel=1e-12
    )


def test_a_buyers_plan_takes_over_from_its_day() -> None:
    lot = ListedLotFactory()
    day = date(2027, 6, 1)
    warm = StoragePlan(from_on=date(2026, 12, 1), kept_at_c=20.0, packing="open")

    kept = storage_outlook(lot, on=day, loss=LOSS)
    opened = storage_outlook(lot, on=day, loss=LOSS, plan=warm)

    assert opened.alpha_percent.estimate < kept.alpha_percent.estimate
    assert planned_spells(lot, warm)[-1] == SpellFactory(
        began_on=date(2026, 12, 1), packing="open", stored_at_c=20.0
    )
    assert planned_spells(lot, None) == lot.spells


def test_warmer_than_the_model_is_flagged_and_wider() -> None:
    day = SAMPLED + timedelta(days=90)
    cool = storage_outlook(open_lot(), on=day, loss=LOSS)
    warm = storage_outlook(
        ListedLotFactory(
            reports=open_lot().reports, spells=(SpellFactory(packing="open", stored_at_c=25.0),)
        ),
        on=day,
        loss=LOSS,
    )  # type: ignore[attr-defined]

    assert any("20 °C" in words for words in warm.cautions)
    assert not any("20 °C" in words for words in cool.cautions)
    assert warm.alpha_percent.high / warm.alpha_percent.low > cool.alpha_percent.high / cool.alpha_percent.low


def test_beyond_40_degrees_there_is_no_answer() -> None:
    hot = ListedLotFactory(spells=(SpellFactory(stored_at_c=41.0),))

    with pytest.raises(OutOfRange):
        storage_outlook(hot, on=date(2026, 12, 1), loss=LOSS)


def test_an_outlook_for_pellets_says_that_their_rate_is_an_assumption() -> None:
    outlook = storage_outlook(ListedLotFactory(form="pellet"), on=date(2026, 12, 1), loss=LOSS)

    assert any("pellets lose acids is an assumption" in words for words in outlook.cautions)
    assert not any("twice that" in words for words in outlook.cautions)


def test_the_estimate_for_pellets_is_the_median_of_what_may_be_true() -> None:
    # Draws of every doubt about the rate; the ratio of pellets to cones is a house figure, drawn within its row.
    lot = ListedLotFactory(form="pellet")
    on = date(2027, 8, 29)
    cones = storage_outlook(ListedLotFactory(), on=on, loss=LOSS)
    pellets = storage_outlook(lot, on=on, loss=LOSS)
    exponent = -np.log(1 - cones.alpha_loss_percent.estimate / 100)
    ratio = get_assumption("pellet_rate_ratio")
    rng = np.random.default_rng(12)
    z = rng.standard_normal(20_000)
    middle, sd = np.log(ratio.low * ratio.high) / 2, np.log(ratio.high / ratio.low) / 2 / 1.645
    lost = -np.expm1(-exponent * np.exp(middle + sd * z)) * 100

    assert np.mean(lost < pellets.alpha_loss_percent.estimate) == pytest.approx(0.5, abs=0.02)


def test_low_oxygen_counts_only_where_it_was_measured_low() -> None:
    def lost(oxygen: float) -> tuple[float, str]:
        spell = SpellFactory(packing="barrier_low_oxygen", residual_oxygen_percent=oxygen)
        outlook = storage_outlook(ListedLotFactory(spells=(spell,)), on=date(2027, 6, 1), loss=LOSS)
        return outlook.alpha_loss_percent.estimate, " ".join(outlook.assumptions)

    nitrogen = storage_outlook(
        ListedLotFactory(spells=(SpellFactory(packing="barrier_nitrogen"),)), on=date(2027, 6, 1), loss=LOSS
    )

    assert lost(2.0)[0] < lost(2.1)[0] == pytest.approx(nitrogen.alpha_loss_percent.estimate)
    assert "counts as packed under nitrogen" in lost(2.1)[1]


def test_what_cannot_be_reckoned_is_refused() -> None:
    day = date(2026, 12, 1)

    with pytest.raises(NoStorageModel):
        storage_outlook(ListedLotFactory(form="wet_hop"), on=day, loss=LOSS)
    with pytest.raises(NoStorageModel):
        storage_outlook(ListedLotFactory(spells=()), on=day, loss=LOSS)
    with pytest.raises(FigureMissing):
        storage_outlook(LotFactory(), on=day, loss=LOSS)
    with pytest.raises(InvalidRequest):
        storage_outlook(ListedLotFactory(), on=date(2026, 9, 2), loss=LOSS)
    plan = StoragePlan(from_on=date(2026, 8, 1), kept_at_c=4.0, packing="open")
    with pytest.raises(InvalidRequest):
        storage_outlook(ListedLotFactory(), on=day, loss=LOSS, plan=plan)


def test_missing_beta_and_index_stay_missing() -> None:
    report = LabReportFactory(code="R1", beta_percent=None, hop_storage_index=None)

    outlook = storage_outlook(ListedLotFactory(reports=(report,)), on=date(2026, 12, 1), loss=LOSS)

    assert (outlook.beta_percent, outlook.hop_storage_index, outlook.resin_loss_percent) == (None, None, None)


def test_a_package_opened_loses_faster_than_one_left_closed() -> None:
    outlook = storage_outlook(ListedLotFactory(), on=date(2026, 12, 1), loss=LOSS)

    assert [point.days for point in outlook.ahead] == [7, 30, 90, 180]
    for point in outlook.ahead:
        assert point.opened.alpha_percent.estimate < point.closed.alpha_percent.estimate
        assert point.opened.hop_storage_index is not None
        assert point.closed.hop_storage_index is not None
        assert point.opened.hop_storage_index.estimate > point.closed.hop_storage_index.estimate
        later = storage_outlook(ListedLotFactory(), on=point.on, loss=LOSS)
        assert point.closed.alpha_percent == later.alpha_percent
        opened = StoragePlan(from_on=date(2026, 12, 1), kept_at_c=-2.0, packing="open")
        planned = storage_outlook(ListedLotFactory(), on=point.on, loss=LOSS, plan=opened)
        assert point.opened.alpha_percent.estimate == pytest.approx(planned.alpha_percent.estimate, rel=1e-12)


def test_of_oil_only_the_direction_is_told() -> None:
    outlook = storage_outlook(ListedLotFactory(), on=date(2026, 12, 1), loss=LOSS)

    assert outlook.oil.startswith("Total oil falls as hops age")
    assert not hasattr(outlook, "oil_ml_per_100g")


def test_a_lots_own_baseline_counts_the_loss_from_its_earliest_report() -> None:
    reports = (
        LabReportFactory(code="R1", hop_storage_index=0.22),
        LabReportFactory(code="R2", sampled_on=date(2026, 11, 1), hop_storage_index=0.24),
    )
    lot, on = ListedLotFactory(reports=reports), date(2026, 11, 1)
    published = storage_outlook(lot, on=on, loss=LOSS)
    own = storage_outlook(lot, on=on, loss=LOSS, baseline_of_report=True)
    given = storage_outlook(lot, on=on, loss=LOSS, baseline_index=0.22)

    assert (published.resin_loss_percent, published.resin_loss_clamped) == (0.0, True)
    assert own.resin_loss_percent == pytest.approx(110 * math.log10(0.24 / 0.22))
    assert given.resin_loss_percent == own.resin_loss_percent
    assert not own.resin_loss_clamped
    assert (own.baseline.index, own.baseline.report) == (0.22, "R1")
    assert "5 days after picking" in own.baseline.words


def test_a_baseline_that_is_no_fresh_index_is_refused() -> None:
    old = ListedLotFactory(reports=(LabReportFactory(hop_storage_index=0.6),))
    bare = ListedLotFactory(reports=(LabReportFactory(hop_storage_index=None),))

    with pytest.raises(InvalidRequest, match="no index of fresh hops"):
        storage_outlook(old, on=date(2026, 11, 1), loss=LOSS, baseline_of_report=True)
    with pytest.raises(FigureMissing):
        storage_outlook(bare, on=date(2026, 11, 1), loss=LOSS, baseline_of_report=True)


def test_the_far_end_of_a_high_baseline_is_answered() -> None:
    lot = ListedLotFactory(spells=(SpellFactory(packing="open", stored_at_c=40.0),))
    outlook = storage_outlook(lot, on=date(2100, 1, 1), loss=LOSS, baseline_index=0.4)

    assert outlook.resin_loss_percent == pytest.approx(100)
    assert outlook.hop_storage_index is not None
    assert outlook.hop_storage_index.estimate == pytest.approx(0.4 * 10 ** (100 / 110), rel=1e-6)


def test_prior_evidence_and_result_are_shown_and_the_method_says_so() -> None:
    reports = (
        LabReportFactory(code="R1"),
        LabReportFactory(code="R2", sampled_on=date(2026, 11, 1), alpha_percent=5.0, hop_storage_index=0.3),
    )
    outlook = storage_outlook(
        ListedLotFactory(reports=reports, logs=(log_of(days=20, at_c=25.0),)), on=date(2026, 12, 1), loss=LOSS
    )

    assert outlook.rate_learning is not None
    assert outlook.rate_learning["reports"] == ["R1", "R2"]
    assert "learnt from the Hop Storage Index of R1 and R2" in outlook.method
    # The report that counts was drawn after the logger's last day.
    assert outlook.temperature_history is None
    earlier = storage_outlook(
        ListedLotFactory(logs=(log_of(days=20, at_c=25.0),)), on=date(2026, 12, 1), loss=LOSS
    )
    assert earlier.temperature_history is not None
    assert earlier.temperature_history["logged_days"] == 20.0
    assert "a logger's temperatures for 20.0 days, the stated ones for the other 69.0" in earlier.method
    assert any("over 20 °C on 20 of the days" in words for words in earlier.cautions)
    assert any("within 1 °C of what a logger" in words for words in earlier.assumptions)
