"""What a drawing holds before it is put in order: loose lines and arcs on layers.

Every reader (DXF, SVG) delivers this, and everything after it is the same for both.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from sheetplan.drawings.findings import Finding
from sheetplan.shapes.arcs import Piece

FARTHEST = 1e10
"""Coordinates beyond this many units are damage: floats keep six decimals this far out."""


def sound(piece: Piece) -> bool:
    """Whether a piece has coordinates that can be reckoned with."""
    ends = (piece.x0, piece.y0, piece.x1, piece.y1)
    if not all(abs(value) <= FARTHEST for value in ends):
        return False
    return math.isfinite(piece.bulge) and piece.chord * abs(piece.bulge) <= FARTHEST


@dataclass(frozen=True, slots=True)
class Drawn:
    """One line or arc in the drawing's own units, its layer, and its line style (empty if unbroken)."""

    piece: Piece
    layer: str
    style: str = ""


@dataclass(frozen=True, slots=True)
class Sheaf:
    """Everything of one file.

    ``unit_mm`` is the drawing's unit in mm as far as the file says, ``unit_said`` in words where
    that comes from; None and empty where the file does not say. ``passed_over`` counts what is
    never cut (texts, dimensions, hatches) by what it is called. With ``y_down`` the file counts y
    downwards; here it is turned upwards all the same.
    """

    form: str
    pieces: tuple[Drawn, ...]
    unit_mm: float | None
    unit_said: str
    passed_over: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()
    y_down: bool = False
