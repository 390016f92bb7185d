"""The measured figures of a lot in words: value, unit, method, basis, laboratory, who drew the sample, and when."""

from service.facts import Fact
from service.market.goods.lab_quantities import LAB_QUANTITIES, QUANTITY_OF, LabQuantity
from service.market.goods.lab_reports import LabReport, Measured
from service.market.sheet.sheet_facts import LotSheetFacts
from service.reference.cultivars import Figure
from service.reference.methods import find_method
from service.sheets.marks import RangeMark
from service.sheets.words import Words


class FigureLine(Fact, frozen=True, kw_only=True):
    """One figure; without a measurement `value` says so, and the rest is empty."""

    name: str
    value: str
    unit: str
    method: str
    laboratory: str
    sample: str
    mark: RangeMark | None
    is_measured: bool


def figure_lines(facts: LotSheetFacts, words: Words) -> tuple[FigureLine, ...]:
    """Put every figure into words, also those that every lot states and nobody measured."""
    return tuple(
        _line(quantity, facts, words)
        for quantity in LAB_QUANTITIES
        if quantity.is_always_printed or getattr(facts.view.figures, quantity.name) is not None
    )


def published_words(facts: LotSheetFacts, words: Words) -> tuple[str, ...]:
    """How to read the drawn lines, and who published what they show; nothing where none is drawn."""
    drawn = [
        f for f in facts.published if f.quantity in QUANTITY_OF and getattr(facts.view.figures, f.quantity)
    ]
    sources = dict.fromkeys(f"{figure.source} ({figure.mark})" for figure in drawn)
    if not sources:
        return ()
    return words.say("figures_key"), words.say("published_by", sources="; ".join(sources))


def _line(quantity: LabQuantity, facts: LotSheetFacts, words: Words) -> FigureLine:
    name = quantity.name
    measured: Measured | None = getattr(facts.view.figures, name)
    if measured is None:
        waits = facts.view.lot.readiness == "awaiting_analysis"
        value = words.say("awaiting" if waits else "not_measured")
        return FigureLine(
            name=words.say(name),
            value=value,
            unit="",
            method="",
            laboratory="",
            sample="",
            mark=None,
            is_measured=False,
        )
    report = next(r for r in facts.view.lot.reports if r.code == measured.report)
    published = next((f for f in facts.published if f.quantity == name), None)
    return FigureLine(
        name=words.say(name),
        value=words.number(measured.value),
        unit=words.say(f"unit_{name}"),
        method=_method(quantity, measured, report, words),
        laboratory=measured.laboratory.strip(),
        sample=_sample(measured, words),
        mark=_mark(measured, published, words) if published else None,
        is_measured=True,
    )


def _method(quantity: LabQuantity, measured: Measured, report: LabReport, words: Words) -> str:
    code = measured.method
    if quantity.name == "cohumulone_percent_of_alpha" and code is None:
        # Cohumulone without a method of its own was read by the acids' method.
        code = report.methods.get("alpha_beta")
    known = find_method(code, group=quantity.group) if code else None
    said = words.say("no_method") if known is None else known.name
    if code == "other" and report.method_note:
        said = words.say("other_method", note=report.method_note)
    basis = _basis(quantity, report, words)
    if measured.stated_sd is not None:
        basis = words.say("stated_sd", basis=basis, sd=words.number(measured.stated_sd, digits=2))
    # The method comes last, because a long one may be cut and the others may not.
    return words.say("method_basis", basis=basis, method=said)


def _basis(quantity: LabQuantity, report: LabReport, words: Words) -> str:
    if quantity.basis == "none":
        return words.say("without_basis")
    if quantity.basis == "alpha":
        return words.say("of_alpha")
    return words.say("as_is_from_dry" if report.basis == "dry" and quantity.basis == "sample" else "as_is")


def drawn_words(drawn_by: str, words: Words) -> str:
    """Who drew the sample."""
    return words.say(f"drawn_{drawn_by}")


def cored_words(count: int | None, words: Words) -> str:
    """From how many packages the sample came."""
    if count is None:
        return words.say("cored_unknown")
    return words.say("cored_one" if count == 1 else "cored", count=count)


def _sample(measured: Measured, words: Words) -> str:
    sampled = words.say(
        "sampled", drawn=drawn_words(measured.drawn_by, words), day=words.day(measured.sampled_on)
    )
    cored = cored_words(measured.packages_cored, words)
    return words.say("sample", sampled=sampled, cored=cored, report=measured.report)


def _mark(measured: Measured, published: Figure, words: Words) -> RangeMark:
    return RangeMark(
        value=measured.value,
        low=published.low,
        high=published.high,
        is_single_mean=published.is_single_mean,
        low_words=words.number(published.low),
        high_words=words.number(published.high),
    )
