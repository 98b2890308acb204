"""Drawings of splines with few and many knots: what becomes of them, in how many vertices and bytes.

Of 20 parts of a drawing: seconds of processor time to read it, vertices of the outlines and of chords that
hold the same tolerance, bytes of the drawing and of the layout made of it, and how far outlines stray from
the exact splines (ezdxf's own evaluation, densely, both ways).
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence

import numpy as np
import shapely
from ezdxf.math import BSpline

from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.writing.dxf import scene_drawing
from sheetplan.drawings.writing.scene import CutScenes
from sheetplan.model import CuttingRule, Layout, Part, Placement, SheetSize
from sheetplan.model.settings import Settings
from sheetplan.shapes import flatten
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.bench.options import Options
from tests.nasty.drawings_making import dxf, space

KNOTS = (10, 100, 880, 3000)
PARTS = 20
TOLERANCE = 0.05
FLAT = 0.001
"""How far the outlines' arcs are flattened from when they are measured, mm."""

DENSE = 40_000
"""Points of each exact spline."""

Row = dict[str, object]


def instances(options: Options) -> Sequence[str]:
    return [f"{knots} knots" for knots in KNOTS]


def splines(knots: int, seed: int) -> list[BSpline]:
    """Closed outlines some 130 mm across, a little unsteady as if drawn by hand or scanned."""
    rng = np.random.default_rng(seed)
    found = []
    for place in range(PARTS):
        angle = np.linspace(0.0, 2.0 * math.pi, knots + 1)
        radius = 60.0 + 6.0 * np.sin(3.0 * angle + place) + 0.004 * rng.normal(size=knots + 1)
        radius[-1] = radius[0]
        x, y = radius * np.cos(angle) + 200.0 * place, radius * np.sin(angle)
        found.append(BSpline(np.column_stack([x, y, 0.0 * x]).tolist()))
    return found


def solve(instance: str, options: Options) -> Row:
    exact = splines(int(instance.partition(" ")[0]), options.seed)

    def draw(msp: object) -> None:
        for spline in exact:
            msp.add_spline().apply_construction_tool(spline)  # type: ignore[attr-defined]

    data = dxf(space(draw))
    begun = time.process_time()
    report = read_bytes("x.dxf", data, ReadingChoices(units=Units.MM), time.process_time)
    seconds = time.process_time() - begun
    outlines = [part.outline for part in report.parts]
    thick = Thickness(6.0, "6 mm")
    parts = {f"P{i}": Part(f"P{i}", "mild steel", thick, one) for i, one in enumerate(outlines)}
    placed = tuple(Placement(name, 20.0 + 150.0 * i, 20.0) for i, name in enumerate(parts))
    layout = Layout("L1", SheetSize("3200 x 200", "mild steel", thick, 3200.0, 200.0), placed)
    rule = CuttingRule("mild steel", thick, kerf=1.5, gap=6.0, margin=10.0)
    settings = Settings(units=Units.MM)
    drawing = scene_drawing(CutScenes(parts, rule, settings).of(layout), settings)
    return {
        "instance": instance,
        "drawing_bytes": len(data),
        "seconds": seconds,
        "parts": len(outlines),
        "vertices": sum(len(one.outer.vertices) for one in outlines),
        "chords": sum(len(list(spline.flattening(TOLERANCE, 1))) for spline in exact),
        "layout_bytes": len(drawing),
        "astray_mm": max(
            astray(one.outer, part.corner, spline)
            for one, part, spline in zip(outlines, report.parts, exact, strict=True)
        ),
    }


def astray(outer: object, corner: tuple[float, float], spline: BSpline) -> float:
    """How far an outline and its exact spline lie from one another, mm."""
    ring = np.asarray(flatten(outer, FLAT)) + corner  # type: ignore[arg-type]
    at = np.linspace(0.0, spline.max_t, DENSE).tolist()
    fine = np.array([(point.x, point.y) for point in spline.points(at)])
    return max(farthest(fine, np.vstack([ring, ring[:1]])), farthest(ring, fine))


def farthest(points: np.ndarray, line: np.ndarray) -> float:
    steps = shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1))
    _, away = shapely.STRtree(steps).query_nearest(
        shapely.points(points), return_distance=True, all_matches=False
    )
    return float(away.max())


def summary(rows: Sequence[Row], options: Options) -> list[str]:
    worst = max(float(str(row["astray_mm"])) for row in rows)
    return [f"farthest from the exact spline {worst:.4f} mm; the tolerance is {TOLERANCE} mm"]
