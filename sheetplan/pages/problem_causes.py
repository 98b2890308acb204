"""Problems put together by their causes: each cause once, with what waits for it in one line.

Terms
-----
cause
    A problem that can be put right by itself.
echo
    A problem of a row that only waits for another row (`Problem.follows`).

The console prints causes, and the page Problems begins with those that others wait for; its table and
``--all`` list each problem by itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath

from sheetplan.model import Problem, Weight

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
        first, others = self.problems[0], self.problems[1:NAMED]
        places = [first.where, *(other.cell or other.where for other in others)]
        more = len(self.problems) - NAMED
        return ", ".join(places) + (f" and {more} more" if more > 0 else "")


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
    told.what = f"{len(names)} drawings are missing {where}: {listed(names)}."
    told.remedy = "Put them there, or correct their names."


def listed(names: Sequence[str]) -> str:
    """The first few names and the count of the rest."""
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")
