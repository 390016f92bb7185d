"""The drawn marks: a figure on a line of what is published, a bar of parts, a course with its band, a QR code."""

from collections.abc import Sequence
from functools import lru_cache

from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

from service.facts import Fact
from service.science.uncertainty import Estimate
from service.sheets.paper import BLACK, GREY, INK, PALE, TINY, WHITE, Colour, Sheet

# A QR code wants four modules of white on each side (ISO/IEC 18004).
QUIET_MODULES = 4


class RangeMark(Fact, frozen=True, kw_only=True):
    """A figure beside what is published of its cultivar; of a single mean the two ends are one."""

    value: float
    low: float
    high: float
    is_single_mean: bool
    low_words: str
    high_words: str


class Scale(Fact, frozen=True):
    """A level scale from one value to another."""

    left: float
    right: float
    low: float
    high: float

    def at(self, value: float) -> float:
        """Where a value lies."""
        return self.left + (self.right - self.left) * (value - self.low) / (self.high - self.low)


def draw_range(sheet: Sheet, mark: RangeMark, *, x: float, y: float, width: float) -> None:
    """Draw a line with the published range as a grey bar, or a single mean as a ring, and the lot as a dark mark."""
    low, high = min(mark.low, mark.value), max(mark.high, mark.value)
    if high - low < 0.2 * high:
        middle, half = (low + high) / 2, max(0.1 * high, 0.001)
        low, high = middle - half, middle + half
    scale = Scale(x + 22, x + width - 22, low, high)
    sheet.rule(x, y, width, colour=GREY, thick=0.4)
    begin, end = scale.at(mark.low), scale.at(mark.high)
    if mark.is_single_mean:
        _ring(sheet, begin, y)
        sheet.text(begin, y + 9.5, mark.low_words, TINY, align="middle")
    else:
        sheet.box(begin, y - 2.2, max(end - begin, 0.8), 4.4, fill=PALE, edge=GREY)
        sheet.text(begin, y + 9.5, mark.low_words, TINY, align="right" if end - begin < 24 else "middle")
        sheet.text(end, y + 9.5, mark.high_words, TINY, align="left" if end - begin < 24 else "middle")
    here = scale.at(mark.value)
    sheet.shape([(here, y), (here - 3.4, y - 7), (here + 3.4, y - 7)], fill=INK, edge=WHITE, thick=0.5)


def _ring(sheet: Sheet, x: float, y: float) -> None:
    sheet.canvas.setFillColorRGB(*WHITE)
    sheet.canvas.setStrokeColorRGB(*GREY)
    sheet.canvas.setLineWidth(1.0)
    sheet.canvas.circle(x, sheet.paper.height - y, 2.6, stroke=1, fill=1)


# The ink and greys, ordered so that neighbours differ also in a grey print. White is left to what no part names.
PART_COLOURS: tuple[Colour, ...] = (
    INK,
    (0.78, 0.78, 0.78),
    (0.42, 0.42, 0.42),
    (0.90, 0.90, 0.90),
    (0.58, 0.58, 0.58),
    (0.70, 0.70, 0.70),
)


def draw_parts(
    sheet: Sheet, percents: Sequence[float], colours: Sequence[Colour], *, x: float, y: float, width: float
) -> None:
    """Draw a whole as a bar of its parts."""
    whole = max(100.0, sum(percents))
    begin = x
    for percent, colour in zip(percents, colours, strict=True):
        sheet.box(begin, y, width * percent / whole, 8, fill=colour, edge=None)
        begin += width * percent / whole
    sheet.box(x, y, width, 8, fill=None, edge=BLACK)


def draw_course(
    sheet: Sheet,
    points: Sequence[tuple[int, Estimate]],
    *,
    x: float,
    y: float,
    width: float,
    height: float,
    top: float,
    labelled: bool,
) -> None:
    """Draw an estimate over months: its band in grey, its middle in ink, on axes from nothing to `top`."""
    last = points[-1][0]
    across, up = Scale(x, x + width, 0, last), Scale(y + height, y, 0, top)
    upper = [(across.at(month), up.at(found.high)) for month, found in points]
    lower = [(across.at(month), up.at(found.low)) for month, found in points]
    sheet.shape([*upper, *reversed(lower)], fill=PALE, edge=None)
    middle = [(across.at(month), up.at(found.estimate)) for month, found in points]
    sheet.shape(middle, fill=None, edge=INK, thick=1.3)
    sheet.shape([(x, y), (x, y + height), (x + width, y + height)], fill=None, edge=GREY, thick=0.5)
    for month in range(0, last + 1, 6):
        sheet.shape(
            [(across.at(month), y + height), (across.at(month), y + height + 2)],
            fill=None,
            edge=GREY,
            thick=0.5,
        )
        sheet.text(across.at(month), y + height + 8.4, str(month), TINY, align="middle")
    if labelled:
        for value in (0.0, top / 2, top):
            sheet.text(x - 3, up.at(value) + 2, f"{value:g}", TINY, align="right")


def nice_top(value: float) -> float:
    """A round number at or above a value, for the end of an axis.

    >>> nice_top(5.9), nice_top(13.1), nice_top(0.3)
    (6.0, 14.0, 1.0)

    """
    step = 1.0 if value <= 8 else 2.0 if value <= 16 else 10.0
    return max(1.0, step * -(-value // step))


# Few are kept: a thousand sheets in a row have a thousand codes.
@lru_cache(maxsize=64)
def qr_runs(text: str) -> tuple[int, tuple[tuple[int, int, int], ...]]:
    """The modules of a QR code as runs of dark ones: how many on a side, then column, row and length of each."""
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    side = code.getModuleCount()
    runs = []
    for row in range(side):
        column = 0
        while column < side:
            end = column
            while end < side and code.isDark(row, end):
                end += 1
            if end > column:
                runs.append((column, row, end - column))
            column = end + 1
    return side, tuple(runs)


def draw_qr(sheet: Sheet, text: str, *, x: float, y: float, size: float) -> None:
    """Draw a QR code with its quiet zone as one path."""
    side, runs = qr_runs(text)
    module = size / (side + 2 * QUIET_MODULES)
    path = sheet.canvas.beginPath()
    upper = sheet.paper.height - y
    for column, row, length in runs:
        path.rect(
            x + (column + QUIET_MODULES) * module,
            upper - (row + QUIET_MODULES + 1) * module,
            length * module,
            module,
        )
    sheet.canvas.setFillColorRGB(0, 0, 0)
    sheet.canvas.drawPath(path, stroke=0, fill=1)
