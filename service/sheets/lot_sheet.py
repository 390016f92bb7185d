"""The lot spec sheet: one page that travels with the hops, and a second where the lot has a history.

The words come from `lot_sheet_lines`; here they meet ink. The course of alpha and the cautions share what room
the rest of the page leaves.
"""

from service.market.sheet.sheet_facts import LotSheetFacts
from service.sheets.lot_blocks import (
    GUTTER,
    PANEL_WORDS,
    cautions_block,
    cautions_height,
    cones_block,
    doses_block,
    figures_block,
    identity_block,
    oil_block,
    panels_block,
    statements_block,
    storage_block,
)
from service.sheets.lot_history import HistoryPart
from service.sheets.lot_sheet_lines import LotSheetLines, lot_sheet_lines
from service.sheets.marks import draw_qr
from service.sheets.paper import (
    FAINT,
    HEADING,
    HEADLINE,
    HEADLINE_SMALL,
    INK,
    STRONG,
    TEXT,
    TINY,
    Block,
    Particulars,
    Sheet,
    open_sheet,
)
from service.sheets.papers import paper_named
from service.sheets.words import ENGLISH, Words

QR_POINTS = 66.0
FOOT_POINTS = 50.0
PANEL_LOWEST, PANEL_HIGHEST = 30.0, 92.0
# How much nearer the parts of a page come to each other where room is short.
CLOSER = 3.5


def render_lot_sheet(facts: LotSheetFacts, *, paper: str = "a4", words: Words = ENGLISH) -> bytes:
    """Print the spec sheet of a lot as a PDF file; the same facts on the same paper give the same bytes.

    Raises:
        OutOfRange: there is no paper of that name.

    """
    lines = lot_sheet_lines(facts, words=words)
    particulars = Particulars(
        title=lines.title,
        author=lines.author,
        subject=lines.subject,
        keywords=(lines.kind, lines.code, lines.headline),
        language=lines.language,
    )
    sheet = open_sheet(paper_named(paper), particulars)
    pages = 2 if lines.history else 1
    _first_page(sheet, lines)
    _foot(sheet, lines, words, page=1, pages=pages)
    if lines.history:
        sheet.turn()
        _second_page(sheet, lines, words)
        _foot(sheet, lines, words, page=2, pages=pages)
    return sheet.finish()


def _first_page(sheet: Sheet, lines: LotSheetLines) -> None:
    sheet.bookmark(lines.title, sheet.paper.top)
    y = _head(sheet, lines)
    for title, block in _parts(sheet, lines, sheet.paper.height - sheet.paper.bottom - FOOT_POINTS - y):
        if title and block.height:
            sheet.bookmark(title, y, level=1)
        block.draw(y)
        y += block.height


def _parts(sheet: Sheet, lines: LotSheetLines, room: float) -> list[tuple[str, Block]]:
    """Every part of the page with its title, set tight only where the page would not hold them otherwise."""
    fixed = PANEL_WORDS + HEADING.leading + 6 if lines.panels else 0.0
    lowest = fixed + PANEL_LOWEST if lines.panels else 0.0
    for squeeze in (0, 1, 2):
        above, below = _around(sheet, lines, squeeze=squeeze)
        left = room - sum(block.height for _, block in above + below)
        if left >= lowest + cautions_height(sheet, lines):
            break
    cautions = cautions_block(sheet, lines, left - lowest)
    height = max(PANEL_LOWEST, min(PANEL_HIGHEST, left - cautions.height - fixed))
    panels = panels_block(sheet, lines, height)
    return [*above, (lines.panels_title, panels), *below, (lines.cautions_heading, cautions)]


def _around(
    sheet: Sheet, lines: LotSheetLines, *, squeeze: int
) -> tuple[list[tuple[str, Block]], list[tuple[str, Block]]]:
    """The parts above and below the course of alpha, whose heights do not depend on what room is left."""
    above = [
        (lines.what[0], identity_block(sheet, lines, most=3 if squeeze else 6)),
        (lines.figures_heading, figures_block(sheet, lines, most=1 if squeeze else 2, joined=squeeze > 1)),
        (lines.oil_title, oil_block(sheet, lines)),
        (lines.quality_title, cones_block(sheet, lines)),
        (lines.storage[0], storage_block(sheet, lines)),
    ]
    below = [
        (lines.doses_heading, doses_block(sheet, lines)),
        (lines.statements_title, statements_block(sheet, lines, most=4 if squeeze else 6)),
    ]
    if squeeze > 1:
        above, below = ([(title, _closer(block)) for title, block in part] for part in (above, below))
    return above, below


def _closer(block: Block) -> Block:
    return Block(max(0.0, block.height - CLOSER), block.draw)


