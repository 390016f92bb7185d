"""How well a lot's figures are backed: method, who drew the sample, packages cored, reports, consistency."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.reference.methods import find_method

# What each kind of evidence counts, 0 to 1: house figures; assumption, no source.
OF_FAMILY = {"hplc": 1.0, "spectrophotometric": 0.7, "lead": 0.6}
OF_OTHER_FAMILY = 0.4
OF_DRAWER = {"official": 1.0, "laboratory": 0.9, "grower": 0.6}
HALF_AT_PACKAGES = 2.0
# Alpha varies by up to 20 % between and within bales (quoted): reports that differ by twice that say little.
SPREAD_WITHOUT_WORTH = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedAlpha:
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


def evidence_score(evidence: Evidence) -> float:
    """How well figures are backed, 0 (no report) to 1; the mean of what applies.

    Method: HPLC 1, spectrophotometry 0.7, lead value 0.6, another 0.4. Drawn by: an official 1, the laboratory
    0.9, the grower 0.6. Packages cored n: n/(n + 2), one if not said. Reports n: 1 - 0.5^n. Consistency of two or
    more: 1 - spread/0.4, not under 0. House figures; assumption, no source.

    >>> evidence_score(Evidence(reports=1, method="asbc_hops_14", drawn_by="laboratory", packages_cored=6))
    0.7875

    """
    if evidence.reports == 0:
        return 0.0
    method = find_method(evidence.method or "other", group="alpha_beta")
    cored = evidence.packages_cored or 1
    parts = [
        OF_FAMILY.get(method.family, OF_OTHER_FAMILY) if method else OF_OTHER_FAMILY,
        OF_DRAWER.get(evidence.drawn_by or "", 0.0),
        cored / (cored + HALF_AT_PACKAGES),
        1 - 0.5**evidence.reports,
    ]
    if evidence.alpha_spread is not None:
        parts.append(max(0.0, 1 - evidence.alpha_spread / SPREAD_WITHOUT_WORTH))
    return sum(parts) / len(parts)


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
