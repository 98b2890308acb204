"""The DXF that goes to the table: one layout, true arcs, measured from the datum corner."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment

from sheetplan.drawings.dxf_bytes import dxf_bytes
from sheetplan.drawings.scene import LAYERS, Curve, CutScenes, Label, Role, Scene
from sheetplan.model.job import CuttingRule, Part
from sheetplan.model.outline import Loop, Stroke
from sheetplan.model.plan import Layout
from sheetplan.model.settings import DrawingFormat, Settings
from sheetplan.shapes import as_circle, box
from sheetplan.trade.units import Units

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

VERSIONS = {DrawingFormat.R12: "R12", DrawingFormat.R2000: "R2000"}

DIGITS = 12
"""Decimals kept, in the book's lengths: rids coordinates of the dust of sums, and of nothing else."""


def layout_drawing(
    layout: Layout, parts: Mapping[str, Part], rule: CuttingRule, settings: Settings,
    crop: Sequence[Stroke] = (),
) -> bytes:  # fmt: skip
    """The DXF of one layout, in the book's units, its origin at the datum corner."""
    return scene_drawing(CutScenes(parts, rule, settings).of(layout, crop), settings)


def scene_drawing(scene: Scene, settings: Settings) -> bytes:
    """The DXF of a scene.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    settings : Settings
        Gives the format and the units.
    """
    document = Drawing.new(VERSIONS[settings.drawing_format])
    for layer in LAYERS.values():
        document.layers.add(layer.name, color=layer.colour)
    pen = _Pen(document.modelspace(), scene.origin, settings.units, settings.drawing_format)
    around = box(scene.sheet)
    for frame in (document.modelspace().reset_extents, document.modelspace().reset_limits):
        frame(pen.point(around.left, around.bottom), pen.point(around.right, around.top))
    for curve in scene.curves:
        pen.curve(curve)
    for label in scene.labels:
        pen.label(label)
    return dxf_bytes(document, settings.units)


class _Pen:
    """Draws into a model space, shifted to the datum corner and scaled to the book's lengths."""

    def __init__(
        self, space: Modelspace, origin: tuple[float, float], units: Units, drawing_format: DrawingFormat
    ) -> None:
        self.space, self.origin, self.unit = space, origin, units.length_mm
        self.old_style = drawing_format is DrawingFormat.R12

    def point(self, x: float, y: float) -> tuple[float, float]:
        return (
            round((x - self.origin[0]) / self.unit, DIGITS) + 0.0,
            round((y - self.origin[1]) / self.unit, DIGITS) + 0.0,
        )

    def curve(self, curve: Curve) -> None:
        attributes: dict[str, Any] = {"layer": LAYERS[curve.role].name}
        circle = as_circle(curve.chain) if isinstance(curve.chain, Loop) else None
        if circle:
            x, y, radius = circle
            self.space.add_circle(self.point(x, y), round(radius / self.unit, DIGITS), dxfattribs=attributes)
            return
        points = [(*self.point(x, y), bulge) for x, y, bulge in curve.chain.vertices]
        closed = not isinstance(curve.chain, Stroke)
        draw = self.space.add_polyline2d if self.old_style else self.space.add_lwpolyline
        draw(points, format="xyb", close=closed, dxfattribs=attributes)

    def label(self, label: Label) -> None:
        self.space.add_text(
            label.text,
            height=round(label.height / self.unit, DIGITS),
            rotation=label.turn,
            dxfattribs={"layer": LAYERS[label.role if label.role is Role.MARK else Role.LABEL].name},
        ).set_placement(self.point(label.x, label.y), align=TextEntityAlignment.MIDDLE_CENTER)
