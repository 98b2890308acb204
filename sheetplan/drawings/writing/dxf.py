"""The DXF that goes to the table: one layout, true arcs, measured from the datum corner; bytes by content
alone.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.lldxf.tagwriter import TagWriter

from sheetplan.drawings.layers import LAYERS, Role
from sheetplan.drawings.writing.scene import Curve, Label, Scene
from sheetplan.model.outline import Loop, Stroke
from sheetplan.model.settings import DrawingFormat, Settings
from sheetplan.shapes import as_circle, box
from sheetplan.trade.units import Units

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace


# A DXF document as bytes that depend on its content alone.
#
# The library stamps each file with the time, random identifiers and its own version; these are
# set to fixed values, so that the same plan writes the same file and a changed file means a
# changed plan.

NO_GUID = "{00000000-0000-0000-0000-000000000000}"
NO_DATE = 2451544.5
"""The Julian date of 1 January 2000."""

INSUNITS = {Units.INCH: 1, Units.MM: 4}
"""Header variable $INSUNITS. Source: Autodesk DXF reference, HEADER section."""

MEASUREMENT = {Units.INCH: 0, Units.MM: 1}
"""Header variable $MEASUREMENT, English or metric. Source: as above."""

MAKER = "sheetplan"


def dxf_bytes(document: Drawing, units: Units) -> bytes:
    """The document as an ASCII DXF with its units stated, the same bytes every time."""
    old_style = document.dxfversion == "AC1009"
    if not old_style:
        document.header["$INSUNITS"] = INSUNITS[units]
        document.header["$MEASUREMENT"] = MEASUREMENT[units]
    document.commit_pending_changes()
    document.update_all()
    # The library leaves out an extent that has a corner at zero, which ours always has.
    space = document.modelspace().dxf
    document.header["$EXTMIN"], document.header["$EXTMAX"] = space.extmin, space.extmax
    stamps = document.ezdxf_metadata()
    stamps["CREATED_BY_EZDXF"] = MAKER
    stamps["WRITTEN_BY_EZDXF"] = MAKER
    for name in ("$TDCREATE", "$TDUPDATE", "$TDUCREATE", "$TDUUPDATE"):
        document.header[name] = NO_DATE
    for name in ("$FINGERPRINTGUID", "$VERSIONGUID"):
        document.header[name] = NO_GUID
    text = io.StringIO()
    document.export_sections(TagWriter(text, write_handles=not old_style, dxfversion=document.dxfversion))
    whole = _units_said(text.getvalue(), units) if old_style else text.getvalue()
    return bytes(document.encode(whole.replace("\n", "\r\n")))


def with_remark(drawing: bytes, said: str) -> bytes:
    """The drawing with a line in front that programs pass over and a person who opens the file reads.

    Source: Autodesk DXF reference, group code 999 (comment).
    """
    line = "".join(c for c in said if c.isprintable() and c.isascii())
    return f"999\r\n{line}\r\n".encode() + drawing


def _units_said(text: str, units: Units) -> str:
    """An R12 file with the units in its header: newer than R12, harmless to it, and useful to readers."""
    version = "$ACADVER\n  1\nAC1009\n"
    said = f"  9\n$INSUNITS\n 70\n{INSUNITS[units]:6}\n  9\n$MEASUREMENT\n 70\n{MEASUREMENT[units]:6}\n"
    if version not in text:
        raise ValueError("no version in the header of an R12 drawing")
    return text.replace(version, version + said, 1)


# The DXF that goes to the table: one layout, true arcs, measured from the datum corner.

VERSIONS = {DrawingFormat.R12: "R12", DrawingFormat.R2000: "R2000"}

DIGITS = 12
"""Decimals kept, in the book's lengths: rids coordinates of the dust of sums, and of nothing else."""


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
