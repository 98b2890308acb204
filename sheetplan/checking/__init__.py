"""The independent check: exact geometry and plain sums, sharing nothing with what it checks."""

from sheetplan.checking.layouts import Fault, FaultKind, LayoutFinding, check_layout
from sheetplan.checking.plans import PlanFinding, check_plan, examine_plan

__all__ = [
    "Fault",
    "FaultKind",
    "LayoutFinding",
    "PlanFinding",
    "check_layout",
    "check_plan",
    "examine_plan",
]
