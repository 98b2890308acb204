"""How much some sheets can make: whole kits from so many sheets of a gauge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from sheetplan.model.job import Job, Remnant, SheetSize
from sheetplan.model.plan import Group, Need
from sheetplan.packing.kernel_sequence import box_areas
from sheetplan.planning.box_problem import BoxProblem, make_problem
from sheetplan.planning.first_plan import fixed_runs
from sheetplan.planning.plan_search import plan_search
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.search import Search, reduced

TRIAL_LOOKS = 1_000_000
"""Work on one question of whether so many fit, beyond the fixed runs."""

FIXED_LOOKS = 20_000_000
"""Work after which a question's fixed runs end: hundreds of remnants would take minutes."""

SEED = 1
"""Questions are asked with one seed, so that the same question has the same answer."""

Metal = Mapping[SheetSize | Remnant, int]
"""Sheets and remnants with how many of each there are."""


class OutOfTime(Exception):
    """A question was given up; there is no answer, neither yes nor no."""


def can_make(group: Group, job: Job, wanted: Mapping[str, int], metal: Metal, stop: Stop = never) -> bool:
    """Whether so many pieces were fitted on so much metal; a no may be a lack of trying, a yes is sure.

    Raises `OutOfTime` once ``stop`` says so.
    """
    problem = _question(group, job, wanted, metal)
    return problem is None or _fits(problem, stop)


def _question(group: Group, job: Job, wanted: Mapping[str, int], metal: Metal) -> BoxProblem | None:
    """The pieces and the metal as boxes; None where nothing is wanted."""
    needs = tuple(Need(0, name, "", pieces, True) for name, pieces in sorted(wanted.items()) if pieces)
    return make_problem(_limited(group, needs, metal), job.parts, job.settings) if needs else None


def _fits(problem: BoxProblem, stop: Stop) -> bool:
    """Whether all boxes wanted were fitted."""
    if problem.unfit or not problem.choices:
        return False
    there = float((problem.supplies.areas * problem.supplies.limits).sum())
    if float((problem.wanted * box_areas(problem.types)).sum()) > there:
        return False
    for trial in fixed_runs(problem):
        if trial.run.missing == 0.0:
            return True
        if stop():
            raise OutOfTime
        if trial.looks > FIXED_LOOKS:
            break
    search = Search(problem, SEED)
    plan_search(search, TRIAL_LOOKS)
    return search.score.missing == 0.0


def _limited(group: Group, needs: tuple[Need, ...], metal: Metal) -> Group:
    return replace(
        group,
        needs=needs,
        stock=tuple(
            replace(sheet, on_hand=count, buy_limit=0)
            for sheet, count in metal.items() if isinstance(sheet, SheetSize) and count
        ),
        remnants=tuple(sheet for sheet, count in metal.items() if isinstance(sheet, Remnant) and count),
    )  # fmt: skip


def most_sets(
    group: Group, job: Job, one: Mapping[str, int], metal: Metal, stop: Stop = never, *, least: int = 0
) -> int:
    """The most sets of pieces (``one`` set being so many of each part) that fit on some metal.

    ``least`` sets are known to fit. Raises `OutOfTime` once ``stop`` says so.
    """
    problem = _question(group, job, one, metal)
    if problem is None or problem.unfit or not problem.choices:
        return 0
    supplies = problem.supplies
    there = float((supplies.areas * supplies.limits).sum())
    most = int(there / float((problem.wanted * box_areas(problem.types)).sum()))

    def holds(sets: int) -> bool:
        if stop():
            raise OutOfTime
        return sets <= least or _fits(reduced(problem, problem.wanted * sets, supplies.limits), stop)

    return greatest(holds, most, least)


def greatest(holds: Callable[[int], bool], most: int, least: int = 0) -> int:
    """The greatest number up to ``most`` for which something holds that holds for all smaller ones.

    It is known to hold for ``least``.

    >>> greatest(lambda n: n * n <= 50, 20)
    7
    """
    low, high = least, max(least, most) + 1
    while high - low > 1:
        middle = (low + high) // 2 if low else max(1, min((low + high) // 2, high * 3 // 4))
        low, high = (middle, high) if holds(middle) else (low, middle)
    return low


def on_hand(group: Group) -> dict[SheetSize | Remnant, int]:
    """The metal of a gauge that is in the shop."""
    metal: dict[SheetSize | Remnant, int] = {remnant: 1 for remnant in group.remnants}
    metal.update({sheet: sheet.on_hand for sheet in group.stock if sheet.on_hand})
    return metal


def parts_of(group: Group, job: Job, item: str) -> dict[str, int]:
    """Pieces of a gauge in one of a kit (or of a loose part)."""
    kit = job.kits.get(item)
    pieces: Mapping[str, int] = kit.parts if kit else {item: 1}
    here: Sequence[str] = [need.part for need in group.needs]
    return {name: n for name, n in pieces.items() if name in here}
