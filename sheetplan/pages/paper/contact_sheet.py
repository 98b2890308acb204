"""A contact sheet: the parts found in many drawings, each with its picture, name, size and flaws."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reportlab.pdfgen.canvas import Canvas

from sheetplan.drawings.known import outline_words
from sheetplan.model import Outline
from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.lettering import shorten, text_width
from sheetplan.pages.drawing.marks import Area, Drawing, Hold, Line, Mark, Point, Ring, Words
from sheetplan.pages.paper.paper import MARGIN, SMALL, Paper, paint, paper_for, use_faces
from sheetplan.shapes import box, flatten, flatten_stroke, size
from sheetplan.trade.units import Units

MADE_BY = "sheetplan contact sheet"
"""Stands in the file as its creator, by which it is known again."""

EARLIER_MAKER = b"/Creator (sheetplan)"

ACROSS, DOWN = 4, 5

HEAD = 26.0
"""Points above the pictures for the page's title."""

GAP = 10.0
"""Points between two pictures, and between a picture and its words."""

NAME_SIZE = 8.0

LEADING = 1.25
"""Height of a line over the size of its type."""

LINES = 7
"""Lines of words under a picture: name, size, metal, drawing, and three or more of what is to be seen to."""

KEPT = 8
"""Letters at the end of a name that is cut short."""

PLACES = {Units.MM: 1, Units.INCH: 3}
"""Decimals of sizes: enough to know a part by."""

FINE_POINTS = 0.05
"""How far the lines of a picture may stray from an arc, points."""

METAL, MARK, ASKED, WRONG = "#D7E5E2", "#2F6F4F", "#9A6700", "#B3261E"
"""Dark lines on light metal; what is wrong is also crossed out and said."""


@dataclass(frozen=True, slots=True)
class Shown:
    """One picture: an outline, its part's name, metal and count in words, and what its drawing is called.

    ``asked`` is what is to be confirmed, ``wrong`` why it cannot be cut; one or both are empty.
    """

    name: str
    outline: Outline
    metal: str
    drawing: str
    asked: str = ""
    wrong: str = ""


def contact_sheet(
    title: str, shown: Sequence[Shown], unread: Sequence[tuple[str, str]], units: Units
) -> bytes:
    """The sheet as PDF; the same content gives the same bytes.

    Parameters
    ----------
    title
        What the drawings are those of.
    shown
        The pictures in order.
    unread
        Drawings of which nothing can be shown, each with why; listed after the pictures.
    units
        Unit of the sizes; it also chooses the paper.
    """
    use_faces()
    paper = paper_for(units)
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=(paper.width, paper.height), invariant=True, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator(MADE_BY)
    pages = [*_picture_pages(shown, paper, units), *_listed_pages(unread, paper)]
    for number, marks in enumerate(pages or [[]], start=1):
        top = paper.height - MARGIN - NAME_SIZE / 2.0
        of = f"page {number} of {max(len(pages), 1)}"
        head = [
            Words(shorten(title, NAME_SIZE, paper.width - 4 * MARGIN, bold=True), MARGIN, top, NAME_SIZE,
                  palette.INK, Hold.START, bold=True),
            Words(of, paper.width - MARGIN, top, SMALL, palette.QUIET_INK, Hold.END),
        ]  # fmt: skip
        paint(Drawing(paper.width, paper.height, (*head, *marks), title), canvas, 0.0, 0.0)
        canvas.showPage()
    canvas.save()
    return held.getvalue()


def is_contact_sheet(data: bytes) -> bool:
    """Whether a PDF is one of ours, which may be replaced."""
    return f"/Creator ({MADE_BY})".encode() in data or EARLIER_MAKER in data


def _picture_pages(shown: Sequence[Shown], paper: Paper, units: Units) -> Iterator[list[Mark]]:
    wide = (paper.width - 2.0 * MARGIN + GAP) / ACROSS
    high = (paper.height - 2.0 * MARGIN - HEAD) / DOWN
    for start in range(0, len(shown), ACROSS * DOWN):
        marks: list[Mark] = []
        for place, one in enumerate(shown[start : start + ACROSS * DOWN]):
            row, column = divmod(place, ACROSS)
            left, top = MARGIN + column * wide, paper.height - MARGIN - HEAD - row * high
            below = NAME_SIZE * LEADING + (LINES - 1) * SMALL * LEADING + GAP
            marks += _picture(one, left, top - high + below, wide - GAP, high - below - GAP)
            marks += _words(one, left, top - high + below - GAP / 2.0, wide - GAP, units)
        yield marks


