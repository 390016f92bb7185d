"""The house's weights, and a request's own beside them."""

import pytest

from service.market.lots import ROLES
from service.market.requests import PARTS
from service.market.weights import WEIGHTS, chosen_weights


def test_every_role_weighs_every_part_and_1_in_all() -> None:
    assert set(WEIGHTS) == set(ROLES)
    for weights in WEIGHTS.values():
        assert set(weights) == set(PARTS)
        assert sum(weights.values()) == pytest.approx(1.0)


def test_own_weights_stand_in_place_of_the_houses_and_a_cultivar_counts_only_if_one_is_named() -> None:
    assert chosen_weights("aroma", {}, names_cultivars=True) == WEIGHTS["aroma"]
    own = chosen_weights("bittering", {"oil": 2.0, "cultivar": 5.0}, names_cultivars=False)
    assert own == {name: w for name, w in WEIGHTS["bittering"].items() if name != "cultivar"} | {"oil": 2.0}
