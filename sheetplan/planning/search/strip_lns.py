"""Large-neighbourhood search on guillotine strips: fewer or cheaper sheets than the best plan takes.

The sheets of a target are chosen first, by area alone, a little more of it than the pieces need; then they
are filled by moving strips, in cells. Where strips cannot be brought to hold all pieces (see
`sheetplan.packing.guillotine_lns`), what is left over is planned on sheets of its own. Supplies that are
not one free rectangle keep what the best plan cuts from them.

Choices
-------
Several short attempts find more than one long one that cools. Strips are taken out by what they waste: drawn
evenly, a third as many attempts succeed. The columns of a strip never use more pieces than there are, which
knapsacks do; that is what fills the last sheets. Tried without gain: rewards for gathered waste and for
pieces long left over, more columns in place of strips, columns drawn by waste, pieces side by side on a
level, heights judged by their densest column alone.
"""

from __future__ import annotations

import math
from copy import deepcopy

import highspy
import numpy as np

from sheetplan.packing.guillotine import StripView, Ways
from sheetplan.packing.guillotine_lns import Piles, Rows, fill_row, move_strips, new_piles
from sheetplan.packing.linear import INFINITY, add_column, add_row, column_values, new_model
from sheetplan.packing.maxrects import Desk, Flags, Floats, Ints, Types, new_desk, supply_blank
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.column_generation import is_plain
from sheetplan.planning.search.state import Attempt, Column, Moving, Picks, Search, found_plan
from sheetplan.planning.solution import SAME_COST

FILLS = (0.97, 0.98, 0.986, 0.99, 0.993, 0.996, 0.998)
"""How full the sheets of a target would have to be, the easiest first."""

MOST_SHEETS = 60
"""Sheets of a target; larger orders are served well enough by the linear master."""

MOST_CELLS = 3200
"""Cells along the longest sheet; a finer measure is rounded up to them."""

POWERS = (1.0, 1.02, 1.04, 1.06, 1.08)
"""Fillings to begin with: a piece is worth its area to such a power. The best of them is moved on."""

CROWDED = 8
"""So many times the pieces of an average sheet are provided for on each."""

LEAST_PIECES = 30
"""Pieces on a sheet on average from which strips are moved; fewer and larger ones suit no strips."""

HOPELESS = 0.08
"""Where more than this share of a sheet is left over, harder targets are not tried."""

ATTEMPT_LOOKS = 6_000_000
"""Work on one attempt for each of its sheets; then another one is begun."""

STEP_LOOKS = 4_000_000
"""Work between two looks at the clock."""

LEFT_LOOKS = 2_000_000
"""Work on a plan for what is left over."""


def targets_of(search: Search, plain: Flags, kept: Picks, wanted: Ints) -> list[Ints]:
    """Sheets by supply, dearest first: the cheapest that have the area, none as dear as the best plan's."""
    supplies = search.problem.supplies
    paid = sum(search.costs[n] * repeats for n, repeats in kept.items())
    needed = float((wanted * search.areas).sum())
    found: dict[bytes, tuple[float, Ints]] = {}
    for fill in FILLS:
        sheets = _cheapest(supplies.costs, supplies.areas, np.where(plain, supplies.limits, 0), needed / fill)
        if sheets is None or sheets.sum() > MOST_SHEETS:
            continue
        cost = paid + float((sheets * supplies.costs).sum())
        if search.bound * (1.0 - SAME_COST) <= cost < search.score.cost * (1.0 - SAME_COST):
            found[sheets.tobytes()] = (cost, sheets)
    return [sheets for _, sheets in sorted(found.values(), key=lambda pair: -pair[0])]


def _cheapest(costs: Floats, areas: Floats, limits: Ints, needed: float) -> Ints | None:
    """Whole sheets of least cost with so much area; None where there is not so much."""
    model = new_model()
    for s, (cost, limit) in enumerate(zip(costs, limits, strict=True)):
        add_column(model, float(cost), float(limit), (), ())
        model.changeColIntegrality(s, highspy.HighsVarType.kInteger)
    add_row(model, 1.0, INFINITY, range(len(areas)), (areas / needed).tolist())
    model.run()
    if model.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.rint(column_values(model)).astype(np.int64)


