"""The inequalities that whatever lies on one sheet has to keep, by dual feasible functions.

A function f from 0..1 to 0..1 is dual feasible if whatever fits side by side still does so after
it: sum x <= 1 implies sum f(x) <= 1. With one function along each side, the areas of the changed
boxes on one sheet add up to at most 1 (Fekete and Schepers, "A general framework for bounds for
higher-dimensional orthogonal packing problems", Mathematical Methods of Operations Research 60,
2004). Each pair of functions so gives an inequality that every layout keeps. All sizes are whole numbers and
all comparisons exact; only the values are floats. Rows of areas hold at once; so do rows of discs. Of the
others those are found that an answer breaks most.

What goes back to the rack is a rectangle R beside the pieces. The part of it that lies within the margin,
grown as the pieces are, keeps clear of their boxes, so it is one more item: f(pieces) + f(R) <= 1 for
every pair of functions. How long R is is not known, only that it is of a useful size; ``kept`` of a row is
the least that f(R) can be for a unit of its area, so that the row holds for R of any useful size.

Discs: at most 2/sqrt(3) A/d^2 + P/(2 d) + 1 points lie at least d apart in a convex region of area A and
perimeter P (Groemer, "Über die Einlagerung von Kreisen in einen konvexen Bereich", Mathematische
Zeitschrift 73, 1960; Folkman and Graham, "A packing inequality for compact convex subsets of the plane",
Canadian Mathematical Bulletin 12, 1969). Taken for the centres of discs of radius r inside the pieces of
at least such a disc, d = 2 r + gap and the sheet less its margin and r all round. It holds beside any other
pieces, since it says nothing of them, and it is closer than the density of Thue (1910), pi/sqrt(12), to
which it comes near on large sheets. Discs that lie in the hole of a ring do not break it: the disc that
stands for a ring lies in its metal.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.maxrects import Ints
from sheetplan.planning.bounds.model import BoundModel, Metal, Way

Floats = NDArray[np.float64]

NONE: Ints = np.empty(0, np.int64)

STEPS = (1, 2, 3, 4)
"""How finely `stepped` rounds: the number of equal steps up to the whole side."""

MOST_THRESHOLDS = 24
"""Thresholds tried per side and family, spread over the sizes that occur."""

BROKEN = 1e-6
"""An inequality counts as broken by more than this share of a sheet."""

ROWS_PER_ROUND = 4
"""Inequalities added per metal, growth and round, the most broken first."""

REMNANT_SIZES = 80
"""Lengths of a remnant at which functions are looked at; between them the worse neighbour counts."""

MOST_DISC_ROWS = 6
"""Radii for which the discs on a sheet are counted."""

ROUNDING_NM = 2_000
"""A remnant counts as useful if it is smaller than that by the dust of measuring."""

ROUNDING = 1e-9
"""What floats may take off a count that comes out whole."""


def plain(sizes: Ints, whole: int) -> Floats:
    """The size itself as a share of the whole side."""
    return sizes / whole


def stepped(sizes: Ints, whole: int, steps: int) -> Floats:
    """Round to steps of the side: u^(k) of Fekete and Schepers (2004)."""
    grown = (steps + 1) * sizes
    exact = grown % whole == 0
    return np.where(exact, sizes / whole, (grown // whole) / steps)


def cut_off(sizes: Ints, whole: int, threshold: int) -> Floats:
    """Leave out what is below a threshold and count what leaves less than it as a whole: U^(eps)."""
    return np.where(sizes > whole - threshold, 1.0, np.where(sizes < threshold, 0.0, sizes / whole))


def rounded(sizes: Ints, whole: int, threshold: int) -> Floats:
    """Count thresholds: phi^(eps) of Fekete and Schepers, also in Carlier, Clautiaux and Moukrim (2007)."""
    most = whole // threshold
    large = 1.0 - ((whole - sizes) // threshold) / most
    small = (sizes // threshold) / most
    return np.where(2 * sizes > whole, large, np.where(2 * sizes == whole, 0.5, small))


def functions_of(sizes: Ints, whole: int, others: Ints = NONE) -> Floats:
    """Values of every function for one side of a sheet, shape (functions, len(sizes) + len(others)).

    The functions are chosen by the sizes alone and take the other sizes as well. Sizes beyond the
    side get the value 1: they lie on no such sheet, so any value would do.
    """
    inside = np.minimum(sizes, whole)
    both = np.minimum(np.concatenate((sizes, others)), whole)
    rows = [plain(both, whole)]
    rows += [stepped(both, whole, steps) for steps in STEPS]
    rows += _family(cut_off, both, whole, inside)
    rows += _family(rounded, both, whole, np.concatenate([inside // parts for parts in (1, 2, 3, 4)]))
    return np.unique(np.array(rows), axis=0)


def _family(
    function: Callable[[Ints, int, int], Floats], sizes: Ints, whole: int, marks: Iterable[int]
) -> list[Floats]:
    """One function at thresholds up to half the side, evenly picked where there are too many."""
    thresholds = sorted({int(mark) for mark in marks if mark > 0 and 2 * mark <= whole})
    if len(thresholds) > MOST_THRESHOLDS:
        picks = np.linspace(0, len(thresholds) - 1, MOST_THRESHOLDS).round().astype(int)
        thresholds = [thresholds[i] for i in picks]
    return [function(sizes, whole, threshold) for threshold in thresholds]


@dataclass(frozen=True, slots=True)
class Row:
    """An inequality: values of the held types, and of what goes back, come to at most 1 on a sheet.

    ``kept`` belongs to what goes back as a share of the whole sheet.
    """

    values: Floats
    kept: float = 0.0


@dataclass(frozen=True, slots=True)
class Growth:
    """Functions of all inner rectangles under one growth, and the least that a remnant comes to.

    ``along_x`` and ``along_y`` have a row per function and a column per rectangle. ``kept_x[0]`` is for
    remnants at least as long along x as the short side of a useful one, ``kept_x[1]`` as its long side:
    the least value for a unit of length.
    """

    along_x: Floats
    along_y: Floats
    kept_x: tuple[Floats, Floats]
    kept_y: tuple[Floats, Floats]


@dataclass(frozen=True)
class Side:
    """One metal: the types that it can hold, their rectangles, and what follows.

    Rectangles of one turn stand together, and the turns of one type: ``first_of_turn`` and
    ``first_of_type`` say where they begin. ``most_kept`` is the most of the whole sheet that can go back.
    """

    known: BoundModel
    metal: Metal
    held: Ints
    rectangles: Ints
    first_of_turn: Ints
    first_of_type: Ints
    most_kept: float

    @cached_property
    def growths(self) -> tuple[Growth, ...]:
        """Functions for every growth, made when the first is asked for."""
        return tuple(self._grown(*growth) for growth in self.known.growths)

    def _grown(self, by_x: int, by_y: int) -> Growth:
        pays = self.known.has_credits and self.metal.plain
        lengths, widths = self.rectangles[:, 0], self.rectangles[:, 1]
        pooled = np.unique(np.concatenate((lengths + by_x, widths + by_x)))
        along_x, kept_x = self._along(0, lengths + by_x, pooled, by_x, pays=pays)
        pooled = np.unique(np.concatenate((lengths + by_y, widths + by_y)))
        along_y, kept_y = self._along(1, widths + by_y, pooled, by_y, pays=pays)
        return Growth(along_x, along_y, kept_x, kept_y)

    def _along(
        self, axis: int, sizes: Ints, pooled: Ints, grown: int, *, pays: bool
    ) -> tuple[Floats, tuple[Floats, Floats]]:
        """Values of functions along one side, and the least that remnants come to for a unit of length."""
        whole = self.metal.sides[axis] + grown
        if not pays:
            values = functions_of(pooled, whole)
            none = np.zeros(len(values))
            return values[:, np.searchsorted(pooled, sizes)], (none, none)
        useful = np.sort(self.known.problem.least_left) - ROUNDING_NM
        most = max(self.metal.edge[axis], whole)
        least = int(min(max(1, useful[0]), most))
        lengths = np.unique(np.geomspace(least, most, REMNANT_SIZES).astype(np.int64))
        lengths = np.unique(np.concatenate((lengths, useful[(useful > least) & (useful < most)])))
        within = np.minimum(lengths - self.metal.margin + grown, whole)
        within = np.maximum(0, np.minimum(within, lengths))
        values = functions_of(pooled, whole, within)
        seen, beyond = values[:, : len(pooled)], values[:, len(pooled) :]
        rates = beyond / np.append(lengths[1:], most)
        kept = tuple(rates[:, lengths >= min(side, most)].min(axis=1) for side in useful)
        return seen[:, np.searchsorted(pooled, sizes)], (kept[0], kept[1])

    def first_rows(self, *, pays: bool) -> list[Row]:
        """Rows that hold from the start: areas, and discs."""
        areas = self.known.areas[self.held]
        rows = [Row(areas / max(self.metal.area, 1.0))] if len(self.held) else []
        if pays:
            rows.append(Row(areas / self.metal.whole, kept=1.0))
        return [*rows, *self._disc_rows(), *self._clique_rows()]

    def _clique_rows(self) -> list[Row]:
        """Of types of which every two, and every two of one, share no sheet, a sheet holds one piece."""
        known = self.known
        pairs = {(t, u) for m, t, u in known.pairs if known.metals[m] is self.metal}
        alone = [int(t) for t in self.held if (t, t) in pairs]
        rows, seen = [], set[int]()
        for t in sorted(alone, key=lambda t: -float(known.areas[t])):
            if t in seen:
                continue
            clique = [t]
            for u in alone:
                if u != t and all((min(u, v), max(u, v)) in pairs for v in clique):
                    clique.append(u)
            seen.update(clique)
            rows.append(Row(np.isin(self.held, clique).astype(np.float64)))
        return rows

    def _disc_rows(self) -> list[Row]:
        """Most pieces on a sheet that hold a disc of some radius; the radii of most metal."""
        radii = self.known.radii[self.held]
        amounts = self.known.areas[self.held] * self.known.problem.wanted[self.held]
        sizes = np.unique(radii[radii > 0.0])
        metal = np.array([amounts[radii == size].sum() for size in sizes])
        chosen = np.sort(sizes[np.argsort(-metal, kind="stable")[:MOST_DISC_ROWS]])
        rows = []
        for radius in chosen:
            most = most_discs(self.metal.sides, float(radius), self.known.gap)
            rows.append(Row(np.where(radii >= radius, 1.0 / most, 0.0)))
        return rows

    def broken_rows(self, lying: Floats, sheets: float, kept: float) -> list[Row]:
        """The most broken inequalities for pieces lying on so many sheets, of which so much goes back."""
        here = np.flatnonzero(lying > 0.0)
        if not len(here):
            return []
        found = []
        for growth in self.growths:
            totals = kept * self._kept_table(growth)
            for place in here:
                totals = totals + lying[place] * self._table(growth, int(place))
            worst = np.argsort(-totals, axis=None, kind="stable")[:ROWS_PER_ROUND]
            worst = worst[totals.flat[worst] > sheets + BROKEN * max(1.0, sheets)]
            first, second = np.unravel_index(worst, totals.shape)
            found += self._rows(growth, first, second)
        return found

    def _kept_table(self, growth: Growth) -> Floats:
        """The least value of a whole sheet's area of remnant, by functions: it lies one way or the other."""
        if not growth.kept_x[0].any():
            return np.zeros((len(growth.along_x), len(growth.along_y)))
        long_x = np.outer(growth.kept_x[1], growth.kept_y[0])
        long_y = np.outer(growth.kept_x[0], growth.kept_y[1])
        return np.minimum(long_x, long_y) * self.metal.whole

    def _table(self, growth: Growth, place: int) -> Floats:
        """Values of one held type by functions: of the worst turn, the best rectangle."""
        starts = np.append(self.first_of_type, len(self.first_of_turn))
        ends = np.append(self.first_of_turn, len(self.rectangles))
        best: Floats | None = None
        for turn in range(int(starts[place]), int(starts[place + 1])):
            of_turn: Floats | None = None
            for k in range(int(ends[turn]), int(ends[turn + 1])):
                value = np.outer(growth.along_x[:, k], growth.along_y[:, k])
                of_turn = value if of_turn is None else np.maximum(of_turn, value)
            assert of_turn is not None
            best = of_turn if best is None else np.minimum(best, of_turn)
        assert best is not None
        return best

    def _rows(self, growth: Growth, first: NDArray[np.intp], second: NDArray[np.intp]) -> list[Row]:
        """The inequalities of pairs of functions."""
        if not len(first):
            return []
        values = growth.along_x[first] * growth.along_y[second]
        values = np.maximum.reduceat(values, self.first_of_turn, axis=1)
        values = np.minimum.reduceat(values, self.first_of_type, axis=1)
        kept = self._kept_table(growth)[first, second]
        return [Row(row, float(part)) for row, part in zip(values, kept, strict=True)]


