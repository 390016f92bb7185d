"""How well a lot's figures are backed: method, who drew the sample, packages cored, reports, consistency."""

from collections.abc import Sequence

import numpy as np

from service.facts import Fact
from service.market.goods.lab_reports import LabReport, as_is
from service.reference.methods import find_method
from service.science.arrays import Numbers

# What each kind of evidence counts, 0 to 1: house figures; assumption, no source.
OF_FAMILY = {"hplc": 1.0, "spectrophotometric": 0.7, "lead": 0.6}
OF_OTHER_FAMILY = 0.4
OF_DRAWER = {"official": 1.0, "laboratory": 0.9, "grower": 0.6}
HALF_AT_PACKAGES = 2.0
# Alpha varies by up to 20 % between and within bales (quoted): reports that differ by twice that say little.
SPREAD_WITHOUT_WORTH = 0.4


class Evidence(Fact, frozen=True, kw_only=True):
    """What stands behind a lot's alpha: the report that counts, and those beside it.

    `alpha_spread` is the distance between the highest and the lowest reported alpha over their mean; None of one
    report. What storage took between two samplings is not taken off.
    """

    reports: int
    method: str | None = None
    drawn_by: str | None = None
    packages_cored: int | None = None
    alpha_spread: float | None = None


NO_EVIDENCE = Evidence(reports=0)


class ReportedAlpha(Fact, frozen=True, kw_only=True):
    """One standing report's alpha as is; what evidence is gathered from."""

    alpha_percent: float
    method: str | None
    drawn_by: str
    packages_cored: int | None


def gather_evidence(reported: Sequence[ReportedAlpha]) -> Evidence:
    """Sum up the standing reports of a lot that measured alpha, oldest first.

    >>> one = ReportedAlpha(alpha_percent=5.0, method="asbc_hops_14", drawn_by="grower", packages_cored=3)
    >>> gather_evidence([one, one]).alpha_spread
    0.0

    """
    if not reported:
        return NO_EVIDENCE
    newest, values = reported[-1], [r.alpha_percent for r in reported]
    mean = sum(values) / len(values)
    return Evidence(
        reports=len(values),
        method=newest.method,
        drawn_by=newest.drawn_by,
        packages_cored=newest.packages_cored,
        alpha_spread=(max(values) - min(values)) / mean if len(values) > 1 and mean > 0 else None,
    )


def evidence_of(reports: Sequence[LabReport]) -> Evidence:
    """Sum up a lot's reports: those that stand and measured alpha, each brought to the sample as it was."""
    standing = [
        (r, alpha) for r in reports if r.is_standing and (alpha := as_is(r, "alpha_percent")) is not None
    ]
    standing.sort(key=lambda pair: (pair[0].sampled_on, int(pair[0].code[1:] or 0) if pair[0].code else 0))
    return gather_evidence(
        [
            ReportedAlpha(
                alpha_percent=alpha,
                method=report.methods.get("alpha_beta"),
                drawn_by=report.drawn_by,
                packages_cored=report.packages_cored,
            )
            for report, alpha in standing
        ]
    )


def evidence_score(evidence: Evidence) -> float:
    """How well the figures of one lot are backed, 0 (no report) to 1; see `evidence_scores`.

    >>> evidence_score(Evidence(reports=1, method="asbc_hops_14", drawn_by="laboratory", packages_cored=6))
    0.7875

    """
    spread, cored = evidence.alpha_spread, evidence.packages_cored
    found = evidence_scores(
        reports=np.array([evidence.reports], dtype=np.float64),
        methods=[evidence.method],
        drawers=[evidence.drawn_by],
        packages_cored=np.array([np.nan if cored is None else cored], dtype=np.float64),
        alpha_spread=np.array([np.nan if spread is None else spread], dtype=np.float64),
    )
    return float(found[0])


def evidence_scores(
    *,
    reports: Numbers,
    methods: Sequence[str | None],
    drawers: Sequence[str | None],
    packages_cored: Numbers,
    alpha_spread: Numbers,
) -> Numbers:
    """How well the figures of many lots are backed, 0 (no report) to 1; the mean of what applies.

    Method: HPLC 1, spectrophotometry 0.7, lead value 0.6, another 0.4. Drawn by: an official 1, the laboratory
    0.9, the grower 0.6. Packages cored n: n/(n + 2), one if not said. Reports n: 1 - 0.5^n. Consistency of two or
    more: 1 - spread/0.4, not under 0. House figures; assumption, no source.

    """
    of_method = {method: _method_worth(method) for method in set(methods)}
    cored = np.where(np.isnan(packages_cored), 1.0, packages_cored)
    total = np.array([of_method[method] for method in methods], dtype=np.float64)
    total = total + np.array([OF_DRAWER.get(drawer or "", 0.0) for drawer in drawers], dtype=np.float64)
    total = total + cored / (cored + HALF_AT_PACKAGES) + (1 - 0.5**reports)
    compared = ~np.isnan(alpha_spread)
    consistent = np.maximum(0.0, 1 - np.where(compared, alpha_spread, 0.0) / SPREAD_WITHOUT_WORTH)
    mean: Numbers = (total + np.where(compared, consistent, 0.0)) / np.where(compared, 5, 4)
    return np.where(reports > 0, mean, 0.0)


def _method_worth(method: str | None) -> float:
    found = find_method(method or "other", group="alpha_beta")
    return OF_FAMILY.get(found.family, OF_OTHER_FAMILY) if found else OF_OTHER_FAMILY


def evidence_words(evidence: Evidence) -> str:
    """What stands behind the figures, in words."""
    if evidence.reports == 0:
        return "no laboratory report on alpha"
    method = find_method(evidence.method or "other", group="alpha_beta")
    cored = evidence.packages_cored
    said = [
        "one report on alpha" if evidence.reports == 1 else f"{evidence.reports} reports on alpha",
        method.name if method else "a method not named",
        f"sample drawn by {_drawer(evidence.drawn_by)}",
        "packages cored not said" if cored is None else f"{cored} package{'' if cored == 1 else 's'} cored",
    ]
    if evidence.alpha_spread is not None:
        said.append(f"the reports lie {100 * evidence.alpha_spread:.0f} % apart")
    return ", ".join(said)


def _drawer(drawn_by: str | None) -> str:
    return {"official": "an official", "laboratory": "the laboratory", "grower": "the grower"}.get(
        drawn_by or "", "somebody not named"
    )
