"""Blends by mass: a hand calculation, and laws that hold for any parts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.blending import blend_percent, blend_sd_log

PARTS = st.lists(
    st.tuples(st.floats(0.1, 1e4), st.floats(0.5, 25), st.floats(0, 0.5)), min_size=1, max_size=8
)


def test_a_blend_by_hand() -> None:
    # 12 kg at 6 % and 8 kg at 7.5 % hold 0.72 and 0.60 kg: 1.32 kg in 20 kg.
    assert blend_percent(masses_kg=[12, 8], values_percent=[6, 7.5]) == pytest.approx(6.6)


@given(PARTS)
def test_a_blend_lies_between_its_parts_and_is_surer_than_its_worst(
    parts: list[tuple[float, float, float]],
) -> None:
    masses, values, sds = (list(column) for column in zip(*parts, strict=True))

    percent = blend_percent(masses_kg=masses, values_percent=values)
    sd_log = blend_sd_log(masses_kg=masses, values_percent=values, sds_log=sds)

    assert min(values) - 1e-9 <= percent <= max(values) + 1e-9
    assert sd_log <= max(sds) + 1e-12


@given(PARTS)
def test_two_blends_blended_are_one_blend(parts: list[tuple[float, float, float]]) -> None:
    masses, values, _ = (list(column) for column in zip(*parts, strict=True))
    whole = blend_percent(masses_kg=masses, values_percent=values)
    first = blend_percent(masses_kg=masses[:1], values_percent=values[:1])
    rest_kg = sum(masses[1:])
    if not rest_kg:
        assert whole == pytest.approx(first)
        return
    rest = blend_percent(masses_kg=masses[1:], values_percent=values[1:])

    assert blend_percent(masses_kg=[masses[0], rest_kg], values_percent=[first, rest]) == pytest.approx(whole)


def test_nothing_is_known_of_a_blend_without_alpha_but_that_it_has_none() -> None:
    assert blend_sd_log(masses_kg=[1, 2], values_percent=[0, 0], sds_log=[0.1, 0.1]) == 0


@pytest.mark.parametrize(
    ("masses", "values"), [([], []), ([1], [1, 2]), ([0], [5]), ([1], [101]), ([1, 1], [5, float("nan")])]
)
def test_parts_that_cannot_be_are_refused(masses: list[float], values: list[float]) -> None:
    with pytest.raises(OutOfRange):
        blend_percent(masses_kg=masses, values_percent=values)


def test_each_part_needs_its_scatter() -> None:
    with pytest.raises(OutOfRange, match="sds_log names 1 parts"):
        blend_sd_log(masses_kg=[1, 1], values_percent=[5, 5], sds_log=[0.1])
