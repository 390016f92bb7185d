"""Physical quality: seeds, leaf and stem, waste, sorted cones; never edited, only corrected.

The classes of sorted cones are the region's; a report keeps those of its day. A part of a lot carries
copies of the whole's reports that name their source, and a correction reaches them.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.errors import IllegalStep, ImpossibleReport, InvalidRequest, NotFound
from service.facts import Fact, field, replace
from service.market.goods.lots import PELLETS, Lot, is_future
from service.reference.assumptions import get_assumption
from service.reference.cone_classes import ConeClass
from service.reference.seed_wordings import SeedWording, wording_in
from service.science.sorting import cone_shares_percent, effective_cones, sorted_percent
from service.science.uncertainty import Estimate

DRAWN_BY = ("grower", "laboratory", "official")
# Each percentage, and the grams from which it may be reckoned instead.
PARTS = {
    "seed_percent": "seeds_g",
    "leaf_and_stem_percent": "leaf_and_stem_g",
    "waste_percent": "waste_g",
}
SORT_METHOD = (
    "Shares by mass, each with Wilson's score interval (1927), 5th to 95th percentile, over the effective number of"
    " cones; it speaks of the sample's scatter, not of how the sample was drawn."
)


class ConeMass(Fact, frozen=True, kw_only=True):
    """Grams of a sample's cones in one class."""

    code: str
    name: str
    mass_g: float


class QualityReport(Fact, frozen=True, kw_only=True):
    """One report as its maker wrote it, with the percentages that its grams give."""

    code: str = ""
    measured_by: str
    drawn_by: str
    sampled_on: date
    method_note: str | None = None
    sample_g: float | None = None
    seeds_g: float | None = None
    leaf_and_stem_g: float | None = None
    waste_g: float | None = None
    seed_percent: float | None = None
    leaf_and_stem_percent: float | None = None
    waste_percent: float | None = None
    cones: tuple[ConeMass, ...] = ()
    cones_counted: int | None = None
    carried_from: str | None = None
    corrects: str | None = None
    reason: str | None = None
    corrected_by: str | None = None
    filed_at: datetime
    filed_by: str

    @property
    def is_standing(self) -> bool:
        """Whether no later report corrected it."""
        return self.corrected_by is None


class PhysicalFigure(Fact, frozen=True, kw_only=True):
    """One percentage by mass, and where it comes from."""

    value: float
    report: str
    measured_by: str
    drawn_by: str
    sampled_on: date


class SeedWord(Fact, frozen=True, kw_only=True):
    """What an act calls hops of so many seeds, in a country on the day of the sample."""

    word: str
    rule: str
    scope: str
    country: str
    on: date
    source: str
    mark: str


class ConeShare(Fact, frozen=True, kw_only=True):
    """The share of one class in the sample, by mass."""

    code: str
    name: str
    mass_g: float
    share_percent: Estimate


class ConeSort(Fact, frozen=True, kw_only=True):
    """How the cones of a sample were sorted: shares, and what their intervals rest on."""

    report: str
    measured_by: str
    drawn_by: str
    sampled_on: date
    sample_g: float
    cones: float
    cones_were_counted: bool
    effective_cones: float
    shares: tuple[ConeShare, ...]
    method: str
    assumptions: tuple[str, ...]


class PhysicalQuality(Fact, frozen=True, kw_only=True):
    """What stands for a lot; None was never measured."""

    seed_percent: PhysicalFigure | None = None
    leaf_and_stem_percent: PhysicalFigure | None = None
    waste_percent: PhysicalFigure | None = None
    seed_word: SeedWord | None = None
    cone_sort: ConeSort | None = None


class GivenSort(Fact, frozen=True, kw_only=True):
    """Grams by class as they were given, before the classes of the region give them names."""

    masses_g: Mapping[str, float] = field(default_factory=dict)
    cones_counted: int | None = None


def accept_quality_report(
    report: QualityReport, sort: GivenSort | None, *, lot: Lot, classes: Sequence[ConeClass], today: date
) -> QualityReport:
    """Let a report in with its percentages reckoned, or name everything in it that cannot be.

    Raises:
        InvalidRequest: with one error for each fault.
        ImpossibleReport: the parts of the sample make more than the whole.

    """
    faults = [*_faults(report, lot, today), *_sort_faults(sort, classes)]
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in faults],
        )
    reckoned: dict[str, Any] = {
        name: sorted_percent(part_g=part_g, sample_g=report.sample_g)
        for name, grams in PARTS.items()
        if report.sample_g is not None
        if (part_g := getattr(report, grams)) is not None and part_g <= report.sample_g
    }
    report = replace(report, **reckoned)
    found = {name: getattr(report, name) for name in PARTS if getattr(report, name) is not None}
    in_grams = sum(getattr(report, grams) or 0.0 for grams in PARTS.values())
    if sum(found.values()) > 100 or (report.sample_g is not None and in_grams > report.sample_g):
        text = "seeds, leaf and stem, and waste make more than the whole sample"
        raise ImpossibleReport(text, faults=[{"field": name, "detail": text} for name in found or PARTS])
    names = {known.code: known.name for known in classes}
    cones = tuple(
        ConeMass(code=code, name=names[code], mass_g=sort.masses_g[code])
        for code in names
        if sort is not None and code in sort.masses_g
    )
    return replace(report, cones=cones, cones_counted=sort.cones_counted if sort else None)


