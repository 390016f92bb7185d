"""The two fonts of the sheets: found, checked for the signs they hold, measured."""

import unicodedata
from functools import cache, lru_cache
from importlib import resources

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from service.facts import Fact

REGULAR = "DejaVuSansCondensed"
BOLD = "DejaVuSansCondensed-Bold"
ELLIPSIS = "…"


class Style(Fact, frozen=True):
    """How a text looks: font, size and leading in points, and its colour as red, green, blue."""

    font: str
    size: float
    leading: float
    colour: tuple[float, float, float]


@cache
def register_fonts() -> None:
    """Read both fonts, once in a process."""
    for name in (REGULAR, BOLD):
        path = resources.files("service.sheets") / "fonts" / f"{name}.ttf"
        with resources.as_file(path) as file:
            pdfmetrics.registerFont(TTFont(name, str(file)))


@cache
def _holds(code: int) -> bool:
    """Whether both fonts can print a sign as it is meant; right-to-left scripts would come out backwards."""
    register_fonts()
    if unicodedata.bidirectional(chr(code)) in ("R", "AL", "AN"):
        return False
    return all(code in pdfmetrics.getFont(name).face.charToGlyph for name in (REGULAR, BOLD))


@lru_cache(maxsize=4096)
def printable(text: str) -> tuple[str, tuple[str, ...]]:
    """Give a text as the fonts can print it, and the numbers of the signs they lack.

    Line breaks and runs of spaces become one space, invisible signs vanish, and a sign without a glyph is
    written by its Unicode number, never as an empty box.

    >>> printable("Hof\\n 山")
    ('Hof [U+5C71]', ('U+5C71',))

    """
    composed = unicodedata.normalize("NFC", " ".join(text.split()))
    if composed.isascii() and composed.isprintable():
        return composed, ()
    signs, lacking = [], []
    for sign in composed:
        if unicodedata.category(sign) in ("Cc", "Cf"):
            continue
        if _holds(ord(sign)):
            signs.append(sign)
        else:
            number = f"U+{ord(sign):04X}"
            lacking.append(number)
            signs.append(f"[{number}]")
    return "".join(signs), tuple(dict.fromkeys(lacking))


def width_of(text: str, style: Style) -> float:
    """The width of a printable text, in points."""
    return float(pdfmetrics.getFont(style.font).stringWidth(text, style.size))


@lru_cache(maxsize=4096)
def wrap(text: str, style: Style, width: float, most: int) -> tuple[str, ...]:
    """Break a printable text into at most so many lines; what does not fit is cut, and an ellipsis says so."""
    lines, line, used = [], "", 0.0
    space = width_of(" ", style)
    for word in _short_enough(text.split(" "), style, width):
        long = width_of(word, style)
        if line and used + space + long > width:
            lines.append(line)
            line, used = word, long
        else:
            line, used = (f"{line} {word}", used + space + long) if line else (word, long)
    lines.append(line)
    if len(lines) <= most:
        return tuple(lines)
    return (*lines[: most - 1], cut(" ".join(lines[most - 1 : most + 1]), style, width, cut_anyway=True))


def cut(text: str, style: Style, width: float, *, cut_anyway: bool = False) -> str:
    """Shorten a printable text to a width, with an ellipsis."""
    if not cut_anyway and width_of(text, style) <= width:
        return text
    return text[: _fitting(text, style, width - width_of(ELLIPSIS, style))].rstrip() + ELLIPSIS


def _short_enough(words: list[str], style: Style, width: float) -> list[str]:
    """Break words that are wider than a line."""
    parts = []
    for word in words:
        while width_of(word, style) > width and len(word) > 1:
            end = max(1, _fitting(word, style, width))
            parts.append(word[:end])
            word = word[end:]
        parts.append(word)
    return parts


def _fitting(text: str, style: Style, width: float) -> int:
    """How many signs fit into a width; counted from the front, since a name may be long and a line is short."""
    for place, sign in enumerate(text):
        width -= width_of(sign, style)
        if width < 0:
            return place
    return len(text)
