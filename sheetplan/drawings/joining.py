"""From loose pieces to loops, with remarks on all that was put right or cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sheetplan.drawings.findings import Says, counted
from sheetplan.drawings.limits import Allowance
from sheetplan.drawings.network import Network, make_network
from sheetplan.drawings.tidying import Point, Tidied, tidy
from sheetplan.drawings.tracing import Traced, trace
from sheetplan.model.outline import Loop, Stroke
from sheetplan.shapes import merged, perimeter
from sheetplan.shapes.arcs import Piece

SCRAP_MM = 1.0
"""An open run shorter than this is a scrap left over from drawing, not an outline cut short."""

NEARLY_CLOSED = 0.2
"""An open run whose ends are nearer than this share of its length was meant to be closed."""

MOST_DRAWN = 5000
"""Pieces of a drawing without loops that are kept for its picture."""

MOST_TOLD = 12
"""Remarks of one kind that are listed with their places; more are counted."""


@dataclass(frozen=True, slots=True)
class Remark:
    """A finding in mm; ``lengths`` fill the braces of ``what`` in whatever unit it is told."""

    says: Says
    what: str
    at: Point | None = None
    lengths: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Joined:
    """Loops, remarks, and the open runs that are left."""

    loops: tuple[Loop, ...]
    remarks: tuple[Remark, ...]
    strays: tuple[Stroke, ...]


def join_cut(pieces: Sequence[Piece], join: float, allowance: Allowance) -> Joined:
    """Loops of what is cut; ``join`` (mm) is the widest gap that is closed."""
    tidied = tidy(pieces, allowance)
    network = make_network(tidied.pieces, join, allowance)
    allowance.check_time()
    traced = trace(network)
    remarks = [
        *_tidied(tidied),
        *_network(network, join),
        *_traced(traced),
    ]
    strays = traced.open_chains if traced.loops or traced.open_chains else _as_drawn(network)
    return Joined(tuple(map(merged, traced.loops)), tuple(remarks), strays)


def _as_drawn(network: Network) -> tuple[Stroke, ...]:
    """Everything, for a picture of what makes no loop at all."""
    pieces = (edge.piece for edge in network.edges[:MOST_DRAWN])
    return tuple(Stroke(((p.x0, p.y0, p.bulge), (p.x1, p.y1, 0.0))) for p in pieces)


def join_marks(pieces: Sequence[Piece], join: float, allowance: Allowance) -> tuple[Stroke, ...]:
    """Runs of what is marked; loops begin and end at one point."""
    traced = trace(make_network(tidy(pieces, allowance).pieces, join, allowance))
    closed = (Stroke((*loop.vertices, (*loop.vertices[0][:2], 0.0))) for loop in traced.loops)
    return (*closed, *traced.open_chains)


def _tidied(tidied: Tidied) -> Iterator[Remark]:
    if tidied.specks:
        yield Remark(Says.REPAIRED, f"{counted(tidied.specks, 'piece')} without length left out")
    yield from _listed(Says.REPAIRED, "a line drawn twice is there once now", tidied.doubled)


def _network(network: Network, join: float) -> Iterator[Remark]:
    if network.gaps:
        widest = max(width for width, _ in network.gaps)
        what = f"{counted(len(network.gaps), 'gap')} closed, the widest {{widest}}, up to {{join}} allowed"
        places = [at for width, at in network.gaps if width == widest]
        yield Remark(Says.REPAIRED, what, places[0], {"widest": widest, "join": join})
    yield from _listed(Says.WRONG, "lines cross", network.crossings)


def _traced(traced: Traced) -> Iterator[Remark]:
    for chain in traced.open_chains[:MOST_TOLD]:
        yield from _open(chain)
    if len(traced.open_chains) > MOST_TOLD:
        yield Remark(Says.WRONG, f"and {len(traced.open_chains) - MOST_TOLD} more open lines")
    yield from _listed(Says.WRONG, "a line joins two outlines and divides nothing", traced.bridges)
    yield from _listed(Says.WRONG, "outlines touch in a point", traced.touches)
    if traced.shared:
        what = (
            f"outlines share {counted(len(traced.shared), 'edge')}: each side is taken as a part of its own; "
            "put a line that is not cut, such as a bend, on a layer to mark or ignore"
        )
        yield Remark(Says.ASKED, what, traced.shared[0])


def _open(chain: Stroke) -> Iterator[Remark]:
    length, gap = perimeter(chain), math.dist(chain.vertices[0][:2], chain.vertices[-1][:2])
    start, end = chain.vertices[0][:2], chain.vertices[-1][:2]
    if length <= SCRAP_MM:
        yield Remark(Says.ASKED, "a scrap of a line {length} long is left out", start, {"length": length})
    elif 0.0 < gap <= NEARLY_CLOSED * length:
        what = "an outline is open by {gap}; close it, or allow wider gaps to be joined"
        yield Remark(Says.WRONG, what, start, {"gap": gap})
    else:
        what = "a line {length} long ends nowhere"
        yield Remark(Says.WRONG, what, start, {"length": length})
        yield Remark(Says.WRONG, "its other end is", end)


def _listed(says: Says, what: str, places: Sequence[Point]) -> Iterator[Remark]:
    for at in places[:MOST_TOLD]:
        yield Remark(says, what, at)
    if len(places) > MOST_TOLD:
        yield Remark(says, f"{what}: and in {len(places) - MOST_TOLD} more places")
