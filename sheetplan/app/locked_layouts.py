"""Layouts of an earlier plan that stay in a new one, as far as the book still allows them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sheetplan.model import Group, Job, Layout, Problem, SheetSize, Weight
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.plan_values import layouts_of_values
from sheetplan.workbook.columns import LAYOUT_MARKS
from sheetplan.workbook.pick_marks import Mark

REMEDY = "Clear its lock, or put back what was changed."


def locked_layouts(
    kept: Mapping[str, Any], job: Job, locks: Sequence[Mark]
) -> tuple[tuple[Layout, ...], tuple[Problem, ...]]:
    """The locked layouts over the job as it now is, less what is cut of them, and what stands against it.

    Every problem stops: a lock that is dropped in silence is found out at the machine.
    """
    from sheetplan.checking import check_layout
    from sheetplan.planning.locking import of_group

    planned = {one["tag"]: int(one["repeats"]) for gauge in kept["gauges"] for one in gauge["layouts"]}
    # Of what is cut in full nothing is left to keep, whatever became of its sheet.
    locks = [mark for mark in locks if mark.cut < planned.get(mark.tag, mark.cut + 1)]
    found = layouts_of_values(kept, job, [mark.tag for mark in locks])
    problems = [
        _problem(mark, f"{mark.tag} is locked, and the book no longer has its gauge or its sheet.")
        for mark in locks if mark.tag not in found
    ]  # fmt: skip
    left = {mark.tag: found[mark.tag].repeats - mark.cut for mark in locks if mark.tag in found}
    locked = tuple(
        replace(layout, repeats=left[tag], locked=True) for tag, layout in found.items() if left[tag] > 0
    )
    by_tag = {mark.tag: mark for mark in locks}
    for group in make_groups(job)[0]:
        held = of_group(group, locked)
        for layout in held:
            for fault in check_layout(layout, group, job.parts, job.settings.units).faults[:1]:
                what = f"{layout.tag} is locked and no longer good: {fault.what}."
                problems.append(_problem(by_tag[layout.tag], what))
        problems += [_problem(by_tag[held[0].tag], what) for what in _too_much(group, held, job)]
    return locked, tuple(problems)


def _too_much(group: Group, held: Sequence[Layout], job: Job) -> list[str]:
    """Where locked layouts make more than is asked for or take more sheets than there are."""
    from sheetplan.planning.publishing import sheet_counts

    said = []
    asked = Counter[str]()
    for need in group.needs:
        asked[need.part] += need.pieces
    for part, pieces in sorted(pieces_of(held).items()):
        more = pieces - asked[part] - (job.parts[part].spare if part in job.parts else 0)
        if more > 0:
            said.append(
                f"The locked layouts of {group.label} make {more} more of {part} than the orders now ask for."
            )
    for count in sheet_counts(group, held):
        sheet: SheetSize = count.sheet
        if sheet.buy_limit is not None and count.to_buy > sheet.buy_limit:
            there = sheet.on_hand + sheet.buy_limit
            taken = f"{count.used} sheets {sheet.name}; there are {there}"
            said.append(f"The locked layouts of {group.label} take {taken}.")
    return said


def pieces_of(layouts: Sequence[Layout]) -> Counter[str]:
    """Pieces of each part that layouts make."""
    made = Counter[str]()
    for layout in layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    return made


def _problem(mark: Mark, what: str) -> Problem:
    return Problem(LAYOUT_MARKS.name, mark.row, mark.cell, what, REMEDY, Weight.STOPS)
