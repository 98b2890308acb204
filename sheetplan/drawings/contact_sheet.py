"""A contact sheet: every outline of many drawings with its name, size and flaws, some to a page."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import Any

from sheetplan.drawings.known import outline_words
from sheetplan.drawings.picture import MARK, TROUBLE, outline_patch
from sheetplan.drawings.report import DrawingReport, DrawnPart
from sheetplan.shapes import box, flatten_stroke, size
from sheetplan.trade.units import Units

ACROSS, DOWN = 4, 5

PAPER = (8.27, 11.69)
"""A4 upright, inches; it prints on Letter as well."""

FLAT_SHARE = 2e-3

WIDEST = 27
"""Letters of a line under a picture."""


def contact_sheet(
    drawings: Sequence[tuple[str, DrawingReport]], names: Mapping[tuple[str, int], str], units: Units
) -> bytes:
    """The sheet as PDF.

    Parameters
    ----------
    drawings
        Drawings by what the book calls them.
    names
        Part names by drawing and number, as far as outlines have one.
    units
        Unit of the sizes.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_pdf import PdfPages
    from matplotlib.figure import Figure

    shown = [(cell, report, part) for cell, report in drawings for part in report.parts]
    pdf = io.BytesIO()
    with PdfPages(pdf, metadata={"CreationDate": None, "Producer": None, "Creator": "sheetplan"}) as pages:
        for start in range(0, max(len(shown), 1), ACROSS * DOWN):
            figure = Figure(figsize=PAPER)
            FigureCanvasAgg(figure)
            some = shown[start : start + ACROSS * DOWN]
            last = min(start + ACROSS * DOWN, len(shown))
            title = f"Drawings: outlines {start + 1} to {last} of {len(shown)}" if shown else "No outlines"
            figure.text(0.06, 0.965, title, fontsize=11)
            for place, (cell, report, part) in enumerate(some):
                axes = figure.add_axes(_place(place))
                whole = report.readable and not part.wrong
                _picture(axes, part, whole=whole)
                which = f"{cell}#{part.number}" if len(report.parts) > 1 else cell
                _words(axes, part, which, names.get((cell, part.number), ""), units)
            pages.savefig(figure)
    return pdf.getvalue()


def _place(place: int) -> tuple[float, float, float, float]:
    """Left, bottom, width and height of a picture on the page, as shares."""
    wide, high = 0.90 / ACROSS, 0.90 / DOWN
    row, column = divmod(place, ACROSS)
    return 0.06 + column * wide, 0.95 - (row + 1) * high + 0.05, wide * 0.88, high * 0.60


def _picture(axes: Any, part: DrawnPart, *, whole: bool) -> None:
    fine = max(size(part.outline)) * FLAT_SHARE
    axes.add_patch(outline_patch(part.outline, fine, 1.0))
    for mark in part.outline.marks:
        points = flatten_stroke(mark, fine)
        axes.plot(points[:, 0], points[:, 1], color=MARK, linewidth=0.8)
    around = box(part.outline)
    if not whole:
        axes.plot([around.left, around.right], [around.bottom, around.top], color=TROUBLE, linewidth=1.0)
    axes.set_aspect("equal")
    axes.autoscale_view()
    axes.set_axis_off()


def _words(axes: Any, part: DrawnPart, which: str, name: str, units: Units) -> None:
    """Name, size, drawing and the first flaw, under the picture."""
    lines = [name or which, outline_words(part.outline, units)]
    lines += [which] if name else []
    wrong = [f"cannot be cut: {part.wrong[0].what}"] if part.wrong else []
    for row, line in enumerate((*lines, *wrong)):
        # A name's end tells more than its beginning; of a sentence it is the other way round.
        cut = f"{line[: WIDEST - 3]}..." if line in wrong else f"...{line[3 - WIDEST :]}"
        short = cut if len(line) > WIDEST and row != 1 else line
        colour = TROUBLE if line in wrong else "black"
        axes.text(
            0.0, -0.06 - 0.13 * row, short, transform=axes.transAxes, fontsize=6.5, color=colour, va="top"
        )
