"""A complete plan in a moment: boxes in a few fixed orders, sheet after sheet, and rectpack's plans.

rectpack is the floor under our own search. It loses boxes to float rounding, drops oversize ones silently,
and opens the first sheet size that fits; so it gets whole nanometres, its boxes are counted, and several
orders of the sheet sizes are tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, product
from typing import NamedTuple

import numpy as np
import rectpack

from sheetplan.packing.maxrects import (
    MEASURES,
    Ints,
    Recipe,
    Run,
    box_areas,
    fill_in_sequence,
    least_side,
    new_desk,
)
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.solution import SAME_COST, Solution, missing_penalty, most_boxes, replay, solution

METHODS = (
    rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.MaxRectsBl, rectpack.MaxRectsBlsf,
    rectpack.SkylineBlWm, rectpack.SkylineMwfWm, rectpack.SkylineMwflWm,
    rectpack.GuillotineBssfSas, rectpack.GuillotineBafSas, rectpack.GuillotineBafMinas,
)  # fmt: skip
ORDERS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)

MOST_ORDERS = 20
"""Sequences of supplies tried at most; a full rack would have hundreds, one for each remnant."""


@dataclass(frozen=True, slots=True)
class Variant:
    """One way to run rectpack: method, order of boxes, sheet sizes in turn, and how it picks a sheet."""

    method: type
    order: object
    sizes: tuple[int, ...]
    choice: object = rectpack.PackingBin.BFF


def variants(problem: BoxProblem) -> Iterator[Variant]:
    """Every method with every order of boxes and of sheet sizes, the most promising first."""
    for sizes in size_orders(problem):
        for order, method in product(ORDERS, METHODS):
            yield Variant(method, order, sizes)


def size_orders(problem: BoxProblem) -> tuple[tuple[int, ...], ...]:
    """Orders of the whole sheets: cheapest per area, cheapest, largest, and each alone in front."""
    supplies = problem.supplies
    whole = [s for s in range(len(problem.choices)) if len(problem.choices[s].free) == 1]
    by_rate = sorted(whole, key=lambda s: supplies.costs[s] / supplies.areas[s])
    orders = [
        by_rate,
        sorted(whole, key=lambda s: supplies.costs[s]),
        sorted(whole, key=lambda s: -supplies.areas[s]),
        *(
            [*alike, *(other for other in by_rate if other not in alike)]
            for alike in _sizes(problem, by_rate)
        ),
    ]
    return tuple(dict.fromkeys(tuple(order) for order in orders if order))


def _sizes(problem: BoxProblem, supplies: Sequence[int]) -> list[list[int]]:
    """Supplies of the same sheet together: those on hand, then those to be bought."""
    sizes: dict[int, list[int]] = {}
    for s in supplies:
        sizes.setdefault(id(problem.choices[s].sheet), []).append(s)
    return list(sizes.values())


def rectpack_cuts(problem: BoxProblem, variant: Variant) -> tuple[Cut, ...] | None:
    """What one variant makes of the must pieces; None where it leaves out a single one.

    A gauge with types of both kinds, turnable and not, is run without turns.
    """
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=variant.choice,
        pack_algo=variant.method,
        sort_algo=variant.order,
        rotation=bool(problem.types.turnable.all()),
    )
    pieces = _add_all(packer, problem, variant.sizes)
    packer.pack()
    placed = packer.rect_list()
    if len(placed) != pieces:
        return None
    by_bin: dict[int, list[tuple[int, int, int, int]]] = {}
    for number, x, y, length, width, t in placed:
        turned = (length, width) != (problem.types.lengths[t], problem.types.widths[t])
        by_bin.setdefault(number, []).append((t, x, y, int(turned)))
    supplies = {number: int(packer[number].bid) for number in by_bin}
    return merged(Cut(supplies[n], _shifted(rows, problem, supplies[n])) for n, rows in by_bin.items())


def _add_all(packer: rectpack.packer.PackerOnline, problem: BoxProblem, sizes: Sequence[int]) -> int:
    pieces = int(problem.wanted.sum())
    for s in sizes:
        _, _, length, width = (int(v) for v in problem.choices[s].free[0])
        packer.add_bin(length, width, count=min(pieces, problem.choices[s].limit), bid=s)
    for t, count in enumerate(problem.wanted):
        for _ in range(count):
            packer.add_rect(int(problem.types.lengths[t]), int(problem.types.widths[t]), t)
    return pieces


def _shifted(rows: list[tuple[int, int, int, int]], problem: BoxProblem, s: int) -> Ints:
    """Boxes moved from the free rectangle's corner, where rectpack starts, into the datum frame."""
    boxes = np.array(sorted(rows), np.int64)
    boxes[:, 1:3] += problem.choices[s].free[0, :2]
    return boxes


