"""What a lot spec sheet says, as words and numbers in the order in which a receiver checks them."""

from collections.abc import Mapping

from service.facts import Fact
from service.market.goods.lots import Lot, StorageSpell
from service.market.sheet.sheet_doses import WANTED_IBU, WORT_PLATO, Dose
from service.market.sheet.sheet_facts import AlphaCourse, LotSheetFacts
from service.reference.methods import find_method
from service.reference.packings import get_packing
from service.science.uncertainty import Estimate
from service.sheets.lot_figures import FigureLine, figure_lines, published_words
from service.sheets.lot_goods import crop_form, cultivar_name, goods, what_it_is, whose_and_where
from service.sheets.lot_history import HistoryPart, history_of, spell_words
from service.sheets.lot_statements import ConeLines, cone_lines, statements
from service.sheets.words import ENGLISH, Words

PARTS_SHOWN = 5


class OilPart(Fact, frozen=True):
    """A part of the oil; the last one may be what no part names."""

    words: str
    percent: float
    is_named: bool = True


class PanelLines(Fact, frozen=True, kw_only=True):
    """One storage to come: its name, what is left at two ends, and the points to draw."""

    name: str
    ends: tuple[str, ...]
    points: tuple[tuple[int, Estimate], ...]


class DoseLines(Fact, frozen=True, kw_only=True):
    """One dose: where, metric, customary."""

    name: str
    metric: str
    customary: str


class LotSheetLines(Fact, frozen=True, kw_only=True):
    """The words of the whole sheet; what is drawn beside them is kept as numbers."""

    title: str
    subject: str
    author: str
    language: str
    kind: str
    is_preview: bool
    status: str
    headline: str
    under_headline: str
    scan: str
    what: tuple[str, ...]
    whose: tuple[str, ...]
    goods: tuple[str, ...]
    figures_heading: str
    figures: tuple[FigureLine, ...]
    figures_notes: tuple[str, ...]
    oil_title: str
    oil_heading: str
    oil_parts: tuple[OilPart, ...]
    storage: tuple[str, ...]
    panels_title: str
    panels_heading: str
    panels: tuple[PanelLines, ...]
    doses_heading: str
    doses: tuple[DoseLines, ...]
    doses_notes: tuple[str, ...]
    statements_title: str
    quality_title: str
    statements: tuple[tuple[str, str], ...]
    cones: ConeLines | None
    cautions_heading: str
    cautions: tuple[str, ...]
    more: str
    certificate: str
    certificate_words: str
    fingerprint: str
    url: str
    code: str
    history_heading: str
    history: tuple[HistoryPart, ...]


def lot_sheet_lines(facts: LotSheetFacts, *, words: Words = ENGLISH) -> LotSheetLines:
    """Put the facts of a lot into words."""
    lot, grower, say = facts.view.lot, facts.view.grower, words.say
    history = history_of(facts, words)
    return LotSheetLines(
        title=say("title", code=lot.code, cultivar=cultivar_name(lot, words)),
        subject=say("subject", code=lot.code, grower=grower.name),
        author=grower.name,
        language=words.language,
        kind=say("kind"),
        is_preview=facts.revision is None,
        status=_status(facts, words),
        headline=cultivar_name(lot, words),
        under_headline=say("lot_crop_form", code=lot.code, crop_form=crop_form(lot, words)),
        scan=say("scan"),
        what=(say("what"), *what_it_is(facts, words)),
        whose=(say("whose"), *whose_and_where(facts, words)),
        goods=(say("packages"), *goods(lot, words)),
        figures_heading=say("figures"),
        figures=figure_lines(facts, words),
        figures_notes=(*published_words(facts, words), _reports_count(lot, words)),
        oil_title=say("oil_title"),
        oil_heading=_oil_heading(facts, words),
        oil_parts=_oil_parts(facts.view.figures.oil_shares_percent, words),
        storage=(say("storage"), *_storage(facts, words, has_history=bool(history))),
        panels_title=say("to_come_title"),
        panels_heading=_panels_heading(facts, words),
        panels=tuple(_panel(course, words) for course in facts.courses),
        doses_heading=say("doses", ibu=words.number(WANTED_IBU)),
        doses=tuple(_dose(dose, words) for dose in facts.doses),
        doses_notes=_doses_notes(facts, words),
        statements_title=say("statements"),
        quality_title=say("cones_title"),
        statements=statements(facts, words),
        cones=cone_lines(facts, words),
        cautions_heading=say("cautions"),
        cautions=facts.cautions,
        more=words.texts["more"],
        certificate=say("certificate"),
        certificate_words=say("certificate_words"),
        fingerprint=say("fingerprint", fingerprint=facts.fingerprint),
        url=facts.public_url,
        code=lot.code,
        history_heading=say("history", code=lot.code),
        history=history,
    )


