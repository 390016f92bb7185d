"""What stands behind a lot's figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.matching.evidence import (
    NO_EVIDENCE,
    Evidence,
    ReportedAlpha,
    evidence_score,
    evidence_words,
    gather_evidence,
)

GOOD = Evidence(reports=2, method="ebc_7_7", drawn_by="official", packages_cored=8, alpha_spread=0.0)


def reported(alpha_percent: float, **told: object) -> ReportedAlpha:
    plain = {"method": "asbc_hops_14", "drawn_by": "grower", "packages_cored": 3}
    return ReportedAlpha(alpha_percent=alpha_percent, **{**plain, **told})


def test_the_newest_report_counts_and_the_spread_is_over_the_mean() -> None:
    found = gather_evidence([reported(5.0), reported(6.0, drawn_by="official", packages_cored=None)])

    assert found == Evidence(
        reports=2,
        method="asbc_hops_14",
        drawn_by="official",
        packages_cored=None,
        alpha_spread=pytest.approx(1 / 5.5),
    )
    assert gather_evidence([reported(5.0)]).alpha_spread is None
    assert gather_evidence([reported(0.0), reported(0.0)]).alpha_spread is None
    assert gather_evidence([]) == NO_EVIDENCE


def test_no_report_is_no_evidence() -> None:
    assert evidence_score(NO_EVIDENCE) == 0.0


@given(
    st.builds(
        Evidence,
        reports=st.integers(1, 50),
        method=st.sampled_from(["asbc_hops_6", "asbc_hops_14", "ebc_7_5", "other", None]),
        drawn_by=st.sampled_from(["grower", "laboratory", "official"]),
        packages_cored=st.none() | st.integers(1, 100),
        alpha_spread=st.none() | st.floats(0, 2),
    )
)
def test_evidence_lies_between_0_and_1(evidence: Evidence) -> None:
    assert 0 < evidence_score(evidence) < 1


@pytest.mark.parametrize(
    "worse",
    [
        {"method": "asbc_hops_6"},
        {"method": "other"},
        {"drawn_by": "grower"},
        {"packages_cored": 3},
        {"packages_cored": None},
        {"alpha_spread": 0.1},
        {"reports": 1},
    ],
    ids=str,
)
def test_weaker_evidence_counts_less(worse: dict[str, object]) -> None:
    assert evidence_score(replace(GOOD, **worse)) < evidence_score(GOOD)


def test_reports_that_differ_by_more_than_bales_do_add_nothing() -> None:
    assert evidence_score(replace(GOOD, alpha_spread=0.4)) == evidence_score(replace(GOOD, alpha_spread=0.9))


def test_evidence_is_told_in_words() -> None:
    assert evidence_words(NO_EVIDENCE) == "no laboratory report on alpha"
    assert evidence_words(replace(GOOD, alpha_spread=0.05)) == (
        "2 reports on alpha, EBC 7.7, HPLC, sample drawn by an official, 8 packages cored, "
        "the reports lie 5 % apart"
    )
    assert evidence_words(Evidence(reports=1, drawn_by="grower", packages_cored=1)) == (
        "one report on alpha, another method, named in the note, sample drawn by the grower, 1 package cored"
    )
    assert evidence_words(Evidence(reports=1)).endswith(
        "drawn by somebody not named, packages cored not said"
    )
