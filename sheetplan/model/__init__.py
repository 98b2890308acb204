"""Frozen values that every other folder speaks in; no behaviour beyond their invariants."""

from sheetplan.model.job import (
    CuttingRule,
    FinishedPart,
    Job,
    Kit,
    Material,
    Order,
    OrderProgress,
    OrderState,
    Part,
    Remnant,
    SheetSize,
)
from sheetplan.model.outline import Loop, Outline, Stroke, rectangle
from sheetplan.model.plan import Group, GroupPlan, Layout, Need, Placement, Plan, SheetCount
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner, Grain

__all__ = [
    "Corner", "CuttingRule", "FinishedPart", "Grain", "Group", "GroupPlan", "Job", "Kit",
    "Layout", "Loop", "Material", "Need", "Order", "OrderProgress", "OrderState", "Outline", "Part",
    "Placement", "Plan", "Problem", "Remnant", "Settings", "SheetCount", "SheetSize", "Stroke",
    "Weight", "rectangle",
]
