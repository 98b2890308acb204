"""The page `Problems`: everything found in one pass, put together by cause, each with a link to its cell."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath

from sheetplan.model import Problem, Weight
from sheetplan.pages.values import (
    PROBLEM_KEY,
    PROBLEM_PLACE,
    PROBLEM_SAID,
    PROBLEM_TABLE,
    PROBLEM_TURN,
    PROBLEM_WHAT,
    BookSeen,
    Cell,
    Column,
    Kind,
    Link,
    ResultPage,
    ResultTable,
)
from sheetplan.trade.sentences import counted, named

# Problems put together by their causes: each cause once, with what waits for it in one line.
#
# Terms
# cause
#     A problem that can be put right by itself.
# echo
#     A problem of a row that only waits for another row (`Problem.follows`).
#
# The console prints causes, and the page Problems begins with those that others wait for; its table and
# ``--all`` list each problem by itself.

NAMED = 3
"""Files and cells that are named before the rest is counted."""

GRAVEST_FIRST = (Weight.STOPS, Weight.LEFT_OUT, Weight.NOTE)


@dataclass(slots=True)
class Told:
    """One thing to say: problems that are alike, and the echoes of them all."""

    problems: list[Problem]
    what: str
    remedy: str
    echoes: list[Problem] = field(default_factory=list)

    @property
    def weight(self) -> Weight:
        """That of the problems themselves."""
        return self.problems[0].weight

    @property
    def waiting(self) -> str:
        """What waits for it, such as ``9 rows of Kits and 7 of Orders wait for it``; empty where nothing."""
        if not self.echoes:
            return ""
        pages = Counter(problem.page for problem in self.echoes)
        (first, count), *others = pages.items()
        rows = "row" if count == 1 else "rows"
        said = [f"{count} {rows} of {first}", *(f"{n} of {page}" for page, n in others)]
        names = " and ".join(part for part in (", ".join(said[:-1]), said[-1]) if part)
        verb = "waits" if len(self.echoes) == 1 else "wait"
        return f"{names} {verb} for {'it' if len(self.problems) == 1 else 'them'}"

    @property
    def waiting_weight(self) -> Weight:
        """The gravest of what waits."""
        return min((problem.weight for problem in self.echoes), key=GRAVEST_FIRST.index)

    @property
    def places(self) -> str:
        """Where the problems are: `Parts!D5, D6, D7 and 4 more`."""
        first, *others = self.problems
        places = [first.where, *(other.cell or other.where for other in others)]
        return named(places, NAMED)


def folded(problems: Iterable[Problem]) -> list[Told]:
    """Problems in the order of their causes: notes last, files that are missing together by folder."""
    in_turn = sorted(problems, key=lambda problem: problem.weight is Weight.NOTE)
    rows = {f"{problem.page}!{problem.row}": problem for problem in reversed(in_turn) if problem.row}
    told: list[Told] = []
    by_alike: dict[tuple[str, ...], Told] = {}
    of_cause: dict[int, Told] = {}
    waiting: list[tuple[Problem, Problem]] = []
    for problem in in_turn:
        cause = _cause(problem, rows)
        if cause is not problem:
            waiting.append((problem, cause))
            continue
        folder = str(PurePosixPath(problem.missing).parent) if problem.missing else ""
        what = "" if problem.missing else problem.what
        alike = (problem.page, problem.remedy, problem.weight.value, what, folder)
        if alike not in by_alike:
            by_alike[alike] = Told([], problem.what, problem.remedy)
            told.append(by_alike[alike])
        by_alike[alike].problems.append(problem)
        of_cause[id(problem)] = by_alike[alike]
    for problem, cause in waiting:
        of_cause[id(cause)].echoes.append(problem)
    for one in told:
        _say_missing(one)
    return told


def _cause(problem: Problem, rows: dict[str, Problem]) -> Problem:
    """The problem at the root; itself where it follows none that is known, or follows itself."""
    root, steps = problem, 0
    while root.follows in rows:
        root, steps = rows[root.follows], steps + 1
        if steps > len(rows):
            return problem
    return root


def _say_missing(told: Told) -> None:
    """Of several missing files of a folder say how many, and the first names."""
    names = list(dict.fromkeys(PurePosixPath(problem.missing).name for problem in told.problems))
    if len(names) < 2:
        return
    folder = PurePosixPath(told.problems[0].missing).parent
    where = f"in {folder}/" if str(folder) != "." else "beside the workbook"
    told.what = f"{len(names)} drawings are missing {where}: {named(names, NAMED)}."
    told.remedy = "Put them there, or correct their names."


# The page `Problems`: everything found in one pass, each with a link to its cell.
#
# A message goes with its cause: the page keeps what stood in each faulty cell, and a row's live Message
# compares. An edited cell is judged again by the next check, and until then nothing is said of it.

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
