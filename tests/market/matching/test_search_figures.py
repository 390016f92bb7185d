"""What the search keeps of a lot gives the figures of the storage outlook, on any later day."""

import hashlib
import json
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import as_dict
from service.market.goods.lots import Lot
from service.market.matching.search import FIGURES_VERSION, SearchFigures
from service.market.matching.search_figures import alpha_on, figures_to_keep, index_on, search_figures
from service.market.storage.storage import storage_outlook
from service.reference.six_month_storage import six_month_loss
from service.science.storage_index import log_resin_left_limit
from tests.factories import LabReportFactory, ListedLotFactory, LotFactory, SpellFactory

LOSS = six_month_loss("Willamette")
SPELLS = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 20), packing="open", stored_at_c=12.0))


@given(st.integers(0, 900), st.booleans())
def test_alpha_and_index_are_those_of_the_outlook(days: int, opened: bool) -> None:
    lot = ListedLotFactory(spells=SPELLS if opened else SPELLS[:1])
    on = date(2026, 11, 25) + timedelta(days=days)

    kept = search_figures(lot, loss=LOSS)
    outlook = storage_outlook(lot, on=on, loss=LOSS)

    for ours, theirs in (
        (alpha_on(kept, on), outlook.alpha_percent),
        (index_on(kept, on), outlook.hop_storage_index),
    ):
        assert ours is not None
        assert theirs is not None
        assert (ours.estimate, ours.low, ours.high) == pytest.approx(
            (theirs.estimate, theirs.low, theirs.high), rel=1e-9
        )


def test_only_a_listed_lot_keeps_figures() -> None:
    assert figures_to_keep(LotFactory()) is None
    assert figures_to_keep(ListedLotFactory()) is not None


def test_what_was_never_measured_is_not_kept() -> None:
    bare = search_figures(ListedLotFactory(reports=()), loss=LOSS)
    wet = search_figures(ListedLotFactory(form="wet_hop"), loss=LOSS)
    no_index = search_figures(
        ListedLotFactory(reports=(LabReportFactory(code="R1", hop_storage_index=None),)), loss=LOSS
    )

    assert bare == SearchFigures()
    assert (alpha_on(bare, date(2027, 1, 1)), index_on(bare, date(2027, 1, 1))) == (None, None)
    assert (wet.day, wet.oil_ml_per_100g) == (None, 1.2)
    assert (no_index.log_resin is None, no_index.log_alpha is None) == (True, False)


@given(st.floats(0.1, 2.0))
def test_an_index_limit_is_the_limit_on_what_is_left(index: float) -> None:
    day = date(2027, 3, 1)
    kept = search_figures(ListedLotFactory(), loss=LOSS)
    estimate = index_on(kept, day)
    assert kept.log_resin is not None
    assert kept.rate_per_day is not None
    assert kept.day is not None
    assert estimate is not None
    left = kept.log_resin - kept.rate_per_day * (day.toordinal() - kept.day)

    if abs(estimate.estimate - index) > 1e-9:
        assert (left >= log_resin_left_limit(hop_storage_index_max=index)) == (estimate.estimate <= index)


def test_figures_without_a_day_give_no_alpha() -> None:
    with pytest.raises(ValueError, match="no day"):
        alpha_on(SearchFigures(log_alpha=1.7), date(2027, 1, 1))


# What the search keeps of these lots, by version. Where a sum or a house figure behind it changes, the kept figures of
# every listed lot are out of date: raise FIGURES_VERSION in market/matching/search.py, so that `oastbook migrate`
# works them out anew, and write the new fingerprint here.
FINGERPRINTS = {3: "1c61579601d0ee94"}


def kept_lots() -> list[Lot]:
    reports = (
        LabReportFactory(code="R1"),
        LabReportFactory(
            code="R2", sampled_on=date(2026, 11, 3), analysed_on=date(2026, 11, 6), alpha_percent=4.9
        ),
    )
    packed = (("open", 22.0), ("bale_cloth", 10.0), ("barrier_vacuum", -2.0), ("barrier_air", 4.0))
    return [
        ListedLotFactory(
            cultivar=cultivar,
            form=form,
            spells=(SpellFactory(packing=packing, stored_at_c=stored_at_c),),
            **more,
        )
        for cultivar in ("Willamette", "Nugget", "an unknown seedling")
        for form in ("whole_cone", "pellet", "pellet_enriched")
        for packing, stored_at_c in packed
        for more in ({}, {"reports": reports})
    ]


def test_a_changed_sum_behind_the_kept_figures_raises_their_version() -> None:
    kept = [as_dict(figures_to_keep(lot) or SearchFigures()) for lot in kept_lots()]
    plain = [
        {
            name: float(f"{value:.9g}") if isinstance(value, float) else value
            for name, value in figures.items()
        }
        for figures in kept
    ]
    fingerprint = hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()[:16]

    assert {FIGURES_VERSION: fingerprint} == FINGERPRINTS
