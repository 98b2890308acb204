"""A plan with its choices as plain values, exact in mm, and back again over the same job.

Sheets, remnants and parts are named, not repeated: they are those of the job that the plan is read
back over. Python writes the shortest text that gives the same double, so nothing is lost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sheetplan.model.job import Job, Remnant, SheetSize
from sheetplan.model.plan import Choice, Group, GroupPlan, Layout, Placement, Plan
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.order_book import money_of, sheet_counts, short_problems

Values = Mapping[str, Any]

_PLAIN = ("short", "why_short", "counted", "bound", "note", "picked")


class NotThisJob(Exception):
    """The values name a gauge, sheet, remnant or part that the job does not have, or are damaged."""


def plan_values(plan: Plan) -> dict[str, Any]:
    """A plan and its choices."""
    return {"gauges": [{"gauge": one.group.label, **_group_values(one)} for one in plan.groups]}


def plan_of_values(values: Values, job: Job) -> Plan:
    """The plan that `plan_values` wrote, over the same job.

    Raises
    ------
    NotThisJob
        Something named is not there, or the values are damaged.
    """
    groups, problems = make_groups(job)
    by_label = {group.label: group for group in groups}
    try:
        plans = tuple(_group_plan(one, by_label[one["gauge"]]) for one in values["gauges"])
        if [plan.group.label for plan in plans] != [group.label for group in groups]:
            raise NotThisJob("the gauges are others")
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise NotThisJob(f"{type(error).__name__}: {error}") from error
    short = tuple(problem for plan in plans for problem in short_problems(plan, job))
    return Plan(job, plans, (*problems, *short))


def gauge_of_values(values: Values, label: str, job: Job) -> GroupPlan:
    """The plan of one gauge that `plan_values` wrote, over a job that asks the same of it; see there."""
    groups, _ = make_groups(job)
    try:
        of_gauge = next(one for one in values["gauges"] if one["gauge"] == label)
        return _group_plan(of_gauge, next(group for group in groups if group.label == label))
    except (StopIteration, KeyError, TypeError, ValueError, AttributeError) as error:
        raise NotThisJob(f"{type(error).__name__}: {error}") from error


def layouts_of_values(values: Values, job: Job, tags: Sequence[str]) -> dict[str, Layout]:
    """Some layouts of the plan, by tag, on the sheets and remnants that a job has under the same names.

    Those whose gauge, sheet or remnant the job does not have are left out.
    """
    groups, _ = make_groups(job)
    by_label = {group.label: group for group in groups}
    found: dict[str, Layout] = {}
    try:
        for one in values["gauges"]:
            group = by_label.get(one["gauge"])
            for layout in one["layouts"]:
                if group is not None and layout["tag"] in tags and _sheet(layout, group) is not None:
                    found[layout["tag"]] = _layout(layout, group)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise NotThisJob(f"{type(error).__name__}: {error}") from error
    return found


def _group_values(plan: GroupPlan) -> dict[str, Any]:
    return {
        **{name: _plain(getattr(plan, name)) for name in _PLAIN},
        "layouts": [_layout_values(layout) for layout in plan.layouts],
        "choices": [
            {"name": choice.name, "sentence": choice.sentence, **_group_values(choice.plan)}
            for choice in plan.choices
        ],
    }


def _plain(value: Any) -> Any:
    return dict(value) if isinstance(value, Mapping) else value


def _layout_values(layout: Layout) -> dict[str, Any]:
    sheet = layout.sheet
    return {
        "tag": layout.tag,
        "sheet": sheet.name if isinstance(sheet, SheetSize) else None,
        "remnant": sheet.tag if isinstance(sheet, Remnant) else None,
        "repeats": layout.repeats,
        "locked": layout.locked,
        "of_plan": layout.of_plan,
        "placements": [[p.part, p.x, p.y, p.turn, p.mirrored] for p in layout.placements],
    }


def _group_plan(values: Values, group: Group) -> GroupPlan:
    layouts = tuple(_layout(one, group) for one in values["layouts"])
    choices = tuple(
        Choice(str(one["name"]), str(one["sentence"]), _group_plan(one, group)) for one in values["choices"]
    )
    return GroupPlan(
        group=group, layouts=layouts, sheets=sheet_counts(group, layouts), cost=money_of(layouts),
        choices=choices, **{name: values[name] for name in _PLAIN},
    )  # fmt: skip


def _sheet(values: Values, group: Group) -> SheetSize | Remnant | None:
    if values["remnant"] is not None:
        return next((one for one in group.remnants if one.tag == values["remnant"]), None)
    return next((one for one in group.stock if one.name == values["sheet"]), None)


def _layout(values: Values, group: Group) -> Layout:
    sheet = _sheet(values, group)
    if sheet is None:
        raise NotThisJob(f"{values['sheet'] or values['remnant']} is not there")
    placements = tuple(
        Placement(str(part), float(x), float(y), float(turn), bool(mirrored))
        for part, x, y, turn, mirrored in values["placements"]
    )
    return Layout(
        str(values["tag"]), sheet, placements, int(values["repeats"]), bool(values["locked"]),
        str(values.get("of_plan", "")),
    )  # fmt: skip
