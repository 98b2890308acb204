"""Loose pieces joined at their ends into a network, gaps closed and crossings found.

Terms
-----
node
    A point where ends meet. Its degree is how many.
edge
    A piece between two nodes, its ends exactly on them.
loose end
    A node of degree 1.

Everything here is in mm, near the origin.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from sheetplan.drawings.limits import Allowance
from sheetplan.drawings.tidying import Point, boxes_of, close_pairs
from sheetplan.shapes.arcs import Piece
from sheetplan.shapes.meeting import between, meetings, nearest, point_at
from sheetplan.trade.units import SAME_LENGTH_MM

JOIN_MM = 0.1
"""Loose ends this near are joined: a fraction of any kerf, and more than drawing programs leave."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A piece from node ``first`` to node ``last``."""

    piece: Piece
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Network:
    """Nodes and edges; ``gaps`` are widths and places of closed gaps, ``crossings`` where edges cross."""

    nodes: tuple[Point, ...]
    edges: tuple[Edge, ...]
    gaps: tuple[tuple[float, Point], ...]
    crossings: tuple[Point, ...]


def make_network(pieces: Sequence[Piece], join: float, allowance: Allowance) -> Network:
    """Join pieces at their ends; those within ``join`` mm of another end or piece are moved to it."""
    nodes, edges = ends_met(pieces)
    allowance.check_time()
    gaps = _loose_ends_joined(nodes, edges, join)
    allowance.check_time()
    edges, closed = _ends_on_pieces(nodes, edges, join, allowance)
    edges = [_fitted(edge, nodes) for edge in edges if edge.first != edge.last]
    crossings = _crossings([edge.piece for edge in edges], allowance)
    return Network(tuple(nodes), tuple(edges), tuple(gaps + closed), tuple(crossings))


def ends_met(pieces: Sequence[Piece]) -> tuple[list[Point], list[Edge]]:
    """Ends within `SAME_LENGTH_MM` become one node, at the place of the first."""
    nodes: list[Point] = []
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)

    def node_at(x: float, y: float) -> int:
        column, row = math.floor(x / SAME_LENGTH_MM), math.floor(y / SAME_LENGTH_MM)
        for c in (column, column - 1, column + 1):
            for r in (row, row - 1, row + 1):
                for node in cells.get((c, r), ()):
                    if math.dist(nodes[node], (x, y)) <= SAME_LENGTH_MM:
                        return node
        cells[column, row].append(len(nodes))
        nodes.append((x, y))
        return len(nodes) - 1

    edges = [Edge(p, node_at(p.x0, p.y0), node_at(p.x1, p.y1)) for p in pieces]
    return nodes, edges


def _degrees(edges: Sequence[Edge], count: int) -> list[int]:
    degree = [0] * count
    for edge in edges:
        degree[edge.first] += 1
        degree[edge.last] += 1
    return degree


def _loose_ends_joined(nodes: list[Point], edges: list[Edge], join: float) -> list[tuple[float, Point]]:
    """Pairs of loose ends that lie near each other become one node, the nearest first."""
    loose = [node for node, degree in enumerate(_degrees(edges, len(nodes))) if degree == 1]
    if len(loose) < 2:
        return []
    own = {node: i for i, edge in enumerate(edges) for node in (edge.first, edge.last)}
    points = shapely.points([nodes[node] for node in loose])
    first, second = shapely.STRtree(points).query(points, predicate="dwithin", distance=join)
    pairs = sorted(
        (math.dist(nodes[loose[i]], nodes[loose[j]]), loose[i], loose[j])
        for i, j in zip(first.tolist(), second.tolist(), strict=True)
        if i < j
    )
    gaps, taken = [], set()
    for width, a, b in pairs:
        # The two ends of one short piece are not each other's neighbours.
        short = own[a] == own[b] and edges[own[a]].piece.length < 10.0 * join
        if a in taken or b in taken or short:
            continue
        taken |= {a, b}
        nodes[a] = ((nodes[a][0] + nodes[b][0]) / 2.0, (nodes[a][1] + nodes[b][1]) / 2.0)
        i = own[b]
        edges[i] = replace(
            edges[i],
            first=a if edges[i].first == b else edges[i].first,
            last=a if edges[i].last == b else edges[i].last,
        )
        gaps.append((width, nodes[a]))
    return gaps


def _ends_on_pieces(
    nodes: list[Point], edges: list[Edge], join: float, allowance: Allowance
) -> tuple[list[Edge], list[tuple[float, Point]]]:
    """Split pieces where a node lies on them; loose ends are drawn to a piece within ``join``."""
    degree = _degrees(edges, len(nodes))
    reach = np.array([join if d == 1 else SAME_LENGTH_MM for d in degree])
    if not edges:
        return edges, []
    tree = shapely.STRtree(boxes_of([edge.piece for edge in edges]))
    which, hit = tree.query(shapely.points(nodes), predicate="dwithin", distance=reach)
    splits: dict[int, list[tuple[float, int]]] = defaultdict(list)
    gaps = []
    for step, (node, i) in enumerate(sorted(zip(which.tolist(), hit.tolist(), strict=True))):
        if step % 4096 == 0:
            allowance.check_time()
        edge = edges[i]
        if degree[node] == 0 or node in (edge.first, edge.last):
            continue
        away, share = nearest(edge.piece, *nodes[node])
        foot = point_at(edge.piece, share)
        to_end = min(math.dist(foot, nodes[edge.first]), math.dist(foot, nodes[edge.last]))
        if away > reach[node] or to_end <= SAME_LENGTH_MM:
            continue
        if away > SAME_LENGTH_MM:
            gaps.append((away, foot))
        if degree[node] == 1:
            nodes[node] = foot
        splits[i].append((share, node))
    kept = [edge for i, edge in enumerate(edges) if i not in splits]
    for i, places in splits.items():
        kept.extend(_split(edges[i], sorted(places)))
    return kept, gaps


def _split(edge: Edge, places: list[tuple[float, int]]) -> list[Edge]:
    shares = [0.0, *(share for share, _ in places), 1.0]
    nodes = [edge.first, *(node for _, node in places), edge.last]
    return [
        Edge(between(edge.piece, shares[k], shares[k + 1]), nodes[k], nodes[k + 1])
        for k in range(len(nodes) - 1)
        if nodes[k] != nodes[k + 1]
    ]


def _fitted(edge: Edge, nodes: Sequence[Point]) -> Edge:
    """The edge with its ends exactly on its nodes; the included angle of an arc stays."""
    return replace(edge, piece=Piece(*nodes[edge.first], *nodes[edge.last], edge.piece.bulge))


def _crossings(pieces: Sequence[Piece], allowance: Allowance) -> list[Point]:
    """Where two edges cross or touch away from their ends."""
    found = []
    for step, (i, j) in enumerate(close_pairs(pieces, SAME_LENGTH_MM)):
        if step % 4096 == 0:
            allowance.check_time()
        for share, _ in meetings(pieces[i], pieces[j], SAME_LENGTH_MM):
            point = point_at(pieces[i], share)
            if not any(_at_end(piece, point) for piece in (pieces[i], pieces[j])):
                found.append(point)
    return found


def _at_end(piece: Piece, point: Point) -> bool:
    near = min(math.dist((piece.x0, piece.y0), point), math.dist((piece.x1, piece.y1), point))
    return near <= 2.0 * SAME_LENGTH_MM
