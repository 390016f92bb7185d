"""Hops in a brewery's store lose as much as the storage page says they will, over columns and one by one."""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.goods.lots import UNMEASURED_PACKINGS, Lot
from service.market.matching.alpha_promised import alpha_promised_kg
from service.market.matching.brewery_storage import (
    BreweryPlan,
    figures_on,
    keeping_words,
    kept_as_wished,
    kept_plan,
    taken_on,
)
from service.market.matching.candidates import Candidate, LotColumns, columns_of
from service.market.matching.matching import describe_match, rank_lots
from service.market.matching.requests import Delivery, Request
from service.market.matching.search_figures import alpha_on, index_on, search_figures
from service.market.storage.storage import storage_outlook
from service.reference.six_month_storage import six_month_loss
from service.science.uncertainty import Estimate
from tests.factories import TODAY, LabReportFactory, ListedLotFactory, SpellFactory

LOSS = six_month_loss("Willamette")
# One lot as the cultivar's figure says; one whose own reports say that it loses faster, in the packing it lies in.
PLAIN = ListedLotFactory()
LEARNT = ListedLotFactory(
    reports=(
        LabReportFactory(code="R1", sampled_on=date(2026, 9, 3), alpha_percent=5.4, hop_storage_index=0.27),
        LabReportFactory(code="R2", sampled_on=date(2026, 11, 20), alpha_percent=5.0, hop_storage_index=0.30),
    ),
    spells=(SpellFactory(packing="barrier_air", stored_at_c=4.0),),
)
# One that was moved between its two reports, which teach in both packings.
MOVED = ListedLotFactory(
    reports=LEARNT.reports,
    spells=(
        SpellFactory(packing="open", stored_at_c=15.0),
        SpellFactory(began_on=date(2026, 10, 10), packing="barrier_air", stored_at_c=3.0),
    ),
)
LOTS = {"plain": PLAIN, "learnt": LEARNT, "moved": MOVED}


def wanting(
    *, days: int, kept_after: int | None = 30, kept_at_c: float = 4.0, packing: str = "open"
) -> Request:
    kept = {}
    if kept_after is not None:
        kept = {
            "kept_from": TODAY + timedelta(days=kept_after),
            "kept_at_c": kept_at_c,
            "kept_packing": packing,
        }
    needed = TODAY + timedelta(days=days)
    return Request(role="aroma", deliveries=(Delivery(needed_on=needed, mass_kg=Decimal(20)),), **kept)


def columns(lot: Lot) -> LotColumns:
    return columns_of([candidate(lot)])


def candidate(lot: Lot) -> Candidate:
    return Candidate(
        code=lot.code,
        grower_code=lot.grower_code,
        cultivar=lot.cultivar,
        cultivar_key="WILLAMETTE",
        role="aroma",
        form=lot.form,
        free_kg=Decimal(100),
        distance_km=10.0,
        figures=search_figures(lot, loss=LOSS),
    )


def same(ours: Estimate | None, theirs: Estimate | None) -> bool:
    assert ours is not None
    assert theirs is not None
    return (ours.estimate, ours.low, ours.high) == pytest.approx(
        (theirs.estimate, theirs.low, theirs.high), rel=1e-9
    )


@given(
    st.sampled_from(sorted(LOTS)),
    st.integers(0, 200),
    st.integers(0, 400),
    st.floats(-25, 35),
    st.sampled_from(UNMEASURED_PACKINGS),
)
def test_a_lot_in_a_brewerys_store_is_what_the_storage_page_says(
    name: str, kept_after: int, more_days: int, kept_at_c: float, packing: str
) -> None:
    lot = LOTS[name]
    request = wanting(
        days=kept_after + more_days, kept_after=kept_after, kept_at_c=kept_at_c, packing=packing
    )
    on, plan = request.last_needed_on, kept_plan(request, today=TODAY)
    outlook = storage_outlook(lot, on=on, loss=LOSS, plan=plan)

    kept = kept_as_wished(request, columns(lot), today=TODAY)
    figures = figures_on(lot, request, on, today=TODAY)

    assert float(np.exp(kept.log_alpha_on(on)[0])) == pytest.approx(outlook.alpha_percent.estimate, rel=1e-9)
    assert same(alpha_on(figures, on), outlook.alpha_percent)
    assert same(index_on(figures, on), outlook.hop_storage_index)
    promised = alpha_promised_kg(lot, request, Decimal(40), today=TODAY)
    assert promised == pytest.approx(0.4 * outlook.alpha_percent.estimate, rel=1e-9)


