"""The chance that all limits hold, against a simulation and known quantiles."""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.goods.lab_reports import NO_FIGURES, standing_figures
from service.market.matching.chances import chance_all_limits_met, chance_under
from service.market.matching.requests import Delivery, Request
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import search_figures
from service.market.storage.storage_model import keeping_of
from service.market.storage.storage_rates import sd_log
from service.reference.six_month_storage import six_month_loss
from service.science.storage_index_curves import index_from_resin_loss_curve, resin_loss_percent_curve
from service.science.uncertainty import Estimate, lognormal_estimate
from tests.factories import TODAY, LabReportFactory, ListedLotFactory, SpellFactory

ON = date(2027, 2, 1)
FRESH = SearchFigures(
    day=TODAY.toordinal(),
    log_alpha=float(np.log(10.0)),
    alpha_sd_log=0.08,
    rate_per_day=0.0,
    rate_low_per_day=0.0,
    rate_high_per_day=0.0,
    spread_low=0.0,
    spread_high=0.0,
)


def a_request(**limits: float) -> Request:
    return Request(role="bittering", deliveries=(Delivery(needed_on=ON, mass_kg=Decimal(1)),), **limits)


def chance(request: Request, figures: SearchFigures = FRESH, *, measured=NO_FIGURES, first_on=ON) -> float:
    return chance_all_limits_met(
        request, figures, measured=measured, form="whole_cone", first_on=first_on, last_on=ON
    )


def test_the_chance_agrees_with_a_simulation() -> None:
    drawn = 10.0 * np.exp(0.08 * np.random.default_rng(1).standard_normal(400_000))

    found = chance(a_request(alpha_percent_min=9.0, alpha_percent_max=12.0))

    assert found == pytest.approx(np.mean((drawn >= 9) & (drawn <= 12)), abs=0.003)


def test_the_edges_of_an_uneven_interval_are_its_5th_and_95th_percentile() -> None:
    uneven = Estimate(10.0, 7.0, 11.0)

    assert chance_under(uneven, 7.0) == pytest.approx(0.05)
    assert chance_under(uneven, 10.0) == 0.5
    assert chance_under(uneven, 11.0) == pytest.approx(0.95)


@given(st.floats(0.1, 50), st.floats(0, 1), st.floats(0.01, 100), st.floats(0.01, 100))
def test_a_higher_limit_is_more_likely_kept(median: float, sd: float, a: float, b: float) -> None:
    figure = lognormal_estimate(median=median, sd_log=sd)

    assert 0 <= chance_under(figure, min(a, b)) <= chance_under(figure, max(a, b)) <= 1


def test_a_limit_of_0_is_certain_either_way() -> None:
    assert chance_under(Estimate(10.0, 9.0, 11.0), 0.0) == 0.0
    assert chance_under(Estimate(0.0, 0.0, 0.0), 1.0) == 1.0
    assert chance_under(Estimate(10.0, 0.0, 11.0), 5.0) == pytest.approx(0.5)


def test_limits_multiply_and_no_limit_is_certain() -> None:
    reports = [LabReportFactory(moisture_percent=9.5, oil_ml_per_100g=1.2)]
    measured = standing_figures(reports)

    moisture = chance(a_request(moisture_percent_max=10.0), measured=measured)
    oil = chance(a_request(oil_ml_per_100g_min=1.0), measured=measured)
    both = chance(a_request(moisture_percent_max=10.0, oil_ml_per_100g_min=1.0), measured=measured)

    assert chance(a_request(), measured=measured) == 1.0
    assert both == pytest.approx(moisture * oil, abs=1e-3)
    spread = sd_log(measured.moisture_percent, name="moisture_percent", form="whole_cone")
    assert moisture == pytest.approx(
        chance_under(lognormal_estimate(median=9.5, sd_log=spread), 10.0), abs=1e-4
    )


def test_the_index_limit_counts_too() -> None:
    aged = SearchFigures(
        day=TODAY.toordinal(),
        log_resin=float(np.log(0.9)),
        index_sd_log=0.05,
        rate_per_day=0.0,
        rate_low_per_day=0.0,
        rate_high_per_day=0.0,
    )

    assert 0.5 < chance(a_request(hop_storage_index_max=0.32), aged) < 1
    assert chance(a_request(hop_storage_index_max=2.0), aged) == 1.0


