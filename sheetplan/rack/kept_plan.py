"""What recording a cut needs of a plan, kept beside its drawings: layouts as they were planned."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sheetplan.model.job import CuttingRule, Material, Part
from sheetplan.model.plan import Group, Layout, Placement, Plan
from sheetplan.model.turns import Grain
from sheetplan.rack.record import (
    Json,
    outline_json,
    outline_of,
    sheet_json,
    sheet_of,
    thickness_json,
    thickness_of,
)

# The page Parts may have changed since, so outlines, rule and sheet are kept with the plan, in mm and
# exact.
#
# Cutting uses the plan as it was. To a run that holds the rack a drawn part is what was planned
# (`KnownOutline.stands`), whatever its drawing shows by now; the log says where that is something else.

EXACT_FILE = "exact.json"
"""Name of the file in a plan's folder of drawings."""

PLAN_FORMAT = 1


class NotThisPlan(Exception):
    """The file cannot be used: it is damaged, or of a later form."""


@dataclass(frozen=True, slots=True)
class PlannedLayout:
    """One layout with the gauge that it was planned for."""

    layout: Layout
    group: Group
    cut_before: int = 0
    """How often it had been cut when the plan was made: it then had stood in an earlier plan."""


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan as far as its layouts go."""

    mark: str
    parts: Mapping[str, Part]
    layouts: Mapping[str, PlannedLayout]


def exact_text(plan: Plan, mark: str, cut_before: Mapping[str, int]) -> str:
    """The file's text; ``cut_before`` is by layout tag, see `PlannedLayout`."""
    return json.dumps(_kept_plan_json(plan, mark, cut_before), ensure_ascii=False, allow_nan=False) + "\n"


def _kept_plan_json(plan: Plan, mark: str, cut_before: Mapping[str, int]) -> dict[str, Any]:
    used = {p.part for group in plan.groups for layout in group.layouts for p in layout.placements}
    return {
        "format": PLAN_FORMAT,
        "mark": mark,
        "parts": {name: _part_json(plan.job.parts[name]) for name in sorted(used)},
        "groups": [
            {
                **_group_json(group.group),
                "layouts": [_layout_json(layout, cut_before) for layout in group.layouts],
            }
            for group in plan.groups
        ],
    }


def kept_plan_of(text: str) -> KeptPlan:
    """The plan in a file's text.

    Raises
    ------
    NotThisPlan
        The text is damaged or of a later form.
    """
    try:
        value: Json = json.loads(text)
        if value["format"] != PLAN_FORMAT:
            raise NotThisPlan("it was written by a later version")
        parts = {name: _part_of(name, part) for name, part in value["parts"].items()}
        layouts = {}
        for entry in value["groups"]:
            group = _group_of(entry)
            for one in entry["layouts"]:
                layout = _layout_of(one)
                layouts[layout.tag] = PlannedLayout(layout, group, int(one.get("cut_before", 0)))
        return KeptPlan(str(value["mark"]), parts, layouts)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise NotThisPlan(f"it is damaged ({type(error).__name__}: {error})") from error


def _part_json(part: Part) -> dict[str, Any]:
    return {
        "material": part.material, "thickness": thickness_json(part.thickness),
        "outline": outline_json(part.outline), "turns": list(part.turns), "grain": part.grain.value,
        "may_mirror": part.may_mirror, "mark": part.mark,
    }  # fmt: skip


def _part_of(name: str, value: Json) -> Part:
    return Part(
        name, str(value["material"]), thickness_of(value["thickness"]), outline_of(value["outline"]),
        tuple(float(turn) for turn in value["turns"]), Grain(value["grain"]),
        may_mirror=bool(value["may_mirror"]), mark=bool(value["mark"]),
    )  # fmt: skip


RULE_FIELDS = (
    "kerf", "gap", "margin", "least_hole", "feed", "pierce_seconds", "pierce_cost", "hour_cost", "travel",
)  # fmt: skip


def _group_json(group: Group) -> dict[str, Any]:
    return {
        "gauge": group.label,
        "material": group.material.name,
        "gauge_series": group.material.gauge_series,
        "density": group.material.density,
        "thickness": thickness_json(group.thickness),
        "rule_thickness": thickness_json(group.rule.thickness),
        "rule": {name: getattr(group.rule, name) for name in RULE_FIELDS},
    }


def _group_of(value: Json) -> Group:
    material = Material(str(value["material"]), str(value["gauge_series"]), float(value["density"]))
    rule = CuttingRule(material.name, thickness_of(value["rule_thickness"]), **dict(value["rule"]))
    return Group(str(value["gauge"]), material, thickness_of(value["thickness"]), rule, (), (), ())


def _layout_json(layout: Layout, cut_before: Mapping[str, int]) -> dict[str, Any]:
    return {
        **({"of_plan": layout.of_plan} if layout.of_plan else {}),
        **({"cut_before": cut_before[layout.tag]} if cut_before.get(layout.tag) else {}),
        "tag": layout.tag,
        "repeats": layout.repeats,
        "sheet": sheet_json(layout.sheet),
        "placements": [[p.part, p.x, p.y, p.turn, p.mirrored] for p in layout.placements],
    }


def _layout_of(value: Json) -> Layout:
    placements = tuple(
        Placement(str(part), float(x), float(y), float(turn), bool(mirrored))
        for part, x, y, turn, mirrored in value["placements"]
    )
    return Layout(
        str(value["tag"]), sheet_of(value["sheet"]), placements, int(value["repeats"]),
        of_plan=str(value.get("of_plan", "")),
    )  # fmt: skip
