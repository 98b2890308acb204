"""Ellipses and splines of a DXF as arcs and lines within the tolerance."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from sheetplan.drawings.bsplines import bspline_curve
from sheetplan.drawings.fitting import Array, fit_arcs
from sheetplan.shapes.arcs import Piece

ROUND_SHARE = 1e-9
"""An ellipse whose axes differ by less than this share is a circle."""

MOST_KNOTS = 5000
"""Different knots of one spline; more belong to a damaged file or a scan."""


def ellipse_pieces(entity: Any, tolerance: float) -> Iterator[Piece]:
    """The arcs of an ELLIPSE; one that is round is kept exactly."""
    shape = entity.construction_tool()
    centre, major, minor = shape.center, shape.major_axis, shape.minor_axis
    if max(abs(major.z), abs(minor.z)) > 1e-6 * major.magnitude:
        raise ValueError("it does not lie flat")
    start = shape.start_param
    sweep = (shape.end_param - start) % (2.0 * math.pi) or 2.0 * math.pi
    count = max(2, math.ceil(sweep / (math.pi / 2.0) - 1e-9))
    stops = [start + sweep * i / count for i in range(count + 1)]

    middle, ahead, aside = (np.array((v.x, v.y)) for v in (centre, major, minor))

    def curve(t: Array) -> tuple[Array, Array]:
        cos, sin = np.cos(t)[:, None], np.sin(t)[:, None]
        return middle + cos * ahead + sin * aside, cos * aside - sin * ahead

    if abs(shape.ratio - 1.0) <= ROUND_SHARE:
        turning = math.copysign(1.0, major.x * minor.y - major.y * minor.x)
        bulge = turning * math.tan(sweep / count / 4.0)
        ends = [(float(x), float(y)) for x, y in curve(np.array(stops))[0]]
        if sweep == 2.0 * math.pi:
            ends[-1] = ends[0]
        yield from (Piece(*p, *q, bulge) for p, q in itertools.pairwise(ends))
        return
    yield from _closed_up(fit_arcs(curve, stops, tolerance), sweep == 2.0 * math.pi)


def spline_pieces(entity: Any, tolerance: float) -> Iterator[Piece]:
    """The arcs of a SPLINE, by control points or by fit points."""
    spline = entity.construction_tool()
    knots = [float(knot) for knot in spline.knots()]
    low, high = knots[spline.degree], knots[-spline.degree - 1]
    stops = [low, *(k for k in sorted({round(k, 12) for k in knots}) if low + 1e-9 < k < high - 1e-9), high]
    if len(stops) > MOST_KNOTS:
        raise ValueError(f"it has more than {MOST_KNOTS} knots")
    if not high > low:
        raise ValueError("its knots do not rise")
    controls = [(point.x, point.y) for point in spline.control_points]
    curve = bspline_curve(controls, knots, spline.degree, list(spline.weights()))
    yield from _closed_up(fit_arcs(curve, stops, tolerance), bool(entity.closed))


def _closed_up(pieces: list[Piece], closed: bool) -> list[Piece]:
    """A closed curve's last piece ends exactly where the first begins, if it nearly does."""
    if not closed or not pieces:
        return pieces
    first, last = pieces[0], pieces[-1]
    if math.hypot(last.x1 - first.x0, last.y1 - first.y0) > 1e-6 * (1.0 + abs(first.x0) + abs(first.y0)):
        return pieces
    return [*pieces[:-1], Piece(last.x0, last.y0, first.x0, first.y0, last.bulge)]
