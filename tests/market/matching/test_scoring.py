"""The parts of the score and their weights."""

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.needs import needs_of
from service.market.matching.requests import PARTS, Delivery, Request
from service.market.matching.scoring import Scores, score_lots, weights_of
from service.market.matching.search import SearchFigures
from service.market.matching.weights import WEIGHTS
from tests.factories import TODAY

ON = date(2027, 2, 1)
AROMA = Request(role="aroma", deliveries=(Delivery(needed_on=ON, mass_kg=Decimal(10)),))
BITTERING = replace(AROMA, role="bittering")
FIGURES = SearchFigures(
    day=TODAY.toordinal(),
    log_alpha=float(np.log(10.0)),
    log_resin=float(np.log(0.9)),
    rate_per_day=0.0,
    oil_ml_per_100g=1.0,
    alpha_method="asbc_hops_14",
    alpha_reports=1,
    alpha_drawn_by="official",
    alpha_packages_cored=2,
)
LOT = Candidate(
    code="A",
    grower_code="ALDER",
    cultivar="Cascade",
    cultivar_key="CASCADE",
    role="aroma",
    form="pellet",
    free_kg=Decimal(100),
    price_per_kg=Decimal(24),
    currency="CAD",
    distance_km=200.0,
    figures=FIGURES,
)


def score(
    request: Request, *lots: Candidate, keys: tuple[str, ...] = (), among: list[bool] | None = None
) -> Scores:
    columns = columns_of(lots)
    needs = needs_of(request, columns, today=TODAY)
    flags = np.array(among if among is not None else [True] * len(lots))
    return score_lots(request, columns, needs, cultivar_keys=keys, among=flags)


def test_every_part_is_what_it_says() -> None:
    request = replace(AROMA, cultivars=("Cascade",))

    found = score(request, LOT, keys=("CASCADE",))

    assert {name: values[0] for name, values in found.parts.items()} == pytest.approx(
        {
            "freshness": 0.9,
            "oil": 0.5,
            "price": 1.0,
            "distance": 0.5,
            "evidence": (1 + 1 + 0.5 + 0.5) / 4,
            "cultivar": 1.0,
            "role": 1.0,
        }
    )
    assert found.score[0] == pytest.approx(0.25 * 0.9 + 0.2 * 0.5 + 0.15 + 0.05 + 0.075 + 0.1 + 0.1, abs=1e-4)


def test_bittering_lots_compare_by_the_cost_of_a_kilogram_of_alpha() -> None:
    strong = replace(LOT, figures=replace(FIGURES, log_alpha=float(np.log(15.0))), price_per_kg=Decimal(30))

    bittering, aroma = score(BITTERING, LOT, strong), score(AROMA, LOT, strong)

    assert bittering.unit_cost == pytest.approx([240.0, 200.0])
    assert bittering.parts["price"] == pytest.approx([200 / 240, 1.0])
    assert aroma.parts["price"] == pytest.approx([1.0, 24 / 30])
    assert "oil" not in bittering.parts


def test_prices_are_compared_with_the_cheapest_that_fits_and_never_across_currencies() -> None:
    dear, dollars, agreed = (
        replace(LOT, price_per_kg=Decimal(48)),
        replace(LOT, price_per_kg=Decimal(1), currency="USD"),
        replace(LOT, price_per_kg=None, currency=None),
    )

    free = score(AROMA, LOT, dear, dollars, agreed)
    named = score(replace(AROMA, currency="CAD"), LOT, dear, dollars, agreed)
    without_the_cheapest = score(AROMA, LOT, dear, among=[False, True])

    np.testing.assert_allclose(free.parts["price"], [1.0, 0.5, 1.0, np.nan])
    np.testing.assert_allclose(named.parts["price"], [1.0, 0.5, np.nan, np.nan])
    assert without_the_cheapest.parts["price"].tolist() == [1.0, 1.0]


def test_a_gift_is_the_cheapest() -> None:
    gift = replace(LOT, price_per_kg=Decimal(0))

    assert score(AROMA, gift, LOT).parts["price"].tolist() == [1.0, 0.0]


def test_a_part_that_nobody_can_tell_counts_as_a_half() -> None:
    blank = replace(LOT, figures=SearchFigures(), price_per_kg=None, currency=None)

    found = score(AROMA, blank)

    assert all(np.isnan(found.parts[name][0]) for name in ("freshness", "oil", "price"))
    weights = found.weights
    known = sum(weights[name] * found.parts[name][0] for name in ("distance", "evidence", "role"))
    unknown = 0.5 * sum(weights[name] for name in ("freshness", "oil", "price"))
    assert found.score[0] == pytest.approx(known + unknown, abs=1e-4)


def test_another_role_or_cultivar_counts_less_without_excluding() -> None:
    request = replace(AROMA, cultivars=("Cascade",))
    dual, bitter = replace(LOT, role="dual"), replace(LOT, role="bittering", cultivar_key="NUGGET")

    found = score(request, dual, bitter, keys=("CASCADE",))

    assert found.parts["role"].tolist() == [1.0, 0.0]
    assert found.parts["cultivar"].tolist() == [1.0, 0.0]


@pytest.mark.parametrize("role", WEIGHTS)
def test_weights_are_heaviest_first_and_1_in_all(role: str) -> None:
    weights = weights_of(replace(AROMA, role=role, cultivars=("Cascade",)))

    assert sum(weights.values()) == pytest.approx(1.0)
    assert list(weights.values()) == sorted(weights.values(), reverse=True)
    assert set(weights) <= set(PARTS)


def test_a_request_sets_its_own_weights() -> None:
    only_near = dict.fromkeys(PARTS, 0.0) | {"distance": 3.0}

    assert weights_of(replace(AROMA, weights=only_near)) == {"distance": 1.0}
    assert weights_of(replace(AROMA, weights={"price": 0.0}))["freshness"] == pytest.approx(0.25 / 0.75)
    only_cultivar = dict.fromkeys(PARTS, 0.0) | {"cultivar": 1.0}
    assert sum(weights_of(replace(AROMA, weights=only_cultivar)).values()) == pytest.approx(1.0)


@given(
    st.lists(
        st.builds(
            replace,
            st.just(LOT),
            price_per_kg=st.none() | st.decimals(0, 1000, places=2),
            distance_km=st.floats(0, 20000),
            figures=st.builds(
                replace,
                st.just(FIGURES),
                log_alpha=st.none() | st.floats(-900, 3),
                log_resin=st.none() | st.floats(-5, 0.5),
                oil_ml_per_100g=st.none() | st.floats(0, 20),
            ),
        ),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["aroma", "bittering", "dual"]),
)
def test_every_part_and_the_score_lie_between_0_and_1(lots: list[Candidate], role: str) -> None:
    found = score(replace(AROMA, role=role), *lots)

    assert ((found.score >= 0) & (found.score <= 1)).all()
    for values in found.parts.values():
        known = values[~np.isnan(values)]
        assert ((known >= 0) & (known <= 1)).all()
