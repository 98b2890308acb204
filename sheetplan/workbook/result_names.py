"""Workbook names that result pages carry for formulas elsewhere in the book."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from sheetplan.pages.values import PROBLEM_KEY, PROBLEM_TABLE, PROBLEM_WHAT

PROBLEM_KEYS = "sheetplan_problem_keys"
"""The cells that name the row of each problem, as ``Parts!12``."""

PROBLEM_MESSAGES = "sheetplan_problem_messages"
"""The cells beside them that say what is wrong."""

NAMED_COLUMNS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        PROBLEM_KEYS: (PROBLEM_TABLE, PROBLEM_KEY),
        PROBLEM_MESSAGES: (PROBLEM_TABLE, PROBLEM_WHAT),
    }
)
"""Name to (result table, heading), for `page_writer.draw_pages`."""
