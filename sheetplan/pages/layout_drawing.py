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


class LayoutDrawings:
    """Draws the layouts of a job; a part that lies on many of them is flattened and numbered once a scale.

    Parameters
    ----------
    job : Job
        Where the parts and the book's units stand.
    colours : PartColours, optional
        Fills by part; worked out from the job where not given.
    """

    def __init__(self, job: Job, colours: palette.PartColours | None = None) -> None:
        self.job, self.colours = job, colours or palette.part_colours(job)
        self._shapes: dict[float, PartShapes] = {}

    def of(self, layout: Layout, width: float, height: float, keep: Box | None = None) -> LayoutDrawing:
        """Compose a layout within a width and height in points.

        Parameters
        ----------
        layout : Layout
            What to show.
        width, height : float
            The most that the drawing may take, points.
        keep : Box, optional
            What will remain as a useful remnant, in the sheet's frame (mm); drawn hatched.
        """
        job = self.job
        frame = frame_for(layout, job, self.colours, width, height)
        stand = frame.stand
        shapes = self._shapes_at(stand.scale)
        numbers = number_parts(layout, job, stand, shapes, self.colours)
        marks = self._plain_marks(layout, stand, keep)
        if keep is not None:
            marks += _kept_words(keep, stand, job.settings.units)
        marks += [*numbers.marks, *frame_marks(frame, job)]
        drawing = Drawing(stand.width, stand.height, tuple(marks), alt_text(layout, job))
        return LayoutDrawing(drawing, numbers.keys, stand.scale, frame.bar_mm)

    def small(self, layout: Layout, width: float, height: float, keep: Box | None = None) -> Drawing:
        """A layout without words, to be known at a glance."""
        stand = bare_stand(layout, self.job, width, height)
        marks = self._plain_marks(layout, stand, keep)
        return Drawing(stand.width, stand.height, (*marks, datum_angle(stand)), alt_text(layout, self.job))

    def _plain_marks(self, layout: Layout, stand: Stand, keep: Box | None) -> list[Mark]:
        marks = [*sheet_marks(layout, stand)]
        if keep is not None:
            marks += kept_marks(keep, stand)
        return [*marks, *part_marks(layout, stand, self._shapes_at(stand.scale), self.colours)]

    def _shapes_at(self, scale: float) -> PartShapes:
        if scale not in self._shapes:
            self._shapes[scale] = PartShapes(self.job, scale)
        return self._shapes[scale]


def draw_layout(
    layout: Layout, job: Job, *, width: float, height: float, colours: palette.PartColours | None = None,
    keep: Box | None = None,
) -> LayoutDrawing:  # fmt: skip
    """A layout drawn alone: see `LayoutDrawings.of`."""
    return LayoutDrawings(job, colours).of(layout, width, height, keep)


def alt_text(layout: Layout, job: Job) -> str:
    """What a drawing of a layout shows, in one sentence."""
    kinds = len({placement.part for placement in layout.placements})
    return (
        f"Layout {layout.tag} on {sheet_text(layout.sheet, job.settings.units)}: "
        f"{counted(len(layout.placements), 'piece')} of {counted(kinds, 'part', 'different parts')}"
    )


def _kept_words(keep: Box, stand: Stand, units: Units) -> Iterator[Mark]:
    """The size of what goes back to the rack, in the middle of its hatch."""
    said = f"keep {size_text(keep.length, keep.width, units)}"
    spot = spot_for(said, shapely.Polygon(kept_ring(keep, stand)), largest=KEEP_TEXT)
    if spot:
        for words in spot.words(0.0, 0.0, palette.INK):
            yield from (pad(words, air=3.0), words)
