"""From loose pieces to closed loops, with remarks on all that was put right or cannot be."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sheetplan.drawings.reading.findings import Allowance, Says
from sheetplan.drawings.reading.network import Edge, Network, Point, Tidied, ends_met, make_network, tidy
from sheetplan.model.outline import Loop, Stroke
from sheetplan.shapes import merged, perimeter, signed_area
from sheetplan.shapes.arcs import CHORD_BULGE, Piece
from sheetplan.trade.sentences import counted

# Closed loops out of a network of edges.
#
# Every edge has two sides. Keeping to the left at each node walks round the regions between the
# edges; a walk that turns counter-clockwise in all has a region inside it, which is a loop. So
# outlines are found whether they stand alone, touch, or share an edge with their neighbours.

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
            sides.sort(key=lambda side: _heading(network.edges[side[0]], forward=side[1], step=step))
    return leaving


def _heading(edge: Edge, *, forward: bool, step: float) -> float:
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


# From loose pieces to loops, with remarks on all that was put right or cannot be.

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
class Flaw:
    """What keeps the outlines that it touches from being cut.

    ``chain`` is the lines that it is about, or the one point. ``nested`` says that what lies inside
    an outline which it touches cannot be told from a hole or a part either.
    """

    remark: Remark
    chain: Stroke
    nested: bool = True
    open: bool = False


@dataclass(frozen=True, slots=True)
class Joined:
    """Loops, remarks on what was put right, flaws, and the open runs that are left."""

    loops: tuple[Loop, ...]
    remarks: tuple[Remark, ...]
    flaws: tuple[Flaw, ...]
    strays: tuple[Stroke, ...]


def join_cut(pieces: Sequence[Piece], join: float, allowance: Allowance) -> Joined:
    """Loops of what is cut, and what is wrong where; ``join`` (mm) is the widest gap that is closed."""
    unfolded = unfold(pieces)
    tidied = tidy(unfolded.pieces, allowance)
    network = make_network(tidied.pieces, join, allowance)
    allowance.check_time()
    traced = trace(network, SLIVER_MM)
    remarks = (*_unfolded(unfolded), *_tidied(tidied), *_network(network, join), *_traced(traced))
    strays = traced.open_chains if traced.loops or traced.open_chains else _as_drawn(network)
    return Joined(tuple(map(merged, traced.loops)), remarks, tuple(_flaws(network, traced)), strays)


def _as_drawn(network: Network) -> tuple[Stroke, ...]:
    """Everything, for a picture of what makes no loop at all."""
    pieces = (edge.piece for edge in network.edges[:MOST_DRAWN])
    return tuple(Stroke(((p.x0, p.y0, p.bulge), (p.x1, p.y1, 0.0))) for p in pieces)


def join_marks(pieces: Sequence[Piece], join: float, allowance: Allowance) -> tuple[Stroke, ...]:
    """Runs of what is marked; loops begin and end at one point."""
    traced = trace(make_network(tidy(unfold(pieces).pieces, allowance).pieces, join, allowance), SLIVER_MM)
    closed = (Stroke((*loop.vertices, (*loop.vertices[0][:2], 0.0))) for loop in traced.loops)
    return (*closed, *traced.open_chains)


def _unfolded(unfolded: Unfolded) -> Iterator[Remark]:
    if unfolded.folds:
        longest, at = max(unfolded.folds)
        what = f"{counted(len(unfolded.folds), 'edge')} doubled back and went nowhere, by {{longest}} at most"
        yield Remark(Says.REPAIRED, what, at, {"longest": longest})


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


def _traced(traced: Traced) -> Iterator[Remark]:
    if traced.slivers:
        what = f"{counted(len(traced.slivers), 'line')} left out: a sliver without area lay beside another"
        yield Remark(Says.REPAIRED, what, traced.slivers[0])
    for chain in traced.open_chains:
        length = perimeter(chain)
        if length <= SCRAP_MM:
            what = "a scrap of a line {length} long is left out"
            yield Remark(Says.ASKED, what, chain.vertices[0][:2], {"length": length})
    if traced.shared:
        what = (
            f"outlines share {counted(len(traced.shared), 'edge')}: each side is taken as a part of its own; "
            "put a line that is not cut, such as a bend, on a layer to mark or ignore"
        )
        yield Remark(Says.ASKED, what, traced.shared[0])


def _flaws(network: Network, traced: Traced) -> Iterator[Flaw]:
    for at in network.crossings:
        yield _in_a_point("lines cross", at)
    for chain in traced.open_chains:
        if perimeter(chain) > SCRAP_MM:
            yield _open(chain)
    for bridge in traced.bridges:
        what = "a line joins two outlines and divides nothing"
        yield Flaw(Remark(Says.WRONG, what, bridge.vertices[0][:2]), bridge)
    for at in traced.touches:
        yield _in_a_point("outlines touch in a point", at)


def _in_a_point(what: str, at: Point) -> Flaw:
    return Flaw(Remark(Says.WRONG, what, at), Stroke(((*at, 0.0),)))


def _open(chain: Stroke) -> Flaw:
    length, gap = perimeter(chain), math.dist(chain.vertices[0][:2], chain.vertices[-1][:2])
    start = chain.vertices[0][:2]
    if 0.0 < gap <= NEARLY_CLOSED * length:
        what = "an outline is open by {gap}; close it, or allow wider gaps to be joined"
        return Flaw(Remark(Says.WRONG, what, start, {"gap": gap}), chain, open=True)
    what = "a line {length} long ends nowhere"
    return Flaw(Remark(Says.WRONG, what, start, {"length": length}), chain, nested=False, open=True)


def _listed(says: Says, what: str, places: Sequence[Point]) -> Iterator[Remark]:
    for at in places[:MOST_TOLD]:
        yield Remark(says, what, at)
    if len(places) > MOST_TOLD:
        yield Remark(says, f"{what}: and in {len(places) - MOST_TOLD} more places")


# Straight edges that double back on themselves, taken out: they have no area and cut nothing. A fold is two
# lines that meet where no third does, the shorter one running back along the other; mm, near the origin.

LONGEST_FOLD = 1.0
"""A longer edge that runs back on itself may be meant, and is told as what it is."""

NO_AREA = 0.02
"""How far (mm) the shorter line may lie off the longer one."""


@dataclass(frozen=True, slots=True)
class Unfolded:
    """The pieces without folds; length and tip of each fold that was taken out."""

    pieces: tuple[Piece, ...]
    folds: tuple[tuple[float, Point], ...]


def unfold(pieces: Sequence[Piece]) -> Unfolded:
    """Replace the two lines of each fold by the one from end to end.

    >>> back = [Piece(0, 0, 10.2, 0, 0), Piece(10.2, 0, 10, 0, 0), Piece(10, 0, 10, 5, 0)]
    >>> [tuple(piece)[:4] for piece in unfold(back).pieces]
    [(10, 0, 10, 5), (0, 0, 10, 0)]
    """
    if not _may_fold(pieces):
        return Unfolded(tuple(pieces), ())
    nodes, edges = ends_met(pieces)
    at: dict[int, set[int]] = defaultdict(set)
    for i, edge in enumerate(edges):
        at[edge.first].add(i)
        at[edge.last].add(i)
    ends = {i: (edge.first, edge.last) for i, edge in enumerate(edges)}
    lines = {i for i, edge in enumerate(edges) if abs(edge.piece.bulge) <= CHORD_BULGE}
    changed: set[int] = set()
    folds = []
    waiting = [node for node, own in at.items() if len(own) == 2]
    while waiting:
        tip = waiting.pop()
        own = sorted(at[tip])
        if len(own) != 2 or not lines.issuperset(own):
            continue
        kept, gone = own
        before, after = _other(ends[kept], tip), _other(ends[gone], tip)
        length = _fold(nodes[before], nodes[tip], nodes[after])
        if length is None:
            continue
        folds.append((length, nodes[tip]))
        at[tip].clear()
        at[before].discard(kept)
        at[after].discard(gone)
        del ends[gone]
        del ends[kept]
        if before != after:
            ends[kept] = (before, after)
            changed.add(kept)
            at[before].add(kept)
            at[after].add(kept)
        waiting += [node for node in (before, after) if len(at[node]) == 2]
    whole = [pieces[i] for i in ends if i not in changed]
    drawn = (Piece(*nodes[ends[i][0]], *nodes[ends[i][1]], 0.0) for i in sorted(changed) if i in ends)
    return Unfolded((*whole, *drawn), tuple(folds))


def _may_fold(pieces: Sequence[Piece]) -> bool:
    """Whether any line is short enough to be a fold: most drawings have none."""
    return any(piece.chord <= LONGEST_FOLD and abs(piece.bulge) <= CHORD_BULGE for piece in pieces)


def _other(ends: tuple[int, int], node: int) -> int:
    return ends[1] if ends[0] == node else ends[0]


def _fold(before: Point, tip: Point, after: Point) -> float | None:
    """Length of the fold with that tip, None where there is none."""
    ax, ay, bx, by = before[0] - tip[0], before[1] - tip[1], after[0] - tip[0], after[1] - tip[1]
    first, second = math.hypot(ax, ay), math.hypot(bx, by)
    short, long = min(first, second), max(first, second)
    if short == 0.0 or short > LONGEST_FOLD or ax * bx + ay * by <= 0.0:
        return None
    off = abs(ax * by - ay * bx) / long
    return short if off <= NO_AREA and off <= 0.2 * short else None
