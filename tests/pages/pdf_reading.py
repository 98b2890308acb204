"""What a page of a PDF really holds: filled and stroked rings, and words, where they stand."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import pypdf
from pypdf.generic import ContentStream

from sheetplan.pages.drawing.lettering import text_width

Matrix = tuple[float, float, float, float, float, float]
SAME = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
PAINTS = {b"S": (False, True), b"s": (False, True), b"f": (True, False), b"f*": (True, False),
          b"B": (True, True), b"B*": (True, True), b"b*": (True, True), b"n": (False, False)}  # fmt: skip


@dataclass(frozen=True)
class Painted:
    """One path as painted: its rings in points of the page, and whether filled (with what) and stroked."""

    rings: list[list[tuple[float, float]]]
    fill: tuple[float, ...] | None
    stroke_width: float | None

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top."""
        xs = [x for ring in self.rings for x, _ in ring]
        ys = [y for ring in self.rings for _, y in ring]
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class Said:
    """Words on the page with the box that they take, points."""

    text: str
    size: float
    box: tuple[float, float, float, float]


def pages_of(data: bytes) -> list[Any]:
    """The pages of a PDF."""
    return list(pypdf.PdfReader(io.BytesIO(data)).pages)


def paths(page: Any) -> list[Painted]:
    """Every path of a page in the order of painting. Operators as in ISO 32000-1, annex A."""
    at, kept = SAME, []
    fill: tuple[float, ...] = (0.0, 0.0, 0.0)
    width = 1.0
    rings: list[list[tuple[float, float]]] = []
    found = []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        values = [float(value) for value in operands] if operator in _NUMERIC else []
        if operator == b"q":
            kept.append((at, fill, width))
        elif operator == b"Q":
            at, fill, width = kept.pop()
        elif operator == b"cm":
            at = _times(values, at)
        elif operator == b"rg":
            fill = tuple(values)
        elif operator == b"w":
            width = values[0]
        elif operator == b"m":
            rings.append([_put(values, at)])
        elif operator == b"l":
            rings[-1].append(_put(values, at))
        elif operator == b"re":
            x, y, w, h = values
            corners = ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
            rings.append([_put(list(corner), at) for corner in corners])
        elif operator in PAINTS:
            filled, stroked = PAINTS[operator]
            if rings and (filled or stroked):
                found.append(Painted(rings, fill if filled else None, width if stroked else None))
            rings = []
    return found


_NUMERIC = {b"cm", b"rg", b"w", b"m", b"l", b"re"}


def _times(first: list[float], second: Matrix) -> Matrix:
    a, b, c, d, e, f = first
    p, q, r, s, t, u = second
    return a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u


def _put(point: list[float], at: Matrix) -> tuple[float, float]:
    x, y = point
    a, b, c, d, e, f = at
    return a * x + c * y + e, b * x + d * y + f


def words(page: Any) -> list[Said]:
    """Every line of text with the box of its letters (from the baseline to the top of capitals)."""
    found: list[Said] = []

    def visit(text: str, cm: list[float], tm: list[float], font: Any, size: float) -> None:
        said = text.strip()
        if not said:
            return
        x, y = _put([tm[4], tm[5]], tuple(cm))  # type: ignore[arg-type]
        face = str((font or {}).get("/BaseFont", ""))
        wide = text_width(said, size, bold="Bold" in face, narrow="Narrow" in face)
        upward = abs(_times(tm, tuple(cm))[1]) > 0.5  # type: ignore[arg-type]
        box = (x - 0.7 * size, y, x, y + wide) if upward else (x, y, x + wide, y + 0.7 * size)
        found.append(Said(said, size, box))

    page.extract_text(visitor_text=visit)
    return found


def touching(said: list[Said]) -> list[tuple[str, str]]:
    """Pairs of words whose boxes overlap."""
    hair = 0.05
    return [
        (one.text, other.text)
        for place, one in enumerate(said)
        for other in said[place + 1 :]
        if one.box[0] < other.box[2] - hair and other.box[0] < one.box[2] - hair
        and one.box[1] < other.box[3] - hair and other.box[1] < one.box[3] - hair
    ]  # fmt: skip
