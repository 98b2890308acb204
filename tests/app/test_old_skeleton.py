"""What a demo layout leaves, taken in as a drawing and planned on: parts come out of an old skeleton.

The skeleton is built by ezdxf and shapely alone: a layout of the demo's 1/4 in, every part cut out of it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import openpyxl
import pytest
import shapely
from ezdxf.path import make_path

from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack.add import add_drawing
from sheetplan.model import Layout, Remnant
from sheetplan.planning.progress import quiet
from sheetplan.shapes import place, to_polygon
from sheetplan.trade.units import Units
from tests.app.cut_book import DAY, fill
from tests.app.test_rack_add import drawn

INCH = 25.4
LAYOUTS = Path(__file__).parents[2] / "examples" / "layouts"
KERF = 0.08
"""Inches that a cut takes beside each part; common practice for 1/4 in plate by plasma, no source."""

LONG_BY_WIDE = (96.0, 48.0)

METAL = {"Material": "mild steel", "Thickness": "1/4"}
PARTS = (("TAB", 1.5, 3.0, 12), ("CLIP", 2.0, 2.0, 10), ("BAR", 1.0, 6.0, 6))
"""Name, width, length (inches), how many are ordered."""


def skeleton_of(path: Path) -> Any:
    """The metal round the parts of a layout, inches; what falls out with them is not there."""
    shapes: dict[str, list[Any]] = {"SHEET_EDGE": [], "PART_OUTLINES": []}
    for entity in ezdxf.readfile(path).modelspace():
        if entity.dxf.layer in shapes:
            points = [(p.x, p.y) for p in make_path(entity).flattening(0.002)]
            shapes[entity.dxf.layer].append(shapely.Polygon(points))
    [sheet] = shapes["SHEET_EDGE"]
    gone = shapely.union_all([part.buffer(KERF) for part in shapes["PART_OUTLINES"]])
    return max(shapely.get_parts(sheet - gone), key=lambda part: part.area).simplify(0.002)


def skeleton() -> Any:
    """The one with the most metal: the examples' plan is made anew now and then, and its numbers move."""
    every = [skeleton_of(path) for path in LAYOUTS.glob("plan-*/*_mild-steel-1-4-in.dxf")]
    return max((one for one in every if one.bounds == (0.0, 0.0, *LONG_BY_WIDE)), key=lambda one: one.area)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Layout, dict[str, Any], Any]:
    """The layout on the skeleton, the parts by name, and the skeleton."""
    folder = tmp_path_factory.mktemp("skeleton")
    path, metal = folder / "yard.xlsx", skeleton()
    new_book(path, demo=False, units=Units.INCH)
    book = openpyxl.load_workbook(path)
    fill(book, "Parts", [{"Part": p, **METAL, "Width": w, "Length": long} for p, w, long, _ in PARTS])
    fill(book, "Orders", [{"Order": "H-1", "Item": p, "Quantity": many} for p, _, _, many in PARTS])
    fill(book, "Stock", [{"Sheet": "MS14", **METAL, "Width": 48, "Length": 96, "On hand": 0, "Price": 212,
                          "Price per": "sheet"}])  # fmt: skip
    fill(book, "Remnants", [{"Tag": "R-030", **METAL, "Width": 48, "Length": 96, "Value": 1}])
    book.save(path)
    add_drawing(path, "R-030", drawn(folder / "old.dxf", metal))
    done = plan_book(path, PlanAsked(DAY, seconds=4.0, seed=1), stop=lambda: False, report=quiet, workers=1)
    assert done.plan is not None, done.problems
    layouts = [one for group in done.plan.groups for one in group.layouts]
    [layout] = [one for one in layouts if isinstance(one.sheet, Remnant)]
    return layout, dict(done.plan.job.parts), metal


@pytest.mark.slow
def test_an_old_skeleton_yields_parts(planned: tuple[Layout, dict[str, Any], Any]) -> None:
    """Every one lies on metal that is there and clear of old cuts, by the truth and not by the record."""
    layout, parts, metal = planned
    truth = shapely.transform(metal, lambda points: points * INCH)
    placed = [to_polygon(place(parts[p.part].outline, p), 0.01) for p in layout.placements]
    assert len(placed) >= 8
    for part in placed:
        assert part.within(truth)
        # Starter rule of 1/4 in: gap and margin are above 4 mm; common practice, no source.
        assert part.distance(truth.boundary) > 4.0
