"""Candidates side by side."""

from datetime import date
from decimal import Decimal

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from service.market.goods.lots import Package
from service.market.matching.candidates import Candidate, columns_of, number
from service.market.matching.evidence import NO_EVIDENCE
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import alpha_on

figures = st.builds(
    SearchFigures,
    day=st.integers(730000, 740000),
    log_alpha=st.floats(0, 3),
    alpha_sd_log=st.floats(0, 0.3),
    log_resin=st.none() | st.floats(-1, 0),
    index_sd_log=st.none(),
    rate_per_day=st.floats(0, 0.01),
    rate_low_per_day=st.floats(0, 0.001),
    rate_high_per_day=st.floats(0.01, 0.02),
    spread_low=st.none() | st.floats(0, 0.1),
    spread_high=st.none() | st.floats(0, 0.1),
    alpha_method=st.sampled_from(["asbc_hops_14", None]),
    oil_ml_per_100g=st.none() | st.floats(0, 5),
    moisture_percent=st.none() | st.floats(5, 12),
)


def a_candidate(**told: object) -> Candidate:
    plain = {
        "code": "ALDER-2026-01",
        "grower_code": "ALDER",
        "cultivar": "Cascade",
        "cultivar_key": "CASCADE",
        "role": "aroma",
        "form": "pellet",
        "free_kg": Decimal(100),
        "distance_km": 10.0,
    }
    return Candidate(**{**plain, **told})


@given(figures, st.integers(0, 1000))
def test_alpha_of_a_column_is_the_alpha_of_the_search(kept: SearchFigures, days: int) -> None:
    on = date.fromordinal((kept.day or 0) + days)
    lots = columns_of([a_candidate(figures=kept)])

    estimate = alpha_on(kept, on)

    assert estimate is not None
    assert np.isclose(np.exp(lots.log_alpha_on(on))[0], estimate.estimate, rtol=1e-12)


def test_what_was_never_measured_stays_unknown() -> None:
    lots = columns_of([a_candidate()])

    assert len(lots) == 1
    assert np.isnan(lots.log_alpha_on(date(2027, 1, 1))).all()
    assert number(lots.price_per_kg[0]) is None
    assert np.isnan(lots.alpha_reports).all()
    assert a_candidate().evidence == NO_EVIDENCE


def test_packages_are_kept_by_place() -> None:
    box = Package(kind="box", count=1, net_kg=Decimal(5))

    assert columns_of([a_candidate(), a_candidate(packages=(box,), sold_in="whole_packages")]).packages == {
        1: (box,)
    }