def merged(cuts: Iterable[Cut]) -> tuple[Cut, ...]:
    """Equal sheets counted once."""
    repeats: dict[tuple[object, ...], int] = {}
    kept: dict[tuple[object, ...], Cut] = {}
    for cut in cuts:
        key = cut.supply, cut.boxes.tobytes(), cut.placements
        repeats[key] = repeats.get(key, 0) + cut.repeats
        kept.setdefault(key, cut)
    return tuple(replace(cut, repeats=repeats[key]) for key, cut in kept.items())


def box_orders(problem: BoxProblem) -> tuple[Ints, ...]:
    """Types from large to small: by area, long side, short side and half perimeter."""
    long = np.maximum(problem.types.lengths, problem.types.widths)
    short = np.minimum(problem.types.lengths, problem.types.widths)
    keys = (box_areas(problem.types), long, short, long + short)
    return tuple(np.argsort(-np.asarray(key, np.float64), kind="stable").astype(np.int64) for key in keys)


def first_plan(problem: BoxProblem) -> Solution:
    """The best of some dozens of fixed runs on the must pieces."""
    best: Solution | None = None
    for trial in fixed_runs(problem):
        run, used = trial.run, trial.used
        hopeless = best is not None and not _may_beat(run, best)
        if not hopeless:
            plan = solution(problem, merged(iter(replayed(problem, trial.recipe, used))))
            if plan.beats(best):
                best = plan
    return best or solution(problem, ())


def hasty_plan(problem: BoxProblem) -> Solution:
    """A complete plan with the least work: other sequences of supplies only while pieces are left out."""
    best: Trial | None = None
    for order in supply_orders(problem):
        trials = [*([best] if best else []), *runs_on(problem, (order,))]
        best = min(trials, key=lambda trial: (trial.run.missing, trial.run.score))
        if best.run.missing == 0.0:
            break
    cuts = replayed(problem, best.recipe, best.used) if best else []
    return solution(problem, merged(cuts))


class Trial(NamedTuple):
    """One run with what it was made by; ``looks`` is the work of all runs up to it."""

    run: Run
    recipe: Recipe
    used: Ints
    looks: int


def fixed_runs(problem: BoxProblem) -> Iterator[Trial]:
    """Every order of boxes by every rule on every sequence of supplies worth a run."""
    return runs_on(problem, supply_orders(problem))


def runs_on(problem: BoxProblem, orders: Iterable[tuple[int, ...]]) -> Iterator[Trial]:
    """Every order of boxes by every rule on some sequences of supplies."""
    pieces = int(problem.wanted.sum())
    least = least_side(problem.types, problem.wanted)
    desk = new_desk(len(problem.boxes), most_boxes(problem, pieces))
    penalty = missing_penalty(problem)
    used = np.empty(pieces, np.int64)
    for sequence in (np.array(order, np.int64) for order in orders):
        for order in box_orders(problem):
            for rule in range(MEASURES):
                recipe = Recipe(order, problem.wanted, rule, least)
                run = fill_in_sequence(
                    problem.supplies, problem.types, problem.wanted, recipe, sequence, penalty, np.inf, desk,
                    used,
                )  # fmt: skip
                yield Trial(run, recipe, used[: run.sheets].copy(), int(desk.work[0]))


def _may_beat(run: Run, best: Solution) -> bool:
    """Whether a run is no worse than a plan before its layouts are looked at."""
    if run.missing > best.missing * (1.0 + SAME_COST):
        return False
    return run.missing < best.missing or run.missing > 0.0 or run.cost <= best.cost * (1.0 + SAME_COST)


def supply_orders(problem: BoxProblem) -> Iterator[tuple[int, ...]]:
    """Remnants and sheets in the orders worth a run: each size alone, and rack before purchase."""
    yield ()
    if len(problem.choices) == 1:
        return
    pieces = int(problem.wanted.sum())
    for order in islice(size_orders(problem), MOST_ORDERS):
        size = [s for s in order if problem.choices[s].sheet is problem.choices[order[0]].sheet]
        yield tuple(s for s in size for _ in range(min(problem.choices[s].limit, pieces)))


def replayed(problem: BoxProblem, recipe: Recipe, used: Ints) -> list[Cut]:
    """The sheets of a run, one after the other."""
    rest = problem.wanted.copy()
    cuts = []
    for s in used:
        cut = replay(problem, int(s), rest, recipe)
        rest -= cut.counts(len(problem.boxes))
        cuts.append(cut)
    return cuts
