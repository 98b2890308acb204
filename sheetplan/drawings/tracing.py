"""Closed loops out of a network of edges.

Every edge has two sides. Keeping to the left at each node walks round the regions between the
edges; a walk that turns counter-clockwise in all has a region inside it, which is a loop. So
outlines are found whether they stand alone, touch, or share an edge with their neighbours.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sheetplan.drawings.network import Edge, Network
from sheetplan.drawings.tidying import Point
from sheetplan.model.outline import Loop, Stroke
from sheetplan.shapes import signed_area

Side = tuple[int, bool]
"""An edge by index and whether it is walked from its first node to its last."""


@dataclass(frozen=True, slots=True)
class Traced:
    """Loops (counter-clockwise) and what does not belong to one.

    ``open_chains`` are runs of edges that end nowhere, ``bridges`` edges that join two
    loops, ``shared`` middles of edges between two loops, ``touches`` nodes where loops touch
    another or themselves, ``slivers`` places of loops without area that were taken out.
    """

    loops: tuple[Loop, ...]
    open_chains: tuple[Stroke, ...]
    bridges: tuple[Stroke, ...]
    shared: tuple[Point, ...]
    touches: tuple[Point, ...]
    slivers: tuple[Point, ...]


SLIVER_MM = 0.02
"""Loops narrower than this have no area: two lines that were meant to be one."""


def trace(network: Network, sliver: float = 0.0) -> Traced:
    """Find the loops of a network; those narrower than ``sliver`` mm are taken out."""
    alive = set(range(len(network.edges)))
    loose = _pruned(network, alive)
    bridges: list[int] = []
    slivers: list[int] = []
    while True:
        walks = _walks(network, alive)
        found = _bridges(walks)
        bridges += found
        inside = [walk for walk in walks if signed_area(_loop(network, walk)) > 0.0]
        narrow = [] if found else _sliver_edges(network, inside, sliver)
        slivers += narrow
        if not found and not narrow:
            break
        alive -= {*found, *narrow}
        # What hangs loose once a sliver's side is gone was part of the sliver.
        more = _pruned(network, alive)
        (slivers if narrow else loose).extend(more)
    return Traced(
        tuple(_loop(network, walk) for walk in inside),
        tuple(_chains(network, loose)),
        tuple(_drawn(network.edges[i]) for i in bridges),
        tuple(_middle(network.edges[i]) for i in _shared(inside)),
        tuple(network.nodes[node] for node in _touches(network, inside)),
        tuple(_middle(network.edges[i]) for i in slivers),
    )


def _sliver_edges(network: Network, inside: Sequence[Sequence[Side]], sliver: float) -> list[int]:
    """Edges without which there are no loops narrower than ``sliver``: the side that no other loop needs."""
    narrow = [walk for walk in inside if _width(network, walk) < sliver]
    if not narrow:
        return []
    shared = set(_shared(inside))
    gone: set[int] = set()
    for walk in narrow:
        own = {i for i, _ in walk}
        if not own & gone:
            gone |= own - shared or {max(own, key=lambda i: network.edges[i].piece.length)}
    return sorted(gone)


def _width(network: Network, walk: Sequence[Side]) -> float:
    """Mean width of a walk's loop: an area over half its length."""
    length = sum(network.edges[i].piece.length for i, _ in walk)
    return 2.0 * signed_area(_loop(network, walk)) / length


def _pruned(network: Network, alive: set[int]) -> list[int]:
    """Take out edges with a loose end, again and again; they are returned."""
    at: dict[int, set[int]] = defaultdict(set)
    for i in alive:
        at[network.edges[i].first].add(i)
        at[network.edges[i].last].add(i)
    ends = [node for node, edges in at.items() if len(edges) == 1]
    gone = []
    while ends:
        edges = at[ends.pop()]
        if len(edges) != 1:
            continue
        i = edges.pop()
        gone.append(i)
        alive.discard(i)
        for node in (network.edges[i].first, network.edges[i].last):
            at[node].discard(i)
            if len(at[node]) == 1:
                ends.append(node)
    return sorted(gone)


