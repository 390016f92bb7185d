"""The parts of a lot spec sheet as blocks: each is measured first and drawn where the page has room."""

from service.sheets.fonts import Style
from service.sheets.lot_figures import FigureLine
from service.sheets.lot_sheet_lines import DoseLines, LotSheetLines, PanelLines
from service.sheets.marks import PART_COLOURS, draw_course, draw_parts, draw_range, nice_top
from service.sheets.paper import (
    FAINT,
    HEADING,
    INK,
    LABEL,
    SMALL,
    STRONG,
    TEXT,
    TINY,
    VALUE,
    WHITE,
    Block,
    Sheet,
    side_by_side,
    stacked,
    text_block,
)

GUTTER = 14.0
# What a panel needs beside its drawing: its name above, the months and two lines below.
PANEL_WORDS = 40.0
CONES_IN_A_ROW = 5
CAUTION_STYLES = (SMALL, TINY)


def identity_block(sheet: Sheet, lines: LotSheetLines, *, most: int) -> Block:
    """What, whose, and how much: three columns."""
    width = (sheet.paper.inner - 2 * GUTTER) / 3
    columns = []
    for place, said in enumerate((lines.what, lines.whose, lines.goods)):
        x = sheet.paper.side + place * (width + GUTTER)
        heading = text_block(sheet, said[0], HEADING, x=x, width=width, most=1)
        first = text_block(sheet, said[1], STRONG, x=x, width=width, most=2)
        rest = _within(sheet, said[2:], x=x, width=width, most=most, more=lines.more)
        columns.append(stacked([heading, first, rest]))
    return stacked([side_by_side(columns), _gap(sheet)])


def _within(sheet: Sheet, texts: tuple[str, ...], *, x: float, width: float, most: int, more: str) -> Block:
    """Texts one below the other in so many lines; each has at least one, and those left out are counted."""
    shown = texts if len(texts) <= most else (*texts[: most - 1], more.format(count=len(texts) - most + 1))
    lines: list[str] = []
    for place, text in enumerate(shown):
        room = most - len(lines) - (len(shown) - place - 1)
        lines += sheet.wrapped(text, TEXT, width, most=min(room, 3))

    def draw(y: float) -> None:
        sheet.lines(x, y, tuple(lines), TEXT)

    return Block(len(lines) * TEXT.leading, draw)


def figures_block(sheet: Sheet, lines: LotSheetLines, *, most: int, joined: bool = False) -> Block:
    """The measured figures, a row for each; method and laboratory take at most so many lines, or share one."""
    left, width = sheet.paper.side, sheet.paper.inner
    heading = text_block(sheet, lines.figures_heading, HEADING, x=left, width=width, most=1)
    notes = text_block(sheet, " ".join(lines.figures_notes), TINY, x=left, width=width, most=2)
    return stacked(
        [
            heading,
            *(_figure(sheet, figure, most=most, joined=joined) for figure in lines.figures),
            notes,
            _gap(sheet),
        ]
    )


def _figure(sheet: Sheet, figure: FigureLine, *, most: int, joined: bool) -> Block:
    """One figure: name, value and unit, the drawn line, and where it comes from."""
    if not figure.is_measured:
        return Block(12.0, lambda y: _unmeasured(sheet, figure, y))
    left, right = sheet.paper.side, sheet.paper.side + sheet.paper.inner
    origin_left = left + 282
    width = right - origin_left
    label = f"{figure.method}; {figure.laboratory}" if joined else figure.method
    method = sheet.wrapped(label, SMALL, width, most=most)
    laboratory = () if joined else sheet.wrapped(figure.laboratory, FAINT, width, most=most)
    origin = laboratory + sheet.wrapped(figure.sample, FAINT, width, most=1)
    # The ends of a drawn range stand below it.
    height = max((len(method) + len(origin)) * SMALL.leading + 3.5, 23.5 if figure.mark else 0.0)

    def draw(y: float) -> None:
        sheet.text(left, y + 11, figure.name, TEXT)
        sheet.text(left + 108, y + 11.3, figure.value, VALUE, align="right")
        sheet.text(left + 112, y + 11.3, figure.unit, FAINT)
        if figure.mark:
            draw_range(sheet, figure.mark, x=left + 164, y=y + 11, width=104)
        sheet.lines(origin_left, sheet.lines(origin_left, y + 2, method, SMALL), origin, FAINT)
        sheet.rule(left, y + height, right - left, thick=0.3)

    return Block(height, draw)