def _status(facts: LotSheetFacts, words: Words) -> str:
    if facts.revision is None:
        return words.say("preview", day=words.day(facts.printed_on))
    return words.say("revision", number=facts.revision, day=words.day(facts.printed_on))


def _reports_count(lot: Lot, words: Words) -> str:
    count = sum(report.drawn_by != "buyer" for report in lot.reports)
    return words.say(
        "reports_none" if count == 0 else "reports_one" if count == 1 else "reports_count", count=count
    )


def _oil_heading(facts: LotSheetFacts, words: Words) -> str:
    figures = facts.view.figures
    if not figures.oil_shares_percent:
        return words.say("no_oil_shares")
    report = next(r for r in facts.view.lot.reports if r.code == figures.oil_shares_report)
    method = find_method(report.methods.get("oil_shares", ""), group="oil_shares")
    return words.say(
        "oil_shares",
        basis=words.say(f"oil_basis_{figures.oil_shares_basis}"),
        method=method.name if method else words.say("no_method"),
        report=figures.oil_shares_report,
    )


def _oil_parts(shares: Mapping[str, float] | None, words: Words) -> tuple[OilPart, ...]:
    """The largest parts, by name; the smaller named ones together, and what is not named."""
    if not shares:
        return ()
    ranked = sorted(shares.items(), key=lambda part: (-part[1], part[0]))
    parts = [
        OilPart(words.say("oil_share", name=name.replace("_", " "), percent=words.number(percent)), percent)
        for name, percent in ranked[:PARTS_SHOWN]
    ]
    others = [percent for _, percent in ranked[PARTS_SHOWN:]]
    if others:
        said = words.say("oil_others", count=len(others), percent=words.number(sum(others)))
        parts.append(OilPart(said, sum(others)))
    rest = round(100 - sum(shares.values()), 1)
    if rest > 0:
        parts.append(OilPart(words.say("oil_rest", percent=words.number(rest)), rest, is_named=False))
    return tuple(parts)


def _storage(facts: LotSheetFacts, words: Words, *, has_history: bool) -> list[str]:
    spell, outlook = facts.view.lot.open_spell, facts.outlook
    now = [] if spell is None else [spell_words(spell, words)]
    if has_history and len(facts.view.lot.spells) > 1:
        now = [words.say("more_spells", line=now[0])]
    if outlook is None:
        return [*now, words.say(f"without_{facts.without_storage}")]
    alpha, index = words.estimate(outlook.alpha_percent, places=1), outlook.hop_storage_index
    day = words.day(outlook.on)
    if index is None:
        return [*now, words.say("today", day=day, alpha=alpha)]
    return [*now, words.say("today_index", day=day, alpha=alpha, index=words.estimate(index, places=2))]


def _panels_heading(facts: LotSheetFacts, words: Words) -> str:
    spell: StorageSpell | None = facts.view.lot.open_spell
    return words.say("to_come", packing=get_packing(spell.packing).name) if spell and facts.courses else ""


def _panel(course: AlphaCourse, words: Words) -> PanelLines:
    storage = words.say(f"storage_{course.storage}")
    by_month = {point.months: point.alpha_percent for point in course.points}
    return PanelLines(
        name=words.say("panel", storage=storage, temperature=words.celsius(course.kept_at_c)),
        ends=tuple(
            words.say("panel_end", months=months, alpha=words.estimate(by_month[months], places=1))
            for months in (6, 18)
        ),
        points=tuple(by_month.items()),
    )


def _dose(dose: Dose, words: Words) -> DoseLines:
    minutes = words.number(dose.minutes)
    where = "" if dose.temperature_c is None else words.celsius(dose.temperature_c)
    return DoseLines(
        name=words.say(f"dose_{dose.at}", minutes=minutes, temperature=where),
        metric=words.say("dose_metric", grams=words.estimate(dose.g_per_hl)),
        customary=words.say("dose_customary", ounces=words.estimate(dose.oz_per_us_barrel)),
    )


def _doses_notes(facts: LotSheetFacts, words: Words) -> tuple[str, ...]:
    oil = facts.oil_ml_per_hl
    about_oil = (words.say("oil_dose", oil=words.number(oil)),) if oil is not None else ()
    if facts.alpha_used is None or facts.alpha_used_on is None:
        return (words.say("no_doses"), *about_oil)
    if not facts.doses:
        return (words.say("low_alpha"), *about_oil)
    when = "dose_estimated" if facts.outlook else "dose_analysed"
    terms = words.say(
        "dose_terms",
        plato=words.number(WORT_PLATO),
        alpha=words.estimate(facts.alpha_used, places=1),
        basis=words.say(when, day=words.day(facts.alpha_used_on)),
    )
    return (terms, *about_oil)
