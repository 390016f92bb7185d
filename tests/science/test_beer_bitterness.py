import pytest

from service.errors import OutOfRange
from service.science.beer_bitterness import (
    absorbance_from_iso,
    alpha_added_mg_per_l,
    bu_from_absorbance,
    bu_from_iso,
    is_above_solubility,
    is_unlikely,
)


def test_one_author_gives_two_figures_for_pure_iso_that_differ_by_a_hair():
    # Peacock, quoted: 5/7 = 0.714, and 50/69.68 = 0.718 by way of the absorbance.
    by_absorbance = bu_from_absorbance(absorbance_275nm=absorbance_from_iso(iso_mg_per_l=30))

    assert by_absorbance == pytest.approx(bu_from_iso(iso_mg_per_l=30), rel=0.03)


@pytest.mark.parametrize(("added", "warned"), [(0, False), (200, False), (200.1, True)])
def test_a_warning_is_due_above_the_solubility(added, warned):
    assert is_above_solubility(alpha_added_mg_per_l=added) is warned


@pytest.mark.parametrize(("bitterness", "doubted"), [(35, False), (100, False), (100.1, True)])
def test_over_a_hundred_is_unlikely(bitterness, doubted):
    assert is_unlikely(estimated_ibu=bitterness) is doubted


def test_alpha_added_is_mass_over_volume():
    assert alpha_added_mg_per_l(alpha_percent=10, mass_g=100, volume_l=50) == pytest.approx(200)


@pytest.mark.parametrize(
    ("formula", "given"),
    [
        (bu_from_absorbance, {"absorbance_275nm": -0.1}),
        (absorbance_from_iso, {"iso_mg_per_l": 301}),
        (bu_from_iso, {"iso_mg_per_l": float("nan")}),
        (is_above_solubility, {"alpha_added_mg_per_l": -1}),
        (is_unlikely, {"estimated_ibu": -1}),
        (alpha_added_mg_per_l, {"volume_l": 0, "alpha_percent": 10, "mass_g": 100}),
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_a_figure_outside_its_range_is_refused(formula, given):
    with pytest.raises(OutOfRange) as refused:
        formula(**given)

    assert refused.value.facts["name"] == next(iter(given))