def _unmeasured(sheet: Sheet, figure: FigureLine, y: float) -> None:
    sheet.text(sheet.paper.side, y + 9, figure.name, TEXT)
    sheet.text(sheet.paper.side + 84, y + 9, figure.value, FAINT)
    sheet.rule(sheet.paper.side, y + 12, sheet.paper.inner, thick=0.3)


def oil_block(sheet: Sheet, lines: LotSheetLines) -> Block:
    """The parts of the oil as one bar, each named below it; what no part names stays white."""
    left, width = sheet.paper.side, sheet.paper.inner
    heading = text_block(sheet, lines.oil_heading, FAINT, x=left, width=width, most=1)
    if not lines.oil_parts:
        return stacked([heading, _gap(sheet)])
    each = width / len(lines.oil_parts)
    percents = [part.percent for part in lines.oil_parts]
    colours = [PART_COLOURS[n] if part.is_named else WHITE for n, part in enumerate(lines.oil_parts)]

    def draw(y: float) -> None:
        draw_parts(sheet, percents, colours, x=left, y=y + 2, width=width)
        for place, (part, colour) in enumerate(zip(lines.oil_parts, colours, strict=True)):
            x = left + place * each
            sheet.box(x, y + 14, 5, 5, fill=colour, edge=INK)
            sheet.text(x + 8, y + 19, sheet.shortened(part.words, SMALL, each - 12), SMALL)

    return stacked([heading, Block(22.0, draw), _gap(sheet)])


