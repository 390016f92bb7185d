"""Many indices at once give the numbers of the scalar functions."""

import math

import numpy as np
import pytest

from service.errors import OutOfRange
from service.science.storage_index import index_after_storage, index_from_resin_loss, resin_loss_percent
from service.science.storage_index_curves import (
    index_after_storage_curve,
    index_from_resin_loss_curve,
    resin_loss_percent_curve,
)

INDICES = np.linspace(0.15, 2.0, 75)
LOSSES = np.linspace(-40, 100, 75)
EXPONENTS = np.linspace(0, 5, 75)


def test_losses_are_the_scalar_functions() -> None:
    curve = resin_loss_percent_curve(hop_storage_index=INDICES, baseline_index=0.28)

    assert curve.tolist() == pytest.approx(
        [resin_loss_percent(hop_storage_index=i, baseline_index=0.28) for i in INDICES.tolist()],
        rel=1e-12,
        abs=1e-12,
    )


def test_indices_are_the_scalar_functions() -> None:
    curve = index_from_resin_loss_curve(resin_loss_percent=LOSSES)

    assert curve.tolist() == pytest.approx(
        [index_from_resin_loss(resin_loss_percent=loss) for loss in LOSSES.tolist()], rel=1e-12
    )


def test_indices_after_storage_are_the_scalar_functions() -> None:
    curve = index_after_storage_curve(hop_storage_index=0.22, log_loss=EXPONENTS)

    assert curve.tolist() == pytest.approx(
        [index_after_storage(hop_storage_index=0.22, log_loss=x) for x in EXPONENTS.tolist()], rel=1e-12
    )


@pytest.mark.parametrize("wrong", [math.nan, -1.0, 35.0])
def test_one_bad_element_is_refused(wrong: float) -> None:
    with pytest.raises(OutOfRange):
        resin_loss_percent_curve(hop_storage_index=np.array([0.3, wrong]))


def test_a_bad_loss_or_exponent_is_refused() -> None:
    with pytest.raises(OutOfRange):
        index_from_resin_loss_curve(resin_loss_percent=np.array([101.0]))
    with pytest.raises(OutOfRange):
        index_after_storage_curve(hop_storage_index=0.3, log_loss=np.array([-0.1]))
