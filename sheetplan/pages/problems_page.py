"""The page `Problems`: everything found in one pass, each with a link to its cell.

A message goes with its cause: the page keeps what stood in each faulty cell, and a row's live Message
compares. An edited cell is judged again by the next check, and until then nothing is said of it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from sheetplan.model import Problem, Weight
from sheetplan.pages.problem_causes import folded
from sheetplan.pages.values import (
    PROBLEM_KEY,
    PROBLEM_PLACE,
    PROBLEM_SAID,
    PROBLEM_TABLE,
    PROBLEM_TURN,
    PROBLEM_WHAT,
    Cell,
    Column,
    Kind,
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
    Column(PROBLEM_SAID, width=14, hidden=True),
    Column(PROBLEM_KEY, width=14, hidden=True),
    Column(PROBLEM_TURN, width=14, hidden=True),
    Column(PROBLEM_PLACE, Kind.COUNT, 8, hidden=True),
)

NOT_CHECKED = "Not checked yet. To check:  sheetplan check BOOK.xlsx"

GRAVEST_FIRST = (Weight.STOPS, Weight.LEFT_OUT, Weight.NOTE)
"""A row's message shows its first problem, so the gravest must come first."""


@dataclass(frozen=True, slots=True)
class BookSeen:
    """What of a book its page Problems has to know.

    ``renamed`` gives the name in the book of each input page that does not bear its own. ``said`` gives for
    a page (by its name in the book) and a cell which of the page's columns it is in, from 1, and what stands
    there, of cells that a formula can compare with that.
    """

    renamed: Mapping[str, str] = field(default_factory=dict)
    said: Mapping[tuple[str, str], tuple[int, str | float | None]] = field(default_factory=dict)


def problems_page(problems: Sequence[Problem], seen: BookSeen | None = None) -> ResultPage:
    """All problems, those that stop the plan first, otherwise as they were found.

    Places are shown by the names that pages have in the book, while keys go by their own, by which the
    formulas of its rows look. A row's message goes once the cell that it is about says something else.
    """
    seen = seen or BookSeen()
    in_turn = sorted(problems, key=lambda problem: GRAVEST_FIRST.index(problem.weight))
    shown = seen.renamed
    own = {name: page for page, name in shown.items()}
    rows, turns = [], Counter[str]()
    for problem in in_turn:
        page = own.get(problem.page, problem.page)
        there = replace(problem, page=shown.get(page, page))
        key = key_of(replace(problem, page=page))
        turns[key] += 1
        place, said = seen.said.get((there.page, problem.cell or ""), (None, None))
        rows.append((_where(there), problem.what, problem.remedy, str(problem.weight), said, key,
                     f"{key}/{turns[key]}", place))  # fmt: skip
    caption = "Each place is a link to the cell" if rows else ""
    table = ResultTable(PROBLEM_TABLE, COLUMNS, tuple(rows), caption)
    lines = (problem_summary(problems), *_first(problems))
    return ResultPage("Problems", "Problems found in this book", lines, (table,))


def _first(problems: Sequence[Problem]) -> Iterator[str]:
    """What to begin with: causes that others wait for."""
    for told in folded(problems):
        if told.waiting:
            yield f"Begin with {told.places}: {told.what} {told.waiting}."


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
