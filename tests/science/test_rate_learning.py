"""Learning a lot's rate: an exact reference, a simulation of many lots, laws and refusals."""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from service.errors import OutOfRange, UnlikeReports
from service.science.rate_learning import (
    RepeatReport,
    learn_rate_from_alpha,
    learn_rate_from_index,
)
from service.science.storage_index import index_from_log_resin_left
from service.science.uncertainty import NORMAL_95TH, Estimate, lognormal_estimate

PRIOR = lognormal_estimate(median=0.0025, sd_log=0.4)
PRIOR_SD_LOG = 0.4


def reports(
    values: Sequence[float], days: Sequence[float], *, sd_log: float = 0.05, form: str = "pellet"
) -> list[RepeatReport]:
    return [
        RepeatReport(value=value, sd_log=sd_log, effective_days=at, form=form, method_family="hplc")
        for value, at in zip(values, days, strict=True)
    ]


def exact_percentiles(joint: Callable[[float, float], float], levels: tuple[float, float]) -> list[float]:
    """Integrate the posterior of ln k over the unknown level by adaptive quadrature, and invert it."""
    middle = math.log(PRIOR.estimate)
    low, high = middle - 7 * PRIOR_SD_LOG, middle + 7 * PRIOR_SD_LOG

    def density(log_rate: float) -> float:
        prior = math.exp(-0.5 * ((log_rate - middle) / PRIOR_SD_LOG) ** 2)
        return prior * float(
            quad(lambda level: joint(math.exp(log_rate), level), *levels, epsabs=0, limit=200)[0]
        )

    edges = np.linspace(low, high, 41)
    pieces = [quad(density, a, b, epsabs=0, epsrel=1e-8)[0] for a, b in pairwise(edges)]
    sums = np.concatenate(([0.0], np.cumsum(pieces)))

    def percentile(share: float) -> float:
        wanted = share * sums[-1]
        i = int(np.searchsorted(sums, wanted)) - 1
        return math.exp(
            brentq(
                lambda x: sums[i] + quad(density, edges[i], x, epsabs=0)[0] - wanted, edges[i], edges[i + 1]
            )
        )

    return [percentile(share) for share in (0.05, 0.5, 0.95)]


def test_learning_from_alpha_agrees_with_an_exact_reference() -> None:
    # scipy.integrate.quad over rate and starting level, nothing shared with the house's grid.
    values, days = (9.0, 7.6, 7.1), (0.0, 60.0, 110.0)

    def joint(rate: float, level: float) -> float:
        squares = sum(
            ((math.log(v) - level + rate * x) / 0.05) ** 2 for v, x in zip(values, days, strict=True)
        )
        return math.exp(-0.5 * squares)

    exact = exact_percentiles(joint, (math.log(9.0) - 0.5, math.log(9.0) + 0.9))
    learnt = learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports(values, days))

    assert [learnt.result.low, learnt.result.estimate, learnt.result.high] == pytest.approx(exact, rel=2e-4)


def test_learning_from_the_index_agrees_with_an_exact_reference() -> None:
    values, days, sd_log = (0.27, 0.31, 0.36), (0.0, 60.0, 110.0), 0.03
    # An error of ln HSI is an error of the share left of 1.1/ln 10 times its size.
    sd_left = 1.1 / math.log(10) * sd_log

    def joint(rate: float, level: float) -> float:
        squares = sum(
            ((1 - 1.1 * math.log10(v / 0.25) - level * math.exp(-rate * x)) / sd_left) ** 2
            for v, x in zip(values, days, strict=True)
        )
        return math.exp(-0.5 * squares)

    exact = exact_percentiles(joint, (0.7, 1.3))
    learnt = learn_rate_from_index(prior_rate_per_day=PRIOR, reports=reports(values, days, sd_log=sd_log))

    assert [learnt.result.low, learnt.result.estimate, learnt.result.high] == pytest.approx(exact, rel=2e-4)


def share_covered(learn: Callable[[np.random.Generator, float], Estimate], lots: int) -> float:
    generator = np.random.default_rng(20260903)
    covered = 0
    for _ in range(lots):
        truth = PRIOR.estimate * math.exp(generator.normal(0, PRIOR_SD_LOG))
        interval = learn(generator, truth)
        covered += interval.low <= truth <= interval.high
    return covered / lots


def test_nine_tenths_of_simulated_rates_lie_in_the_interval_learnt_from_alpha() -> None:
    def learn(generator: np.random.Generator, rate: float) -> Estimate:
        days = np.concatenate(([0.0], np.sort(generator.uniform(10, 250, 2))))
        start = generator.uniform(4, 14)
        values = start * np.exp(-rate * days + generator.normal(0, 0.06, 3))
        return learn_rate_from_alpha(
            prior_rate_per_day=PRIOR, reports=reports(values.tolist(), days.tolist(), sd_log=0.06)
        ).result

    assert 0.85 <= share_covered(learn, 1000) <= 0.95


def test_nine_tenths_of_simulated_rates_lie_in_the_interval_learnt_from_the_index() -> None:
    def learn(generator: np.random.Generator, rate: float) -> Estimate:
        days = np.concatenate(([0.0], np.sort(generator.uniform(10, 250, 2))))
        start = generator.uniform(0.85, 1.05)
        errors = generator.normal(0, 0.03, 3)
        values = [
            index_from_log_resin_left(log_resin_left=math.log(start) - rate * x) * math.exp(error)
            for x, error in zip(days.tolist(), errors.tolist(), strict=True)
        ]
        return learn_rate_from_index(
            prior_rate_per_day=PRIOR, reports=reports(values, days.tolist(), sd_log=0.03)
        ).result

    assert 0.85 <= share_covered(learn, 1000) <= 0.95


