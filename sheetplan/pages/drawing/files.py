"""Pictures of layouts as PNG, for files and for the workbook's cells, all in one drawing style."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sheetplan.model import Job, Layout, Plan
from sheetplan.pages.contents import kits_by_part, uses_of
from sheetplan.pages.drawing.layout_drawing import LayoutDrawings
from sheetplan.pages.drawing.lettering import CAP_SHARE, font_path, runs, text_width
from sheetplan.pages.drawing.marks import (
    Area,
    Drawing,
    Hold,
    Line,
    PartColours,
    Ring,
    Words,
    box,
    part_colours,
)
from sheetplan.pages.values import Picture
from sheetplan.pages.wording import decimals_of
from sheetplan.shapes import Box

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont


# Drawings as PNG: shapes by matplotlib's Agg renderer, words by Pillow; no figures, no global state.
#
# Agg fills curved shapes with soft edges and open holes; Pillow sets type ten times as fast.
# Words are painted after everything else, as the drawings have them on top anyway.

POINTS_PER_INCH = 72.0

COLOURS_KEPT = 64
"""Flat fills and their soft edges need few colours; the file is a quarter of the size."""

NEARLY_WHITE = 253
_LIGHTEST = 255
"""Merging colours averages them; paper must stay white, or the picture shows its box."""


def png(drawing: Drawing, dots_per_inch: float = 144.0) -> bytes:
    """The drawing as a PNG file.

    Parameters
    ----------
    drawing : Drawing
        What to paint.
    dots_per_inch : float
        144 shows every dot of a sharp screen and prints well.
    """
    from matplotlib.backends.backend_agg import RendererAgg
    from PIL import Image

    scale = dots_per_inch / POINTS_PER_INCH
    across, up = round(drawing.width * scale), round(drawing.height * scale)
    agg = RendererAgg(across, up, dots_per_inch)
    painter = _ShapePainter(agg, scale)
    painter.area(Area((box(-1.0, -1.0, drawing.width + 1.0, drawing.height + 1.0),), fill="#FFFFFF"))
    for mark in drawing.marks:
        if isinstance(mark, Area):
            painter.area(mark)
        elif isinstance(mark, Line):
            painter.line(mark)
    image = Image.frombuffer("RGBA", (across, up), bytes(agg.buffer_rgba()), "raw", "RGBA", 0, 1).convert(
        "RGB"
    )
    typesetter = _Typesetter(image, scale)
    for mark in drawing.marks:
        if isinstance(mark, Words):
            typesetter.words(mark)
    few = image.quantize(COLOURS_KEPT, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.putpalette([_LIGHTEST if value >= NEARLY_WHITE else value for value in few.getpalette() or []])
    held = io.BytesIO()
    few.save(held, "PNG", dpi=(dots_per_inch, dots_per_inch))
    return held.getvalue()


class _Typesetter:
    """Sets words on an image whose y runs down."""

    def __init__(self, image: Image.Image, scale: float) -> None:
        from PIL import ImageDraw

        self.image = image
        self.scale = scale
        self.draw = ImageDraw.Draw(image)
        self.turned: dict[tuple[str, float, bool], Image.Image] = {}

    def words(self, mark: Words) -> None:
        back = {Hold.START: 0.0, Hold.MIDDLE: 0.5, Hold.END: 1.0}[mark.hold]
        back *= text_width(mark.text, mark.size, bold=mark.bold)
        drop = mark.size * CAP_SHARE / 2.0
        if not mark.upward:
            at = (mark.x - back) * self.scale, self.image.height - (mark.y - drop) * self.scale
            _write(self.draw, at, mark.text, mark.ink, mark.size * self.scale, bold=mark.bold)
            return
        stamp = self._stamp(mark)
        # The stamp's baseline is its right side less the room for tails, its start is its lower end.
        left = (mark.x + drop) * self.scale - (stamp.width - _tails(mark.size * self.scale))
        bottom = self.image.height - (mark.y - back) * self.scale
        self.image.paste(mark.ink, (round(left), round(bottom) - stamp.height), stamp)

    def _stamp(self, mark: Words) -> Image.Image:
        """The words as a mask that reads upwards, tails to the right."""
        from PIL import Image, ImageDraw

        which = (mark.text, mark.size, mark.bold)
        if which not in self.turned:
            size = mark.size * self.scale
            wide = math.ceil(text_width(mark.text, size, bold=mark.bold)) + 1
            high = math.ceil(size) + _tails(size)
            level = Image.new("L", (wide, high), 0)
            at = (0, high - _tails(size))
            _write(ImageDraw.Draw(level), at, mark.text, 255, size, bold=mark.bold)
            self.turned[which] = level.transpose(Image.Transpose.ROTATE_90)
        return self.turned[which]


def _tails(size: float) -> int:
    """Dots kept under the baseline for type of a size in dots."""
    return math.ceil(0.3 * size)


def _write(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], said: str, ink: str | int, size: float, *, bold: bool
) -> None:
    """One line of text from a place on its baseline, each run in the face that holds it."""
    x, y = at
    for path, run in runs(said):
        draw.text((x, y), run, fill=ink, font=_font(path or font_path(bold=bold), size), anchor="ls")
        x += text_width(run, size, bold=bold)


@lru_cache(maxsize=64)
def _font(path: str, size: float) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(path, size, layout_engine=ImageFont.Layout.BASIC)


class _ShapePainter:
    """An Agg renderer with the scale from points to dots."""

    def __init__(self, agg: Any, scale: float) -> None:
        from matplotlib.transforms import IdentityTransform

        self.agg = agg
        self.scale = scale
        self.as_is = IdentityTransform()

    def area(self, mark: Area) -> None:
        from matplotlib.colors import to_rgba

        pen = self._pen(mark.edge, mark.edge_width, mark.dashes)
        fill = to_rgba(mark.fill) if mark.fill else None
        self.agg.draw_path(pen, self._path(mark.rings, closed=True), self.as_is, fill)

    def line(self, mark: Line) -> None:
        pen = self._pen(mark.ink, mark.width)
        self.agg.draw_path(pen, self._path((mark.points,), closed=False), self.as_is, None)

    def _pen(self, ink: str | None, width: float, dashes: tuple[float, ...] = ()) -> Any:
        """A pen; the renderer itself turns its points into dots, unlike those of paths and places."""
        pen = self.agg.new_gc()
        pen.set_foreground(ink or "#000000")
        pen.set_linewidth(width if ink else 0.0)
        pen.set_joinstyle("miter")
        pen.set_capstyle("butt")
        if dashes:
            pen.set_dashes(0.0, list(dashes))
        return pen

    def _path(self, rings: tuple[Ring, ...], *, closed: bool) -> Any:
        import numpy as np
        from matplotlib.path import Path

        points: list[tuple[float, float]] = []
        codes: list[int] = []
        for place, ring in enumerate(rings):
            # Agg fills by winding number: holes must run against their outline.
            ring = _running(ring, counter_clockwise=place == 0)
            points += ring
            codes += [int(Path.MOVETO)] + [int(Path.LINETO)] * (len(ring) - 1)
            if closed:
                points.append(ring[0])
                codes.append(int(Path.CLOSEPOLY))
        return Path(np.array(points) * self.scale, codes)


def _running(ring: Ring, *, counter_clockwise: bool) -> Ring:
    ends = ring[1:] + ring[:1]
    twice = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(ring, ends, strict=True))
    return ring if (twice > 0.0) == counter_clockwise else ring[::-1]


# Pictures of layouts as files and for the workbook's cells, all in one drawing style.

CELL_WIDTH = 450.0
CELL_HEIGHT = 360.0
"""Points. As wide as the page Layouts can print on one sheet of paper across, lower than the tallest row."""

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

    drawn = drawings.of(layout, CELL_WIDTH, CELL_HEIGHT, keep)
    drawing = decimals_of(drawings.job).drawing(drawn.drawing)
    return LayoutPicture(Picture(png(drawing), drawing.width, drawing.height, drawing.alt), drawn.keys)


def plan_colours(plan: Plan) -> PartColours:
    """The colours of a plan's parts by what they are cut for."""
    return part_colours(plan.job, kits_by_part(uses_of(plan)))


def picture_png(layout: Layout, job: Job, *, dots_per_inch: float = 200.0) -> bytes:
    """A layout's picture as a PNG file of its own."""
    return png(LayoutDrawings(job).of(layout, FILE_WIDTH, FILE_HEIGHT).drawing, dots_per_inch)
