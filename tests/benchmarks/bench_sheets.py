"""The lot sheet against a bare page with the same marks: every drawing call recorded, and replayed on a new canvas."""

import io
import resource
from pathlib import Path
from typing import Any

from reportlab.pdfgen import canvas

from service.sheets import paper
from service.sheets.archive import stream_archive
from service.sheets.fonts import REGULAR
from service.sheets.lot_sheet import render_lot_sheet
from service.sheets.marks import qr_runs
from tests.benchmarks.measure import Result, compare
from tests.sheets.made import analysed, crowded, facts_of

# What the sheets call on a canvas; paths are recorded with what was put into them.
CALLS = (
    "setFont",
    "setFillColorRGB",
    "setStrokeColorRGB",
    "setLineWidth",
    "drawString",
    "line",
    "rect",
    "circle",
    "bookmarkHorizontal",
    "addOutlineEntry",
    "setTitle",
    "setAuthor",
    "setSubject",
    "setKeywords",
    "setCreator",
    "setViewerPreference",
    "showPage",
    "save",
)


def run() -> list[Result]:
    """Measure a common sheet and the fullest one; each from its facts, which also counts what the facts cost."""
    common, full = analysed(), crowded()
    return [
        _against_bare("a lot sheet, facts and paper", lambda: render_lot_sheet(facts_of(common)), 1.5),
        _against_bare("the same from ready facts", _ready(common), 1.5),
        _against_bare("the fullest lot sheet, two pages, ready facts", _ready(full), 1.5),
        _first_of_a_lot(common),
        _many_held(),
    ]


def _many_held(count: int = 1000) -> Result:
    """What the process holds after so many sheets as one download, beside after a tenth; every lot has its own code."""
    sheets = (
        (f"{n}.pdf", render_lot_sheet(facts_of(analysed(code=f"ALDER-2026-{n:04d}")))) for n in range(count)
    )
    held = [_resident_mb() for _piece in stream_archive(sheets)]
    early, late = held[count // 10], held[-1]
    detail = f"{late:.0f} MB over {early:.0f} MB"
    return Result("1,000 sheets as one download: memory over 100", late / early, 1.1, detail)


def _resident_mb() -> float:
    """The memory that this process holds now."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * resource.getpagesize() / 1e6


def _ready(lot: Any) -> Any:
    facts = facts_of(lot)
    return lambda: render_lot_sheet(facts)


def _first_of_a_lot(lot: Any) -> Result:
    """A lot whose QR code was not drawn before, beside a bare page that gets its code for nothing."""

    def ours() -> bytes:
        qr_runs.cache_clear()
        return render_lot_sheet(facts_of(lot))

    return _against_bare("a lot's first sheet, its QR code worked out", ours, 3.0)


def _against_bare(name: str, ours: Any, gate: float) -> Result:
    calls = record(ours)
    size = next(arguments["pagesize"] for call, _, arguments in calls if call == "canvas")
    bare = replay(calls, size)
    # The floor must draw what we draw, or the ratio means nothing.
    if len(bare) != len(ours()):
        raise RuntimeError(f"the bare page is another page: {len(bare)} bytes, ours {len(ours())}")
    return compare(name, ours, lambda: replay(calls, size), gate, rounds=25)


def record(work: Any) -> list[tuple[str, tuple[Any, ...], dict[str, Any]]]:
    """Let a sheet be drawn, and keep every call that it makes on its canvas, in order."""
    calls: list[tuple[str, tuple[Any, ...], dict[str, Any]]] = []

    class Recorder:
        """A canvas that writes down what it is asked for, and does it."""

        def __init__(self, file: io.BytesIO, **told: Any) -> None:
            calls.append(("canvas", (), told))
            self._real = canvas.Canvas(file, **told)

        def __getattr__(self, name: str) -> Any:
            real = getattr(self._real, name)
            if name not in CALLS:
                return real

            def noted(*given: Any, **named: Any) -> Any:
                calls.append((name, given, named))
                return real(*given, **named)

            return noted

        def beginPath(self) -> Any:  # noqa: N802 -- the canvas's own name
            return PathRecorder(self._real.beginPath())

        def drawPath(self, path: Any, **named: Any) -> None:  # noqa: N802 -- the canvas's own name
            calls.append(("path", tuple(path.strokes), named))
            self._real.drawPath(path.real, **named)

    class PathRecorder:
        """A path that writes down its strokes."""

        def __init__(self, real: Any) -> None:
            self.real, self.strokes = real, []

        def __getattr__(self, name: str) -> Any:
            def noted(*given: Any) -> Any:
                self.strokes.append((name, given))
                return getattr(self.real, name)(*given)

            return noted

    kept, paper.canvas = paper.canvas, type("module", (), {"Canvas": Recorder})
    try:
        work()
    finally:
        paper.canvas = kept
    return calls


def replay(calls: list[tuple[str, tuple[Any, ...], dict[str, Any]]], size: tuple[float, float]) -> bytes:
    """Draw the recorded calls on a bare canvas: no layout, no words, no facts."""
    file = io.BytesIO()
    bare = canvas.Canvas(
        file, pagesize=size, invariant=1, pageCompression=1, initialFontName=REGULAR, lang="en"
    )
    for call, given, named in calls:
        if call == "path":
            path = bare.beginPath()
            for stroke, at in given:
                getattr(path, stroke)(*at)
            bare.drawPath(path, **named)
        elif call != "canvas":
            getattr(bare, call)(*given, **named)
    return file.getvalue()
