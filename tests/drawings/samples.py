"""A few parts of the harbour workshop for drawing tests, in mm."""

import math
from collections.abc import Mapping

from sheetplan.drawings.writing.dxf import scene_drawing
from sheetplan.drawings.writing.scene import CutScenes
from sheetplan.drawings.writing.svg import scene_svg
from sheetplan.model.job import CuttingRule, Part, Remnant, SheetSize
from sheetplan.model.outline import Loop, Outline, Stroke, rectangle
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.trade.thickness import Thickness

STEEL = "mild steel"
SIX = Thickness(6.0, "6 mm")
QUARTER_ARC = math.tan(math.pi / 8)
RULE = CuttingRule(STEEL, SIX, kerf=1.5, gap=6.0, margin=10.0)


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def rounded(length: float, width: float, radius: float) -> Loop:
    b, far, high = QUARTER_ARC, length - radius, width - radius
    return Loop(
        (
            (radius, 0.0, 0.0),
            (far, 0.0, b),
            (length, radius, 0.0),
            (length, high, b),
            (far, width, 0.0),
            (radius, width, b),
            (0.0, high, 0.0),
            (0.0, radius, b),
        )
    )


OUTLINES = {
    "CLEAT-1": rectangle(160.0, 80.0),
    "RING-2": Outline(circle(100.0, 100.0, 100.0), (circle(100.0, 100.0, 70.0),)),
    "BASE-3": Outline(
        rounded(300.0, 120.0, 20.0),
        tuple(circle(x, y, 8.0) for x in (30.0, 270.0) for y in (30.0, 90.0)),
        (Stroke(((100.0, 20.0, 0.0), (200.0, 20.0, 0.0))),),
    ),
    "GUSSET-4": Outline(Loop(((0.0, 0.0, 0.0), (150.0, 0.0, 0.0), (0.0, 150.0, 0.0)))),
    "STRAP-5": Outline(rounded(400.0, 24.0, 12.0), (circle(12.0, 12.0, 4.0), circle(388.0, 12.0, 4.0))),
}
PARTS = {name: Part(name, STEEL, SIX, outline, mark=name == "BASE-3") for name, outline in OUTLINES.items()}
SHEET = SheetSize("96 x 48", STEEL, SIX, 2438.4, 1219.2)
LAYOUT = Layout(
    "L1",
    SHEET,
    (
        Placement("RING-2", 10.0, 10.0),
        Placement("BASE-3", 220.0, 10.0),
        Placement("BASE-3", 660.0, 10.0, 90.0),
        Placement("GUSSET-4", 900.0, 10.0, 30.0),
        Placement("STRAP-5", 1000.0, 300.0, 60.0, mirrored=True),
        Placement("CLEAT-1", 1100.0, 10.0),
    ),
    repeats=3,
)
REMNANT = Remnant(
    "R-017", STEEL, SIX, rectangle(1200.0, 800.0).outer, (circle(300.0, 300.0, 150.0),), Corner.UPPER_RIGHT
)


def layout_drawing(layout: Layout, parts: Mapping[str, Part], rule: CuttingRule, settings: Settings) -> bytes:
    """The DXF of one layout, as a run draws it."""
    return scene_drawing(CutScenes(parts, rule, settings).of(layout), settings)


def layout_svg(layout: Layout, parts: Mapping[str, Part], rule: CuttingRule, settings: Settings) -> bytes:
    """The SVG of one layout, as a run draws it."""
    return scene_svg(CutScenes(parts, rule, settings).of(layout), settings)
