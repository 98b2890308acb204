"""A plan as cheap as the search found it, made better to cut and to keep the rest of.

settle
    Parts are pushed to the datum corner, so that what is left of a sheet is one rectangle worth keeping. A
    layout is packed anew in many orders with the rules that keep low or keep left; of all that hold every
    piece, the one that leaves the largest strip across the sheet is taken.
tidied
    Small parts are taken off the sheet with the largest drop, onto metal that is free beside other parts: a
    stray part can spoil a rectangle that would go back to the rack. No further remnant is taken for it: that
    is one more layout to cut, and metal that the next month may need.
spare_free_remnants
    A remnant of value 0 that saves no sheet stays in the rack; the parts on it are laid on the sheets that
    are paid for anyhow.
fewer_layouts
    The same metal with fewer different layouts: one cut seven times is worth more to a shop than seven. Some
    layouts are taken out and their pieces planned anew from layouts that can be repeated, the most repeats
    first. A rebuilt plan is taken if it costs no more and has fewer layouts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from sheetplan.model.job import Remnant
from sheetplan.packing.maxrects import (
    BOTTOM,
    LEFT,
    Flags,
    Ints,
    Recipe,
    Types,
    box_areas,
    fill_sheet,
    least_side,
    new_desk,
    supply_blank,
)
from sheetplan.packing.rng import Chance, below, chance_of, normal, uniform
from sheetplan.planning.box_problem import BoxProblem, Cut, farthest, useful_left
from sheetplan.planning.progress import Stop
from sheetplan.planning.search.column_generation import priced
from sheetplan.planning.search.first_plan import first_plan
from sheetplan.planning.search.state import Picks, Search, found_plan, plan_search
from sheetplan.planning.solution import with_boxes, without

TRIALS = 120
"""Orders tried for one layout, half of them for each rule."""

FULL = 0.93
"""A sheet filled beyond this share has no strip to leave and stays as it is."""

PLAIN_TRIALS = 4
"""Orders that are tried without any disturbance: by area, long side, across and along."""

WORTH_MOVING = 1.02
"""The largest useful rectangle has to grow by this factor, or the parts stay where they are."""

MOST_REPEATS = 24
"""Repeats tried first at most."""

FEWEST_OUT, MOST_OUT = 2, 6
"""How many layouts are taken out at once."""

GREATEST_SLACK = 0.1
"""A repeated layout may be this much poorer than the average, by chance; the last ones make up for it."""

SHEET_LOOKS = 60_000
"""Work on one sheet and supply."""

REST_LOOKS = 300_000
"""Work on what is left when no layout can be repeated."""

TINY_COST = 1e-300
"""Stands for a cost of nothing where a cost divides."""

BIAS = 2.0
"""How strongly layouts with few repeats are preferred for taking out."""


def settle(problem: BoxProblem, cut: Cut, seed: int) -> Cut:
    """The same pieces on the same sheet, nearer to the datum corner where that leaves a larger strip.

    Remnants and other blanks of more than one free rectangle stay as they are.
    """
    blank = supply_blank(problem.supplies, cut.supply)
    counts = cut.counts(len(problem.boxes))
    filled = float((counts * box_areas(problem.types)).sum()) / float(problem.supplies.areas[cut.supply])
    if len(blank) != 1 or not len(cut.boxes) or filled > FULL or cut.is_shaped:
        return cut
    desk = new_desk(len(counts), len(cut.boxes))
    chance = chance_of(seed, len(cut.boxes), int(counts.max()))
    best, most = cut, strip_left(problem.types, cut.boxes, blank[0])
    for trial in range(TRIALS):
        order = _order(problem.types, counts, trial // 2, chance)
        recipe = Recipe(order, counts, (LEFT, BOTTOM)[trial % 2], least_side(problem.types, counts))
        if fill_sheet(blank, problem.types, counts, recipe, desk) == len(cut.boxes):
            left = strip_left(problem.types, desk.boxes, blank[0])
            if left > most:
                best, most = Cut(cut.supply, desk.boxes.copy(), cut.repeats), left
    return best


def _order(types: Types, counts: Ints, trial: int, chance: Chance) -> Ints:
    """Types from large to small by one of four measures, disturbed after the first few trials."""
    held = np.flatnonzero(counts)
    lengths, widths = types.lengths[held].astype(float), types.widths[held].astype(float)
    measures = (lengths * widths, np.maximum(lengths, widths), lengths, widths)
    sizes = np.log(measures[trial % len(measures)])
    if trial >= PLAIN_TRIALS:
        sizes += np.array([0.4 * normal(chance) for _ in held])
    return held[np.argsort(-sizes, kind="stable")]


def strip_left(types: Types, boxes: Ints, blank: Ints) -> float:
    """Area of the larger of the two strips that stay free: beyond the last box along x, or along y."""
    x, y, length, width = (float(v) for v in blank)
    far_x, far_y = farthest(types, boxes)
    return max((x + length - far_x) * width, (y + width - far_y) * length)


def tidied(problem: BoxProblem, cuts: Sequence[Cut], seed: int) -> tuple[Cut, ...]:
    """The same pieces at no more cost, with a larger useful rectangle where moving some leaves one.

    Only sheets that are cut once take part, so that no further layouts come of it.
    """
    single = [place for place, cut in enumerate(cuts) if _is_plain(problem, cut)]
    if not single:
        return tuple(cuts)
    emptiest = min(single, key=lambda place: _fill(problem, cuts[place]))
    donor = cuts[emptiest]
    others = [cut for place, cut in enumerate(cuts) if place != emptiest]
    left = donor.counts(len(problem.boxes))
    hosts = []
    for host in others:
        full = with_boxes(problem, host, left) if host.repeats == 1 and not host.is_shaped else host
        left -= full.counts(len(left)) - host.counts(len(left))
        hosts.append(full)
    moved = donor.counts(len(left)) - left
    if not moved.any():
        return tuple(cuts)
    rest = settle(problem, without(donor, moved), seed)
    after = tuple(cut for cut in (rest, *hosts) if len(cut.boxes))
    return after if _leaves_more(problem, after, cuts) else tuple(cuts)


def _leaves_more(problem: BoxProblem, after: Sequence[Cut], before: Sequence[Cut]) -> bool:
    """Whether the largest useful rectangle is larger and all together are no less, or a sheet is saved."""
    cost = problem.supplies.costs
    if sum(cost[cut.supply] * cut.repeats for cut in after) < sum(
        cost[cut.supply] * cut.repeats for cut in before
    ):
        return True
    new, old = ([_useful(problem, cut) for cut in cuts] for cuts in (after, before))
    return max(new) > WORTH_MOVING * max(old) and sum(new) >= sum(old)


def _useful(problem: BoxProblem, cut: Cut) -> float:
    """Useful area that the sheets of a cut leave; what was a remnant counts as used up."""
    if problem.supplies.costs[cut.supply] == 0.0:
        return 0.0
    return useful_left(problem, cut) * cut.repeats


def _is_plain(problem: BoxProblem, cut: Cut) -> bool:
    one_blank = len(supply_blank(problem.supplies, cut.supply)) == 1
    return one_blank and cut.repeats == 1 and not cut.is_shaped and problem.supplies.costs[cut.supply] > 0.0


def _fill(problem: BoxProblem, cut: Cut) -> float:
    areas = box_areas(problem.types)[cut.boxes[:, 0]]
    return float(areas.sum() / problem.supplies.areas[cut.supply])


def spare_free_remnants(search: Search, looks: int, halt: Stop) -> None:
    """Offer the best plan anew without each remnant that it takes for nothing."""
    taken = _taken_for_nothing(search)
    for supply in taken:
        if halt():
            return
        limits = search.problem.supplies.limits.copy()
        limits[supply] = 0
        for other in set(taken) - set(_taken_for_nothing(search)):
            limits[other] = 0
        small = search.child(search.problem.wanted, limits)
        small.offer(small.take_in(first_plan(small.problem).cuts))
        plan_search(small, looks // len(taken))
        search.offer(search.adopt(small, small.picks))


def _taken_for_nothing(search: Search) -> list[int]:
    problem = search.problem
    used = sorted({search.columns[number].supply for number in search.picks})
    free = [s for s in used if problem.supplies.costs[s] == 0.0]
    return [s for s in free if isinstance(problem.choices[s].sheet, Remnant)]


def fewer_layouts(search: Search, allowance: int, halt: Callable[[], bool]) -> None:
    """Rebuild parts of the best plan within an allowance of looks."""
    end = search.work + allowance
    while search.work < end and len(search.picks) > 1 and not halt():
        rebuild_once(search)
        search.spend(2000)


def rebuild_once(search: Search) -> bool:
    """One attempt; True if the plan became better."""
    chance = search.chance()
    out = _drawn(search.picks, chance)
    kept = {number: repeats for number, repeats in search.picks.items() if number not in out}
    rest = np.maximum(search.problem.wanted - search.covered(kept), 0)
    if not rest.any():
        return search.offer(kept)
    limits = search.problem.supplies.limits.copy()
    for number, repeats in kept.items():
        limits[search.columns[number].supply] -= repeats
    child = search.child(rest, limits)
    plan = dict(kept)
    use = float((search.problem.wanted * search.areas).sum()) / max(search.score.cost, TINY_COST)
    least_use = use * (1.0 - GREATEST_SLACK * uniform(chance) ** 2)
    _add(plan, search.adopt(child, plan_by_repeats(child, least_use, len(out))))
    return search.offer(plan)


def _drawn(picks: Picks, chance: Chance) -> set[int]:
    """Layouts to take out, those with few repeats more likely."""
    count = min(len(picks), FEWEST_OUT + below(chance, MOST_OUT - FEWEST_OUT + 1))
    bias = BIAS * uniform(chance)
    keys = {number: uniform(chance) / picks[number] ** bias for number in sorted(picks)}
    return set(sorted(keys, key=lambda number: -keys[number])[:count])


def plan_by_repeats(search: Search, least_use: float, most_layouts: int) -> Picks:
    """Layouts that can be repeated, then whatever is left in one go.

    ``least_use`` is the area of pieces per cost that a repeated layout has to reach. Given up (as
    it is, with pieces missing) once it has as many layouts as it was to save.
    """
    rest = search.problem.wanted.copy()
    limits = search.problem.supplies.limits.copy()
    picks: dict[int, int] = {}
    repeats = min(MOST_REPEATS, int(rest.max()))
    while rest.any() and repeats > 1 and len(picks) < most_layouts:
        number = _repeatable(search, rest // repeats, limits >= repeats, least_use)
        if number < 0:
            repeats -= 1
            continue
        counts = search.columns[number].counts
        held = counts > 0
        times = min(int((rest[held] // counts[held]).min()), int(limits[search.columns[number].supply]))
        picks[number] = picks.get(number, 0) + times
        rest -= times * counts
        limits[search.columns[number].supply] -= times
    if rest.any() and len(picks) < most_layouts:
        child = search.child(rest, limits)
        _add(picks, search.adopt(child, found_plan(child, REST_LOOKS)))
    return picks


def _add(picks: dict[int, int], more: Mapping[int, int]) -> None:
    for number, repeats in more.items():
        picks[number] = picks.get(number, 0) + repeats


def _repeatable(search: Search, available: Ints, usable: Flags, least_use: float) -> int:
    """The layout of the best use of metal from so many pieces; -1 where none reaches the least use."""
    best, best_use = -1, least_use
    costs = search.problem.supplies.costs
    on_hand = float((available * search.areas).sum())
    for s in np.flatnonzero(usable):
        cost = max(float(costs[s]), TINY_COST)
        if on_hand < best_use * cost:
            continue
        for value, column in priced(search, int(s), available, search.areas, SHEET_LOOKS, keep=1):
            if value >= best_use * cost:
                best, best_use = search.add(column), value / cost
    return best
