import math

import composition_stats
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange, UnlikeProfiles
from service.reference.cultivars import find_cultivar
from service.science.oil_profile import (
    DETECTION_PERCENT,
    ZERO_SHARE_OF_LIMIT,
    OilProfile,
    centred_log_ratios,
    closed_percent,
    compare_oil_profiles,
    replace_zeros,
    similarity,
)

PARTS = ("caryophyllene", "farnesene", "humulene", "myrcene")
SHARES = st.one_of(st.just(0.0), st.floats(0.1, 25))
COMPOSITIONS = st.lists(SHARES, min_size=4, max_size=4).filter(lambda shares: sum(shares) > 0)


def profile(*shares: float | None, basis: str = "us") -> OilProfile:
    return OilProfile(basis=basis, shares_percent=dict(zip(PARTS, shares, strict=False)))


def cultivar_profile(name: str) -> OilProfile:
    cultivar = find_cultivar(name)
    assert cultivar is not None
    suffix = "_percent_of_oil"
    shares = {
        figure.quantity.removesuffix(suffix): (figure.low + figure.high) / 2
        for figure in cultivar.figures
        if figure.quantity.endswith(suffix)
    }
    return OilProfile(basis=cultivar.oil_shares_basis or "", shares_percent=shares)


@settings(max_examples=60)
@given(COMPOSITIONS, COMPOSITIONS)
def test_distances_agree_with_a_general_library(one, other):
    # composition-stats: closure, multiplicative_replacement, clr.
    least = ZERO_SHARE_OF_LIMIT * DETECTION_PERCENT / 100
    table = composition_stats.closure(np.array([one, other]))
    filled = composition_stats.multiplicative_replacement(table, delta=least)
    expected = np.linalg.norm(np.subtract(*composition_stats.clr(filled)))

    answer = compare_oil_profiles(first=profile(*one), second=profile(*other))

    assert answer.distance == pytest.approx(expected, rel=1e-9, abs=1e-9)
    assert answer.similarity == pytest.approx(1 / (1 + expected), rel=1e-9)


@settings(max_examples=60)
@given(COMPOSITIONS, COMPOSITIONS, st.floats(0.5, 1))
def test_only_ratios_count_and_order_does_not(one, other, scale):
    first, second = profile(*one), profile(*other)
    distance = compare_oil_profiles(first=first, second=second).distance

    assert compare_oil_profiles(first=second, second=first).distance == pytest.approx(distance, abs=1e-12)
    scaled = profile(*(scale * share for share in one))
    assert compare_oil_profiles(first=scaled, second=second).distance == pytest.approx(distance, abs=1e-9)
    assert compare_oil_profiles(first=first, second=scaled).similarity == pytest.approx(1, abs=1e-9)


def test_a_comparison_tells_what_it_rests_on():
    first = OilProfile(
        "us", {"myrcene": 50, "humulene": 20, "caryophyllene": 8, "farnesene": 0, "linalool": 1}
    )
    second = OilProfile(
        "us", {"myrcene": 25, "humulene": 20, "caryophyllene": 8, "farnesene": 4, "geraniol": None}
    )

    answer = compare_oil_profiles(first=first, second=second)

    assert answer.parts == PARTS
    assert answer.parts_left_out == ("geraniol", "linalool")
    assert answer.parts_replaced == ("farnesene",)
    assert math.fsum(answer.log_ratio_by_part.values()) == pytest.approx(0, abs=1e-12)
    assert max(answer.log_ratio_by_part, key=answer.log_ratio_by_part.__getitem__) == "farnesene"


def test_leaving_parts_out_never_makes_profiles_less_similar():
    first, second = profile(8, 5, 24, 48), profile(9, 2, 30, 30)

    whole = compare_oil_profiles(first=first, second=second)
    part = compare_oil_profiles(first=profile(8, None, 24, 48), second=second)

    assert part.distance <= whole.distance


def test_known_kin_are_nearer_than_strangers():
    # USDA-ARS: Ultra was bred from Hallertauer Mittelfrueh; Cascade is of another kind.
    parent, child, cascade = (
        cultivar_profile(name) for name in ("Hallertauer Mittelfrueh", "Ultra", "Cascade")
    )

    kin = compare_oil_profiles(first=parent, second=child)

    assert kin.similarity > compare_oil_profiles(first=parent, second=cascade).similarity


@pytest.mark.parametrize(
    ("first", "second", "reason"),
    [
        (profile(8, 5, 24, 48), profile(8, 5, 24, 48, basis="european"), "basis"),
        (profile(8, 5, 24, 48, basis="peak_area"), profile(8, 5, 24, 48), "basis"),
        (profile(8, 5, 24, 48), profile(), "missing"),
        (profile(8, 5, 24, 48), profile(None, None, None, None), "missing"),
        (profile(8, 5, None, None), profile(8, 5, 24, 48), "few-parts"),
        (profile(0, 0, 0, 48), profile(8, 5, 24, None), "missing"),
    ],
    ids=[
        "us-european",
        "peak-area",
        "no-shares",
        "all-none",
        "two-parts",
        "nothing-common",
    ],
)
def test_profiles_that_cannot_be_compared_are_refused(first, second, reason):
    with pytest.raises(UnlikeProfiles) as refused:
        compare_oil_profiles(first=first, second=second)

    assert refused.value.facts == {"reason": reason}


def test_a_share_of_zero_is_known():
    answer = compare_oil_profiles(first=profile(8, 5, 24, 48), second=profile(0, 0, 0, 48))

    assert answer.parts == PARTS
    assert answer.parts_replaced == PARTS[:3]


def test_us_and_european_figures_of_the_books_are_refused():
    with pytest.raises(UnlikeProfiles, match="european"):
        compare_oil_profiles(first=cultivar_profile("Saazer"), second=cultivar_profile("Lubelski"))


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: profile(-1), "share of caryophyllene"),
        (lambda: profile(60, 41), "sum of the shares"),
        (lambda: similarity(distance=-1), "distance"),
        (lambda: closed_percent(shares_percent=(0.0, 0.0)), "shares_percent"),
        (lambda: closed_percent(shares_percent=(101.0,)), "shares_percent"),
        (lambda: replace_zeros(shares_percent=(1.0, 0.0), zero_percent=0), "zero_percent"),
        (lambda: centred_log_ratios(shares_percent=(1.0, 0.0)), "shares_percent"),
        (lambda: centred_log_ratios(shares_percent=()), "number of shares"),
        (
            lambda: compare_oil_profiles(first=profile(1), second=profile(1), detection_percent=0),
            "detection_percent",
        ),
    ],
)
def test_a_figure_outside_its_range_is_refused(make, named):
    with pytest.raises(OutOfRange) as refused:
        make()

    assert refused.value.facts["name"] == named
