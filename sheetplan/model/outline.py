"""Outlines as data: closed loops of lines and arcs.

Terms
-----
vertex
    ``(x, y, bulge)``; the bulge belongs to the piece from this vertex to the next. It is the
    tangent of a quarter of the arc's included angle, positive when the arc turns
    counter-clockwise, 0 for a line (the convention of DXF polylines).
loop
    A closed chain of vertices; the last joins the first. A full circle is two half-turn arcs.
stroke
    An open chain, for marks that are scribed and not cut through.
"""

from __future__ import annotations

from dataclasses import dataclass

Vertex = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed chain of lines and arcs, in mm. Source of the bulge: Autodesk DXF reference, LWPOLYLINE."""

    vertices: tuple[Vertex, ...]

    def __post_init__(self) -> None:
        if len(self.vertices) < 2:
            raise ValueError("a loop needs at least two vertices")


@dataclass(frozen=True, slots=True)
class Stroke:
    """An open chain of lines and arcs, in mm."""

    vertices: tuple[Vertex, ...]


@dataclass(frozen=True, slots=True)
class Outline:
    """What is cut: one outer loop, the holes inside it, and marks. In mm, in the part's own frame.

    The lower left corner of the outer loop's box lies at (0, 0).
    """

    outer: Loop
    holes: tuple[Loop, ...] = ()
    marks: tuple[Stroke, ...] = ()


def rectangle(length: float, width: float) -> Outline:
    """A plain rectangle, ``length`` along x and ``width`` along y (mm)."""
    return Outline(Loop(((0.0, 0.0, 0.0), (length, 0.0, 0.0), (length, width, 0.0), (0.0, width, 0.0))))
