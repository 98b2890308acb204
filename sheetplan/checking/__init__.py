"""The independent check: exact geometry and plain sums, sharing nothing with what it checks."""

from sheetplan.checking.layouts import Fault, FaultKind, check_layout
from sheetplan.checking.plans import check_plan

__all__ = ["Fault", "FaultKind", "check_layout", "check_plan"]
