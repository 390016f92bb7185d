import pytest

from service.errors import OutOfRange
from service.science.dry_hop import (
    DryHopBitterness,
    ceiling_mg_per_l,
    classic_ibu,
    dissolved_fraction,
    dry_hop_bitterness,
    sensory_bitterness_iso_mg_per_l,
)


def test_dry_hops_have_no_classic_ibu_and_that_is_not_zero():
    assert classic_ibu() is None


def test_dry_hop_bitterness_spans_the_published_contents():
    # Hahn et al. 2018: 0.2 to 0.5 % humulinones, weight 0.66; 90 % of them dissolve.
    low = sensory_bitterness_iso_mg_per_l(
        iso_mg_per_l=0,
        humulinones_mg_per_l=0.9 * ceiling_mg_per_l(dose_g_per_l=8, content_percent=0.2),
        hulupones_mg_per_l=0,
        alpha_mg_per_l=0,
    )

    answer = dry_hop_bitterness(dose_g_per_l=8)

    assert answer.low_iso_mg_per_l == pytest.approx(low)
    assert answer.high_iso_mg_per_l == pytest.approx(2.5 * low)
    assert dry_hop_bitterness(dose_g_per_l=0) == DryHopBitterness(0, 0)


@pytest.mark.parametrize(
    ("formula", "given"),
    [
        (dry_hop_bitterness, {"dose_g_per_l": 22.1}),
        (ceiling_mg_per_l, {"dose_g_per_l": -1, "content_percent": 1}),
        (ceiling_mg_per_l, {"content_percent": 101, "dose_g_per_l": 1}),
        (dissolved_fraction, {"content_percent": 0, "measured_mg_per_l": 1, "dose_g_per_l": 1}),
        (dissolved_fraction, {"measured_mg_per_l": -1, "content_percent": 1, "dose_g_per_l": 1}),
        (
            sensory_bitterness_iso_mg_per_l,
            {"hulupones_mg_per_l": -1, "iso_mg_per_l": 1, "humulinones_mg_per_l": 1, "alpha_mg_per_l": 1},
        ),
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_a_figure_outside_its_range_is_refused(formula, given):
    with pytest.raises(OutOfRange) as refused:
        formula(**given)

    assert refused.value.facts["name"] == next(iter(given))
