"""One layout as a drawing: sheet, parts with their numbers, old cuts, what will remain, scale bar."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import shapely

from sheetplan.model import Job, Layout
from sheetplan.pages import palette
from sheetplan.pages.layout_frame import bare_stand, frame_for, frame_marks
from sheetplan.pages.marks import Drawing, Mark
from sheetplan.pages.numbering import spot_for
from sheetplan.pages.part_numbers import number_parts, pad
from sheetplan.pages.stand import (
    PartShapes,
    Stand,
    datum_angle,
    kept_marks,
    kept_ring,
    part_marks,
    sheet_marks,
)
from sheetplan.pages.wording import counted, sheet_text, size_text
from sheetplan.shapes import Box
from sheetplan.trade.units import Units

KEEP_TEXT = 9.0


@dataclass(frozen=True, slots=True)
class LayoutDrawing:
    """A drawing with what a page needs to explain it."""

    drawing: Drawing
    keys: Mapping[str, str]
    """Key of each part whose name did not fit, by part."""
    points_per_mm: float
    bar_mm: float
    """Length that the scale bar stands for."""


def draw_layout(
    layout: Layout,
    job: Job,
    *,
    width: float,
    height: float,
    colours: palette.PartColours | None = None,
    keep: Box | None = None,
) -> LayoutDrawing:
    """Compose a layout within a width and height in points.

    Parameters
    ----------
    layout : Layout
        What to show.
    job : Job
        Where its parts and the book's units stand.
    width, height : float
        The most that the drawing may take, points.
    colours : PartColours, optional
        Fills by part; worked out from the job where not given.
    keep : Box, optional
        What will remain as a useful remnant, in the sheet's frame (mm); drawn hatched.
    """
    colours = colours or palette.part_colours(job)
    frame = frame_for(layout, job, colours, width, height)
    stand = frame.stand
    shapes = PartShapes(job, stand.scale)
    numbers = number_parts(layout, job, stand, shapes)
    marks = _plain_marks(layout, stand, shapes, colours, keep)
    if keep is not None:
        marks += _kept_words(keep, stand, job.settings.units)
    marks += [*numbers.marks, *frame_marks(frame, job)]
    drawing = Drawing(stand.width, stand.height, tuple(marks), alt_text(layout, job))
    return LayoutDrawing(drawing, numbers.keys, stand.scale, frame.bar_mm)


def draw_small(
    layout: Layout, job: Job, *, width: float, height: float, colours: palette.PartColours, keep: Box | None
) -> Drawing:
    """A layout without words, to be known at a glance."""
    stand = bare_stand(layout, job, width, height)
    marks = _plain_marks(layout, stand, PartShapes(job, stand.scale), colours, keep)
    return Drawing(stand.width, stand.height, (*marks, datum_angle(stand)), alt_text(layout, job))


def alt_text(layout: Layout, job: Job) -> str:
    """What a drawing of a layout shows, in one sentence."""
    kinds = len({placement.part for placement in layout.placements})
    return (
        f"Layout {layout.tag} on {sheet_text(layout.sheet, job.settings.units)}: "
        f"{counted(len(layout.placements), 'part')} of {counted(kinds, 'kind')}"
    )


def _plain_marks(
    layout: Layout, stand: Stand, shapes: PartShapes, colours: palette.PartColours, keep: Box | None
) -> list[Mark]:
    marks = [*sheet_marks(layout, stand)]
    if keep is not None:
        marks += kept_marks(keep, stand)
    return [*marks, *part_marks(layout, stand, shapes, colours)]


def _kept_words(keep: Box, stand: Stand, units: Units) -> Iterator[Mark]:
    """The size of what goes back to the rack, in the middle of its hatch."""
    said = f"keep {size_text(keep.length, keep.width, units)}"
    spot = spot_for(said, shapely.Polygon(kept_ring(keep, stand)), largest=KEEP_TEXT)
    if spot:
        for words in spot.words(0.0, 0.0, palette.INK):
            yield from (pad(words, air=3.0), words)
