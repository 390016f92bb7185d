"""The second page of a lot spec sheet: where the lot lay before, and which reports were corrected."""

from datetime import date

from service.facts import Fact
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import StorageSpell
from service.market.sheet.sheet_facts import LotSheetFacts
from service.reference.packings import get_packing
from service.sheets.lot_figures import cored_words, drawn_words
from service.sheets.words import Words


class HistoryPart(Fact, frozen=True, kw_only=True):
    """A part of the second page."""

    heading: str
    lines: tuple[str, ...]


def history_of(facts: LotSheetFacts, words: Words) -> tuple[HistoryPart, ...]:
    """Give the history, if there is any: several spells of storage, or a report that was corrected."""
    lot = facts.view.lot
    reports = [report for report in lot.reports if report.drawn_by != "buyer"]
    if len(lot.spells) < 2 and not any(r.corrected_by or r.before_pelletizing for r in reports):
        return ()
    parts = [
        HistoryPart(heading=words.say("spells"), lines=_spells(lot.spells, words)),
        HistoryPart(heading=words.say("reports"), lines=tuple(_report(r, words) for r in reversed(reports))),
    ]
    return tuple(part for part in parts if part.lines)


def spell_words(spell: StorageSpell, words: Words, *, until: date | None = None) -> str:
    """One spell of storage; an open one has no last day."""
    kept = {
        "packing": get_packing(spell.packing).name,
        "temperature": words.celsius(spell.stored_at_c),
        "first": words.day(spell.began_on),
    }
    line = (
        words.say("spell", **kept)
        if until is None
        else words.say("spell_until", last=words.day(until), **kept)
    )
    if spell.residual_oxygen_percent is None:
        return line
    return words.say("spell_oxygen", line=line, oxygen=words.number(spell.residual_oxygen_percent))


def _spells(spells: tuple[StorageSpell, ...], words: Words) -> tuple[str, ...]:
    ends = [*(spell.began_on for spell in spells[1:]), None]
    return tuple(spell_words(s, words, until=end) for s, end in zip(spells, ends, strict=True))


def _report(report: LabReport, words: Words) -> str:
    read = (
        ("alpha", report.alpha_percent),
        ("beta", report.beta_percent),
        ("index", report.hop_storage_index),
    )
    found = [
        words.say(f"report_{name}", value=words.number(value)) for name, value in read if value is not None
    ]
    basis = words.say(f"report_basis_{report.basis}")
    line = words.say(
        "report_line",
        code=report.code,
        laboratory=report.laboratory.strip(),
        sampled=words.say(
            "sampled", drawn=drawn_words(report.drawn_by, words), day=words.day(report.sampled_on)
        ),
        cored=cored_words(report.packages_cored, words),
        day=words.day(report.analysed_on),
        figures=", ".join([*found, basis]) if found else words.say("report_none"),
    )
    if report.before_pelletizing:
        line = words.say("report_before_pelletizing", line=line)
    if report.corrects is not None:
        line = words.say("report_corrects", line=line, old=report.corrects, reason=report.reason)
    return words.say("report_corrected", line=line, by=report.corrected_by) if report.corrected_by else line
