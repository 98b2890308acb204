"""Spoilt books through ``check`` and ``plan``: sentences or results, never a traceback, never a hang.

What is asked of every case:

- ``check`` changes nothing in the folder;
- ``plan`` ends in a plan, in problems, or in a refusal in words;
- after a refusal the folder is byte for byte as before;
- after a plan, or problems written to the book, every part outside our own pages has the bytes that
  it had, the book opens, and each drawing that it points at is there.
"""

from __future__ import annotations

import datetime
import functools
import random
import shutil
import sys
import traceback
import warnings
from collections.abc import Sequence
from pathlib import Path

from sheetplan.model import Problem
from tests.hard.looking import book_faults, link_faults, problem_faults, snapshot
from tests.hard.options import told
from tests.hard.spoiling import spoilt
from tests.hard.watching import Outcome, outcomes, peak_megabytes, tell

SECONDS = 60.0
"""Longest that a spoilt book may take, check and plan together; the search itself is given 0.1 s."""

TODAY = datetime.date(2026, 11, 25)


@functools.cache
def good_books() -> tuple[bytes, ...]:
    """Books to spoil: a small one, the demos, a planned one, and one that holds all that a book can hold."""
    import tempfile

    from sheetplan.app.new import template_path
    from sheetplan.trade.units import Units
    from tests.nasty.books.plain import plain_rows, write_book
    from tests.nasty.worst_book import worst_book

    with tempfile.TemporaryDirectory() as folder:
        small = write_book(Path(folder) / "small.xlsx", plain_rows())
        plain = small.read_bytes()
        plan(small)
        planned = small.read_bytes()
    demos = [template_path(demo=True, units=units).read_bytes() for units in Units]
    # The large ones take seconds each; one in ten is enough to meet them all.
    return (*(plain, planned) * 14, *demos, worst_book())


def one(seed: int, case: int, folder: Path) -> Outcome:
    """Spoil a book, check it, plan it, and judge what is left."""
    warnings.simplefilter("ignore")
    dice = random.Random(f"{seed} {case}")
    way, data = spoilt(dice.choice(good_books()), dice)
    return judged(way, data, folder)


def judged(way: str, data: bytes, folder: Path) -> Outcome:
    """What comes of one spoilt book; ``fault`` names what must not be."""
    book = folder / "b.xlsx"
    book.write_bytes(data)
    before = snapshot(folder)
    faults: list[str] = []
    kinds, written = [], book
    for run in (check, plan):
        try:
            kind, problems, written = run(book)
        except Exception:
            kind, problems, written = "traceback", (), book
            faults.append(traceback.format_exc()[-1800:])
        kinds.append(kind)
        faults += problem_faults(problems)
        if (run is check or kind == "refused") and snapshot(folder) != before:
            faults.append(f"{run.__name__} ({kind}) changed the folder: {sorted(snapshot(folder))}")
    if kinds[1] in ("planned", "problems"):
        faults += book_faults(book, data)
        # Where problems stop the plan, a book that came planned still points at its old drawings.
        faults += link_faults(written) if kinds[1] == "planned" else []
    return {"kind": "/".join(kinds), "what": way, "fault": "\n".join(faults), "megabytes": peak_megabytes()}


Came = tuple[str, Sequence[Problem], Path]
"""How a run ended, the problems it told, and the book that holds the results."""


def check(book: Path) -> Came:
    """``check`` in this process."""
    from sheetplan.app.check import check_book
    from sheetplan.workbook.outcomes import BookError

    try:
        outcome = check_book(book)
    except BookError as error:
        return "refused", (error.problem,), book
    return ("stops" if outcome.stops else "good"), outcome.problems, book


def plan(book: Path) -> Came:
    """``plan`` in this process, with hardly any search."""
    from sheetplan.app.plan import PlanAsked, plan_book
    from sheetplan.workbook.outcomes import BookError

    try:
        outcome = plan_book(
            book, PlanAsked(TODAY, seconds=0.1, seed=1), stop=lambda: False, report=lambda _: None, workers=1
        )
    except BookError as error:
        return "refused", (error.problem,), book
    return ("planned" if outcome.plan else "problems"), outcome.problems, outcome.book


def keep(seed: int, case: int, folder: Path) -> Path:
    """Write one spoilt book to look at it."""
    dice = random.Random(f"{seed} {case}")
    way, data = spoilt(dice.choice(good_books()), dice)
    path = folder / f"{seed}-{case}.xlsx"
    path.write_bytes(data)
    print(way, path)
    return path


def main() -> int:
    options = told(__doc__, count=2000)
    if options.only is not None:
        shutil.rmtree("/tmp/only", ignore_errors=True)
        Path("/tmp/only").mkdir()
        print(one(options.seed, options.only, keep(options.seed, options.only, Path("/tmp/only")).parent))
        return 0
    return len(tell(outcomes("tests.hard.book_fuzz", 0, options.count, options.seed, SECONDS))) > 0


if __name__ == "__main__":
    sys.exit(main())
