import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.bitterness_spread import AdditionSpread, addition_estimate, total_estimate
from service.science.uncertainty import NORMAL_95TH, HalfWidths


def even(sd_log: float) -> HalfWidths:
    return HalfWidths(NORMAL_95TH * sd_log, NORMAL_95TH * sd_log)


def an_addition(ibu=20.0, lab=0.05, sampling=0.0, storage=0.0, model=0.0, name="boil", lot=None):
    return AdditionSpread(
        ibu=ibu,
        alpha_by_source={"laboratory": even(lab), "sampling": even(sampling), "storage": even(storage)},
        model_by_source={name: even(model)},
        lot=lot,
    )


def test_the_scatters_of_one_addition_add_in_quadrature():
    answer = addition_estimate(addition=an_addition(lab=0.03, sampling=0.04, storage=0.12))

    assert answer.estimate == 20
    assert answer.high == pytest.approx(20 * math.exp(NORMAL_95TH * 0.13))
    assert answer.low == pytest.approx(20 * math.exp(-NORMAL_95TH * 0.13))
    assert answer.confidence == 0.9


def test_uneven_scatters_stay_uneven():
    addition = AdditionSpread(
        ibu=10, alpha_by_source={}, model_by_source={"tinseth": HalfWidths(math.log(1 / 0.7), math.log(1.4))}
    )

    answer = addition_estimate(addition=addition)

    assert (answer.low, answer.high) == (pytest.approx(7), pytest.approx(14))
    assert total_estimate(additions=[addition]) == answer


def test_one_lot_named_twice_errs_twice_and_two_lots_partly_cancel():
    same = total_estimate(additions=[an_addition(lot="A"), an_addition(lot="A")])
    other = total_estimate(additions=[an_addition(lot="A"), an_addition(lot="B")])
    nameless = total_estimate(additions=[an_addition(), an_addition()])

    assert math.log(same.high / 40) == pytest.approx(NORMAL_95TH * 0.05)
    assert math.log(other.high / 40) == pytest.approx(NORMAL_95TH * 0.05 / math.sqrt(2))
    assert nameless == other


def test_a_model_errs_the_same_way_in_all_its_additions():
    one_model = [an_addition(lab=0, model=0.1), an_addition(lab=0, model=0.1)]
    two_models = [an_addition(lab=0, model=0.1), an_addition(lab=0, model=0.1, name="whirlpool")]

    together = total_estimate(additions=one_model)
    apart = total_estimate(additions=two_models)

    assert math.log(together.high / 40) == pytest.approx(NORMAL_95TH * 0.1)
    assert math.log(apart.high / 40) == pytest.approx(NORMAL_95TH * 0.1 / math.sqrt(2))


def test_the_interval_of_a_sum_agrees_with_a_simulation():
    # A general check of the delta method: lognormal draws with a fixed seed, percentiles of their sum.
    additions = [
        an_addition(ibu=25, lab=0.05, sampling=0.08, storage=0.04, model=0.1, lot="A"),
        an_addition(ibu=8, lab=0.05, sampling=0.08, storage=0.04, model=0.2, name="whirlpool", lot="A"),
        an_addition(ibu=6, lab=0.06, sampling=0.03, model=0.1, lot="B"),
    ]
    draw = np.random.default_rng(20_260_901).standard_normal
    count = 100_000
    lot_a = 0.05 * draw(count) + 0.08 * draw(count) + 0.04 * draw(count)
    lot_b = 0.06 * draw(count) + 0.03 * draw(count)
    boil, whirlpool = 0.1 * draw(count), 0.2 * draw(count)
    sums = 25 * np.exp(lot_a + boil) + 8 * np.exp(lot_a + whirlpool) + 6 * np.exp(lot_b + boil)

    answer = total_estimate(additions=additions)

    low, high = np.percentile(sums, [5, 95])
    assert answer.estimate == 39
    assert answer.low == pytest.approx(low, rel=0.02)
    assert answer.high == pytest.approx(high, rel=0.02)


@settings(max_examples=50)
@given(
    st.lists(
        st.tuples(st.floats(0, 100), st.floats(0, 0.3), st.sampled_from(["A", "B", None])),
        min_size=1,
        max_size=8,
    )
)
def test_a_sum_is_never_less_certain_than_its_least_certain_part(parts):
    additions = [an_addition(ibu=ibu, lab=lab, lot=lot) for ibu, lab, lot in parts]

    answer = total_estimate(additions=additions)

    assert answer.estimate == pytest.approx(sum(ibu for ibu, _, _ in parts))
    assert answer.low <= answer.estimate <= answer.high
    worst = max(lab for _, lab, _ in parts)
    assert answer.high <= answer.estimate * math.exp(NORMAL_95TH * worst) * (1 + 1e-9)


def test_no_bitterness_has_no_interval():
    answer = total_estimate(additions=[an_addition(ibu=0)])

    assert (answer.estimate, answer.low, answer.high) == (0, 0, 0)


def test_what_cannot_be_is_refused():
    with pytest.raises(OutOfRange, match="number of additions must be 1 to 200, not 0"):
        total_estimate(additions=[])
    with pytest.raises(OutOfRange, match="ibu must be 0 to"):
        an_addition(ibu=-1)
    with pytest.raises(OutOfRange, match=r"below_log must be 0 to 10, not -0\.1"):
        AdditionSpread(ibu=1, alpha_by_source={"storage": HalfWidths(-0.1, 0)}, model_by_source={})
