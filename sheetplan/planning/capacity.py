"""How much some sheets can make: whole kits from so many sheets of a gauge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from sheetplan.model.job import Job, Remnant, SheetSize
from sheetplan.model.plan import Group, Need
from sheetplan.planning.box_problem import make_problem
from sheetplan.planning.first_plan import first_plan
from sheetplan.planning.plan_search import plan_search
from sheetplan.planning.search import Search
from sheetplan.shapes import area

TRIAL_LOOKS = 2_000_000
"""Work on one question of whether so many fit, beyond the first plans."""

SEED = 1
"""Questions are asked with one seed, so that the same question has the same answer."""

Metal = Mapping[SheetSize | Remnant, int]
"""Sheets and remnants with how many of each there are."""


def can_make(group: Group, job: Job, wanted: Mapping[str, int], metal: Metal) -> bool:
    """Whether so many pieces were fitted on so much metal; a no may be a lack of trying, a yes is sure."""
    needs = tuple(Need(0, name, "", pieces, True) for name, pieces in sorted(wanted.items()) if pieces)
    if not needs:
        return True
    problem = make_problem(_limited(group, needs, metal), job.parts, job.settings)
    if problem.unfit or not problem.choices:
        return False
    search = Search(problem, SEED)
    search.offer(search.take_in(first_plan(problem).cuts))
    if search.score.missing > 0.0:
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


def most_sets(group: Group, job: Job, one: Mapping[str, int], metal: Metal) -> int:
    """The most sets of pieces (``one`` set being so many of each part) that fit on some metal."""
    return greatest(
        lambda sets: can_make(group, job, {name: n * sets for name, n in one.items()}, metal),
        _most_by_area(job, one, metal),
    )


def _most_by_area(job: Job, one: Mapping[str, int], metal: Metal) -> int:
    """A number that no packing exceeds: the metal over the area of one set."""
    whole = sum(_area(sheet) * count for sheet, count in metal.items())
    return int(whole / sum(area(job.parts[name].outline) * n for name, n in one.items()))


def _area(sheet: SheetSize | Remnant) -> float:
    return area(sheet.edge) if isinstance(sheet, Remnant) else sheet.length * sheet.width


def greatest(holds: Callable[[int], bool], most: int) -> int:
    """The greatest number up to ``most`` for which something holds that holds for all smaller ones.

    >>> greatest(lambda n: n * n <= 50, 20)
    7
    """
    low, high = 0, most + 1
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