def _picture(one: Shown, left: float, bottom: float, wide: float, high: float) -> Iterator[Mark]:
    """The outline as large as its place allows, in the middle of it."""
    length, width = size(one.outline)
    scale = min(wide / max(length, 1e-9), high / max(width, 1e-9))
    around = box(one.outline)
    x0 = left + (wide - scale * length) / 2.0 - scale * around.left
    y0 = bottom + (high - scale * width) / 2.0 - scale * around.bottom
    fine = FINE_POINTS / scale

    def placed(points: Sequence[Sequence[float]]) -> Ring:
        return tuple((x0 + scale * x, y0 + scale * y) for x, y in points)

    rings = tuple(
        placed(flatten(loop, fine).tolist()) for loop in (one.outline.outer, *one.outline.holes)
    )
    yield Area(rings, METAL, palette.EDGE)
    for mark in one.outline.marks:
        yield Line(placed(flatten_stroke(mark, fine).tolist()), MARK)
    if one.wrong:
        corners: tuple[Point, ...] = placed([(around.left, around.bottom), (around.right, around.top)])
        yield Line(corners, WRONG, 1.0)


def _words(one: Shown, left: float, top: float, wide: float, units: Units) -> Iterator[Mark]:
    """Name, size, metal and count, drawing, and what is wrong or to be confirmed, under the picture."""
    ink = palette.INK
    name = _by_both_ends(one.name, wide) or _from_its_end(one.drawing, wide, NAME_SIZE, bold=True)
    lines = [(name, ink), (outline_words(one.outline, units, PLACES[units]), ink)]
    lines += [(one.metal, ink)] if one.metal else []
    lines += [(_from_its_end(one.drawing, wide, SMALL), palette.QUIET_INK)] if one.name else []
    said, colour = (f"cannot be cut: {one.wrong}", WRONG) if one.wrong else (one.asked, ASKED)
    lines += [(line, colour) for line in _wrapped(said, wide, LINES - len(lines))]
    y = top
    for row, (text, of) in enumerate(lines):
        bold = row == 0
        tall = NAME_SIZE if bold else SMALL
        y -= tall * LEADING
        yield Words(shorten(text, tall, wide, bold=bold), left, y, tall, of, Hold.START, bold=bold)


def _by_both_ends(name: str, room: float) -> str:
    """A part's name cut short in its middle: outlines of one file differ in their numbers alone."""
    start, end = name, name[-KEPT:]
    while len(start) > KEPT and text_width(f"{start}…{end}", NAME_SIZE, bold=True) > room:
        start = start[:-1]
    return name if text_width(name, NAME_SIZE, bold=True) <= room else f"{start}…{end}"


def _from_its_end(text: str, room: float, tall: float, *, bold: bool = False) -> str:
    """A name cut short at its beginning: its end tells more."""
    kept = text
    while kept and text_width(f"…{kept}", tall, bold=bold) > room:
        kept = kept[1:]
    return text if text_width(text, tall, bold=bold) <= room else f"…{kept}"


def _wrapped(text: str, room: float, most: int) -> list[str]:
    """A sentence in so many lines at most; the last is cut short where that is too few."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and (text_width(longer, SMALL) <= room or len(lines) == most):
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _listed_pages(unread: Sequence[tuple[str, str]], paper: Paper) -> Iterator[list[Mark]]:
    """Drawings that cannot be shown, with why."""
    wide = paper.width - 2.0 * MARGIN
    lines = [("Drawings that cannot be used", palette.INK)] if unread else []
    for name, why in unread:
        lines.append((shorten(name, SMALL, wide), palette.INK))
        lines += [(f"    {line}", WRONG) for line in _wrapped(why, wide - 3 * SMALL, 2)]
    line = SMALL * 1.5
    on_page = int((paper.height - 2.0 * MARGIN - HEAD) / line)
    for start in range(0, len(lines), on_page):
        top = paper.height - MARGIN - HEAD
        yield [
            Words(shorten(text, SMALL, wide), MARGIN, top - (row + 1) * line, SMALL, ink, Hold.START)
            for row, (text, ink) in enumerate(lines[start : start + on_page])
        ]
