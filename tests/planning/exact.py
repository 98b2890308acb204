"""The least cost of a small order, by an independent method: every way to share pieces among sheets.

Words: a *lot* is how many pieces of each type; it *fits* a sheet size if one sheet of it holds them
all. Whether a lot fits is settled by constraint programming with OR-Tools, one sheet at a time; the
least cost of a lot is the price of a sheet and the least cost of what that sheet leaves, tried for all
sheets and all lots that hold one piece of the first type left.
"""

import functools
import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from ortools.sat.python import cp_model

from sheetplan.model import Job, Part
from sheetplan.model.turns import allowed_turns

Lot = tuple[int, ...]

UNIT = 10
"""Millimetres in a step of the grid. Where all sizes are whole steps, pieces can be pushed left and down
onto whole steps, so that nothing is lost by placing them there only."""

EFFORT = 60.0
"""Deterministic time of OR-Tools, about a second each, after which a lot counts as unsettled."""


@dataclass(frozen=True)
class Piece:
    """A type of piece in steps, grown by the gap; the ways that it may lie."""

    sides: tuple[int, int]
    lies: tuple[tuple[int, int], ...]


class Sheet:
    """A sheet size in steps, less its margins and grown by the gap, and what is known to fit it."""

    def __init__(self, price: int, length: int, width: int) -> None:
        self.price, self.length, self.width = price, length, width
        self.good: list[Lot] = []
        self.bad: list[Lot] = []

    def fits(self, lot: Lot, pieces: list[Piece]) -> bool:
        """Whether one sheet holds the lot, asked of the solver only where no other lot tells."""
        if any(_within(lot, known) for known in self.good):
            return True
        if any(_within(known, lot) for known in self.bad):
            return False
        found = self._solved(lot, pieces)
        (self.good if found else self.bad).append(lot)
        return found

    def _solved(self, lot: Lot, pieces: list[Piece]) -> bool:
        area = sum(n * p.sides[0] * p.sides[1] for n, p in zip(lot, pieces, strict=True))
        if area > self.length * self.width:
            return False
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.max_deterministic_time = EFFORT
        status = solver.solve(_one_sheet(self, lot, pieces))
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE):
            raise TimeoutError(f"not settled whether {lot} fits {self.length} x {self.width}")
        return status != cp_model.INFEASIBLE


def least_cost(job: Job) -> int:
    """Least price of sheets that hold all pieces.

    Raises
    ------
    TimeoutError
        Where the solver could not settle whether some lot fits a sheet.
    """
    gap, margin = _steps(job.rules[0].gap), _steps(job.rules[0].margin)
    names = list(dict.fromkeys(order.item for order in job.orders))
    pieces = [_piece(job.parts[name], gap) for name in names]
    sheets = [
        Sheet(int(s.price), _steps(s.length) - 2 * margin + gap, _steps(s.width) - 2 * margin + gap)
        for s in job.stock
    ]

    @functools.cache
    def least(lot: Lot) -> int:
        if not any(lot):
            return 0
        return min(
            sheet.price + least(tuple(n - t for n, t in zip(lot, taken, strict=True)))
            for sheet in sheets
            for taken in fullest(sheet, lot)
        )

    def fullest(sheet: Sheet, lot: Lot) -> Iterator[Lot]:
        """Lots that fit and hold a piece of the first type left, but none that lies within another."""
        first = next(i for i, n in enumerate(lot) if n)
        choices = [range(int(i == first), n + 1) for i, n in enumerate(lot)]
        found: list[Lot] = []
        for taken in sorted(itertools.product(*choices), key=sum, reverse=True):
            if not any(_within(taken, other) for other in found) and sheet.fits(taken, pieces):
                found.append(taken)
                yield taken

    return least(tuple(sum(o.quantity for o in job.orders if o.item == name) for name in names))


def _one_sheet(sheet: Sheet, lot: Lot, pieces: list[Piece]) -> cp_model.CpModel:
    """The question whether a lot fits a sheet: boxes that do not overlap, each lying one of its ways."""
    model = cp_model.CpModel()
    along, across, heights, widths = [], [], [], []
    for piece, count in zip(pieces, lot, strict=True):
        before = None
        for _ in range(count):
            way = model.new_int_var(0, len(piece.lies) - 1, "")
            low, high = min(piece.sides), max(piece.sides)
            length, width = (model.new_int_var(low, high, "") for _ in range(2))
            model.add_allowed_assignments(
                [way, length, width], [(i, *lie) for i, lie in enumerate(piece.lies)]
            )
            x, y = model.new_int_var(0, sheet.length, ""), model.new_int_var(0, sheet.width, "")
            right, top = model.new_int_var(0, sheet.length, ""), model.new_int_var(0, sheet.width, "")
            along.append(model.new_interval_var(x, length, right, ""))
            across.append(model.new_interval_var(y, width, top, ""))
            widths.append(width)
            heights.append(length)
            if before is not None:
                model.add(before <= x)
            before = x
    model.add_no_overlap_2d(along, across)
    # Follows from the boxes, but cuts the search short: no upright line meets more than the width, and so on.
    model.add_cumulative(along, widths, sheet.width)
    model.add_cumulative(across, heights, sheet.length)
    return model


def _piece(part: Part, gap: int) -> Piece:
    length, width = (_steps(v) + gap for v in part.outline.outer.vertices[2][:2])
    quarters = {round(turn / 90) % 2 for turn in allowed_turns(part)}
    return Piece(
        (length, width), tuple(sorted({(width, length) if q else (length, width) for q in quarters}))
    )


def _steps(millimetres: float) -> int:
    steps = round(millimetres / UNIT)
    assert abs(steps * UNIT - millimetres) < 1e-9, f"{millimetres} mm is not on the grid"
    return steps


def _within(lot: Lot, other: Lot) -> bool:
    return all(a <= b for a, b in zip(lot, other, strict=True))