def _faults(report: QualityReport, lot: Lot, today: date) -> Iterator[tuple[str, str]]:
    if lot.form in PELLETS:
        yield "sampled_on", "pellets hold their seeds and leaves milled; measure the cones before"
    if is_future(report.sampled_on, today=today):
        yield "sampled_on", f"{report.sampled_on} is in the future"
    if lot.harvested_on is not None and report.sampled_on < lot.harvested_on:
        yield "sampled_on", f"sampled on {report.sampled_on}, before picking began on {lot.harvested_on}"
    for name, grams in PARTS.items():
        if getattr(report, grams) is None:
            continue
        if getattr(report, name) is not None:
            yield name, f"give {name}, or {grams} of sample_g, not both"
        if report.sample_g is None:
            yield "sample_g", f"{grams} needs the grams of the whole sample"
    if (report.corrects is None) != (report.reason is None):
        missing = "reason" if report.reason is None else "corrects"
        yield missing, "a correction names the report it corrects, and its reason"


def _sort_faults(sort: GivenSort | None, classes: Sequence[ConeClass]) -> Iterator[tuple[str, str]]:
    if sort is None:
        return
    known = [one.code for one in classes]
    for code in sort.masses_g:
        if code not in known:
            yield f"cone_sort/masses_g/{code}", f"the classes are {', '.join(known)}"
    if not sum(sort.masses_g.values()) > 0:
        yield "cone_sort/masses_g", "the sorted cones weigh nothing"


def correct_quality(reports: Sequence[QualityReport], new: QualityReport) -> QualityReport | None:
    """The report that a new one corrects, marked; None where it corrects none.

    Raises:
        NotFound: there is no report of the code it corrects.
        IllegalStep: that report was corrected before.

    """
    if new.corrects is None:
        return None
    old = next((r for r in reports if r.code == new.corrects), None)
    if old is None:
        raise NotFound(f"there is no quality report {new.corrects}")
    if not old.is_standing:
        raise IllegalStep(f"report {old.code} was corrected by {old.corrected_by}", state="corrected")
    return replace(old, corrected_by=new.code)


def physical_quality(reports: Sequence[QualityReport], lot: Lot) -> PhysicalQuality:
    """Take each figure from the standing report with the latest sampling that measured it."""
    # Of two reports of one day the later filed one counts.
    newest_first = sorted((r for r in reports if r.is_standing), key=lambda r: r.sampled_on)[::-1]
    found = {name: _figure(newest_first, name) for name in PARTS}
    sort = next((r for r in newest_first if r.cones), None)
    return PhysicalQuality(
        **found,
        seed_word=seed_word(found["seed_percent"], lot),
        cone_sort=_cone_sort(sort, lot.form) if sort else None,
    )


def _figure(newest_first: Sequence[QualityReport], name: str) -> PhysicalFigure | None:
    for report in newest_first:
        if getattr(report, name) is not None:
            return PhysicalFigure(
                value=getattr(report, name),
                report=report.code,
                measured_by=report.measured_by,
                drawn_by=report.drawn_by,
                sampled_on=report.sampled_on,
            )
    return None


def seed_word(seeds: PhysicalFigure | None, lot: Lot) -> SeedWord | None:
    """What the act in force where the lot grew, on the day of the sample, calls it; None where none was read."""
    if seeds is None or lot.origin_country is None:
        return None
    wording: SeedWording | None = wording_in(lot.origin_country, lot.origin_subdivision, seeds.sampled_on)
    if wording is None:
        return None
    return SeedWord(
        word=wording.word_for(seeds.value),
        rule=wording.rule,
        scope=wording.scope,
        country=lot.origin_country,
        on=seeds.sampled_on,
        source=wording.source,
        mark=wording.mark,
    )


def _cone_sort(report: QualityReport, form: str) -> ConeSort:
    sample_g = sum(cone.mass_g for cone in report.cones)
    scatter = get_assumption("cone_mass_cv_percent")
    each = get_assumption("cone_mass_wet_g" if form == "wet_hop" else "cone_mass_dry_g")
    cones = max(1.0, report.cones_counted or sample_g / each.value)
    shares = cone_shares_percent(
        masses_g={cone.code: cone.mass_g for cone in report.cones},
        cones=cones,
        cone_mass_cv_percent=scatter.value,
    )
    used = (scatter,) if report.cones_counted else (scatter, each)
    return ConeSort(
        report=report.code,
        measured_by=report.measured_by,
        drawn_by=report.drawn_by,
        sampled_on=report.sampled_on,
        sample_g=sample_g,
        cones=cones,
        cones_were_counted=report.cones_counted is not None,
        effective_cones=max(1.0, effective_cones(cones=cones, cone_mass_cv_percent=scatter.value)),
        shares=tuple(
            ConeShare(code=cone.code, name=cone.name, mass_g=cone.mass_g, share_percent=shares[cone.code])
            for cone in report.cones
        ),
        method=SORT_METHOD,
        assumptions=tuple(f"{one.words} ({one.mark})" for one in used),
    )
