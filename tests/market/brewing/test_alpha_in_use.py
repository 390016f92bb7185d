"""The alpha of hops on the day of the brew: estimated, as analysed, told, or assumed."""

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import FigureMissing, InvalidRequest, NoStorageModel
from service.market.brewing.alpha_in_use import alpha_as_told, alpha_of_lot, alpha_of_wet_hops, words_of
from service.market.storage.storage import StoragePlan, storage_outlook
from service.reference.assumptions import get_assumption
from service.reference.six_month_storage import six_month_loss
from service.science.beer_bitterness import AGED_HOPS_NOTE
from service.science.uncertainty import combine_half_widths
from tests.factories import LabReportFactory, LotFactory, SpellFactory

SAMPLED = date(2026, 9, 3)


def a_lot(**told):  # type: ignore[no-untyped-def]  # Lot
    report = told.pop("report", {})
    return LotFactory(**{"reports": (LabReportFactory(code="R1", **report),), **told})


@given(st.integers(0, 900))
def test_the_estimate_is_the_storage_estimate(days: int) -> None:
    lot, on = a_lot(), SAMPLED + timedelta(days=days)
    outlook = storage_outlook(lot, on=on, loss=six_month_loss(lot.cultivar)).alpha_percent

    alpha = alpha_of_lot(lot, basis="estimated", on=on)
    widths = combine_half_widths(parts=list(alpha.scatter.values()))

    assert alpha.percent == pytest.approx(outlook.estimate)
    assert alpha.percent * math.exp(-widths.below_log) == pytest.approx(outlook.low)
    assert alpha.percent * math.exp(widths.above_log) == pytest.approx(outlook.high)


def test_half_a_year_open_at_20_c_leaves_what_was_published() -> None:
    # USDA-ARS accession 21092, Cascade: alpha 6.3 %, 40 % of it retained after six months at room temperature.
    lot = a_lot(
        cultivar="Cascade",
        cultivar_code="CASCADE",
        spells=(SpellFactory(packing="open", stored_at_c=20.0),),
        report={"alpha_percent": 6.3},
    )

    alpha = alpha_of_lot(lot, basis="estimated", on=SAMPLED + timedelta(days=180))

    assert alpha.percent == pytest.approx(2.52, abs=0.01)


def test_as_analysed_is_the_report_whatever_the_day() -> None:
    alpha = alpha_of_lot(a_lot(), basis="as_analysed", on=date(2020, 1, 1))

    assert (alpha.percent, alpha.report, alpha.method) == (5.4, "R1", "asbc_hops_14")
    assert set(alpha.scatter) == {"measurement"}


def test_a_plan_changes_what_is_left() -> None:
    lot, on = a_lot(), date(2027, 6, 1)
    warm = StoragePlan(from_on=date(2026, 12, 1), kept_at_c=20.0, packing="open")

    kept = alpha_of_lot(lot, basis="estimated", on=on).percent

    assert alpha_of_lot(lot, basis="estimated", on=on, plan=warm).percent < kept


def test_each_assumption_behind_the_estimate_is_named() -> None:
    lot = a_lot(spells=(SpellFactory(stored_at_c=25.0),), form="pellet", report={"packages_cored": None})

    said = alpha_of_lot(lot, basis="estimated", on=date(2027, 2, 1)).assumptions

    for name in (
        "storage_rate_spread_ratio",
        "storage_temperature_spread_c",
        "above_20_c_rate_ratio",
        "pellet_rate_ratio",
        "packages_cored_default",
        "sampling_cv_pellet_percent",
    ):
        assert words_of(get_assumption(name)) in said
    assert any(words.startswith("ASBC Hops-14, HPLC: 4 %") for words in said)


def test_a_stated_uncertainty_takes_the_place_of_the_methods() -> None:
    stated = a_lot(report={"uncertainty": {"alpha_percent": 0.01}})

    surer = alpha_of_lot(stated, basis="as_analysed", on=SAMPLED)

    assert (
        surer.scatter["measurement"].above_log
        < alpha_of_lot(a_lot(), basis="as_analysed", on=SAMPLED).scatter["measurement"].above_log
    )
    assert not any("between laboratories" in words for words in surer.assumptions)


