"""Drawings on a page of a PDF, as vectors, at any place."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from sheetplan.pages.lettering import CAP_SHARE, NARROW, font_path, runs, text_width
from sheetplan.pages.marks import Area, Drawing, Hold, Line, Ring, Words

PLAIN_FACE = "Sheet Plain"
BOLD_FACE = "Sheet Bold"
NARROW_FACE = "Sheet Narrow"
NARROW_BOLD_FACE = "Sheet Narrow Bold"
NARROW_FACES = (NARROW_FACE, NARROW_BOLD_FACE)
"""The same letters set narrower; only the canvas of `paper.build_pdf` knows how."""

EVEN_ODD = 0
"""reportlab's name for the even-odd rule (`reportlab.pdfgen.canvas.FILL_EVEN_ODD`)."""


def use_faces() -> None:
    """Make the typeface known to reportlab; doing so again is harmless."""
    from reportlab.pdfbase import pdfmetrics

    known = pdfmetrics.getRegisteredFontNames()
    for face in (PLAIN_FACE, BOLD_FACE, *NARROW_FACES):
        bold = face in (BOLD_FACE, NARROW_BOLD_FACE)
        if face not in known:
            pdfmetrics.registerFont(_kind_of_font()(face, font_path(bold), narrow=face in NARROW_FACES))


@cache
def _kind_of_font() -> Any:
    """A kind of font that takes letters which it lacks from others, and may be reckoned narrower."""
    from reportlab.pdfbase.ttfonts import TTFont

    class SheetFont(TTFont):  # type: ignore[misc]  # reportlab has no types
        def __init__(self, name: str, file: str, narrow: bool) -> None:
            super().__init__(name, file)
            self._share = NARROW if narrow else 1.0
            if narrow:  # under a name of its own in the file
                self.face.name += b"-Narrow"

        def stringWidth(self, text: Any, size: float, encoding: str = "utf8") -> Any:  # reportlab's name
            said = text.decode(encoding) if isinstance(text, bytes) else text
            width = super().stringWidth
            return self._share * sum(
                (_stand_in_font(path).stringWidth if path else width)(run, size) for path, run in runs(said)
            )

        def splitString(self, text: Any, doc: Any, encoding: str = "utf-8") -> Any:  # reportlab's name
            said = text.decode(encoding) if isinstance(text, bytes) else text
            found: list[tuple[Any, Any]] = []
            for path, run in runs(said):
                other = _stand_in_font(path) if path else None
                if other is None:
                    found += super().splitString(run, doc)
                else:
                    found += [((other, subset), chunk) for subset, chunk in other.splitString(run, doc)]
            return found

        def getSubsetInternalName(self, subset: Any, doc: Any) -> Any:  # reportlab's name
            if isinstance(subset, tuple):
                other, own = subset
                return other.getSubsetInternalName(own, doc)
            return super().getSubsetInternalName(subset, doc)

    return SheetFont


@cache
def _stand_in_font(path: str) -> Any:
    from reportlab.pdfbase.ttfonts import TTFont

    return TTFont(f"Sheet {Path(path).stem}", path)


def paint(drawing: Drawing, canvas: Any, left: float, bottom: float) -> None:
    """Paint the drawing with its lower left corner at ``(left, bottom)`` points of the page."""
    canvas.saveState()
    canvas.translate(left, bottom)
    canvas.setLineJoin(0)
    for mark in drawing.marks:
        if isinstance(mark, Area):
            _area(mark, canvas)
        elif isinstance(mark, Line):
            _line(mark, canvas)
        else:
            words(mark, canvas)
    canvas.restoreState()


def words(mark: Words, canvas: Any) -> None:
    """One line of text."""
    canvas.saveState()
    canvas.translate(mark.x, mark.y)
    if mark.upward:
        canvas.rotate(90)
    canvas.setFillColor(_colour(mark.ink))
    canvas.setFont(BOLD_FACE if mark.bold else PLAIN_FACE, mark.size)
    back = {Hold.START: 0.0, Hold.MIDDLE: 0.5, Hold.END: 1.0}[mark.hold]
    canvas.drawString(
        -back * text_width(mark.text, mark.size, mark.bold), -mark.size * CAP_SHARE / 2.0, mark.text
    )
    canvas.restoreState()


def _area(mark: Area, canvas: Any) -> None:
    path = canvas.beginPath()
    for ring in mark.rings:
        _trace(path, ring)
        path.close()
    _pen(canvas, mark.edge, mark.edge_width, mark.dashes)
    if mark.fill:
        canvas.setFillColor(_colour(mark.fill))
    canvas.drawPath(
        path, stroke=int(mark.edge is not None), fill=int(mark.fill is not None), fillMode=EVEN_ODD
    )


def _line(mark: Line, canvas: Any) -> None:
    path = canvas.beginPath()
    _trace(path, mark.points)
    _pen(canvas, mark.ink, mark.width, mark.dashes)
    canvas.drawPath(path, stroke=1, fill=0)


def _trace(path: Any, points: Ring) -> None:
    path.moveTo(*points[0])
    # Curves are thousands of short lines: what reportlab asks of each number takes longer than all the rest.
    path._code += [f"{number_text(x)} {number_text(y)} l" for x, y in points[1:]]


def number_text(value: float) -> str:
    """A number as reportlab writes it (`reportlab.lib.rl_accel.fp_str`): seven digits at most, no idle zeros.

    >>> number_text(0.25), number_text(-12.5), number_text(612.0), number_text(1e-9)
    ('.25', '-12.5', '612', '0')
    """
    size = abs(value)
    if size <= NO_NUMBER:
        return "0"
    if size >= MOST_NUMBER:
        from reportlab.lib.rl_accel import fp_str

        return str(fp_str(value))
    digits = "%.6f" if size < 10.0 else "%.5f" if size < 100.0 else "%.4f" if size < 1000.0 else "%.3f"
    said = (digits % value).rstrip("0").rstrip(".")
    return said[1:] if said[0] == "0" and len(said) > 1 else said


NO_NUMBER, MOST_NUMBER = 1e-7, 9999.0
"""Points below which reportlab writes 0, and beyond which its own function is asked; no page is as large."""


def _pen(canvas: Any, ink: str | None, width: float, dashes: tuple[float, ...]) -> None:
    if ink is not None:
        canvas.setStrokeColor(_colour(ink))
        canvas.setLineWidth(width)
        canvas.setDash(list(dashes))


@cache
def _colour(hexadecimal: str) -> Any:
    """A colour made once: from text, reportlab would parse it anew for every mark."""
    from reportlab.lib.colors import HexColor

    return HexColor(hexadecimal)
