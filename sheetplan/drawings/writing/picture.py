"""A picture of a drawing as read: parts with their holes and marks, sizes, and where the trouble is."""

from __future__ import annotations

import io
from typing import Any

from sheetplan.drawings.reading.findings import Says, plain
from sheetplan.drawings.reading.report import DrawingReport, DrawnPart, verdict
from sheetplan.drawings.writing.scene import letter_room
from sheetplan.model.outline import Outline
from sheetplan.shapes import box, flatten, flatten_stroke, move, oriented, size
from sheetplan.trade.units import Units

METAL, EDGE, MARK, TROUBLE, DOUBT = "#D7E5E2", "#1E2A32", "#2F6F4F", "#B3261E", "#9A6700"
"""Dark lines on light metal; trouble is also told apart by its sign, not by colour alone."""

SIGNS = {
    Says.WRONG: ("x", TROUBLE),
    Says.ASKED: ("^", DOUBT),
    Says.REPAIRED: ("o", MARK),
    Says.TOLD: ("s", EDGE),
}

FLAT_SHARE = 5e-4
"""How finely arcs are drawn, over the size of the picture."""

INCHES_WIDE = 9.0

MOST_SIZES = 6
"""With more parts than this their sizes would run into each other; the report's text has them."""


def report_picture(report: DrawingReport, units: Units) -> bytes:
    """The picture as PNG; a drawing in which nothing was found gives an empty sheet with its name."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(INCHES_WIDE, _height(report)), layout="constrained")
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    for part in report.parts:
        _draw_part(axes, part, report, units)
    for stray in report.strays:
        points = flatten_stroke(stray, 0.1) / units.length_mm
        axes.plot(points[:, 0], points[:, 1], color=TROUBLE, linewidth=1.6, linestyle=(0, (4, 2)))
    _signs(axes, report, report.unit_mm / units.length_mm)
    axes.set_aspect("equal", adjustable="datalim")
    axes.margins(0.08)
    axes.set_xlabel(units.value)
    axes.tick_params(labelsize=7)
    axes.grid(color="#E3E8E8", linewidth=0.5)
    axes.set_axisbelow(True)
    axes.set_title(f"{report.name}: {verdict(report)}", fontsize=10)
    png = io.BytesIO()
    canvas.print_png(png, metadata={"Software": None})
    return png.getvalue()


def _height(report: DrawingReport) -> float:
    """Inches high, after the shape of what is shown."""
    boxes = [box(_placed(part, report).outer) for part in report.parts]
    if not boxes:
        return INCHES_WIDE * 0.6
    length = max(b.right for b in boxes) - min(b.left for b in boxes)
    width = max(b.top for b in boxes) - min(b.bottom for b in boxes)
    return min(12.0, max(3.0, INCHES_WIDE * width / max(length, 1e-9) + 0.8))


def _placed(part: DrawnPart, report: DrawingReport) -> Outline:
    """The part's outline where it stands in the drawing, mm, y upwards."""
    x, y = part.corner
    return move(part.outline, x * report.unit_mm, (-y if report.y_down else y) * report.unit_mm)


def _draw_part(axes: Any, part: DrawnPart, report: DrawingReport, units: Units) -> None:
    outline, unit = _placed(part, report), units.length_mm
    fine = max(size(outline)) * FLAT_SHARE
    axes.add_patch(outline_patch(outline, fine, unit))
    for mark in outline.marks:
        points = flatten_stroke(mark, fine) / unit
        axes.plot(points[:, 0], points[:, 1], color=MARK, linewidth=1.2)
    _name_part(axes, part, outline, report, unit)


def _name_part(axes: Any, part: DrawnPart, outline: Outline, report: DrawingReport, unit: float) -> None:
    """Its number on the metal where there are several, its size above it where there is room."""
    around = box(outline)
    if len(report.parts) > 1:
        name = f"#{part.number}"
        room = letter_room(outline, name)
        at = (room.x / unit, room.y / unit)
        axes.text(*at, name, fontsize=8, color=EDGE, ha="center", va="center", clip_on=True)
    if len(report.parts) <= MOST_SIZES:
        length, width = (plain(side / unit) for side in size(outline))
        axes.annotate(
            f"{length} x {width}", (around.left / unit, around.top / unit),
            xytext=(0, 3), textcoords="offset points", fontsize=7, color=EDGE,
        )  # fmt: skip


def outline_patch(outline: Outline, fine: float, unit: float) -> Any:
    """The metal as one filled path with its holes open."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    loops = [oriented(outline.outer), *(oriented(hole, counter_clockwise=False) for hole in outline.holes)]
    rings = [flatten(loop, fine) / unit for loop in loops]
    corners = [point for ring in rings for point in (*ring, ring[0])]
    steps = [
        step for ring in rings for step in (Path.MOVETO, *[Path.LINETO] * (len(ring) - 1), Path.CLOSEPOLY)
    ]
    return PathPatch(Path(corners, steps), facecolor=METAL, edgecolor=EDGE, linewidth=1.0)


def _signs(axes: Any, report: DrawingReport, scale: float) -> None:
    """A sign at every place that a finding names, and what the signs mean."""
    for says, (sign, colour) in SIGNS.items():
        places = [finding.at for finding in report.of_weight(says) if finding.at]
        if places:
            xs = [x * scale for x, _ in places]
            ys = [(-y if report.y_down else y) * scale for _, y in places]
            axes.plot(
                xs, ys, sign, color=colour, markersize=8, markerfacecolor="none", label=says.value, zorder=5
            )
    if axes.get_legend_handles_labels()[0]:
        axes.legend(fontsize=7, loc="best")
