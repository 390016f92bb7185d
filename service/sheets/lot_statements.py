"""What a receiver asks and the books may not hold: said either way. And how the cones were sorted."""

from service.facts import Fact
from service.market.goods.provenance import ShownCertification
from service.market.goods.quality_reports import PhysicalFigure
from service.market.sheet.sheet_facts import LotSheetFacts
from service.sheets.words import Words

CERTIFICATIONS_SHOWN = 3
QUALITY = ("seed_percent", "leaf_and_stem_percent", "waste_percent")


class ConePart(Fact, frozen=True):
    """The share of one class of cones."""

    words: str
    name: str
    percent: float


class ConeLines(Fact, frozen=True, kw_only=True):
    """The sorted cones: a line above, the parts to draw, and what the intervals rest on."""

    heading: str
    parts: tuple[ConePart, ...]
    terms: str


def statements(facts: LotSheetFacts, words: Words) -> tuple[tuple[str, str], ...]:
    """Sprays, physical quality, certifications and plant rights, each with its name."""
    say = words.say
    return (
        (say("spray"), _spray(facts, words)),
        (say("quality"), _quality(facts, words)),
        (say("certificates"), _certificates(facts.view.certifications, words)),
        (say("rights"), _rights(facts, words)),
    )


def _spray(facts: LotSheetFacts, words: Words) -> str:
    stated = facts.view.spray_record
    if stated.kept:
        return words.say("spray_kept", block=stated.block, season=stated.season)
    if stated.kept is None:
        return words.say("spray_of_parts")
    if stated.block is None or stated.season is None:
        return words.say("no_spray")
    return words.say("spray_not_kept", block=stated.block, season=stated.season)


def _quality(facts: LotSheetFacts, words: Words) -> str:
    """The percentages by who measured them; the seeds with the word of the act, where one was read."""
    quality = facts.view.physical_quality
    by_origin: dict[str, list[str]] = {}
    for name in QUALITY:
        found: PhysicalFigure | None = getattr(quality, name)
        if found is None:
            continue
        drawn = words.say(f"drawn_{found.drawn_by}")
        sampled = words.say("sampled", drawn=drawn, day=words.day(found.sampled_on))
        origin = words.say("quality_origin", by=found.measured_by, sampled=sampled)
        figure = words.say(f"quality_{name}", value=words.number(found.value))
        word = quality.seed_word
        if name == "seed_percent" and word is not None:
            figure = words.say("quality_word", figure=figure, word=word.word, rule=word.rule)
        by_origin.setdefault(origin, []).append(figure)
    if not by_origin:
        return words.say("quality_sorted" if quality.cone_sort else "no_quality")
    parts = [f"{', '.join(figures)} {origin}" for origin, figures in by_origin.items()]
    unmeasured = [words.say(f"name_{name}") for name in QUALITY if getattr(quality, name) is None]
    said = f"{'; '.join(parts)}."
    return words.say("quality_lacks", line=said, names=", ".join(unmeasured)) if unmeasured else said


def _certificates(held: tuple[ShownCertification, ...], words: Words) -> str:
    if not held:
        return words.say("no_certificates")
    # What holds comes before what has lapsed.
    held_in_order = sorted(held, key=lambda one: one.lapsed)
    shown = (
        held_in_order
        if len(held_in_order) <= CERTIFICATIONS_SHOWN
        else held_in_order[: CERTIFICATIONS_SHOWN - 1]
    )
    left_out = len(held_in_order) - len(shown)
    said = [
        words.say(
            "certificate_lapsed" if one.lapsed else "certificate_holds",
            scheme=words.say("organic_scheme", scheme=one.scheme) if one.kind == "organic" else one.scheme,
            certifier=one.certifier,
            number=one.number,
            day=words.day(one.valid_until),
        )
        for one in shown
    ]
    return " ".join([*said, words.say("more", count=left_out)] if left_out else said)


def _rights(facts: LotSheetFacts, words: Words) -> str:
    say, planting = words.say, facts.view.planting
    status = say(f"rights_{planting.status}", country=planting.country)
    if planting.source is None:
        checked = say("rights_unsourced", status=status)
    elif planting.checked_on is None:
        checked = say("rights_unchecked", status=status, source=planting.source)
    else:
        checked = say(
            "rights_checked", status=status, source=planting.source, day=words.day(planting.checked_on)
        )
    licence = planting.licence
    if licence is None:
        declared = say("licence_none") if planting.status == "protected" else ""
    else:
        key = (
            "licence_lapsed" if licence.lapsed else "licence_holds" if licence.valid_until else "licence_open"
        )
        until = words.day(licence.valid_until) if licence.valid_until else ""
        declared = say(key, licensor=licence.licensor, number=licence.number, day=until)
    return say("rights_line", status=" ".join(part for part in (f"{checked}.", declared) if part))


def cone_lines(facts: LotSheetFacts, words: Words) -> ConeLines | None:
    """How the cones of a sample were sorted; None where nobody sorted them."""
    sort = facts.view.physical_quality.cone_sort
    if sort is None:
        return None
    drawn = words.say(f"drawn_{sort.drawn_by}")
    sampled = words.say("sampled", drawn=drawn, day=words.day(sort.sampled_on))
    counted = "cones_counted" if sort.cones_were_counted else "cones_reckoned"
    return ConeLines(
        heading=words.say(
            "cones",
            by=sort.measured_by,
            sampled=sampled,
            grams=words.number(sort.sample_g),
            cones=words.say(counted, count=words.number(round(sort.cones))),
        ),
        parts=tuple(
            ConePart(
                words=words.say(
                    "cone_share",
                    share=words.fixed(part.share_percent.estimate, places=0),
                    low=words.fixed(part.share_percent.low, places=0),
                    high=words.fixed(part.share_percent.high, places=0),
                ),
                name=part.name,
                percent=part.share_percent.estimate,
            )
            for part in sort.shares
        ),
        terms=words.say("cone_terms" if sort.cones_were_counted else "cone_terms_reckoned"),
    )
