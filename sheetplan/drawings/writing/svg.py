"""A layout as SVG in real units, for machines and programs that take it better than DXF.

Arcs are arcs, circles circles; every layer of the DXF is a group of that name; coordinates are
measured from the datum corner, in the book's lengths, y downwards as the format asks.
Written to SVG 1.1 (W3C Recommendation, second edition).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from sheetplan.drawings.layers import LAYERS, Role
from sheetplan.drawings.writing.scene import Curve, Label, Scene
from sheetplan.model.outline import Loop
from sheetplan.model.settings import Settings
from sheetplan.shapes import as_circle, box
from sheetplan.shapes.arcs import Piece, at_most, pieces
from sheetplan.trade.sentences import number
from sheetplan.trade.units import Units

DIGITS = 12
"""Decimals kept, in the book's lengths."""

LONGEST_SWEEP = 2.0 * math.pi / 3.0
"""Longer arcs are written in two: the format gives an arc by its ends and radius, from which the
centre of a half circle cannot be had with all its digits."""

STRAIGHT_MM = 1e-8
"""An arc that rises less than this is written as a line; its radius would be too large for readers."""

LINE_MM = 0.3
"""Width of the lines on the screen; it means nothing to a machine."""


def scene_svg(scene: Scene, settings: Settings) -> bytes:
    """The SVG of a scene."""
    sheet, page = box(scene.sheet), _Page(scene, settings.units)
    length, width = page.number(sheet.length), page.number(sheet.width)
    left, top = page.point(sheet.left, sheet.top)
    unit = settings.units.value
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" '
        f'width="{length}{unit}" height="{width}{unit}" '
        f'viewBox="{left} {top} {length} {width}" fill="none" stroke-width="{page.number(LINE_MM)}">'
    )
    lines = [head, f"<title>{escape(scene.tag)}</title>"]
    for role in Role:
        inside = list(page.group(role))
        if inside:
            layer = LAYERS[role]
            lines += [f'<g id="{layer.name}" stroke="{layer.rgb}">', *inside, "</g>"]
    return "\n".join([*lines, "</svg>", ""]).encode()


class _Page:
    """Writes shapes shifted to the datum corner, scaled to the book's lengths, y downwards."""

    def __init__(self, scene: Scene, units: Units) -> None:
        self.scene, self.unit = scene, units.length_mm

    def number(self, mm: float) -> str:
        return number(mm / self.unit, DIGITS)

    def point(self, x: float, y: float) -> tuple[str, str]:
        ox, oy = self.scene.origin
        return self.number(x - ox), self.number(oy - y)

    def group(self, role: Role) -> Iterator[str]:
        for curve in self.scene.curves:
            if curve.role is role:
                yield self.curve(curve)
        for label in self.scene.labels:
            if label.role is role:
                yield self.label(label)

    def curve(self, curve: Curve) -> str:
        circle = as_circle(curve.chain) if isinstance(curve.chain, Loop) else None
        if circle:
            cx, cy = self.point(*circle[:2])
            return f'<circle cx="{cx}" cy="{cy}" r="{self.number(circle[2])}"/>'
        steps = ["M", *self.point(*curve.chain.vertices[0][:2])]
        for piece in pieces(curve.chain):
            steps.extend(self.step(part) for part in at_most(piece, LONGEST_SWEEP))
        if isinstance(curve.chain, Loop):
            steps.append("Z")
        return f'<path d="{" ".join(steps)}"/>'

    def step(self, piece: Piece) -> str:
        x, y = self.point(piece.x1, piece.y1)
        if abs(piece.bulge) * piece.chord / 2.0 < STRAIGHT_MM:
            return f"L {x} {y}"
        radius = self.number(piece.radius)
        # Seen with y downwards, an arc that turns counter-clockwise sweeps against the angle.
        return f"A {radius} {radius} 0 0 {0 if piece.bulge > 0.0 else 1} {x} {y}"

    def label(self, label: Label) -> str:
        x, y = self.point(label.x, label.y)
        size = self.number(label.height / CAPITAL)
        drop = self.number(label.height / 2.0)
        turn = f' transform="rotate({-label.turn:g} {x} {y})"' if label.turn else ""
        fill = LAYERS[label.role].rgb
        return (
            f'<text x="{x}" y="{y}" dy="{drop}" font-size="{size}" font-family={quoteattr("sans-serif")} '
            f'text-anchor="middle" fill="{fill}" stroke="none"{turn}>{escape(label.text)}</text>'
        )


CAPITAL = 0.72
"""Height of a capital over the size of the type, for plain faces."""