def cones_block(sheet: Sheet, lines: LotSheetLines) -> Block:
    """The sorted cones as one bar of their classes, each with its interval and name below it."""
    cones = lines.cones
    if cones is None:
        return Block(0.0, lambda y: None)
    left, width = sheet.paper.side, sheet.paper.inner
    heading = text_block(sheet, cones.heading, FAINT, x=left, width=width, most=1)
    terms = text_block(sheet, cones.terms, TINY, x=left, width=width, most=2)
    each = width / min(len(cones.parts), CONES_IN_A_ROW)
    rows = -(-len(cones.parts) // CONES_IN_A_ROW)
    percents = [part.percent for part in cones.parts]
    colours = [PART_COLOURS[n % len(PART_COLOURS)] for n in range(len(cones.parts))]

    def draw(y: float) -> None:
        draw_parts(sheet, percents, colours, x=left, y=y + 2, width=width)
        for place, (part, colour) in enumerate(zip(cones.parts, colours, strict=True)):
            x, below = left + place % CONES_IN_A_ROW * each, y + 14 + place // CONES_IN_A_ROW * 18
            sheet.box(x, below, 5, 5, fill=colour, edge=INK)
            sheet.text(x + 8, below + 5, part.words, SMALL)
            sheet.text(x + 8, below + 13, sheet.shortened(part.name, SMALL, each - 12), SMALL)

    return stacked([heading, Block(14.0 + 18 * rows, draw), terms, _gap(sheet)])


def storage_block(sheet: Sheet, lines: LotSheetLines) -> Block:
    """How the lot was stored, and what that left by the day of the sheet."""
    left, width = sheet.paper.side, sheet.paper.inner
    heading = text_block(sheet, lines.storage[0], HEADING, x=left, width=width, most=1)
    said = [text_block(sheet, text, TEXT, x=left, width=width, most=2) for text in lines.storage[1:]]
    return stacked([heading, *said, Block(3.0, lambda y: None) if lines.panels else _gap(sheet)])


def panels_block(sheet: Sheet, lines: LotSheetLines, height: float) -> Block:
    """Alpha over the months to come, a panel for each storage, all on one scale."""
    if not lines.panels:
        return Block(0.0, lambda y: None)
    left = sheet.paper.side
    heading = text_block(sheet, lines.panels_heading, FAINT, x=left, width=sheet.paper.inner, most=1)
    top = nice_top(max(found.high for panel in lines.panels for _, found in panel.points))
    count = len(lines.panels)
    width = (sheet.paper.inner - (count - 1) * GUTTER) / count

    def draw(y: float) -> None:
        for place, panel in enumerate(lines.panels):
            x = left + place * (width + GUTTER)
            _panel(sheet, panel, x=x, y=y, width=width, height=height, top=top, labelled=place == 0)

    return stacked([heading, Block(height + PANEL_WORDS - 3, draw), _gap(sheet)])


def _panel(
    sheet: Sheet,
    panel: PanelLines,
    *,
    x: float,
    y: float,
    width: float,
    height: float,
    top: float,
    labelled: bool,
) -> None:
    sheet.text(x, y + 9, panel.name, STRONG)
    inner = 14.0
    draw_course(
        sheet,
        panel.points,
        x=x + inner,
        y=y + 16,
        width=width - inner - 4,
        height=height - 6,
        top=top,
        labelled=labelled,
    )
    sheet.lines(x + inner, y + height + 20, panel.ends, SMALL)


def doses_block(sheet: Sheet, lines: LotSheetLines) -> Block:
    """Grams for a given bitterness, below one another's like."""
    left, width = sheet.paper.side, sheet.paper.inner
    heading = text_block(sheet, lines.doses_heading, HEADING, x=left, width=width, most=1)
    each = (width - 2 * GUTTER) / 3
    columns = [
        _dose(sheet, dose, x=left + n * (each + GUTTER), width=each) for n, dose in enumerate(lines.doses)
    ]
    notes = [text_block(sheet, note, TINY, x=left, width=width, most=2) for note in lines.doses_notes]
    return stacked([heading, side_by_side(columns), *notes, _gap(sheet)])


def _dose(sheet: Sheet, dose: DoseLines, *, x: float, width: float) -> Block:
    return stacked(
        [
            text_block(sheet, dose.name, SMALL, x=x, width=width, most=1),
            text_block(sheet, dose.metric, STRONG, x=x, width=width, most=1),
            text_block(sheet, dose.customary, SMALL, x=x, width=width, most=1, gap=2),
        ]
    )


def statements_block(sheet: Sheet, lines: LotSheetLines, *, most: int) -> Block:
    """What a receiver asks and what is said to it, two beside two."""
    width = (sheet.paper.inner - GUTTER) / 2
    rows = []
    for pair in (lines.statements[:2], lines.statements[2:]):
        columns = []
        for place, (name, said) in enumerate(pair):
            x = sheet.paper.side + place * (width + GUTTER)
            columns.append(text_block(sheet, name, LABEL, x=x, width=66, most=1))
            columns.append(text_block(sheet, said, SMALL, x=x + 68, width=width - 68, most=most, gap=2))
        rows.append(side_by_side(columns))
    return stacked([*rows, _gap(sheet)])


def cautions_block(sheet: Sheet, lines: LotSheetLines, room: float) -> Block:
    """The cautions in two columns, in the larger of two letters that fits; what does not fit is counted."""
    if not lines.cautions:
        return Block(0.0, lambda y: None)
    for style in CAUTION_STYLES:
        said = _said(sheet, lines.cautions, style)
        columns = _balanced(said)
        if _height(columns, style) <= room:
            break
    shown = len(said)
    while _height(columns, style) > room and shown > 0:
        shown -= 1
        more = _said(sheet, (lines.more.format(count=len(said) - shown),), style)
        columns = _balanced([*said[:shown], *more])
    heading = text_block(
        sheet, lines.cautions_heading, HEADING, x=sheet.paper.side, width=sheet.paper.inner, most=1
    )

    def draw(y: float) -> None:
        heading.draw(y)
        for place, column in enumerate(columns):
            x, below = sheet.paper.side + place * (_caution_width(sheet) + GUTTER), y + heading.height
            for text in column:
                sheet.text(x, below + style.size + 1, "–", style)
                below = sheet.lines(x + 7, below + 1, text, style)

    return Block(_height(columns, style), draw)


def cautions_height(sheet: Sheet, lines: LotSheetLines) -> float:
    """The height of all cautions in the smaller letter."""
    style = CAUTION_STYLES[-1]
    return _height(_balanced(_said(sheet, lines.cautions, style)), style) if lines.cautions else 0.0


def _caution_width(sheet: Sheet) -> float:
    return (sheet.paper.inner - GUTTER) / 2


def _said(sheet: Sheet, texts: tuple[str, ...], style: Style) -> list[tuple[str, ...]]:
    return [sheet.wrapped(text, style, _caution_width(sheet) - 7, most=9) for text in texts]


def _height(columns: tuple[list[tuple[str, ...]], ...], style: Style) -> float:
    return HEADING.leading + max(_count(column) * style.leading + len(column) for column in columns)


def _count(column: list[tuple[str, ...]]) -> int:
    return sum(len(text) for text in column)


def _balanced(texts: list[tuple[str, ...]]) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Part texts into two columns, in order, as evenly as they go."""
    cuts = range(len(texts) + 1)
    at = min(cuts, key=lambda n: (max(_count(texts[:n]), _count(texts[n:])), -n))
    return texts[:at], texts[at:]


def _gap(sheet: Sheet, height: float = 9.0) -> Block:
    """Some room with a hairline in it."""
    return Block(height, lambda y: sheet.rule(sheet.paper.side, y + height / 2 + 1, sheet.paper.inner))
