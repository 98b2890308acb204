"""Feasible plans of small orders of true shapes, by an independent method: cells and OR-Tools.

Every piece, grown by half the gap, takes all cells of a raster that it touches, at whole steps of the raster;
a lot fits a sheet if the solver finds places where no cell is taken twice. Rounding outward means that what
fits here fits in truth, so the least cost found is the cost of a plan that can be cut: no bound may lie above
it. What a plan is paid for the rectangle that goes back to the rack is read off the cells left free, again
never more than in truth.

Nothing of the project is used but the numbers of a book: outlines are drawn here with shapely.
"""

import functools
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from ortools.sat.python import cp_model
from shapely import affinity

Lot = tuple[int, ...]

STEP = 20.0
"""Side of a cell, mm."""

EFFORT = 1.5
"""Deterministic time of OR-Tools for one lot, about a second each; what is not found by then counts as not
fitting, which can only make a plan dearer."""

DUST = 1e-4
"""Square millimetres of a cell that floats may say are taken."""

FINE = 32
"""Pieces to a quarter turn where something is grown."""


@dataclass(frozen=True)
class Shape:
    """A type of piece: its metal (a polygon that contains it), how many, and its turns in degrees."""

    metal: shapely.Polygon
    count: int
    turns: tuple[float, ...]


@dataclass(frozen=True)
class Supply:
    """Sheets of one size: mm, cost of one, how many, and what a square mm that goes back is worth."""

    length: float
    width: float
    cost: float
    limit: int
    rate: float = 0.0


@dataclass(frozen=True)
class Rules:
    """Gap and margin, and the sides of the least rectangle worth keeping, mm."""

    gap: float
    margin: float
    least: tuple[float, float]


@dataclass
class Sheet:
    """A sheet size on the raster, and what is known to fit it: a lot to the most that goes back (mm2)."""

    supply: Supply
    rules: Rules
    good: dict[Lot, float] = field(default_factory=dict)
    bad: list[Lot] = field(default_factory=list)

    @property
    def cells(self) -> tuple[int, int]:
        """Whole cells along both sides of what grown pieces may take."""
        more = self.rules.gap - 2.0 * self.rules.margin
        return (
            math.floor((self.supply.length + more) / STEP + 1e-9),
            math.floor((self.supply.width + more) / STEP + 1e-9),
        )

    def left_by(self, lot: Lot, masks: Sequence[Sequence[np.ndarray]]) -> float | None:
        """What a layout of the lot leaves to go back (mm2); None where none was found."""
        if lot not in self.good:
            if any(all(a >= b for a, b in zip(lot, known, strict=True)) for known in self.bad):
                return None
            free = solved(lot, masks, self.cells)
            if free is None:
                self.bad.append(lot)
                return None
            self.good[lot] = kept(free, self.supply, self.rules)
        return self.good[lot]


def least_cost(shapes: Sequence[Shape], supplies: Sequence[Supply], rules: Rules) -> tuple[float, Lot]:
    """The cost of the cheapest plan found, infinite where none was, and its sheets of each supply."""
    masks = [masks_of(shape, rules.gap) for shape in shapes]
    sheets = [Sheet(supply, rules) for supply in supplies]

    @functools.cache
    def least(lot: Lot, limits: Lot) -> tuple[float, Lot]:
        if not any(lot):
            return 0.0, (0,) * len(sheets)
        best: tuple[float, Lot] = (math.inf, ())
        first = next(i for i, n in enumerate(lot) if n)
        choices = [range(int(i == first), n + 1) for i, n in enumerate(lot)]
        for taken in sorted(itertools.product(*choices), key=sum, reverse=True):
            for s, sheet in enumerate(sheets):
                if not limits[s] or sheet.supply.cost >= best[0] + credit_at_most(sheet):
                    continue
                left = sheet.left_by(taken, masks)
                if left is None:
                    continue
                fewer = tuple(n - (i == s) for i, n in enumerate(limits))
                rest, counts = least(tuple(n - t for n, t in zip(lot, taken, strict=True)), fewer)
                cost = sheet.supply.cost - sheet.supply.rate * left + rest
                if cost < best[0]:
                    best = cost, tuple(n + (i == s) for i, n in enumerate(counts))
        return best

    return least(tuple(shape.count for shape in shapes), tuple(supply.limit for supply in supplies))


def credit_at_most(sheet: Sheet) -> float:
    """No sheet of an order of six pieces can be paid for more than six times its metal."""
    return 6.0 * sheet.supply.rate * sheet.supply.length * sheet.supply.width