@pytest.mark.parametrize("lot", LOTS.values(), ids=LOTS)
def test_until_the_goods_are_taken_they_lie_where_they_are(lot: Lot) -> None:
    request = wanting(days=90, kept_after=60, kept_at_c=20.0)
    before = TODAY + timedelta(days=60)
    there = columns(lot)

    kept = kept_as_wished(request, there, today=TODAY)

    assert kept.log_alpha_on(before).tolist() == there.log_alpha_on(before).tolist()
    assert kept.log_resin_on(before).tolist() == there.log_resin_on(before).tolist()
    assert (
        kept.log_alpha_on(before + timedelta(days=1))[0] < there.log_alpha_on(before + timedelta(days=1))[0]
    )
    assert figures_on(lot, request, before, today=TODAY) == search_figures(lot, loss=LOSS)


def test_what_a_lot_taught_counts_in_the_packing_it_was_learnt_in() -> None:
    there, elsewhere = (
        kept_as_wished(wanting(days=60, packing=packing), columns(LEARNT), today=TODAY)
        for packing in ("barrier_air", "open")
    )
    kept = search_figures(LEARNT, loss=LOSS)

    assert kept.learnt_packings == "barrier_air"
    assert kept.learnt_rate_per_day != kept.base_rate_per_day
    assert there.kept_rate_per_day is not None
    assert elsewhere.kept_rate_per_day is not None
    # 4 °C halves 20 °C almost twice; a barrier with air counts 0.75 (common practice, no source).
    assert there.kept_rate_per_day[0] / elsewhere.kept_rate_per_day[0] == pytest.approx(
        0.75 * (kept.learnt_rate_per_day or 0) / (kept.base_rate_per_day or 1)
    )


def test_a_day_that_has_passed_counts_as_today() -> None:
    request = wanting(days=60, kept_after=-10)

    assert kept_plan(request, today=TODAY) == BreweryPlan(from_on=TODAY, kept_at_c=4.0, packing="open")
    assert kept_plan(wanting(days=60, kept_after=None), today=TODAY) is None


def test_a_lot_that_was_sampled_later_was_not_in_the_brewerys_store_before() -> None:
    tomorrow = ListedLotFactory(reports=(LabReportFactory(code="R1", sampled_on=TODAY + timedelta(days=1)),))
    request = wanting(days=31, kept_after=0, kept_at_c=20.0)
    on = request.last_needed_on

    kept = kept_as_wished(request, columns(tomorrow), today=TODAY)

    expected = alpha_on(figures_on(tomorrow, request, on, today=TODAY), on)
    assert expected is not None
    assert float(np.exp(kept.log_alpha_on(on)[0])) == pytest.approx(expected.estimate, rel=1e-9)


def test_goods_change_hands_when_they_are_taken_or_needed() -> None:
    last = TODAY + timedelta(days=60)

    assert taken_on(wanting(days=60), last_on=last, today=TODAY) == TODAY + timedelta(days=30)
    assert taken_on(wanting(days=60, kept_after=None), last_on=last, today=TODAY) == last


def test_a_match_tells_what_is_left_in_the_brewerys_store() -> None:
    request = wanting(days=120, kept_after=0, kept_at_c=20.0)
    ranking = rank_lots(request, columns(PLAIN), cultivar_keys=(), today=TODAY)
    on = request.last_needed_on
    when = tuple(figures_on(PLAIN, request, day, today=TODAY) for day in (on, on))

    match = describe_match(
        ranking, 0, lot=candidate(PLAIN), reports=list(PLAIN.reports), when_needed=(when[0], when[1])
    )

    outlook = storage_outlook(PLAIN, on=on, loss=LOSS, plan=kept_plan(request, today=TODAY))
    assert same(match.alpha_percent_when_needed, outlook.alpha_percent)
    assert match.parts["freshness"] == pytest.approx(
        float(np.exp(ranking.lots.log_resin_on(on)[0])), abs=1e-4
    )


def test_the_words_say_where_the_hops_are_taken_to_lie() -> None:
    assert keeping_words(wanting(days=60, packing="barrier_vacuum"), today=TODAY) == (
        "alpha and Hop Storage Index are estimated for the last day needed: as the lot is stored now until"
        " 2026-12-25, from then on at 4 °C, barrier vacuum",
    )
    assert "as the lot is stored now" in keeping_words(wanting(days=60, kept_after=None), today=TODAY)[0]
