"""The choices of a plan as plain values; `plan_json` describes every field."""

from __future__ import annotations

from typing import Any

from sheetplan.model import Plan
from sheetplan.money.choice_figures import ChoiceFigures, Choices, choice_figures
from sheetplan.pages.json_numbers import length, number
from sheetplan.trade.units import Units


def choices_values(plan: Plan, choices: Choices | None = None) -> list[list[dict[str, Any]]]:
    """For each gauge the ways to plan it, with their figures: ``choices``, where those are known."""
    units = plan.job.settings.units
    return [
        [_choice(one, one.way.in_use and bool(group_plan.picked), units) for one in ways]
        for group_plan, ways in zip(plan.groups, choices or choice_figures(plan), strict=True)
    ]


def _choice(one: ChoiceFigures, is_picked: bool, units: Units) -> dict[str, Any]:
    figures, kept = one.figures, one.kept
    return {
        "choice": one.way.tag,
        "name": one.way.name,
        "in_use": one.way.in_use,
        "picked": is_picked,
        "best_at": list(one.best_at),
        "to_pay": number(figures.money.to_pay),
        "metal_cost": number(figures.money.metal),
        "cutting_cost": number(figures.money.cutting),
        "sheets_taken": one.sheets,
        "layout_count": one.layouts,
        "yield": number(figures.yield_share),
        "waste": number(figures.waste_share),
        "sheet_weight": number(figures.sheet_weight / units.weight_kg),
        "largest_kept": [length(kept.width, units), length(kept.length, units)] if kept else None,
    }
