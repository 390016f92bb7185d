"""Labels for packs, one to a page, in the sizes that label printers take."""

from service.market.goods.labels import LabelFacts, PackLabel
from service.reference.packings import get_packing
from service.sheets.fonts import BOLD, REGULAR, Style
from service.sheets.lot_goods import crop_form, cultivar_name
from service.sheets.marks import draw_qr
from service.sheets.paper import BLACK, INK, Particulars, Sheet, open_sheet
from service.sheets.papers import size_named
from service.sheets.words import ENGLISH, Words


def render_labels(facts: LabelFacts, *, size: str = "100x62mm", words: Words = ENGLISH) -> bytes:
    """Print the labels, one to a page.

    Raises:
        OutOfRange: there is no size of that name.

    """
    particulars = Particulars(
        title=words.say("label_title", code=facts.lot.code),
        author=facts.grower.name,
        subject=words.say("label_subject", code=facts.lot.code, grower=facts.grower.name),
        keywords=(words.say("label_kind"), facts.lot.code),
        language=words.language,
    )
    sheet = open_sheet(size_named(size), particulars)
    for place, label in enumerate(facts.labels):
        if place:
            sheet.turn()
        sheet.bookmark(_which(label, facts, words), 0.0)
        _draw(sheet, facts, label, words)
    return sheet.finish()


def label_texts(facts: LabelFacts, label: PackLabel, *, words: Words = ENGLISH) -> tuple[str, ...]:
    """What a label says: cultivar, lot, net mass, which package, then the rest."""
    lot, say = facts.lot, words.say
    picked = words.days(lot.harvested_on, lot.picked_until)
    spell = lot.open_spell
    packed: tuple[str, ...] = ()
    if spell is not None:
        name = get_packing(spell.packing).name
        packed = (say("label_packing", packing=name, day=words.day(spell.began_on)),)
    own = (say("own_number", own=lot.own_lot_number),) if lot.own_lot_number else ()
    return (
        cultivar_name(lot, words),
        say("label_lot", code=lot.code),
        say("label_net", mass=words.kg_lb(label.net_kg)),
        _which(label, facts, words),
        crop_form(lot, words),
        say("picked", days=picked) if picked else say("no_date"),
        *packed,
        facts.grower.name,
        say("place", locality=facts.grower.locality, country=facts.grower.country),
        *own,
    )


def _which(label: PackLabel, facts: LabelFacts, words: Words) -> str:
    if label.kind is None:
        return words.say("label_whole", code=facts.lot.code)
    kind = words.say(f"kind_{label.kind}")
    return words.say("label_package", kind=kind, number=label.number, count=label.count)


def _draw(sheet: Sheet, facts: LabelFacts, label: PackLabel, words: Words) -> None:
    """Large what a hand looks for; the code at the lower right, where the list ends."""
    paper = sheet.paper
    tall = paper.height > paper.width
    scale = 1.3 if tall else 1.0
    qr = paper.inner * (0.5 if tall else 0.31)
    headline, code, net, which, *rest = label_texts(facts, label, words=words)
    bottom, y = paper.height - paper.bottom, paper.top
    head = Style(BOLD, 17 * scale, 19 * scale, INK)
    name = sheet.wrapped(headline, head, paper.inner, most=1 if not tall else 2)
    y = sheet.lines(paper.side, y, name, head)
    for text, size in ((code, 12.0), (net, 15.0), (which, 9.5)):
        style = Style(BOLD, size * scale, size * 1.2 * scale, BLACK)
        while sheet.width_of(text, style) > paper.inner and style.size > 6:
            style = Style(BOLD, style.size - 0.5, style.leading, BLACK)
        y = sheet.lines(paper.side, y, sheet.wrapped(text, style, paper.inner, most=1), style)
    sheet.rule(paper.side, y + 3, paper.inner, colour=INK, thick=1.0)
    y += 6
    small = Style(REGULAR, 7.2 * scale, 8.8 * scale, BLACK)
    if sheet.lacking:
        rest.append(words.say("label_unprintable", numbers=", ".join(sheet.lacking)))
    for text in rest:
        beside = tall and y < bottom - qr - small.leading * 2
        width = paper.inner if beside else paper.inner - qr - 6
        room = int((bottom - y) // small.leading)
        if room < 1:
            break
        y = sheet.lines(paper.side, y, sheet.wrapped(text, small, width, most=min(2, room)), small)
    draw_qr(sheet, facts.public_url, x=paper.side + paper.inner - qr + 3, y=bottom - qr + 3, size=qr)
