"""A document of several pages: a head, parts of text and tables, a foot on each page.

The words and rows come as `PagesLines`; the same lines on the same paper give the same bytes. It is set
twice, since each page says how many there are.
"""

from service.facts import Fact
from service.sheets.fonts import Style
from service.sheets.marks import draw_qr
from service.sheets.paper import (
    FAINT,
    HEADING,
    HEADLINE_SMALL,
    INK,
    LABEL,
    SMALL,
    STRONG,
    TEXT,
    TINY,
    Particulars,
    Sheet,
    open_sheet,
)
from service.sheets.papers import paper_named
from service.sheets.words import ENGLISH, Words

QR_POINTS = 60.0
FOOT_POINTS = 46.0
CELL_GAP = 8.0
CELL_LINES = 4
SIGNATURE_POINTS = 58.0


class Column(Fact, frozen=True):
    """A column: its name, its share of the width, and to which side its cells are set."""

    name: str
    share: float
    align: str = "left"


class PartLines(Fact, frozen=True, kw_only=True):
    """A part of a document: a heading, then paragraphs, then a table; or names below lines to sign on."""

    heading: str
    texts: tuple[str, ...] = ()
    lines_a_text: int = 3
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    last_row_is_sum: bool = False
    signatures: tuple[str, ...] = ()


class PagesLines(Fact, frozen=True, kw_only=True):
    """The words of a whole document; without a `url` it has no QR code."""

    kind: str
    title: str
    subject: str
    author: str
    language: str
    status: str
    headline: str
    under_headline: str
    parts: tuple[PartLines, ...]
    foot: tuple[str, ...]
    code: str
    url: str | None = None
    scan: str = ""


def render_pages(lines: PagesLines, *, paper: str = "a4", words: Words = ENGLISH) -> bytes:
    """Print a document; it is set twice, since each page says how many there are.

    Raises:
        OutOfRange: there is no paper of that name.

    """
    pages = _Setting(lines, paper, words, pages=1).set_all()[1]
    return _Setting(lines, paper, words, pages=pages).set_all()[0]


