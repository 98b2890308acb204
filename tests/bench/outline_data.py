"""Open data sets of outlines as parts, and arrangements of them put before the independent check."""

import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

from sheetplan.checking import check_layout
from sheetplan.model import CuttingRule, Group, Layout, Loop, Material, Outline, Part, Placement, SheetSize
from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import Laid, placements_of
from sheetplan.packing.outlines.poses import Shape, View
from sheetplan.packing.outlines.setup import Setup, make_setup
from sheetplan.packing.outlines.solids import part_shapes
from sheetplan.shapes import settle
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units

PLATE = Thickness(1.0, "1 mm")
METAL = Material("Metal", "", 1.0)
RULE = CuttingRule("Metal", PLATE, 0.0, 0.0, 0.0)


def outline(corners: Sequence[tuple[float, float]], scale: float) -> Outline:
    return settle(Outline(Loop(tuple((x * scale, y * scale, 0.0) for x, y in corners))))


def read_strip(path: Path, width: float) -> tuple[list[Part], list[int], float]:
    """Parts, pieces of each, and mm a unit, from a file of the strip set scaled to a strip ``width`` wide."""
    root = ET.parse(path).getroot()
    ns = {"n": root.tag.split("}")[0].strip("{")}
    polygons = {
        polygon.get("id", ""): [
            (float(side.get("x0", "")), float(side.get("y0", "")))
            for side in polygon.iterfind("n:lines/n:segment", ns)
        ]
        for polygon in root.iterfind("n:polygons/n:polygon", ns)
    }
    board = polygons[_polygon_id(root.find("n:problem/n:boards/n:piece", ns), ns)]
    scale = width / (max(y for _, y in board) - min(y for _, y in board))
    parts, pieces = [], []
    for number, piece in enumerate(root.iterfind("n:problem/n:lot/n:piece", ns)):
        listed = piece.iterfind("n:orientation/n:enumeration", ns)
        turns = [float(entry.get("angle", "")) for entry in listed] or [0.0]
        shape = outline(polygons[_polygon_id(piece, ns)], scale)
        parts.append(Part(f"piece {number}", "Metal", PLATE, shape, turns=tuple(turns)))
        pieces.append(int(piece.get("quantity", "")))
    return parts, pieces, scale


def _polygon_id(piece: ET.Element | None, ns: dict[str, str]) -> str:
    component = piece.find("n:component", ns) if piece is not None else None
    assert component is not None
    return component.get("idPolygon", "")


def read_bins(path: Path) -> tuple[list[Part], float, float]:
    """Parts (one of each) and the sheet's length and width, from a file of the bin set."""
    words = iter(path.read_text(encoding="latin-1").split())
    count, length, width = int(next(words)), float(next(words)), float(next(words))
    parts = []
    for number in range(count):
        corners = [(float(next(words)), float(next(words))) for _ in range(int(next(words)))]
        parts.append(Part(f"piece {number}", "Metal", PLATE, outline(corners, 1.0), turns=(0.0,)))
    return parts, length, width


def optimum(path: Path) -> int:
    """Sheets of a published optimal arrangement."""
    return int(path.read_text(encoding="latin-1").split()[0])


def setup_for(parts: Sequence[Part], step: float) -> Setup:
    shapes: tuple[Shape, ...] = part_shapes(parts, step)
    return make_setup(shapes, 0.0, View(), step)


def placed(setup: Setup, field: Field, laid: Laid) -> tuple[Placement, ...]:
    return placements_of(setup, field, laid)


def faults_of(
    parts: Sequence[Part], placements: tuple[Placement, ...], length: float, width: float
) -> list[str]:
    """What the independent check finds on one sheet."""
    sheet = SheetSize("sheet", "Metal", PLATE, length, width)
    group = Group("Metal 1 mm", METAL, PLATE, RULE, (), (sheet,), ())
    faults = check_layout(Layout("L1", sheet, placements), group, {p.name: p for p in parts}, Units.MM)
    return [fault.what for fault in faults]
