"""An SVG file as a sheaf of loose lines and arcs, in its own user units, y turned upwards."""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

import svgelements as svg

from sheetplan.drawings.drawn import Drawn, Sheaf, sound
from sheetplan.drawings.findings import Finding, Says, counted
from sheetplan.drawings.limits import Allowance, Refused
from sheetplan.drawings.svg_segments import path_pieces
from sheetplan.drawings.svg_structure import clean
from sheetplan.shapes.arcs import Piece
from sheetplan.trade.units import MM_PER_INCH

PIXELS_PER_INCH = 96.0
"""CSS pixels to the inch. Source: CSS Values and Units Level 3 (W3C), absolute lengths."""

PHYSICAL = re.compile(r"\s*([0-9.eE+-]+)\s*(mm|cm|in|pt|pc|q)\s*", re.IGNORECASE)
"""A width that is a real length."""

MM = {"mm": 1.0, "cm": 10.0, "in": MM_PER_INCH, "pt": MM_PER_INCH / 72, "pc": MM_PER_INCH / 6, "q": 0.25}
"""Source: as above. Our own, because the library's millimetre is rounded to 0.0393701 in."""

LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
"""Attribute that drawing programs write a layer's name into."""


def read_svg(
    data: bytes, curve_mm: float, stated_mm: float | None, fallback_mm: float, allowance: Allowance
) -> Sheaf:
    """Everything to cut or mark in an SVG file; parameters as in `read_dxf`.

    The unit is what one user unit of the outermost view box measures.
    """
    structure = clean(data, allowance)
    allowance.check_time()
    root = _parsed(structure.data)
    per_unit = _pixels_per_unit(root)
    real_mm = _real_unit(root)
    unit_mm = real_mm or MM_PER_INCH / PIXELS_PER_INCH * per_unit
    tolerance = curve_mm / (stated_mm or unit_mm)
    reader = _Reader(per_unit, tolerance, allowance)
    reader.walk(root, "", 0)
    findings = [Finding(Says.WRONG, f"{what} ({counted(n, 'time')})") for what, n in reader.odd.items()]
    if structure.missing:
        what = f"{counted(structure.missing, 'use')} of something that is not in the file"
        findings.append(Finding(Says.WRONG, what))
    if not real_mm:
        findings.append(Finding(Says.ASKED, "its size is given in pixels only; 96 to the inch are assumed"))
    source = "by its width and height" if real_mm else "at 96 pixels to the inch"
    said = f"units of {unit_mm:.6g} mm, {source}"
    return Sheaf("SVG", tuple(reader.pieces), unit_mm, said, reader.passed_over, tuple(findings), True)


def _parsed(data: bytes) -> Any:
    try:
        root = svg.SVG.parse(io.BytesIO(data), reify=False, ppi=PIXELS_PER_INCH)
    except Exception as reason:  # the library raises anything at all on damaged files
        raise Refused(f"it cannot be read as an SVG ({type(reason).__name__}: {reason})") from None
    if not isinstance(root, svg.SVG):
        raise Refused("there is nothing drawn in it")
    return root


def _pixels_per_unit(root: Any) -> float:
    """Pixels to one user unit of the outermost view box."""
    try:
        matrix = svg.Matrix(root.viewbox_transform)
        scale = math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c))
    except (ValueError, TypeError, ZeroDivisionError):
        scale = 0.0
    if not (math.isfinite(scale) and scale > 0.0):
        raise Refused("its width, height or view box makes no sense")
    return scale


def _real_unit(root: Any) -> float | None:
    """Millimetres in a user unit where the file gives its real size, None where it does not."""
    if root.viewbox is None:
        return None
    scales = []
    for name, extent in (("width", root.viewbox.width), ("height", root.viewbox.height)):
        length = PHYSICAL.fullmatch(str(root.values.get(name, "")))
        if length and extent and extent > 0.0:
            scales.append(_number(length[1]) * MM[length[2].lower()] / extent)
    # The whole view box is shown, so the tighter of both sides rules.
    return min(scales) if scales and min(scales) > 0.0 else None


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise Refused("its width, height or view box makes no sense") from None


class _Reader:
    """Walks through the drawing and gathers pieces, counts and findings."""

    def __init__(self, per_unit: float, tolerance: float, allowance: Allowance) -> None:
        self.per_unit, self.tolerance, self.allowance = per_unit, tolerance, allowance
        self.pieces: list[Drawn] = []
        self.passed_over: Counter[str] = Counter()
        self.odd: Counter[str] = Counter()

    def walk(self, elements: Iterable[Any], layer: str, depth: int) -> None:
        for element in elements:
            self.allowance.check_pieces(len(self.pieces))
            if isinstance(element, svg.Group | svg.Use):
                self.walk(element, _name(element) or layer, depth + 1)
            elif isinstance(element, svg.Text):
                self.passed_over["text"] += 1
            elif isinstance(element, svg.Image):
                self.passed_over["picture"] += 1
            elif isinstance(element, svg.Shape):
                self.take(element, layer)

    def take(self, shape: Any, layer: str) -> None:
        if _invisible(shape):
            self.passed_over["thing that is hidden"] += 1
            return
        try:
            path = svg.Path(shape)
            path.reify()
            found = [self.scaled(piece) for piece in self.outline(path)]
        except (ValueError, TypeError, ArithmeticError, AttributeError, IndexError) as reason:
            self.odd[f"a {type(shape).__name__.lower()} cannot be used: {reason}"] += 1
            return
        if not all(map(sound, found)):
            self.odd[f"a {type(shape).__name__.lower()} has coordinates that are no numbers"] += 1
            return
        drawn_as = layer or _colour(shape)
        self.pieces.extend(Drawn(piece, drawn_as, _style(shape)) for piece in found)

    def outline(self, path: Any) -> Iterator[Piece]:
        for count, piece in enumerate(path_pieces(path, self.tolerance * self.per_unit)):
            if count % 256 == 0:
                self.allowance.check_pieces(len(self.pieces) + count)
            yield piece

    def scaled(self, piece: Piece) -> Piece:
        """From pixels, y down, to user units, y up; so arcs turn the other way."""
        s = self.per_unit
        return Piece(piece.x0 / s, -piece.y0 / s, piece.x1 / s, -piece.y1 / s, 0.0 - piece.bulge)


def _name(group: Any) -> str:
    """A group's name: its label where a drawing program gave one, else its id."""
    own = group.values.get("attributes", {})
    return str(own.get(LABEL) or own.get("id") or "")


def _colour(shape: Any) -> str:
    """Shapes in no group are told apart by their colour."""
    for paint in (shape.stroke, shape.fill):
        if paint is not None and paint.value is not None:
            return str(paint.hexrgb)
    return ""


def _style(shape: Any) -> str:
    dashes = str(shape.values.get("stroke-dasharray", "none")).strip().lower()
    return "" if dashes in ("none", "", "0", "null") else "DASHED"


def _invisible(shape: Any) -> bool:
    values = shape.values
    if str(values.get("visibility", "")).lower() in ("hidden", "collapse"):
        return True
    painted = [paint is not None and paint.value is not None for paint in (shape.fill, shape.stroke)]
    return not any(painted)
