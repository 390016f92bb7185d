"""Which reports a lot's own rate is learnt from, which not and why, and what it does to the interval."""

from datetime import date
from typing import Any

import pytest

from service.facts import replace
from service.market.goods.lab_reports import LabReport
from service.market.goods.temperature_logs import logged_days
from service.market.storage.own_rates import Learning, learn
from service.reference.six_month_storage import six_month_loss
from tests.factories import LabReportFactory, ListedLotFactory, SpellFactory, log_of

LOSS = six_month_loss("Cascade")
WARM = SpellFactory(packing="bale_cloth", stored_at_c=15.0)
FIRST, LATER, LAST = date(2026, 9, 3), date(2026, 11, 1), date(2027, 1, 15)
ALPHA_ONLY: dict[str, Any] = {"hop_storage_index": None}


def report(code: str, on: date, alpha: float = 5.4, **told: Any) -> LabReport:
    made: LabReport = LabReportFactory(code=code, sampled_on=on, alpha_percent=alpha, **told)
    return made


def learnt(*reports: LabReport, **told: Any) -> Learning:
    lot = ListedLotFactory(**{"form": "pellet", "spells": (WARM,), "reports": reports, **told})
    return learn(lot, loss=LOSS, logged=logged_days(lot.logs))


def test_one_report_teaches_nothing_and_says_nothing() -> None:
    assert learnt(report("R1", FIRST)) == Learning()


def test_two_reports_of_alpha_move_the_rate_towards_what_they_say() -> None:
    slow = learnt(report("R1", FIRST, 5.4, **ALPHA_ONLY), report("R2", LATER, 5.3, **ALPHA_ONLY))
    fast = learnt(report("R1", FIRST, 5.4, **ALPHA_ONLY), report("R2", LATER, 4.2, **ALPHA_ONLY))

    for found in (slow, fast):
        assert found.evidence is not None
        assert (found.evidence.quantity, found.evidence.reports) == ("alpha_percent", ("R1", "R2"))
        assert found.evidence.learnt.prior == slow.evidence.learnt.prior  # type: ignore[union-attr]
    assert slow.own is not None
    assert fast.own is not None
    assert slow.own.there.estimate < slow.evidence.learnt.prior.estimate < fast.own.there.estimate  # type: ignore[union-attr]
    assert slow.own.packings == ("bale_cloth",)


def test_the_interval_narrows_with_each_report() -> None:
    reports = [report("R1", FIRST), report("R2", LATER, 5.0, hop_storage_index=0.29)]
    two = learnt(*reports)
    three = learnt(*reports, report("R3", LAST, 4.7, hop_storage_index=0.31))

    widths = [
        found.high / found.low
        for found in (two.evidence.learnt.prior, two.evidence.learnt.result, three.evidence.learnt.result)  # type: ignore[union-attr]
    ]
    assert widths == sorted(widths, reverse=True)
    assert two.own is not None
    prior = two.evidence.learnt.prior  # type: ignore[union-attr]
    assert two.own.elsewhere.high / two.own.elsewhere.low < prior.high / prior.low


def test_of_alpha_and_index_the_more_telling_is_taken_and_the_other_named() -> None:
    found = learnt(report("R1", FIRST), report("R2", LATER, 5.0, hop_storage_index=0.29))

    assert found.evidence is not None
    assert found.evidence.quantity == "hop_storage_index"
    assert found.not_used == ("alpha of R1 and R2 was not counted beside: one sample would count twice",)


def test_a_buyers_report_and_a_corrected_one_never_count_and_are_not_told_of() -> None:
    first = report("R1", FIRST)
    buyers = report("R2", LATER, 2.0, drawn_by="buyer", filed_for="brewery:FINCH")
    corrected = replace(report("R3", LATER, 1.0), corrected_by="R4")

    assert learnt(first, buyers, corrected) == Learning()


def test_unlike_methods_are_not_compared_in_words() -> None:
    lead = report("R2", LATER, 5.9, **ALPHA_ONLY, methods={"alpha_beta": "ebc_7_5"})
    older = report("R3", LAST, 5.9, **ALPHA_ONLY, methods={"alpha_beta": "ebc_7_4"})
    unknown = report("R4", LAST, 5.0, **ALPHA_ONLY, methods={"alpha_beta": "other"})
    found = learnt(report("R1", FIRST, **ALPHA_ONLY), lead, older, unknown)

    assert found.own is None
    said = "; ".join(found.not_used)
    assert "R1 measured alpha by ASBC Hops-14, HPLC, unlike R3" in said
    assert "R2 measured alpha by EBC 7.5" in said
    assert "R4 does not name a known method" in said


def test_two_names_of_one_kind_of_method_are_alike() -> None:
    ebc = report("R2", LATER, 5.0, **ALPHA_ONLY, methods={"alpha_beta": "ebc_7_7"})

    assert learnt(report("R1", FIRST, **ALPHA_ONLY), ebc).own is not None


def test_cones_before_pelletizing_and_pellets_are_not_compared_in_words() -> None:
    found = learnt(report("R1", FIRST, before_pelletizing=True), report("R2", LATER, 5.0))

    assert found.own is None
    assert any("R1 is of the cones before pelletizing" in words for words in found.not_used)


def test_reports_of_one_day_teach_nothing_in_words() -> None:
    found = learnt(report("R1", FIRST, **ALPHA_ONLY), report("R2", FIRST, 5.0, **ALPHA_ONLY))

    assert found.own is None
    assert any("the same time in store" in words for words in found.not_used)


def test_what_has_nothing_left_tells_no_rate() -> None:
    found = learnt(
        report("R1", FIRST, hop_storage_index=0.27),
        report("R2", LATER, 0.0, hop_storage_index=2.03, beta_percent=None),
    )

    assert found.own is None
    assert any("nothing is left" in words for words in found.not_used)
    assert any("found no alpha" in words for words in found.not_used)


def test_a_loggers_warmth_takes_blame_off_the_lot() -> None:
    reports = (report("R1", FIRST, 5.4), report("R2", LATER, 4.9, hop_storage_index=0.29))
    plain = learnt(*reports)
    warm = learnt(*reports, logs=(log_of(days=59, at_c=25.0),))

    assert plain.own is not None
    assert warm.own is not None
    assert warm.own.there.estimate < plain.own.there.estimate


def test_evidence_far_from_the_cultivar_is_called_surprising() -> None:
    found = learnt(report("R1", FIRST, 9.0), report("R2", LATER, 3.0, hop_storage_index=0.9))

    assert found.evidence is not None
    assert found.evidence.learnt.is_surprising


@pytest.mark.parametrize("told", [{"form": "wet_hop"}, {"spells": ()}])
def test_without_a_store_nothing_is_learnt(told: dict[str, Any]) -> None:
    assert learnt(report("R1", FIRST), report("R2", LATER), **told) == Learning()
