"""Grams per hectolitre for 10 IBU, by the published utilization."""

import pytest

from service.market.sheet.sheet_doses import DOSED, doses_for
from service.science.uncertainty import Estimate


def test_a_dose_gives_back_its_ten_ibu() -> None:
    # Tinseth's formula (quoted): IBU = U x alpha x mg/L; 12 °P and 5 % alpha.
    for dose in doses_for(Estimate(5.0, 4.0, 6.0)):
        mg_per_l = dose.g_per_hl.estimate * 10
        assert mg_per_l * 0.05 * dose.utilization_percent / 100 == pytest.approx(10)


def test_less_alpha_wants_more_hops() -> None:
    doses = doses_for(Estimate(5.0, 4.0, 6.0))

    assert len(doses) == len(DOSED)
    assert all(dose.g_per_hl.low < dose.g_per_hl.estimate < dose.g_per_hl.high for dose in doses)
    assert doses[0].g_per_hl.estimate < doses[1].g_per_hl.estimate < doses[2].g_per_hl.estimate


def test_hops_without_alpha_to_speak_of_have_no_dose() -> None:
    assert doses_for(Estimate(0.0, 0.0, 0.0)) == ()
