"""Loose pieces as a network: doubles and specks taken out, ends joined, gaps closed, crossings found."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from sheetplan.drawings.reading.findings import Allowance
from sheetplan.shapes.arcs import CHORD_BULGE, Piece, between, extremes, meetings, nearest, point_at
from sheetplan.trade.units import SAME_LENGTH_MM

# Taking out what is drawn twice: specks, doubles, and pieces that overlap along a line or circle.
#
# Everything here is in mm, near the origin.

Point = tuple[float, float]

LONGEST_SWEEP = 1.5 * math.pi

DOUBLE_MM = 0.01
"""Pieces nowhere further apart than this are one piece drawn twice: a tenth of the finest kerf."""


PIECES_AT_A_TIME = 64
"""How many pieces are asked for their neighbours at once."""


@dataclass(frozen=True, slots=True)
class Tidied:
    """What is left, and where something was taken out (a point on each)."""

    pieces: tuple[Piece, ...]
    specks: int
    doubled: tuple[Point, ...]


def tidy(pieces: Sequence[Piece], allowance: Allowance) -> Tidied:
    """Drop pieces without length and join what overlaps; each stretch is there once afterwards."""
    real = [half for piece in pieces if piece.length > SAME_LENGTH_MM for half in _halved(piece)]
    clusters = _overlapping(real, allowance)
    gone = {i for cluster in clusters for i in cluster}
    kept = [piece for i, piece in enumerate(real) if i not in gone]
    doubled = []
    for cluster in clusters:
        own = [real[i] for i in cluster]
        kept.extend(_union_of_lines(own) if _straight(own[0]) else _union_of_arcs(own))
        doubled.append((own[-1].x0, own[-1].y0))
    specks = sum(piece.length <= SAME_LENGTH_MM for piece in pieces)
    return Tidied(tuple(kept), specks, tuple(doubled))


def _halved(piece: Piece) -> Iterator[Piece]:
    """An arc of nearly a full circle as two, so that no piece ends where it begins."""
    if abs(piece.sweep) <= LONGEST_SWEEP:
        yield piece
        return
    yield between(piece, 0.0, 0.5)
    yield between(piece, 0.5, 1.0)


def boxes_of(pieces: Sequence[Piece], more: float = 0.0) -> np.ndarray:
    """Boxes of pieces, grown by ``more``, as shapely geometries, shape (n,)."""
    rows = []
    for piece in pieces:
        xs, ys = [piece.x0, piece.x1], [piece.y0, piece.y1]
        if piece.bulge:
            for x, y in extremes(piece):
                xs.append(x)
                ys.append(y)
        rows.append((min(xs) - more, min(ys) - more, max(xs) + more, max(ys) + more))
    left, bottom, right, top = np.array(rows, dtype=np.float64).reshape(-1, 4).T
    boxes: np.ndarray = shapely.box(left, bottom, right, top)
    return boxes


def close_pairs(pieces: Sequence[Piece], reach: float) -> Iterator[tuple[int, int]]:
    """Pairs of pieces, the lower index first, whose boxes come within ``reach``.

    They are found a few pieces at a time: a thousand pieces in one place have half a million pairs,
    and the caller may stop before the last.
    """
    if not pieces:
        return
    tree, grown = shapely.STRtree(boxes_of(pieces)), boxes_of(pieces, reach)
    for start in range(0, len(pieces), PIECES_AT_A_TIME):
        own, other = tree.query(grown[start : start + PIECES_AT_A_TIME])
        ordered = own + start < other
        yield from sorted(zip((own[ordered] + start).tolist(), other[ordered].tolist(), strict=True))


def _straight(piece: Piece) -> bool:
    return abs(piece.bulge) <= CHORD_BULGE


def _overlapping(pieces: Sequence[Piece], allowance: Allowance) -> list[list[int]]:
    """Clusters of two or more pieces that overlap, by index, in order of first appearance."""
    pairs = []
    for step, (i, j) in enumerate(close_pairs(pieces, DOUBLE_MM)):
        if step % 4096 == 0:
            allowance.check_time()
        if _overlap(pieces[i], pieces[j]):
            pairs.append((i, j))
    return [cluster for cluster in clusters(len(pieces), pairs) if len(cluster) > 1]


def clusters(count: int, pairs: Iterable[tuple[int, int]]) -> list[list[int]]:
    """Which of so many things hang together by pairs of them, by index, in order of first appearance.

    Disjoint sets with path halving (Tarjan, van Leeuwen 1984).
    """
    leader = list(range(count))

    def find(i: int) -> int:
        while leader[i] != i:
            leader[i] = leader[leader[i]]
            i = leader[i]
        return i

    for i, j in pairs:
        low, high = sorted((find(i), find(j)))
        leader[high] = low
    found: dict[int, list[int]] = {}
    for i in range(count):
        found.setdefault(find(i), []).append(i)
    return list(found.values())


def _overlap(first: Piece, second: Piece) -> bool:
    if _straight(first) and _straight(second):
        return _lines_overlap(first, second)
    if not _straight(first) and not _straight(second):
        return _arcs_overlap(first, second)
    return False


def _lines_overlap(first: Piece, second: Piece) -> bool:
    base, other = (first, second) if first.chord >= second.chord else (second, first)
    dx, dy = (base.x1 - base.x0) / base.chord, (base.y1 - base.y0) / base.chord
    along = []
    for x, y in ((other.x0, other.y0), (other.x1, other.y1)):
        if abs((x - base.x0) * dy - (y - base.y0) * dx) > DOUBLE_MM:
            return False
        along.append((x - base.x0) * dx + (y - base.y0) * dy)
    shared = min(max(along), base.chord) - max(min(along), 0.0)
    return shared > min(DOUBLE_MM, other.chord / 2.0) and abs(along[0] - along[1]) > other.chord / 2.0


def _arcs_overlap(first: Piece, second: Piece) -> bool:
    (ax, ay), (bx, by) = first.centre, second.centre
    if max(abs(ax - bx), abs(ay - by), abs(first.radius - second.radius)) > DOUBLE_MM:
        return False
    start, sweep = _arc_span(first)
    other, other_sweep = _arc_span(second)
    apart = (other - start) % (2.0 * math.pi)
    shared = max(min(sweep, apart + other_sweep) - apart, min(sweep, apart + other_sweep - 2.0 * math.pi))
    return shared * first.radius > DOUBLE_MM


def _arc_span(arc: Piece) -> tuple[float, float]:
    """Where an arc begins seen from its centre, run counter-clockwise, and its sweep."""
    cx, cy = arc.centre
    x, y = (arc.x0, arc.y0) if arc.bulge > 0.0 else (arc.x1, arc.y1)
    return math.atan2(y - cy, x - cx), abs(arc.sweep)


def _union_of_lines(lines: list[Piece]) -> list[Piece]:
    """One line along the longest, drawn out to the farthest ends of the others."""
    base = max(lines, key=lambda line: line.chord)
    dx, dy = (base.x1 - base.x0) / base.chord, (base.y1 - base.y0) / base.chord
    ends = [end for line in lines for end in ((line.x0, line.y0), (line.x1, line.y1))]
    first = _farthest((base.x0, base.y0), ends, (-dx, -dy))
    last = _farthest((base.x1, base.y1), ends, (dx, dy))
    return [Piece(*first, *last, 0.0)]


def _farthest(own: Point, ends: list[Point], way: Point) -> Point:
    """The end that lies farthest that way; the line's own unless another passes it clearly."""

    def past(end: Point) -> float:
        return (end[0] - own[0]) * way[0] + (end[1] - own[1]) * way[1]

    best = max(ends, key=past)
    return best if past(best) > DOUBLE_MM else own