def new_attempt(search: Search, moving: Moving) -> Attempt:
    """Begin with the fullest of some fillings, strips along the longer side of each sheet."""
    problem = search.problem
    supplies = np.repeat(np.arange(len(problem.choices)), moving.targets[moving.at])
    sides = [supply_blank(problem.supplies, int(s))[0, 2:] for s in supplies]
    sizes = np.array(sides, np.int64) // moving.cell
    lying = (sizes[:, 1] > sizes[:, 0]).astype(np.int64)
    rows = Rows(sizes.max(axis=1), sizes.min(axis=1), lying)
    wanted = np.maximum(problem.wanted - search.covered(moving.kept), 0)
    areas = cell_areas(moving)
    most = _most_boxes(sizes, areas, wanted)
    best: Attempt | None = None
    before = int(moving.desk.work[0])
    for power in POWERS:
        attempt = Attempt(supplies, rows, new_piles(len(supplies), most), wanted.copy(), search.chance())
        fill_rows(attempt, moving.views, areas, power, moving.desk)
        if best is None or (attempt.over * areas).sum() < (best.over * areas).sum():
            best = attempt
    search.spend(int(moving.desk.work[0]) - before)
    assert best is not None
    return best


def _most_boxes(sizes: Ints, areas: Floats, wanted: Ints) -> int:
    """More boxes than any of the sheets is likely to hold; beyond them metal stays free."""
    metal, pieces = float(sizes.prod(axis=1).max()), int(wanted.sum())
    likely = CROWDED * -(-pieces // len(sizes))
    return min(pieces, likely, int(metal / areas[wanted > 0].min()) + 1)


def boxes_of(moving: Moving, problem: BoxProblem, attempt: Attempt, row: int) -> Ints:
    """What lies on one sheet, as boxes (type, x, y, turned)."""
    piles = attempt.piles
    boxes = piles.boxes[row, : piles.sizes[row]]
    bottoms = np.concatenate(([0], np.cumsum(piles.heights[row])))
    along, up = boxes[:, 1] * moving.cell, (boxes[:, 2] + bottoms[boxes[:, 4]]) * moving.cell
    x, y = (up, along) if attempt.rows.lying[row] else (along, up)
    corner = supply_blank(problem.supplies, int(attempt.supplies[row]))[0, :2]
    return np.stack((boxes[:, 0], x + corner[0], y + corner[1], boxes[:, 3]), axis=1)


def cell_of(problem: BoxProblem, plain: Flags) -> int:
    """The largest length that all sides of boxes are whole numbers of, or the smallest that is affordable."""
    sides = np.concatenate((problem.types.lengths, problem.types.widths))
    blanks = [supply_blank(problem.supplies, int(s)) for s in np.flatnonzero(plain)]
    longest = max((int(blank[0, 2:].max()) for blank in blanks), default=1)
    return max(int(np.gcd.reduce(sides)), -(-longest // MOST_CELLS))


def cell_areas(moving: Moving) -> Floats:
    """Area of a box of each type, in cells."""
    types = moving.views[0].types
    return types.lengths.astype(np.float64) * types.widths.astype(np.float64)


def view_of(types: Types, cell: int, lying: int) -> StripView:
    """Pieces in strips along x (0) or along y (1), sides rounded up to cells.

    ``turned`` of a way is that of the box on the sheet, whichever way the strips lie.
    """
    lengths, widths = -(-types.lengths // cell), -(-types.widths // cell)
    every = np.arange(len(lengths), dtype=np.int64)
    across = every[types.turnable & (types.lengths != types.widths)]
    kinds = np.concatenate((every, across))
    turned = np.repeat((0, 1), (len(every), len(across))).astype(np.int64)
    x_sides = np.concatenate((lengths, widths[across]))
    y_sides = np.concatenate((widths, lengths[across]))
    along, over = (y_sides, x_sides) if lying else (x_sides, y_sides)
    order = np.argsort(along, kind="stable")
    seen = Types(widths, lengths, types.turnable) if lying else Types(lengths, widths, types.turnable)
    largest = np.argsort(-(lengths * widths), kind="stable").astype(np.int64)
    return StripView(Ways(along[order], over[order], kinds[order], turned[order]), seen, largest)


def fill_rows(
    attempt: Attempt, views: tuple[StripView, StripView], areas: Floats, power: float, desk: Desk
) -> None:
    """Fill the free heights of all sheets, one after the other; what is over falls by what is laid.

    ``areas`` are in cells; a piece is worth its area to the power of ``power``. A layout is cut again as
    long as there are the pieces for it.
    """
    rows, piles, pool, values = attempt.rows, attempt.piles, attempt.over, areas**power
    for r in range(len(rows.long)):
        if not _is_repeated(r, rows, piles, pool):
            fill_row(r, rows, piles, views[rows.lying[r]], pool, values, areas, power, attempt.chance, desk)


def _is_repeated(r: int, rows: Rows, piles: Piles, pool: Ints) -> bool:
    """Lay on an empty sheet what lies on the one before, if that is alike and there are the pieces for it."""
    before = r - 1
    if r == 0 or piles.sizes[r] or any(column[r] != column[before] for column in rows):
        return False
    held = np.bincount(piles.boxes[before, : piles.sizes[before], 0], minlength=len(pool))
    if not held.any() or (held > pool).any():
        return False
    for column in piles:
        column[r] = column[before]
    pool -= held
    return True


def moving_pays(search: Search) -> bool:
    """Whether sheets hold so many pieces that moving strips finds plans that other ways do not."""
    sheets = max(1, sum(search.picks.values()))
    return int(search.problem.wanted.sum()) >= LEAST_PIECES * sheets


def strip_moving(search: Search, looks: int, halt: Stop, begun: float, ended: float) -> None:
    """Spend an allowance of looks, between two shares of the whole work, on targets.

    Each target may take an even share of what is left of the work when it is begun; where the time is up
    before, the best attempt at it is handed in as it is.
    """
    if search.moving is None:
        search.moving = _begin(search)
    moving, end = search.moving, search.work + looks
    per_look = (ended - begun) / max(1, looks)
    while moving.at < len(moving.targets) and search.work < end and not search.done and not halt():
        if moving.attempt is None:
            now = ended - per_look * (end - search.work)
            moving.until = now + (1.0 - now) / (len(moving.targets) - moving.at)
        if moving.attempt is None or moving.spent > ATTEMPT_LOOKS * len(moving.attempt.supplies):
            moving.attempt, moving.spent = new_attempt(search, moving), 0
        _go_on(search, moving, min(STEP_LOOKS, max(1, end - search.work)))
        now = ended - per_look * (end - search.work)
        if now >= moving.until * (1.0 - SAME_COST) or not moving.attempt.over.any():
            _close(search, moving)
    if moving.best is not None and halt():
        _hand_in(search, moving, moving.best)


def _go_on(search: Search, moving: Moving, looks: int) -> None:
    """Move strips of the attempt under way and remember the best of the target."""
    attempt, before = moving.attempt, int(moving.desk.work[0])
    assert attempt is not None
    move_strips(
        attempt.rows, attempt.piles, moving.views, attempt.over, cell_areas(moving), looks, attempt.chance,
        moving.desk,
    )  # fmt: skip
    spent = int(moving.desk.work[0]) - before
    search.spend(spent)
    moving.spent += spent
    share = _left_share(attempt, moving)
    if share < moving.least:
        moving.best, moving.least = deepcopy(attempt), share


def _close(search: Search, moving: Moving) -> None:
    """Hand in the best attempt at a target; where much was left over, harder targets are not tried."""
    assert moving.best is not None
    _hand_in(search, moving, moving.best)
    moving.at = moving.at + 1 if moving.least <= HOPELESS else len(moving.targets)
    moving.attempt, moving.best, moving.least = None, None, math.inf


def _left_share(attempt: Attempt, moving: Moving) -> float:
    """What is left over, as a share of a sheet."""
    metal = float(attempt.rows.long[0]) * float(attempt.rows.high[0])
    return float((attempt.over * cell_areas(moving)).sum()) / metal


def _hand_in(search: Search, moving: Moving, attempt: Attempt) -> None:
    """Offer the plan, what is left over on sheets of its own."""
    picks = dict(moving.kept)
    limits = search.problem.supplies.limits.copy()
    for row, s in enumerate(attempt.supplies):
        boxes = boxes_of(moving, search.problem, attempt, row)
        limits[s] -= 1
        if len(boxes):
            cut = Cut(int(s), boxes)
            number = search.add(Column(int(s), cut.counts(len(attempt.over)), made=cut))
            picks[number] = picks.get(number, 0) + 1
    for number, repeats in moving.kept.items():
        limits[search.columns[number].supply] -= repeats
    if attempt.over.any():
        child = search.child(attempt.over.copy(), limits)
        for number, repeats in search.adopt(child, found_plan(child, LEFT_LOOKS)).items():
            picks[number] = picks.get(number, 0) + repeats
    search.offer(picks)


def _begin(search: Search) -> Moving:
    """What is to be tried for a search with a plan."""
    problem = search.problem
    plain = np.array([is_plain(problem, s) for s in range(len(problem.choices))], np.bool_)
    kept = {n: repeats for n, repeats in search.picks.items() if not plain[search.columns[n].supply]}
    wanted = np.maximum(problem.wanted - search.covered(kept), 0)
    cell = cell_of(problem, plain)
    views = (view_of(problem.types, cell, 0), view_of(problem.types, cell, 1))
    most = int(wanted.sum())
    targets = targets_of(search, plain, kept, wanted) if most and search.score.missing == 0.0 else []
    return Moving(kept, views, cell, new_desk(len(wanted), max(1, most)), targets)
