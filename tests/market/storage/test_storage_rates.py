"""Rates, exponents and their intervals."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.goods.lab_reports import standing_figures
from service.market.storage.storage_rates import (
    NOTHING_GONE,
    exponent_over,
    index_after,
    sd_log,
    spell_rate,
)
from service.reference.assumptions import get_assumption
from service.reference.six_month_storage import six_month_loss
from service.science.uncertainty import Estimate
from tests.factories import LabReportFactory, SpellFactory

LOSS = six_month_loss("Cascade")
BEGAN = date(2026, 8, 29)


@pytest.mark.parametrize("packing", ["open", "barrier_air", "barrier_vacuum"])
@pytest.mark.parametrize("form", ["whole_cone", "pellet"])
def test_a_rate_lies_in_its_interval(packing: str, form: str) -> None:
    rate = spell_rate(SpellFactory(packing=packing), loss=LOSS, form=form)

    assert 0 < rate.low < rate.estimate < rate.high


def test_a_rate_halves_for_every_15_degrees() -> None:
    # M. Garetz 1994, Brewing Techniques 2(1) (read): the rate halves for every 15 °C drop.
    warm = spell_rate(SpellFactory(stored_at_c=20.0), loss=LOSS, form="whole_cone")
    cool = spell_rate(SpellFactory(stored_at_c=5.0), loss=LOSS, form="whole_cone")

    assert cool.estimate == pytest.approx(warm.estimate / 2)


def test_pellets_lose_less_than_cones_by_the_house_figure_and_may_lose_as_much() -> None:
    cones = spell_rate(SpellFactory(), loss=LOSS, form="whole_cone")
    pellets = spell_rate(SpellFactory(), loss=LOSS, form="pellet")
    ratio = get_assumption("pellet_rate_ratio")

    # The centre of 0.4 to 1.0 on a ratio scale; a house figure.
    assert ratio.value == pytest.approx((ratio.low * ratio.high) ** 0.5, abs=0.005)
    assert pellets.estimate == pytest.approx(cones.estimate * ratio.value)
    assert pellets.low / pellets.estimate < cones.low / cones.estimate
    assert pellets.high / pellets.estimate > cones.high / cones.estimate


@given(st.integers(0, 400))
def test_an_exponent_adds_up_over_its_days(days: int) -> None:
    spells = (SpellFactory(), SpellFactory(began_on=BEGAN + timedelta(days=100), stored_at_c=10.0))
    split = BEGAN + timedelta(days=days)
    end = BEGAN + timedelta(days=400)

    whole = exponent_over(spells, since=BEGAN, until=end, loss=LOSS, form="whole_cone")
    first = exponent_over(spells, since=BEGAN, until=split, loss=LOSS, form="whole_cone")
    second = exponent_over(spells, since=split, until=end, loss=LOSS, form="whole_cone")

    assert first.estimate + second.estimate == pytest.approx(whole.estimate)
    assert first.high + second.high == pytest.approx(whole.high)


def test_more_packages_cored_leave_less_doubt() -> None:
    def doubt(cored: int | None, **told: object) -> float:
        figures = standing_figures([LabReportFactory(packages_cored=cored, **told)])
        assert figures.alpha_percent is not None
        return sd_log(figures.alpha_percent, name="alpha_percent", form="whole_cone")

    assert doubt(9) < doubt(2) < doubt(1) == doubt(None)
    assert doubt(3, uncertainty={"alpha_percent": 0.01}) < doubt(3)


def test_an_index_where_all_is_lost_has_no_future() -> None:
    assert index_after(2.03, NOTHING_GONE, 0.03) is None


def test_an_index_never_passes_the_end_of_its_formula() -> None:
    # 0.25 x 10^(100/110) = 2.0278 (G. B. Nickerson, S. T. Likens 1979; constants read in M. Garetz 1994).
    later = index_after(0.30, Estimate(0.5, 0.2, 3.0), 0.6)

    assert later is not None
    assert later.high == pytest.approx(2.0278, abs=0.0001)