def side_of(known: BoundModel, metal: int) -> Side:
    """How a bound sees one metal."""
    ground = known.metals[metal]
    held: list[int] = []
    rectangles: list[tuple[int, int]] = []
    first_of_turn: list[int] = []
    first_of_type: list[int] = []
    for t, ways in enumerate(known.ways):
        fitting = [way for way in ways if _fits(way, ground, known.slack)]
        if not fitting:
            continue
        held.append(t)
        first_of_type.append(len(first_of_turn))
        for way in fitting:
            first_of_turn.append(len(rectangles))
            rectangles += way.inner
    side = Side(
        known, ground, np.array(held, np.int64), np.array(rectangles, np.int64).reshape(-1, 2),
        np.array(first_of_turn, np.int64), np.array(first_of_type, np.int64), 0.0,
    )  # fmt: skip
    return Side(known, ground, *_tables(side), most_kept=_most_kept(side))


def _tables(side: Side) -> tuple[Ints, Ints, Ints, Ints]:
    return side.held, side.rectangles, side.first_of_turn, side.first_of_type


def _fits(way: Way, metal: Metal, slack: int) -> bool:
    return way.box[0] <= metal.sides[0] + slack and way.box[1] <= metal.sides[1] + slack


def _most_kept(side: Side) -> float:
    """The most of a sheet that can go back if at least one piece is cut from it, as a share of the whole.

    Two upright rectangles that do not overlap lie beside or above each other, so R is no longer or no
    wider than what the inner rectangle of some piece leaves; and it has no more area than the least piece.
    """
    metal = side.metal
    if not len(side.held):
        return 0.0
    most = 1.0 - float(side.known.areas[side.held].min()) / metal.whole
    if not metal.plain:
        return max(0.0, most)
    length, width = (max(a, b) for a, b in zip(metal.edge, metal.sides, strict=True))
    beside = (length - metal.margin - side.rectangles[:, 0]).astype(np.float64) * width
    above = (width - metal.margin - side.rectangles[:, 1]).astype(np.float64) * length
    left = np.maximum(beside, above) / metal.whole
    of_turn = np.minimum.reduceat(left, side.first_of_turn)
    return max(0.0, min(most, float(of_turn.max())))


def most_discs(sides: tuple[int, int], radius: float, gap: int) -> int:
    """Most discs of a radius in a rectangle, a gap apart (Groemer 1960); nm. One may fit by a hair."""
    length, width = sides[0] - 2.0 * radius, sides[1] - 2.0 * radius
    if length < 0.0 or width < 0.0:
        return 1
    apart = 2.0 * radius + gap
    held = 2.0 / math.sqrt(3.0) * length * width / apart**2 + (length + width) / apart + 1.0
    return math.floor(held + ROUNDING)
