"""Drawings as PNG, painted by matplotlib's Agg renderer without its figures or its global state."""

from __future__ import annotations

import io
from typing import Any

from sheetplan.pages.lettering import CAP_SHARE, font_path, text_width
from sheetplan.pages.marks import Area, Drawing, Hold, Line, Ring, Words

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
    painter = _Painter(agg, scale, up)
    painter.area(Area((((-1.0, -1.0), (1e4, -1.0), (1e4, 1e4), (-1.0, 1e4)),), fill="#FFFFFF"))
    for mark in drawing.marks:
        if isinstance(mark, Area):
            painter.area(mark)
        elif isinstance(mark, Line):
            painter.line(mark)
        else:
            painter.words(mark)
    image = Image.frombuffer("RGBA", (across, up), bytes(agg.buffer_rgba()), "raw", "RGBA", 0, 1)
    few = image.convert("RGB").quantize(COLOURS_KEPT, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.putpalette([_LIGHTEST if value >= NEARLY_WHITE else value for value in few.getpalette() or []])
    held = io.BytesIO()
    few.save(held, "PNG", dpi=(dots_per_inch, dots_per_inch))
    return held.getvalue()


class _Painter:
    """An Agg renderer with the scale from points to dots."""

    def __init__(self, agg: Any, scale: float, height: int) -> None:
        from matplotlib.font_manager import FontProperties
        from matplotlib.transforms import IdentityTransform

        self.agg = agg
        self.scale = scale
        self.height = height
        self.as_is = IdentityTransform()
        self.fonts = {bold: FontProperties(fname=font_path(bold)) for bold in (False, True)}

    def area(self, mark: Area) -> None:
        from matplotlib.colors import to_rgba

        pen = self._pen(mark.edge, mark.edge_width, mark.dashes)
        fill = to_rgba(mark.fill) if mark.fill else None
        self.agg.draw_path(pen, self._path(mark.rings, closed=True), self.as_is, fill)

    def line(self, mark: Line) -> None:
        pen = self._pen(mark.ink, mark.width, mark.dashes)
        self.agg.draw_path(pen, self._path((mark.points,), closed=False), self.as_is, None)

    def words(self, mark: Words) -> None:
        font = self.fonts[mark.bold].copy()
        font.set_size(mark.size)
        back = {Hold.START: 0.0, Hold.MIDDLE: 0.5, Hold.END: 1.0}[mark.hold]
        back *= text_width(mark.text, mark.size, mark.bold)
        drop = mark.size * CAP_SHARE / 2.0
        x = mark.x + drop if mark.upward else mark.x - back
        y = mark.y - back if mark.upward else mark.y - drop
        pen = self._pen(mark.ink, 1.0, ())
        self.agg.draw_text(
            pen, x * self.scale, self.height - y * self.scale, mark.text, font, 90.0 if mark.upward else 0.0
        )

    def _pen(self, ink: str | None, width: float, dashes: tuple[float, ...]) -> Any:
        """A pen; the renderer itself turns its points into dots, unlike those of paths and places."""
        pen = self.agg.new_gc()
        pen.set_foreground(ink or "#000000")
        pen.set_linewidth(width if ink else 0.0)
        pen.set_joinstyle("miter")
        pen.set_capstyle("butt")
        if dashes:
            pen.set_dashes(0.0, list(dashes))
        return pen

    def _path(self, rings: tuple[Ring, ...], closed: bool) -> Any:
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


def _running(ring: Ring, counter_clockwise: bool) -> Ring:
    ends = ring[1:] + ring[:1]
    twice = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(ring, ends, strict=True))
    return ring if (twice > 0.0) == counter_clockwise else ring[::-1]