@pytest.mark.parametrize(
    ("index", "basis", "on", "is_aged"),
    [
        (0.27, "as_analysed", SAMPLED, False),
        (0.45, "as_analysed", SAMPLED, True),
        (0.27, "estimated", SAMPLED + timedelta(days=30), False),
        (0.27, "estimated", SAMPLED + timedelta(days=2000), True),
        (None, "estimated", SAMPLED + timedelta(days=2000), True),
    ],
)
def test_aged_hops_carry_the_note(index: float | None, basis: str, on: date, is_aged: bool) -> None:
    alpha = alpha_of_lot(a_lot(report={"hop_storage_index": index}), basis=basis, on=on)

    assert alpha.is_aged is is_aged
    assert (AGED_HOPS_NOTE in alpha.cautions) is is_aged


def test_pellets_say_that_their_rate_is_an_assumption() -> None:
    alpha = alpha_of_lot(a_lot(form="pellet"), basis="estimated", on=date(2027, 2, 1))

    assert any("pellets lose acids is an assumption" in caution for caution in alpha.cautions)


def test_a_lot_without_alpha_is_refused_where_it_is_named() -> None:
    lot = a_lot(report={"alpha_percent": None, "beta_percent": None})

    with pytest.raises(FigureMissing) as refused:
        alpha_of_lot(lot, basis="estimated", on=SAMPLED, pointer="#/additions/3")

    assert refused.value.facts == {
        "lot_code": lot.code,
        "missing": ["alpha_percent"],
        "pointer": "#/additions/3/lot_code",
    }


def test_a_day_before_the_sampling_is_refused() -> None:
    with pytest.raises(InvalidRequest) as refused:
        alpha_of_lot(a_lot(), basis="estimated", on=SAMPLED - timedelta(days=1))

    assert refused.value.facts["errors"][0]["pointer"] == "#/brewed_on"


def test_a_day_ages_away_is_refused() -> None:
    lot = a_lot(spells=(SpellFactory(packing="open", stored_at_c=20.0),))

    with pytest.raises(InvalidRequest, match="after so long in store"):
        alpha_of_lot(lot, basis="estimated", on=date(2199, 1, 1))


def test_a_plan_that_begins_in_the_recorded_past_is_refused() -> None:
    plan = StoragePlan(from_on=date(2026, 8, 1), kept_at_c=4.0, packing="open")

    with pytest.raises(InvalidRequest) as refused:
        alpha_of_lot(a_lot(), basis="estimated", on=date(2027, 1, 1), plan=plan)

    assert refused.value.facts["errors"][0]["pointer"] == "#/storage/from"


def test_a_lot_that_is_stored_nowhere_has_no_estimate() -> None:
    with pytest.raises(NoStorageModel):
        alpha_of_lot(a_lot(spells=()), basis="estimated", on=date(2027, 1, 1))


def test_alpha_as_told_is_surer_for_pellets_than_for_cones_or_the_unknown() -> None:
    widths = {
        form: alpha_as_told(5.4, form=form).scatter["measurement"].above_log
        for form in ("pellet", "whole_cone", None)
    }

    assert widths["pellet"] < widths["whole_cone"] == widths[None]
    assert any("form of the hops is not told" in words for words in alpha_as_told(5.4, form=None).assumptions)


def test_wet_hops_of_a_known_cultivar_are_assumed_from_its_published_range() -> None:
    # 4.5 to 7 % as dried (Hop Growers of America), at 9 % moisture, brought to 80 % water: 5.75 x 20/91.
    alpha = alpha_of_wet_hops(cultivar_code="CASCADE")

    assert alpha.percent == pytest.approx(5.75 * 20 / 91)
    assert alpha.percent * math.exp(-alpha.scatter["assumed alpha"].below_log) == pytest.approx(4.5 * 16 / 91)
    assert alpha.percent * math.exp(alpha.scatter["assumed alpha"].above_log) == pytest.approx(7 * 24 / 91)
    assert "Hop Growers of America variety data" in alpha.sources


def test_wet_hops_of_an_unknown_cultivar_are_assumed_at_a_house_figure() -> None:
    alpha = alpha_of_wet_hops()

    assert alpha.percent == 1.5
    assert alpha.assumptions == (words_of(get_assumption("wet_hop_alpha_percent")),)
    assert alpha.cautions


def test_a_wet_lot_is_taken_as_analysed_or_as_assumed() -> None:
    measured = a_lot(form="wet_hop", spells=(), report={"alpha_percent": 1.1})
    unknown = a_lot(form="wet_hop", spells=(), reports=())

    assert alpha_of_lot(measured, basis="estimated", on=date(2027, 1, 1)).percent == 1.1
    assumed = alpha_of_lot(unknown, basis="estimated", on=date(2027, 1, 1))
    assert assumed.lot_code == unknown.code
    assert set(assumed.scatter) == {"assumed alpha"}
