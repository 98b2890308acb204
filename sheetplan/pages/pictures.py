"""Pictures of layouts as files and for the workbook's cells, all in one drawing style."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.model import Job, Layout, Plan
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.cut_for import kits_by_part, uses_of
from sheetplan.pages.decimals import decimals_of
from sheetplan.pages.layout_drawing import LayoutDrawings, draw_layout
from sheetplan.pages.palette import PartColours, part_colours
from sheetplan.pages.values import Picture
from sheetplan.planning.progress import Progress, Report, quiet
from sheetplan.shapes import Box

CELL_WIDTH = 450.0
CELL_HEIGHT = 360.0
"""Points. As wide as the page Layouts can print on one sheet of paper across, lower than the tallest row."""

TOLD_EVERY = 10
"""Pictures between two signs of life: less than a second."""

FILE_WIDTH = 720.0
FILE_HEIGHT = 540.0
"""Points: a picture on its own fills a sheet of paper laid lengthwise."""


@dataclass(frozen=True, slots=True)
class LayoutPicture:
    """A picture and the keys that stand in it for names that did not fit, by part."""

    picture: Picture
    keys: Mapping[str, str]


def layout_picture(layout: Layout, drawings: LayoutDrawings, keep: Box | None = None) -> LayoutPicture:
    """The picture of a layout for its cell on the page Layouts."""
    from sheetplan.pages.paint_png import png

    drawn = drawings.of(layout, CELL_WIDTH, CELL_HEIGHT, keep)
    drawing = decimals_of(drawings.job).drawing(drawn.drawing)
    return LayoutPicture(Picture(png(drawing), drawing.width, drawing.height, drawing.alt), drawn.keys)


def layout_pictures(plan: Plan, figures: PlanFigures, report: Report = quiet) -> dict[str, LayoutPicture]:
    """Pictures of all layouts by tag, with the remnants that they leave; ``report`` hears of every tenth."""
    drawings = LayoutDrawings(plan.job, plan_colours(plan))
    kept = {tag: sheet.kept for group in figures.groups for tag, sheet in group.layouts.items()}
    layouts = [layout for group_plan in plan.groups for layout in group_plan.layouts]
    shown = {}
    for number, layout in enumerate(layouts):
        if number % TOLD_EVERY == 0:
            report(Progress("", 1.0, f"Drawing pictures, {number} of {len(layouts)}"))
        shown[layout.tag] = layout_picture(layout, drawings, kept[layout.tag])
    return shown


def plan_colours(plan: Plan) -> PartColours:
    """The colours of a plan's parts by what they are cut for."""
    return part_colours(plan.job, kits_by_part(uses_of(plan)))


def picture_png(layout: Layout, job: Job, *, keep: Box | None = None, dots_per_inch: float = 200.0) -> bytes:
    """A layout's picture as a PNG file of its own."""
    from sheetplan.pages.paint_png import png

    drawn = draw_layout(layout, job, width=FILE_WIDTH, height=FILE_HEIGHT, keep=keep)
    return png(drawn.drawing, dots_per_inch)


def picture_svg(layout: Layout, job: Job, *, keep: Box | None = None) -> str:
    """A layout's picture as an SVG file of its own."""
    from sheetplan.pages.paint_svg import svg

    return svg(draw_layout(layout, job, width=FILE_WIDTH, height=FILE_HEIGHT, keep=keep).drawing)
