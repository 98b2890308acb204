"""What a bound knows of pieces and metal: never more than is true of any layout.

Two models of one gauge. `boxes_model` is that of the box search: upright boxes grown by the whole
gap along both axes. It bounds box plans and nothing else. `shapes_model` bounds every layout that
keeps the rules, whatever it is made of; three things make it differ.

- The gap is a distance, not a step along an axis: two plates corner to corner may lie nearer than the
  gap along x and along y. If they are at least g apart, then for any angle u they are at least g cos u
  apart along x or g sin u along y (else their distance would be less than g by Pythagoras). So boxes
  grown by (g, 0), by (0, g) or by g / sqrt(2) both ways never overlap, and each such growth gives
  boxes of its own; an inequality may be taken from any of them, but never from a mixture.
- Of a piece only upright rectangles inside its metal are known, one or a few for every turn that it may
  take, and its area grown by half the gap (`BoundModel.areas`). A hole counts as metal where no wanted
  piece, nor a rectangle worth keeping, can lie in it.
- Metal is where pieces may really lie, to the curve of an odd edge and up to slanted old cuts; the
  free rectangles that boxes are packed into may be less.

Terms
-----
metal
    One blank as a bound sees it; supplies of equal blanks share one.
way
    One turn of a type: its box, and rectangles inside it.
remnant
    What goes back to the rack: the largest useful rectangle that a sheet has left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from sheetplan.model.job import Part
from sheetplan.model.outline import Loop, Outline
from sheetplan.model.turns import allowed_turns
from sheetplan.packing import Blank
from sheetplan.packing.exact_fit import FITS_NOT, fits_exactly
from sheetplan.packing.maxrects import Floats, Ints, box_areas, supply_blank
from sheetplan.packing.rectangles import NM_PER_MM, free_rectangles, nm_down, nm_up
from sheetplan.planning.box_problem import BoxProblem, Supply
from sheetplan.shapes import Side, as_circle, box, is_rectangle, to_polygon, turn

NM2_PER_MM2 = 1e12

FLAT_MM = 0.05
"""How finely outlines are flattened, inwards, where only their area or what lies within them is wanted."""

FIT_MM = 0.01
"""A way that is larger than the metal by no more than this still counts as fitting: the safe side."""

DISC_MM = 0.001
"""Taken off the radius of a disc, which is told from its arcs to within so much."""

LATTICE_NM = 4
"""Taken off inner rectangles, which a lattice of nanometres may make larger by so much."""

MOST_BASES = 2
"""Turns, quarter turns aside, for which rectangles are fitted; of parts with more a square is known."""

MOST_FITTED = 40
"""Types for which rectangles are fitted, those that take most metal first; of others a square is known."""

ARC_STEPS = 16
"""Pieces to a quarter turn when something is grown outwards."""


Pair = tuple[int, int, int]
"""A metal and two types, the first not greater; twice the same where no sheet holds two."""


@dataclass(frozen=True, slots=True)
class Way:
    """One turn of a type: length and width of its box, and of rectangles within its metal (nm)."""

    box: tuple[int, int]
    inner: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Metal:
    """A blank as a bound sees it (nm, nm2).

    ``sides`` are those of the box in which ways lie, ``area`` is what grown pieces share, ``whole``
    what grown pieces and the remnant share. ``edge`` has the sides of the sheet itself; ``plain`` says
    whether it is a rectangle with nothing cut from it.
    """

    sides: tuple[int, int]
    area: float
    whole: float
    edge: tuple[int, int]
    margin: int
    plain: bool


@dataclass(frozen=True, slots=True, eq=False)
class BoundModel:
    """Pieces and metal of one gauge.

    ``areas`` (nm2) is what a piece of each type takes at least, ``cores`` has a rectangle (length, width,
    turnable) that lies in it whichever way it is turned. ``radii`` (nm) are those of discs inside the
    pieces, 0 where none is known. ``of_supply`` names the metal of each supply. ``growths`` are what may be
    added to the sides of ways and metal alike; ``gap`` is the least distance of pieces (nm). A way may be
    larger than its metal by ``slack`` (nm) and count as fitting. ``pairs`` are pieces of which no sheet
    holds both (see `conflicts`), none where that was not looked for.
    """

    problem: BoxProblem
    areas: Floats
    ways: tuple[tuple[Way, ...], ...]
    cores: tuple[Ints, Ints, np.ndarray[tuple[int], np.dtype[np.bool_]]]
    radii: Floats
    metals: tuple[Metal, ...]
    of_supply: tuple[int, ...]
    growths: tuple[tuple[int, int], ...]
    gap: int
    slack: int
    pairs: tuple[Pair, ...] = ()

    @property
    def has_credits(self) -> bool:
        """Whether anything is paid for what goes back to the rack."""
        return bool((self.problem.kept_rates > 0.0).any())

    def supplies_of(self, metal: int) -> list[int]:
        """The supplies of one metal."""
        return [s for s, m in enumerate(self.of_supply) if m == metal]


@lru_cache(maxsize=64)
def boxes_model(problem: BoxProblem) -> BoundModel:
    """The gauge as the box search knows it; it bounds plans of boxes."""
    lengths, widths, turnable = problem.types
    ways = []
    for length, width, may_turn in zip(lengths.tolist(), widths.tolist(), turnable.tolist(), strict=True):
        upright = Way((length, width), ((length, width),))
        across = Way((width, length), ((width, length),))
        ways.append((upright, across) if may_turn and length != width else (upright,))
    metals = []
    for s, supply in enumerate(problem.choices):
        length, width = box_around(supply_blank(problem.supplies, s))
        area = float(problem.supplies.areas[s])
        gap = nm_up(supply.blank.gap)
        whole = max(area, _whole_area(supply.blank))
        edge = _edge_sides(supply.blank)
        edge = max(edge[0], length), max(edge[1], width)
        margin = max(0, nm_up(supply.blank.margin) - gap)
        plain = is_rectangle(supply.blank.edge) and not supply.blank.cuts
        metals.append(Metal((length, width), area, whole, edge, margin, plain))
    distinct, of_supply = _shared(metals)
    return BoundModel(
        problem, box_areas(problem.types), tuple(ways), (lengths, widths, turnable),
        np.zeros(len(lengths)), distinct, of_supply, ((0, 0),), 0, 0,
    )  # fmt: skip


@lru_cache(maxsize=64)
def shapes_model(problem: BoxProblem) -> BoundModel:
    """The gauge as it is: it bounds every plan that keeps the rules."""
    gap_mm = min((supply.blank.gap for supply in problem.choices), default=0.0)
    parts = [made.part for made in problem.boxes]
    filled = [_with_metal_holes(part, problem, gap_mm) for part in parts]
    solids = [to_polygon(outline, FLAT_MM, Side.IN) for outline in filled]
    areas = np.array([solid.buffer(gap_mm / 2.0).area for solid in solids]) * NM2_PER_MM2
    radii = np.array([_inner_radius(f, s) for f, s in zip(filled, solids, strict=True)])
    radii = np.maximum(0.0, radii - DISC_MM) * NM_PER_MM
    fitted = set(np.argsort(-areas * problem.wanted, kind="stable")[:MOST_FITTED].tolist())
    known = [
        _ways(part, outline, float(radius), fitted=t in fitted)
        for t, (part, outline, radius) in enumerate(zip(parts, filled, radii, strict=True))
    ]
    wanted = np.flatnonzero(problem.wanted)
    least = min((solids[t].area for t in wanted), default=0.0)
    narrow = float(radii[wanted].min(initial=np.inf)) / NM_PER_MM if len(wanted) else 0.0
    metals, of_supply = _shared([_true_metal(choice, least, narrow) for choice in problem.choices])
    gap = nm_down(gap_mm)
    lean = math.floor(gap * math.sqrt(0.5))
    growths = ((lean, lean), (gap, 0), (0, gap)) if gap > 0 else ((0, 0),)
    cores = (
        np.array([core[0] for _, core in known], np.int64),
        np.array([core[1] for _, core in known], np.int64),
        np.array([core[2] for _, core in known], np.bool_),
    )
    return BoundModel(
        problem, areas, tuple(ways for ways, _ in known), cores, radii, metals, of_supply, growths, gap,
        slack=round(FIT_MM * NM_PER_MM),
    )  # fmt: skip


def solid_of(problem: BoxProblem, t: int) -> shapely.Geometry:
    """The metal of a part in its own frame, flattened inwards, with its holes that nothing can lie in."""
    gap = min((supply.blank.gap for supply in problem.choices), default=0.0)
    return to_polygon(_with_metal_holes(problem.boxes[t].part, problem, gap), FLAT_MM, Side.IN)


@lru_cache(maxsize=64)
def true_metals(problem: BoxProblem) -> tuple[Metal, ...]:
    """The metal of each supply, whatever pieces there are."""
    return tuple(_true_metal(choice, 0.0, 0.0) for choice in problem.choices)


def _shared(metals: Sequence[Metal]) -> tuple[tuple[Metal, ...], tuple[int, ...]]:
    """Each different metal once, and which one each supply has."""
    distinct = tuple(dict.fromkeys(metals))
    return distinct, tuple(distinct.index(metal) for metal in metals)


def box_around(free: Ints) -> tuple[int, int]:
    """Length and width of the box round free rectangles."""
    far = (free[:, :2] + free[:, 2:]).max(axis=0) - free[:, :2].min(axis=0)
    return int(far[0]), int(far[1])


def _edge_sides(blank: Blank) -> tuple[int, int]:
    around = box(blank.edge)
    return nm_up(around.length), nm_up(around.width)


def _whole_area(blank: Blank) -> float:
    """Area (nm2) that grown pieces and a useful rectangle share at most.

    The rectangle keeps the gap to pieces, so it does not meet pieces grown by half of it. Both lie on
    the sheet and clear of its old cuts, but for what grows over the edge where the margin is less than
    half the gap.
    """
    over = max(0.0, blank.gap / 2.0 - blank.margin)
    around = box(blank.edge)
    if is_rectangle(blank.edge):
        area = (around.length + 2.0 * over) * (around.width + 2.0 * over)
    else:
        area = float(to_polygon(blank.edge, FLAT_MM, Side.OUT).buffer(_outward(over)).area)
    if blank.cuts:
        gone = shapely.union_all([to_polygon(cut, FLAT_MM, Side.IN) for cut in blank.cuts])
        edge = to_polygon(blank.edge, FLAT_MM, Side.IN)
        area -= float(gone.intersection(edge).area)
    return area * NM2_PER_MM2


def _outward(distance: float) -> float:
    """What to buffer by so that a polygon with chords for arcs holds all that is so near."""
    return distance / math.cos(math.pi / (4 * ARC_STEPS))


def _true_metal(choice: Supply, least_area: float, narrowest: float) -> Metal:
    """Where pieces may lie on one blank.

    A piece keeps the margin to the edge and the gap, with what is added to it, to old cuts; grown by half
    the gap it lies in this room grown by as much. A piece is connected, so a part of the room that is
    smaller than the least piece, or that no disc fits which every piece holds, takes none.
    """
    blank = choice.blank
    edge = _edge_sides(blank)
    margin, gap = nm_down(blank.margin), nm_up(blank.gap)
    whole = _whole_area(blank)
    if is_rectangle(blank.edge) and not blank.cuts:
        length, width = edge[0] - 2 * margin, edge[1] - 2 * margin
        area = float(length + gap) * float(width + gap)
        return Metal((length, width), area, whole, edge, margin, plain=True)
    room = to_polygon(blank.edge, FLAT_MM, Side.OUT).buffer(-blank.margin, quad_segs=ARC_STEPS)
    if blank.cuts:
        cuts = [to_polygon(cut, FLAT_MM, Side.IN) for cut in blank.cuts]
        room = room.difference(shapely.union_all(shapely.buffer(cuts, blank.gap + blank.extra_gap)))
    cores = [part for part in shapely.get_parts(room) if part.area >= least_area * 0.999]
    kept = [part for part in cores if not part.buffer(-0.99 * narrowest, quad_segs=ARC_STEPS).is_empty]
    if not kept:
        return Metal((0, 0), 0.0, whole, edge, margin, plain=False)
    room = shapely.union_all(kept)
    left, bottom, right, top = room.bounds
    area = float(room.buffer(_outward(blank.gap / 2.0), quad_segs=ARC_STEPS).area) * NM2_PER_MM2
    return Metal((nm_up(right - left), nm_up(top - bottom)), area, whole, edge, margin, plain=False)


def _with_metal_holes(part: Part, problem: BoxProblem, gap: float) -> Outline:
    """The outline with those of its holes filled in which nothing can lie that a plan counts."""
    holes = tuple(hole for hole in part.outline.holes if _is_usable(hole, problem, gap))
    return Outline(part.outline.outer, holes)


def _is_usable(hole: Loop, problem: BoxProblem, gap: float) -> bool:
    """Whether a wanted piece may lie in a hole, gap kept, or a rectangle worth keeping; False is certain.

    What lies in it lies in the hole drawn in by the gap, and so does its box in the box of that.
    """
    room = to_polygon(hole, FLAT_MM, Side.OUT).buffer(-gap, quad_segs=ARC_STEPS)
    if room.is_empty:
        return False
    left, bottom, right, top = room.bounds
    length, width = right - left + FIT_MM, top - bottom + FIT_MM
    if (problem.kept_rates > 0.0).any():
        short, long = np.sort(problem.least_left) / NM_PER_MM
        if short <= min(length, width) and long <= max(length, width):
            return True
    for t in np.flatnonzero(problem.wanted):
        other = problem.boxes[t].part
        for degrees in _turns(other):
            around = box(turn(other.outline.outer, degrees))
            if around.length <= length and around.width <= width:
                return True
    return False


def _turns(part: Part) -> tuple[float, ...]:
    """The turns of a part; those of its mirror image have the boxes of the turns the other way round."""
    turns = allowed_turns(part)
    return (*turns, *(-degrees for degrees in turns)) if part.may_mirror else turns


def _inner_radius(outline: Outline, solid: shapely.Geometry) -> float:
    """Radius of a disc inside the metal, mm; that of the part itself where it is one."""
    circle = as_circle(outline.outer) if not outline.holes else None
    if circle is not None:
        return circle[2]
    if is_rectangle(outline) and not outline.holes:
        around = box(outline.outer)
        return min(around.length, around.width) / 2.0
    solids = [part for part in shapely.get_parts(solid) if part.area > 0.0]
    if not solids:
        return 0.0
    largest = max(solids, key=lambda part: float(part.area))
    return float(shapely.maximum_inscribed_circle(largest, tolerance=0.5).length)


def _ways(
    part: Part, outline: Outline, radius: float, *, fitted: bool
) -> tuple[tuple[Way, ...], tuple[int, int, bool]]:
    """The ways of a part, and a rectangle inside it that holds for all of them."""
    square = max(0, math.floor(radius * math.sqrt(2.0)) - LATTICE_NM)
    turns = sorted({round(degrees % 360.0, 6) for degrees in _turns(part)})
    bases = sorted({round(degrees % 90.0, 6) for degrees in turns})
    plain = is_rectangle(outline) and not outline.holes and bases == [0.0]
    inner: dict[float, list[tuple[int, int]]] = {base: [(square, square)] for base in bases}
    if plain:
        around = box(outline.outer)
        inner[0.0] = [(nm_down(around.length), nm_down(around.width))]
    elif fitted and len(bases) <= MOST_BASES and as_circle(outline.outer) is None:
        inner = {base: _rectangles_in(outline, base) or [(square, square)] for base in bases}
    ways: dict[Way, None] = {}
    for degrees in turns:
        base = round(degrees % 90.0, 6)
        swapped = round((degrees - base) / 90.0) % 2 == 1
        around = box(turn(outline.outer, degrees))
        sides = [(w, h) if not swapped else (h, w) for w, h in inner[base]]
        ways[Way((nm_down(around.length), nm_down(around.width)), tuple(sides))] = None
    if len(bases) > 1:
        return tuple(ways), (square, square, False)
    length, width = max(inner[bases[0]], key=lambda sides: float(sides[0]) * float(sides[1]))
    quarters = {round((degrees - bases[0]) / 90.0) % 2 for degrees in turns}
    if quarters == {1}:
        length, width = width, length
    return tuple(ways), (length, width, len(quarters) == 2)


def _rectangles_in(outline: Outline, degrees: float) -> list[tuple[int, int]]:
    """The largest, the longest and the widest upright rectangle inside a part at one turn."""
    turned = turn(outline, degrees)
    free = free_rectangles(Blank(turned.outer, turned.holes, 0.0, 0.0))
    sides = free[:, 2:] - LATTICE_NM
    sides = sides[(sides > 0).all(axis=1)]
    if not len(sides):
        return []
    area = sides[:, 0].astype(float) * sides[:, 1].astype(float)
    measures = (area, area * sides[:, 0], area * sides[:, 1])
    best = {tuple(int(v) for v in sides[int(np.argmax(measure))]) for measure in measures}
    return sorted((length, width) for length, width in best)


TRIAL_LOOKS = 4
"""What a place that `fit_of` tries counts as work."""


def fit_of(known: BoundModel, metal: Metal, pieces: Ints, trials: int) -> int:
    """Whether some pieces, by type, fit on one sheet as far as their cores tell: `FITS_NOT` is certain.

    Every growth of the cores gives boxes that do not overlap, so one that leaves no room is enough.
    """
    pieces = pieces[np.argsort(-known.areas[pieces], kind="stable")]
    lengths, widths, turnable = known.cores[0][pieces], known.cores[1][pieces], known.cores[2][pieces]
    answers = []
    for by_x, by_y in known.growths:
        if by_x != by_y and turnable.any():
            continue  # a box that is turned grows by the other amounts, which the exact search does not know
        room = metal.sides[0] + by_x, metal.sides[1] + by_y
        answers.append(fits_exactly(lengths + by_x, widths + by_y, turnable, *room, trials))
        if answers[-1] == FITS_NOT:
            break
    return FITS_NOT if FITS_NOT in answers else answers[0]