def test_the_interval_narrows_as_evidence_grows() -> None:
    days = [0.0, 30.0, 60.0, 90.0, 120.0, 150.0]
    values = [9.0 * math.exp(-0.003 * x) for x in days]

    widths = []
    for n in range(2, 7):
        learnt = learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports(values[:n], days[:n]))
        widths.append(learnt.result.high - learnt.result.low)

    assert PRIOR.high - PRIOR.low > widths[0]
    assert widths == sorted(widths, reverse=True)


@settings(max_examples=40)
@given(
    values=st.lists(st.floats(1, 20), min_size=2, max_size=5),
    gap=st.floats(1, 200),
    sd_log=st.floats(0.002, 0.3),
)
def test_a_learnt_rate_is_never_negative_and_lies_inside_its_interval(
    values: list[float], gap: float, sd_log: float
) -> None:
    days = [gap * i for i in range(len(values))]

    learnt = learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports(values, days, sd_log=sd_log))

    assert 0 < learnt.result.low < learnt.result.estimate < learnt.result.high


def test_a_report_that_rises_speaks_for_a_slow_rate_and_is_shown_as_it_is() -> None:
    learnt = learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([8.0, 8.6], [0, 60]))

    assert learnt.evidence_rate_per_day == pytest.approx(-math.log(8.6 / 8.0) / 60)
    assert learnt.evidence_sd_per_day == pytest.approx(0.05 * math.sqrt(2) / 60)
    assert 0 < learnt.result.estimate < PRIOR.estimate
    assert learnt.prior == PRIOR
    assert learnt.reports == 2


def test_evidence_far_from_the_prior_is_a_surprise() -> None:
    def surprising(last: float) -> bool:
        found = learn_rate_from_alpha(
            prior_rate_per_day=PRIOR, reports=reports([8.0, last], [0, 100], sd_log=0.02)
        )
        return found.is_surprising

    assert not surprising(8.0 * math.exp(-0.25))
    assert surprising(8.0 * math.exp(-1.0))
    assert surprising(9.0)


def test_sharp_evidence_far_in_the_priors_tail_is_found() -> None:
    learnt = learn_rate_from_alpha(
        prior_rate_per_day=PRIOR, reports=reports([8.0, 8.0 * math.exp(-1.5)], [0, 150], sd_log=0.002)
    )

    assert learnt.result.estimate == pytest.approx(0.01, rel=1e-3)


def test_an_even_shift_of_the_days_changes_nothing() -> None:
    early = learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([9.0, 7.5], [0, 80]))
    late = learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([9.0, 7.5], [500, 580]))

    assert late.result == early.result


def test_a_certain_prior_stays_nearly_as_it_is() -> None:
    certain = Estimate(0.0025, 0.0025, 0.0025)

    learnt = learn_rate_from_alpha(prior_rate_per_day=certain, reports=reports([9.0, 5.0], [0, 80]))

    assert learnt.result.estimate == pytest.approx(0.0025, rel=0.01)


def test_cones_and_pellets_are_never_compared() -> None:
    mixed = reports([9.0], [0], form="whole_cone") + reports([7.5], [80], form="pellet")

    with pytest.raises(UnlikeReports, match="differ in form \\(pellet and whole_cone\\)"):
        learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=mixed)


def test_unlike_methods_are_never_compared() -> None:
    lead = RepeatReport(
        value=9.9, sd_log=0.05, effective_days=0, form="pellet", method_family="lead_conductance"
    )

    with pytest.raises(UnlikeReports, match="differ in method"):
        learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=[lead, *reports([7.5], [80])])


@pytest.mark.parametrize(
    ("values", "days"), [([], []), ([9.0], [0.0]), ([9.0, 8.0], [5.0, 5.0])], ids=["none", "one", "one day"]
)
def test_nothing_is_learnt_from_too_little(values: list[float], days: list[float]) -> None:
    with pytest.raises(UnlikeReports):
        learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports(values, days))


@pytest.mark.parametrize(
    "call",
    [
        lambda: learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([0.0, 5.0], [0, 50])),
        lambda: learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([math.nan, 5.0], [0, 50])),
        lambda: learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([6, 5], [0, -50])),
        lambda: learn_rate_from_alpha(prior_rate_per_day=PRIOR, reports=reports([6, 5], [0, 50], sd_log=0)),
        lambda: learn_rate_from_alpha(prior_rate_per_day=Estimate(0, 0, 0), reports=reports([6, 5], [0, 50])),
        lambda: learn_rate_from_index(prior_rate_per_day=PRIOR, reports=reports([35.0, 0.4], [0, 50])),
        lambda: learn_rate_from_index(prior_rate_per_day=PRIOR, reports=reports([0.3, 2.03], [0, 50])),
    ],
)
def test_figures_that_cannot_be_are_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange):
        call()


def test_the_interval_of_the_prior_is_what_it_was_made_of() -> None:
    assert math.log(PRIOR.high / PRIOR.estimate) == pytest.approx(NORMAL_95TH * PRIOR_SD_LOG)
