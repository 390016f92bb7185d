"""Paper and ink that all sheets share: page, text, rules, blocks, the file's own particulars.

Heights run downwards: `y` is the distance from the top edge, as a reader measures. A block knows its height
before it is drawn, so that a page can be planned.
"""

import io
from collections.abc import Callable
from typing import Any

from reportlab.pdfgen import canvas

from service.facts import Fact, field
from service.sheets.fonts import BOLD, REGULAR, Style, cut, printable, register_fonts, width_of, wrap
from service.sheets.papers import Paper

Colour = tuple[float, float, float]
BLACK: Colour = (0.08, 0.08, 0.08)
GREY: Colour = (0.36, 0.36, 0.36)
PALE: Colour = (0.83, 0.83, 0.83)
WHITE: Colour = (1.0, 1.0, 1.0)
# The one ink: a dark blue-green that stays dark in a grey print.
INK: Colour = (0.05, 0.27, 0.33)

HEADLINE = Style(BOLD, 21.0, 24.0, INK)
HEADLINE_SMALL = Style(BOLD, 13.0, 15.0, INK)
HEADING = Style(BOLD, 7.6, 10.5, INK)
LABEL = Style(BOLD, 6.6, 8.1, INK)
STRONG = Style(BOLD, 8.4, 10.6, BLACK)
VALUE = Style(BOLD, 10.5, 12.0, BLACK)
TEXT = Style(REGULAR, 8.0, 10.0, BLACK)
SMALL = Style(REGULAR, 6.6, 8.1, BLACK)
FAINT = Style(REGULAR, 6.6, 8.1, GREY)
TINY = Style(REGULAR, 6.0, 7.2, GREY)


class Block(Fact, frozen=True):
    """A part of a page: how high it is, and how it is drawn from its upper edge on."""

    height: float
    draw: Callable[[float], None]


class Particulars(Fact, frozen=True, kw_only=True):
    """What a file says of itself."""

    title: str
    author: str
    subject: str
    keywords: tuple[str, ...]
    language: str


class Sheet(Fact):
    """A document while it is drawn; `lacking` holds the signs of this page that the fonts do not have."""

    paper: Paper
    canvas: Any
    file: io.BytesIO
    lacking: dict[str, None] = field(default_factory=dict)

    def text(self, x: float, y: float, text: str, style: Style, *, align: str = "left") -> None:
        """Write one line whose baseline lies at y."""
        self._pen(style)
        shown = self.printable(text)
        if align != "left":
            width = width_of(shown, style)
            x -= width if align == "right" else width / 2
        self.canvas.drawString(x, self.paper.height - y, shown)

    def lines(self, x: float, y: float, lines: tuple[str, ...], style: Style) -> float:
        """Write lines below a height; gives the height below them."""
        self._pen(style)
        for line in lines:
            y += style.leading
            self.canvas.drawString(x, self.paper.height - y + style.leading - style.size, line)
        return y

    def wrapped(self, text: str, style: Style, width: float, *, most: int) -> tuple[str, ...]:
        """Break a text into lines that the fonts can print."""
        return wrap(self.printable(text), style, width, most)

    def shortened(self, text: str, style: Style, width: float) -> str:
        """Shorten a text to one line."""
        return cut(self.printable(text), style, width)

    def width_of(self, text: str, style: Style) -> float:
        """The width of a text, in points."""
        return width_of(self.printable(text), style)

    def printable(self, text: str) -> str:
        """Give a text as the fonts can print it, and remember what they lack."""
        shown, lacking = printable(text)
        self.lacking.update(dict.fromkeys(lacking))
        return shown

    def rule(self, x: float, y: float, width: float, *, colour: Colour = PALE, thick: float = 0.5) -> None:
        """Draw a level line."""
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setLineWidth(thick)
        self.canvas.line(x, self.paper.height - y, x + width, self.paper.height - y)

    def box(
        self, x: float, y: float, width: float, height: float, *, fill: Colour | None, edge: Colour | None
    ) -> None:
        """Draw a rectangle below a height."""
        if fill:
            self.canvas.setFillColorRGB(*fill)
        if edge:
            self.canvas.setStrokeColorRGB(*edge)
            self.canvas.setLineWidth(0.7)
        bottom = self.paper.height - y - height
        self.canvas.rect(x, bottom, width, height, stroke=int(bool(edge)), fill=int(bool(fill)))

    def shape(
        self,
        points: list[tuple[float, float]],
        *,
        fill: Colour | None,
        edge: Colour | None,
        thick: float = 1.0,
    ) -> None:
        """Draw a filled shape, or an open line, through points."""
        path = self.canvas.beginPath()
        path.moveTo(points[0][0], self.paper.height - points[0][1])
        for x, y in points[1:]:
            path.lineTo(x, self.paper.height - y)
        if fill:
            path.close()
            self.canvas.setFillColorRGB(*fill)
        if edge:
            self.canvas.setStrokeColorRGB(*edge)
            self.canvas.setLineWidth(thick)
        self.canvas.drawPath(path, stroke=int(bool(edge)), fill=int(bool(fill)))

    def bookmark(self, title: str, y: float, *, level: int = 0) -> None:
        """Let the outline lead to a height of this page."""
        key = f"{self.canvas.getPageNumber()}-{round(y)}-{level}"
        self.canvas.bookmarkHorizontal(key, 0, self.paper.height - y)
        self.canvas.addOutlineEntry(self.printable(title), key, level=level)

    def turn(self) -> None:
        """Begin the next page."""
        self.canvas.showPage()
        self.lacking.clear()

    def finish(self) -> bytes:
        """Close the document and give its bytes."""
        self.canvas.showPage()
        self.canvas.save()
        return self.file.getvalue()

    def _pen(self, style: Style) -> None:
        self.canvas.setFont(style.font, style.size)
        self.canvas.setFillColorRGB(*style.colour)


def open_sheet(paper: Paper, particulars: Particulars) -> Sheet:
    """Begin a document; nothing in it depends on the clock or on the machine."""
    register_fonts()
    file = io.BytesIO()
    pen = canvas.Canvas(
        file,
        pagesize=(paper.width, paper.height),
        invariant=1,
        pageCompression=1,
        initialFontName=REGULAR,
        lang=particulars.language,
    )
    pen.setTitle(particulars.title)
    pen.setAuthor(particulars.author)
    pen.setSubject(particulars.subject)
    pen.setKeywords(", ".join(particulars.keywords))
    pen.setCreator("Oastbook")
    pen.setViewerPreference("DisplayDocTitle", "true")
    return Sheet(paper, pen, file)


def text_block(
    sheet: Sheet, text: str, style: Style, *, x: float, width: float, most: int, gap: float = 0.0
) -> Block:
    """A paragraph of at most so many lines, with room below it."""
    lines = sheet.wrapped(text, style, width, most=most)
    height = len(lines) * style.leading + gap

    def draw(y: float) -> None:
        sheet.lines(x, y, lines, style)

    return Block(height, draw)


def stacked(blocks: list[Block]) -> Block:
    """Blocks one below the other."""

    def draw(y: float) -> None:
        for block in blocks:
            block.draw(y)
            y += block.height

    return Block(sum(block.height for block in blocks), draw)


def side_by_side(blocks: list[Block]) -> Block:
    """Blocks that begin at one height."""

    def draw(y: float) -> None:
        for block in blocks:
            block.draw(y)

    return Block(max((block.height for block in blocks), default=0.0), draw)