class _Setting:
    """A document while it is set, page after page."""

    def __init__(self, lines: PagesLines, paper: str, words: Words, *, pages: int) -> None:
        particulars = Particulars(
            title=lines.title,
            author=lines.author,
            subject=lines.subject,
            keywords=(lines.kind, lines.code),
            language=lines.language,
        )
        self.lines, self.words, self.pages, self.page = lines, words, pages, 1
        self.sheet: Sheet = open_sheet(paper_named(paper), particulars)
        self.left, self.width = self.sheet.paper.side, self.sheet.paper.inner
        self.bottom = self.sheet.paper.height - self.sheet.paper.bottom - FOOT_POINTS
        self.y = 0.0

    def set_all(self) -> tuple[bytes, int]:
        """Set everything; gives the file and the number of its pages."""
        self.sheet.bookmark(self.lines.title, self.sheet.paper.top)
        self._head()
        for part in self.lines.parts:
            self._part(part)
        self._foot()
        return self.sheet.finish(), self.page

    def _head(self) -> None:
        sheet, lines, top = self.sheet, self.lines, self.sheet.paper.top
        room = self.width - (QR_POINTS + CELL_GAP if lines.url else 0.0)
        sheet.text(self.left, top + 8, lines.kind, HEADING)
        status = sheet.shortened(lines.status, STRONG, room - 120)
        sheet.text(self.left + room, top + 8, status, STRONG, align="right")
        headline = sheet.wrapped(lines.headline, HEADLINE_SMALL, room, most=2)
        y = sheet.lines(self.left, top + 15, headline, HEADLINE_SMALL)
        y = sheet.lines(self.left, y + 1, sheet.wrapped(lines.under_headline, TEXT, room, most=2), TEXT)
        if lines.url:
            draw_qr(sheet, lines.url, x=self.left + self.width - QR_POINTS + 6, y=top - 8, size=QR_POINTS)
            below = top + QR_POINTS - 4
            sheet.text(self.left + self.width, below, lines.scan, TINY, align="right")
            y = max(y, below)
        sheet.rule(self.left, y + 5, self.width, colour=INK, thick=1.2)
        self.y = y + 12

    def _foot(self) -> None:
        sheet, y = self.sheet, self.bottom + 6
        sheet.rule(self.left, y, self.width, colour=INK, thick=1.2)
        y += 3
        for text in self.lines.foot[:2]:
            y = sheet.lines(self.left, y, sheet.wrapped(text, TINY, self.width, most=2), TINY)
        place = self.words.say("page_of", code=self.lines.code, page=self.page, pages=self.pages)
        if sheet.lacking:
            warning = self.words.say("unprintable", numbers=", ".join(sheet.lacking))
            room = self.width - sheet.width_of(place, TINY) - 10
            sheet.lines(self.left, y, sheet.wrapped(warning, TINY, room, most=1), TINY)
        sheet.text(self.left + self.width, y + 6, place, TINY, align="right")

    def _need(self, height: float) -> bool:
        """Turn the page unless so much room is left; says whether it was turned."""
        if self.y + height <= self.bottom:
            return False
        self._foot()
        self.sheet.turn()
        self.page += 1
        top = self.sheet.paper.top
        self.sheet.text(self.left, top + 8, f"{self.lines.kind}: {self.lines.headline}"[:90], HEADING)
        self.sheet.rule(self.left, top + 14, self.width, colour=INK, thick=1.2)
        self.y = top + 22
        return True

    def _part(self, part: PartLines) -> None:
        self._need(52.0)
        self.sheet.bookmark(part.heading, self.y, level=1)
        self._say(part.heading, HEADING, most=2)
        for text in part.texts:
            most = part.lines_a_text
            self._need(TEXT.leading * len(self.sheet.wrapped(text, TEXT, self.width, most=most)))
            self._say(text, TEXT, most=most)
        if part.columns and part.rows:
            self._table(part)
        if part.signatures:
            self._signatures(part.signatures)
        self.y += 9

    def _say(self, text: str, style: Style, *, most: int) -> None:
        wrapped = self.sheet.wrapped(text, style, self.width, most=most)
        self.y = self.sheet.lines(self.left, self.y, wrapped, style)

    def _places(self, columns: tuple[Column, ...]) -> list[tuple[float, float]]:
        """Where each column begins, and its width without the gap."""
        whole, x, places = sum(column.share for column in columns), self.left, []
        for column in columns:
            width = self.width * column.share / whole
            places.append((x, width - CELL_GAP))
            x += width
        return places

    def _table(self, part: PartLines) -> None:
        places = self._places(part.columns)
        self._row(places, part.columns, tuple(column.name for column in part.columns), LABEL)
        for number, row in enumerate(part.rows):
            is_sum = part.last_row_is_sum and number == len(part.rows) - 1
            style = LABEL if is_sum else SMALL
            cells = self._cells(places, row, style)
            height = max(len(cell) for cell in cells) * style.leading + 4
            if self._need(height):
                self._row(places, part.columns, tuple(column.name for column in part.columns), LABEL)
            self._row(places, part.columns, row, style)

    def _cells(
        self, places: list[tuple[float, float]], row: tuple[str, ...], style: Style
    ) -> list[tuple[str, ...]]:
        return [
            self.sheet.wrapped(cell, style, width, most=CELL_LINES)
            for cell, (_, width) in zip(row, places, strict=True)
        ]

    def _row(
        self,
        places: list[tuple[float, float]],
        columns: tuple[Column, ...],
        row: tuple[str, ...],
        style: Style,
    ) -> None:
        cells = self._cells(places, row, style)
        end = self.y
        for (x, width), column, cell in zip(places, columns, cells, strict=True):
            y = self.y
            for text in cell:
                beside = width - self.sheet.width_of(text, style) if column.align == "right" else 0.0
                y = self.sheet.lines(x + beside, y, (text,), style)
            end = max(end, y)
        self.y = end + 2
        self.sheet.rule(self.left, self.y, self.width, thick=0.3)
        self.y += 2

    def _signatures(self, names: tuple[str, ...]) -> None:
        self._need(SIGNATURE_POINTS)
        width = self.width / len(names)
        for place, name in enumerate(names):
            x = self.left + place * width
            self.sheet.rule(x, self.y + 38, width - 20, thick=0.7, colour=INK)
            self.sheet.lines(x, self.y + 40, self.sheet.wrapped(name, FAINT, width - 20, most=2), FAINT)
        self.y += SIGNATURE_POINTS
