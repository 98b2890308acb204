"""Small parts taken off the sheet with the largest drop, onto metal that is free beside other parts.

A stray part can spoil a rectangle that would go back to the rack. Where it fits beside the parts of
another sheet of the plan, the plan is as cheap and leaves more that is useful. No further remnant is
taken for it: that is one more layout to cut, and metal that the next month may need.
"""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.packing.kernel_sequence import blank_of, box_areas
from sheetplan.planning.box_problem import BoxProblem, Cut
from sheetplan.planning.filling import with_boxes
from sheetplan.planning.settling import settle
from sheetplan.planning.trimming import without
from sheetplan.planning.useful_left import useful_left

WORTH_MOVING = 1.02
"""The largest useful rectangle has to grow by this factor, or the parts stay where they are."""


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
    one_blank = len(blank_of(problem.supplies, cut.supply)) == 1
    return one_blank and cut.repeats == 1 and not cut.is_shaped and problem.supplies.costs[cut.supply] > 0.0


def _fill(problem: BoxProblem, cut: Cut) -> float:
    areas = box_areas(problem.types)[cut.boxes[:, 0]]
    return float(areas.sum() / problem.supplies.areas[cut.supply])