def _union_of_arcs(arcs: list[Piece]) -> list[Piece]:
    """The stretches of one circle that the arcs cover, each once."""
    base = max(arcs, key=lambda arc: abs(arc.sweep))
    (cx, cy), radius = base.centre, base.radius
    slack = DOUBLE_MM / radius
    spans = sorted(((start % (2.0 * math.pi)), sweep) for start, sweep in map(_arc_span, arcs))
    runs = [list(spans[0])]
    for start, sweep in spans[1:]:
        run = runs[-1]
        if start <= run[0] + run[1] + slack:
            run[1] = max(run[1], start + sweep - run[0])
        else:
            runs.append([start, sweep])
    # The last run may reach round the start again, over as many of the first ones as it covers.
    last = runs.pop()
    while runs and last[0] + last[1] - 2.0 * math.pi >= runs[0][0] - slack:
        first = runs.pop(0)
        last[1] = max(last[1], first[0] + first[1] + 2.0 * math.pi - last[0])
    runs.append(last)
    if last[1] >= 2.0 * math.pi - slack:
        return [Piece(cx - radius, cy, cx + radius, cy, 1.0), Piece(cx + radius, cy, cx - radius, cy, 1.0)]
    pieces = []
    for start, sweep in runs:
        ends = [(cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in (start, start + sweep)]
        pieces.append(Piece(*ends[0], *ends[1], math.tan(sweep / 4.0)))
    return pieces


# Loose pieces joined at their ends into a network, gaps closed and crossings found.
#
# Terms
# node
#     A point where ends meet. Its degree is how many.
# edge
#     A piece between two nodes, its ends exactly on them.
# loose end
#     A node of degree 1.
#
# Everything here is in mm, near the origin.

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
