"""The page `Problems`: everything found in one pass, each with a link to its cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sheetplan.model import Problem, Weight
from sheetplan.pages.values import (
    PROBLEM_KEY,
    PROBLEM_TABLE,
    PROBLEM_WHAT,
    Cell,
    Column,
    Link,
    ResultPage,
    ResultTable,
)
from sheetplan.pages.wording import counted

COLUMNS = (
    Column("Where", width=20),
    Column(PROBLEM_WHAT, width=56, wrap=True),
    Column("What to do", width=48, wrap=True),
    Column("How it matters", width=16),
    Column(PROBLEM_KEY, width=14),
)

NOT_CHECKED = "Not checked yet. To check:  sheetplan check BOOK.xlsx"

GRAVEST_FIRST = (Weight.STOPS, Weight.LEFT_OUT, Weight.NOTE)
"""A row's message shows its first problem, so the gravest must come first."""


def problems_page(problems: Sequence[Problem], renamed: Mapping[str, str] | None = None) -> ResultPage:
    """All problems, those that stop the plan first, otherwise as they were found.

    ``renamed`` gives the name in the book of each input page that does not bear its own: places are
    shown by the former, while keys go by the latter, by which the formulas of its rows look.
    """
    in_turn = sorted(problems, key=lambda problem: GRAVEST_FIRST.index(problem.weight))
    shown = renamed or {}
    own = {name: page for page, name in shown.items()}
    rows = []
    for problem in in_turn:
        page = own.get(problem.page, problem.page)
        there = replace(problem, page=shown.get(page, page))
        rows.append((_where(there), problem.what, problem.remedy, str(problem.weight),
                     key_of(replace(problem, page=page))))  # fmt: skip
    table = ResultTable(PROBLEM_TABLE, COLUMNS, tuple(rows), "Each place is a link to the cell")
    return ResultPage("Problems", "Problems found in this book", (problem_summary(problems),), (table,))


def unchecked_page() -> ResultPage:
    """The page of a book that nobody has checked yet: its table, empty, and how to check."""
    page = problems_page(())
    return replace(page, lines=(NOT_CHECKED,))


def problem_summary(problems: Sequence[Problem]) -> str:
    """How many problems of each weight, in one sentence."""
    if not problems:
        return "No problems found."
    counts = {weight: sum(problem.weight is weight for problem in problems) for weight in GRAVEST_FIRST}
    stops = counts[Weight.STOPS]
    said = [
        f"{counted(stops, 'problem')} that {'stops' if stops == 1 else 'stop'} the plan",
        f"{counted(counts[Weight.LEFT_OUT], 'row')} left out",
        counted(counts[Weight.NOTE], "note"),
    ]
    return ", ".join(text for text, weight in zip(said, GRAVEST_FIRST, strict=True) if counts[weight]) + "."


def key_of(problem: Problem) -> str:
    """The row that a problem belongs to, as formulas look it up: ``Parts!12``; else the page alone."""
    return f"{problem.page}!{problem.row}" if problem.row else problem.page


def _where(problem: Problem) -> Cell:
    if not problem.row and not problem.cell:
        return problem.where
    return Link(problem.where, f"#{problem.page}!{problem.cell or f'A{problem.row}'}")
