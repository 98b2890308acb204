"""Drawings as SVG: text stays text, so that it can be searched and read aloud.

Written to SVG 1.1 (W3C Recommendation, second edition).
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from sheetplan.pages.lettering import CAP_SHARE, text_width
from sheetplan.pages.marks import Area, Drawing, Line, Ring, Words

FAMILY = "DejaVu Sans, Verdana, sans-serif"


def svg(drawing: Drawing) -> str:
    """The drawing as an SVG file, one user unit to the point."""
    up = drawing.height
    body = [_mark(mark, up) for mark in drawing.marks]
    size = f'width="{_n(drawing.width)}pt" height="{_n(up)}pt" viewBox="0 0 {_n(drawing.width)} {_n(up)}"'
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" {size} role="img">',
            f"<title>{escape(drawing.alt)}</title>",
            f'<rect width="{_n(drawing.width)}" height="{_n(up)}" fill="#FFFFFF"/>',
            *body,
            "</svg>\n",
        )
    )


def _mark(mark: Area | Line | Words, up: float) -> str:
    if isinstance(mark, Words):
        return _words(mark, up)
    if isinstance(mark, Line):
        path = _path(mark.points, up)
        return f'<path d="{path}" fill="none" {_edge(mark.ink, mark.width, mark.dashes)}/>'
    path = " ".join(_path(ring, up) + " Z" for ring in mark.rings)
    edge = _edge(mark.edge, mark.edge_width, mark.dashes)
    return f'<path d="{path}" fill="{mark.fill or "none"}" fill-rule="evenodd" {edge}/>'


def _words(mark: Words, up: float) -> str:
    width = text_width(mark.text, mark.size, mark.bold)
    drop = mark.size * CAP_SHARE / 2.0
    x = mark.x + drop if mark.upward else mark.x
    y = up - mark.y if mark.upward else up - mark.y + drop
    turned = f' transform="rotate(-90 {_n(x)} {_n(y)})"' if mark.upward else ""
    weight = ' font-weight="bold"' if mark.bold else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" font-family={quoteattr(FAMILY)} font-size="{_n(mark.size)}"{weight} '
        f'fill="{mark.ink}" text-anchor="{mark.hold}" textLength="{_n(width)}" '
        f'lengthAdjust="spacingAndGlyphs"{turned}>{escape(mark.text)}</text>'
    )


def _edge(ink: str | None, width: float, dashes: tuple[float, ...]) -> str:
    if ink is None:
        return 'stroke="none"'
    dashed = f' stroke-dasharray="{" ".join(map(_n, dashes))}"' if dashes else ""
    return f'stroke="{ink}" stroke-width="{_n(width)}"{dashed}'


def _path(points: Ring, up: float) -> str:
    return "M " + " L ".join(f"{_n(x)} {_n(up - y)}" for x, y in points)


def _n(value: float) -> str:
    """A number with thousandths of a point, no more digits than it needs."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