def _walks(network: Network, alive: set[int]) -> list[list[Side]]:
    """All walks round regions, each side of each edge once."""
    around = _sides_by_angle(network, alive)
    after: dict[Side, Side] = {}
    for sides in around.values():
        for k, side in enumerate(sides):
            # Arriving along the reverse of a side, the leftmost way on is the next clockwise.
            after[side[0], not side[1]] = sides[k - 1]
    walks, left = [], dict.fromkeys((i, forward) for i in sorted(alive) for forward in (True, False))
    while left:
        start = next(iter(left))
        walk, side = [], start
        while side in left:
            del left[side]
            walk.append(side)
            side = after[side]
        walks.append(walk)
    return walks


def _sides_by_angle(network: Network, alive: set[int]) -> dict[int, list[Side]]:
    """The sides that leave each node, counter-clockwise by the direction in which they leave."""
    leaving: dict[int, list[Side]] = defaultdict(list)
    for i in sorted(alive):
        leaving[network.edges[i].first].append((i, True))
        leaving[network.edges[i].last].append((i, False))
    for sides in leaving.values():
        if len(sides) > 2:
            # A little way along, so that tangent arcs and lines are told apart.
            step = 0.1 * min(network.edges[i].piece.length for i, _ in sides)
            sides.sort(key=lambda side: _heading(network.edges[side[0]], side[1], step))
    return leaving


def _heading(edge: Edge, forward: bool, step: float) -> float:
    """Direction to the point ``step`` mm along the edge, seen from the end that it leaves."""
    piece = edge.piece
    sign = 1.0 if forward else -1.0
    chord = math.atan2(sign * (piece.y1 - piece.y0), sign * (piece.x1 - piece.x0))
    sweep = sign * piece.sweep
    return (chord - sweep / 2.0 + sweep / 2.0 * step / piece.length) % (2.0 * math.pi)


def _bridges(walks: Iterable[Sequence[Side]]) -> list[int]:
    """Edges with the same region on both sides."""
    found = []
    for walk in walks:
        times = Counter(i for i, _ in walk)
        found += [i for i, count in times.items() if count == 2]
    return found


def _shared(walks: Iterable[Sequence[Side]]) -> list[int]:
    """Edges with a loop on both sides."""
    times = Counter(i for walk in walks for i, _ in walk)
    return sorted(i for i, count in times.items() if count == 2)


def _touches(network: Network, walks: Sequence[Sequence[Side]]) -> list[int]:
    """Nodes that one loop passes twice, or two loops pass without sharing an edge there."""
    passing: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for number, walk in enumerate(walks):
        for i, forward in walk:
            edge = network.edges[i]
            passing[edge.first if forward else edge.last].append((number, i))
    shared = set(_shared(walks))
    at_shared = {node for i in shared for node in (network.edges[i].first, network.edges[i].last)}
    touching = []
    for node, passes in passing.items():
        own_twice = len({number for number, _ in passes}) < len(passes)
        if own_twice or (len(passes) > 1 and node not in at_shared):
            touching.append(node)
    return touching


def _loop(network: Network, walk: Sequence[Side]) -> Loop:
    vertices = []
    for i, forward in walk:
        edge = network.edges[i]
        x, y = network.nodes[edge.first if forward else edge.last]
        vertices.append((x, y, edge.piece.bulge if forward else 0.0 - edge.piece.bulge))
    return Loop(tuple(vertices))


def _drawn(edge: Edge) -> Stroke:
    piece = edge.piece
    return Stroke(((piece.x0, piece.y0, piece.bulge), (piece.x1, piece.y1, 0.0)))


def _middle(edge: Edge) -> Point:
    return (edge.piece.x0 + edge.piece.x1) / 2.0, (edge.piece.y0 + edge.piece.y1) / 2.0


def _chains(network: Network, loose: list[int]) -> list[Stroke]:
    """Edges strung together where exactly two of them meet."""
    at: dict[int, list[int]] = defaultdict(list)
    for i in loose:
        at[network.edges[i].first].append(i)
        at[network.edges[i].last].append(i)
    left, chains = set(loose), []
    starts = [node for node, edges in at.items() if len(edges) != 2] + list(at)
    for start in starts:
        for first in at[start]:
            if first not in left:
                continue
            vertices, node, i = [], start, first
            while True:
                left.discard(i)
                edge = network.edges[i]
                forward = edge.first == node
                vertices.append((*network.nodes[node], edge.piece.bulge if forward else -edge.piece.bulge))
                node = edge.last if forward else edge.first
                onward = [k for k in at[node] if k in left]
                if len(at[node]) != 2 or not onward:
                    break
                i = onward[0]
            chains.append(Stroke((*vertices, (*network.nodes[node], 0.0))))
    return chains