def test_the_most_alpha_is_judged_on_the_first_day() -> None:
    losing = SearchFigures(
        day=TODAY.toordinal(),
        log_alpha=float(np.log(10.0)),
        alpha_sd_log=0.05,
        rate_per_day=0.01,
        rate_low_per_day=0.01,
        rate_high_per_day=0.01,
    )
    request = a_request(alpha_percent_max=7.5)

    assert chance(request, losing) > 0.9
    assert chance(request, losing, first_on=TODAY) < 0.1


GRID = [
    (cultivar, form, packing, stored_at_c, days)
    for cultivar, form in (("Willamette", "whole_cone"), ("Cascade", "pellet"), ("Nugget", "whole_cone"))
    for packing, stored_at_c in (("open", 20.0), ("barrier_vacuum", 4.0))
    for days in (60, 120, 200, 330, 500)
]


@pytest.mark.parametrize(("cultivar", "form", "packing", "stored_at_c", "days"), GRID)
def test_limits_that_hang_on_one_storage_agree_with_a_simulation(
    cultivar: str, form: str, packing: str, stored_at_c: float, days: int
) -> None:
    lot = ListedLotFactory(
        cultivar=cultivar, form=form, spells=(SpellFactory(packing=packing, stored_at_c=stored_at_c),)
    )
    loss = six_month_loss(cultivar)
    measured = standing_figures(lot.reports)
    alpha, index = measured.alpha_percent, measured.hop_storage_index
    assert alpha is not None
    assert index is not None
    last_on = alpha.sampled_on + timedelta(days=days)
    first_on = last_on - timedelta(days=45)
    keeping = keeping_of(lot, loss=loss)
    gone = {on: keeping.exponent(since=alpha.sampled_on, until=on) for on in (first_on, last_on)}
    # One draw of the rate for both days and both figures; one error of the laboratory for each figure.
    rng = np.random.default_rng(days)
    z, alpha_error, index_error = rng.standard_normal((3, 40_000))

    def exponent(on: date) -> np.ndarray:
        # Every doubt about the rate is a ratio, so that the exponent is lognormal on either side of its median.
        one = gone[on]
        side = np.where(z > 0, np.log(one.high / one.estimate), np.log(one.estimate / one.low))
        return one.estimate * np.exp(side / 1.6449 * z)

    drawn = {
        on: alpha.value * np.exp(sd_log(alpha, name="alpha_percent", form=form) * alpha_error - exponent(on))
        for on in gone
    }
    read = index.value * np.exp(sd_log(index, name="hop_storage_index", form=form) * index_error)
    left = 1 - resin_loss_percent_curve(hop_storage_index=read) / 100
    aged = index_from_resin_loss_curve(resin_loss_percent=100 * (1 - left * np.exp(-exponent(last_on))))
    limits = {
        "alpha_percent_min": float(np.quantile(drawn[last_on], 0.4)),
        "alpha_percent_max": float(np.quantile(drawn[first_on], 0.9)),
        "hop_storage_index_max": float(np.quantile(aged, 0.6)),
    }
    kept = (
        (drawn[last_on] >= limits["alpha_percent_min"])
        & (drawn[first_on] <= limits["alpha_percent_max"])
        & (aged <= limits["hop_storage_index_max"])
    )

    found = chance_all_limits_met(
        a_request(**limits),
        search_figures(lot, loss=loss),
        measured=NO_FIGURES,
        form=form,
        first_on=first_on,
        last_on=last_on,
    )

    assert found == pytest.approx(np.mean(kept), abs=0.03)


@given(
    st.floats(3.0, 6.0),
    st.floats(5.0, 8.0),
    st.floats(0.25, 0.6),
    st.integers(0, 300),
)
def test_a_further_condition_or_delivery_never_raises_the_chance(
    least: float, most: float, index_max: float, days: int
) -> None:
    figures = search_figures(ListedLotFactory(), loss=six_month_loss("Willamette"))
    last_on = ON + timedelta(days=days)

    def chance_of(*, first_on: date = last_on, **limits: float) -> float:
        return chance_all_limits_met(
            a_request(**limits),
            figures,
            measured=NO_FIGURES,
            form="whole_cone",
            first_on=first_on,
            last_on=last_on,
        )

    one = chance_of(alpha_percent_min=least)
    two = chance_of(alpha_percent_min=least, alpha_percent_max=most)
    three = chance_of(alpha_percent_min=least, alpha_percent_max=most, hop_storage_index_max=index_max)
    earlier_too = chance_of(
        alpha_percent_min=least, alpha_percent_max=most, hop_storage_index_max=index_max, first_on=ON
    )

    assert one >= two >= three >= earlier_too