def masks_of(shape: Shape, gap: float) -> list[np.ndarray]:
    """The cells that a piece takes at each turn, its grown box in the corner of the raster."""
    masks = []
    for degrees in shape.turns:
        turned = affinity.rotate(shape.metal, degrees, origin=(0.0, 0.0))
        # Either contains all that is so near; together they keep straight sides straight and corners short.
        rounded = turned.buffer(gap / 2.0 / math.cos(math.pi / (4 * FINE)), quad_segs=FINE)
        grown = rounded.intersection(turned.buffer(gap / 2.0, join_style="mitre"))
        left, bottom, right, top = grown.bounds
        grown = affinity.translate(grown, -left, -bottom)
        xs = np.arange(math.ceil((right - left) / STEP - 1e-6)) * STEP
        ys = np.arange(math.ceil((top - bottom) / STEP - 1e-6)) * STEP
        cells = shapely.box(xs[:, None], ys[None, :], xs[:, None] + STEP, ys[None, :] + STEP)
        mask = shapely.area(shapely.intersection(cells, grown)) > DUST
        if not any(mask.shape == other.shape and (mask == other).all() for other in masks):
            masks.append(mask)
    return masks


def solved(lot: Lot, masks: Sequence[Sequence[np.ndarray]], cells: tuple[int, int]) -> np.ndarray | None:
    """The cells that a layout of the lot leaves free; None where none is found."""
    if sum(n * int(of[0].sum()) for n, of in zip(lot, masks, strict=True)) > cells[0] * cells[1]:
        return None
    model = cp_model.CpModel()
    along, across = [], []
    pieces = []
    for count, of in zip(lot, masks, strict=True):
        before = None
        for _ in range(count):
            x, y = model.new_int_var(0, cells[0], ""), model.new_int_var(0, cells[1], "")
            lies = [model.new_bool_var("") for _ in of]
            model.add_exactly_one(lies)
            for way, mask in zip(lies, of, strict=True):
                model.add(x + mask.shape[0] <= cells[0]).only_enforce_if(way)
                model.add(y + mask.shape[1] <= cells[1]).only_enforce_if(way)
                for i, j, length, width in blocks_of(mask):
                    along.append(model.new_optional_fixed_size_interval_var(x + i, length, way, ""))
                    across.append(model.new_optional_fixed_size_interval_var(y + j, width, way, ""))
            if before is not None:
                model.add(before <= x)
            before = x
            pieces.append((x, y, lies, of))
    model.add_no_overlap_2d(along, across)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    free = np.ones(cells, np.bool_)
    for x, y, lies, of in pieces:
        mask = next(mask for way, mask in zip(lies, of, strict=True) if solver.value(way))
        here = free[solver.value(x) : solver.value(x) + mask.shape[0], solver.value(y) :][:, : mask.shape[1]]
        assert here.shape == mask.shape
        assert here[mask].all()
        here[mask] = False
    return free


def blocks_of(mask: np.ndarray) -> list[tuple[int, int, int, int]]:
    """A mask parted into rectangles of cells: place, length and width of each."""
    left, blocks = mask.copy(), []
    while left.any():
        i, j = np.argwhere(left)[0].tolist()
        width = 1
        while j + width < left.shape[1] and left[i, j + width]:
            width += 1
        length = 1
        while i + length < left.shape[0] and left[i + length, j : j + width].all():
            length += 1
        left[i : i + length, j : j + width] = False
        blocks.append((i, j, length, width))
    return blocks


def kept(free: np.ndarray, supply: Supply, rules: Rules) -> float:
    """Area (mm2) of the largest useful rectangle, the gap clear of all pieces, up to the sheet's edge."""
    best = 0.0
    low = rules.margin - rules.gap / 2.0
    tops = (low + free.shape[0] * STEP, low + free.shape[1] * STEP)
    spans = []
    for axis, whole in enumerate((supply.length, supply.width)):
        ends = [0.0, *(low + k * STEP + rules.gap / 2.0 for k in range(1, free.shape[axis]))]
        starts = dict(enumerate(ends))
        stops = {k: low + k * STEP - rules.gap / 2.0 for k in range(1, free.shape[axis])}
        stops[free.shape[axis]] = whole
        assert tops[axis] <= whole - low + 1e-6
        spans.append((starts, stops))
    sums = np.zeros((free.shape[0] + 1, free.shape[1] + 1), np.int64)
    sums[1:, 1:] = (~free).cumsum(0).cumsum(1)
    short, long = sorted(rules.least)
    for i0, i1 in itertools.combinations(range(free.shape[0] + 1), 2):
        length = spans[0][1][i1] - spans[0][0][i0]
        for j0, j1 in itertools.combinations(range(free.shape[1] + 1), 2):
            width = spans[1][1][j1] - spans[1][0][j0]
            if length * width <= best or min(length, width) < short or max(length, width) < long:
                continue
            if sums[i1, j1] - sums[i0, j1] - sums[i1, j0] + sums[i0, j0] == 0:
                best = length * width
    return best