def _head(sheet: Sheet, lines: LotSheetLines) -> float:
    """Draw the head: what it is in large letters, whether it is issued, and the code that leads to the lot."""
    left, top, width = sheet.paper.side, sheet.paper.top, sheet.paper.inner
    words = width - QR_POINTS - GUTTER
    sheet.text(left, top + 8, lines.kind, HEADING)
    _status(sheet, lines, right=left + words, y=top)
    name = sheet.printable(lines.headline)
    style = HEADLINE if len(sheet.wrapped(name, HEADLINE, words, most=2)) == 1 else HEADLINE_SMALL
    y = sheet.lines(left, top + 15, sheet.wrapped(name, style, words, most=2), style)
    sheet.lines(left, y + 1, sheet.wrapped(lines.under_headline, TEXT, words, most=1), TEXT)
    qr_left = left + width - QR_POINTS
    draw_qr(sheet, lines.url, x=qr_left, y=top - 8, size=QR_POINTS)
    sheet.text(qr_left + QR_POINTS / 2, top + QR_POINTS - 6, lines.scan, TINY, align="middle")
    y = top + QR_POINTS
    sheet.rule(left, y, width, colour=INK, thick=1.2)
    return y + 4


def _status(sheet: Sheet, lines: LotSheetLines, *, right: float, y: float) -> None:
    """Write the revision; a preview stands in a frame, so that nobody takes it for an issued sheet."""
    if not lines.is_preview:
        sheet.text(right, y + 8, lines.status, TEXT, align="right")
        return
    width = sheet.width_of(lines.status, STRONG) + 12
    sheet.box(right - width, y - 3, width, 15, fill=None, edge=INK)
    sheet.text(right - 6, y + 7.5, lines.status, STRONG, align="right")


def _foot(sheet: Sheet, lines: LotSheetLines, words: Words, *, page: int, pages: int) -> None:
    """Draw the foot: what the sheet is not, the fingerprint, where it leads, and what could not be printed."""
    left, width = sheet.paper.side, sheet.paper.inner
    y = sheet.paper.height - sheet.paper.bottom - FOOT_POINTS + 6
    sheet.rule(left, y, width, colour=INK, thick=1.2)
    y = sheet.lines(left, y + 3, sheet.wrapped(lines.certificate, STRONG, width, most=1), STRONG)
    y = sheet.lines(left, y, sheet.wrapped(lines.certificate_words, TINY, width, most=1), TINY)
    y = sheet.lines(left, y, sheet.wrapped(lines.fingerprint, TINY, width, most=1), TINY)
    said = f"{lines.status}  ·  {lines.url}"
    place = words.say("page_of", code=lines.code, page=page, pages=pages)
    sheet.text(left + width, y + 6, place, TINY, align="right")
    sheet.lines(left, y, sheet.wrapped(said, TINY, width - sheet.width_of(place, TINY) - 10, most=1), TINY)
    if sheet.lacking:
        warning = words.say("unprintable", numbers=", ".join(sheet.lacking))
        sheet.lines(left, y + TINY.leading, sheet.wrapped(warning, TINY, width, most=1), TINY)


def _second_page(sheet: Sheet, lines: LotSheetLines, words: Words) -> None:
    left, width, y = sheet.paper.side, sheet.paper.inner, sheet.paper.top
    sheet.bookmark(lines.history_heading, y)
    y = sheet.lines(
        left, y, sheet.wrapped(lines.history_heading, HEADLINE_SMALL, width, most=1), HEADLINE_SMALL
    )
    bottom = sheet.paper.height - sheet.paper.bottom - FOOT_POINTS
    for place, part in enumerate(lines.history):
        # Each part may take its share of what is left, so that a long one leaves room for the next.
        share = (bottom - y) / (len(lines.history) - place)
        y = _history_part(sheet, part, words, lines.url, y=y + 6, bottom=y + share)


def _history_part(
    sheet: Sheet, part: HistoryPart, words: Words, url: str, *, y: float, bottom: float
) -> float:
    left, width = sheet.paper.side, sheet.paper.inner
    y = sheet.lines(left, y, sheet.wrapped(part.heading, HEADING, width, most=1), HEADING)
    for place, text in enumerate(part.lines):
        lines = sheet.wrapped(text, TEXT, width, most=4)
        if y + (len(lines) + 1) * TEXT.leading + 2 > bottom:
            more = words.say("more_history", count=len(part.lines) - place, address=url)
            return sheet.lines(left, y, sheet.wrapped(more, FAINT, width, most=1), FAINT)
        y = sheet.lines(left, y, lines, TEXT) + 2
    return y
