"""The house's weights, and a request's own beside them."""

import pytest

from service.market.matching.requests import PARTS
from service.market.matching.weights import WEIGHTS, chosen_weights
from service.reference.cultivar_rows import ROLES


def test_every_role_weighs_every_part_and_1_in_all_without_a_wish_for_a_profile() -> None:
    assert set(WEIGHTS) == set(ROLES)
    for weights in WEIGHTS.values():
        assert set(weights) == set(PARTS)
        assert sum(weight for name, weight in weights.items() if name != "profile") == pytest.approx(1.0)
        assert weights["profile"] > 0


def test_own_weights_stand_in_place_of_the_houses_and_a_wish_counts_only_if_one_is_named() -> None:
    assert chosen_weights("aroma", {}, names_cultivars=True, names_oil=True) == WEIGHTS["aroma"]
    own = chosen_weights(
        "bittering", {"oil": 2.0, "cultivar": 5.0, "profile": 5.0}, names_cultivars=False, names_oil=False
    )
    wishes = ("cultivar", "profile")
    assert own == {name: w for name, w in WEIGHTS["bittering"].items() if name not in wishes} | {"oil": 2.0}
    like = chosen_weights("aroma", {"profile": 0.5}, names_cultivars=False, names_oil=True)
    assert like["profile"] == 0.5
