"""Runs of ``plan`` killed at random moments: whatever is left, the book and its drawings fit each other.

A warm process forks a run for each attempt, so that the kills fall into reading, searching and
writing and not into imports; every tenth attempt is the real command. Between attempts the planner
changes a quantity, so that each run has something new to write.

Asked after every kill: the planner's pages are as they were, the book opens, every drawing that it
points at is there, whole, and of the plan that the book shows. At the end a run that is left alone
succeeds and leaves nothing half done behind.
"""

from __future__ import annotations

import contextlib
import datetime
import io
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl

from sheetplan.app.plan import PlanAsked, plan_book
from tests.hard.command import COMMAND, environment
from tests.hard.looking import link_faults, links_of, own_parts, parts, snapshot
from tests.hard.options import told
from tests.hard.spoiling import book_of
from tests.nasty.books.plain import plain_rows, write_book

QUANTITIES = (5, 9, 14)
"""What the planner asks for in turn: three plans that differ."""

SHEET = "xl/worksheets/sheet6.xml"
"""The part of the page Orders in the small book."""


def asking(data: bytes, quantity: int) -> bytes:
    """The book as the planner saves it with another quantity in the first order."""
    all_parts = parts(data)
    sheet = all_parts[SHEET]
    for old in QUANTITIES:
        sheet = sheet.replace(b'<c r="C5"><v>%d</v></c>' % old, b'<c r="C5"><v>%d</v></c>' % quantity)
    all_parts[SHEET] = sheet
    return book_of(all_parts)


def plan_here(book: Path) -> None:
    """A whole run in this process."""
    plan_book(
        book, PlanAsked(datetime.date(2026, 11, 25), seconds=0.1, seed=1),
        stop=lambda: False, report=lambda _: None, workers=1,
    )  # fmt: skip


def drawings_of(book: Path) -> dict[str, bytes]:
    """The drawings that the book points at, by name."""
    return {Path(link).name: (book.parent / link).read_bytes() for link in links_of(book.read_bytes())}


def forked(work: Callable[[], None], delay: float) -> bool:
    """Do work in a child that is killed after the delay; whether it was done before."""
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            work()
            os._exit(0)
        os._exit(9)
    return ended(child, delay)


def commanded(book: Path, delay: float) -> bool:
    """The real command, killed after the delay; whether it was done before."""
    with tempfile.TemporaryFile() as said:
        child = os.posix_spawn(
            COMMAND[0], [*COMMAND, "plan", str(book), "--seconds", "0.1", "--workers", "1"], environment(),
            file_actions=[(os.POSIX_SPAWN_DUP2, said.fileno(), 1), (os.POSIX_SPAWN_DUP2, said.fileno(), 2)],
        )  # fmt: skip
        try:
            return ended(child, delay)
        except AssertionError as error:
            said.seek(0)
            raise AssertionError(f"{error}: {said.read().decode()}") from error


def ended(child: int, delay: float) -> bool:
    end = time.perf_counter() + delay
    while time.perf_counter() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            assert status == 0, f"the run failed by itself: {status}"
            return True
        time.sleep(0.0005)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return not os.WIFSIGNALED(status)


def forget(book: Path) -> None:
    """What the next plan would start from goes, so that its layouts depend on the orders alone."""
    for path in (book.parent / "layouts").glob("plan-*/choices.json"):
        path.unlink()


def kills(folder: Path, count: int, seed: int, *, commands: bool = True) -> dict[str, int]:
    """Kill so many runs, with ``commands`` every tenth as the real command; sums of how they ended."""
    dice = random.Random(seed)
    book = write_book(folder / "b.xlsx", plain_rows())
    plain = book.read_bytes()
    expected = {}
    for quantity in QUANTITIES:
        book.write_bytes(asking(book.read_bytes() if expected else plain, quantity))
        forget(book)
        plan_here(book)
        expected[quantity] = drawings_of(book)
    assert len({tuple(sorted(names)) for names in expected.values()}) == len(QUANTITIES), (
        "plans do not differ"
    )
    begun = time.perf_counter()
    assert forked(lambda: plan_here(book), 60.0)
    warm = time.perf_counter() - begun
    cold = 6.0 * max(1.0, warm)
    sums = {"finished": 0, "before the book": 0, "after the book": 0, "command": 0}
    for attempt in range(count):
        before = book.read_bytes()
        shown = drawings_of(book)
        quantity = dice.choice(QUANTITIES)
        asked = asking(before, quantity)
        book.write_bytes(asked)
        forget(book)
        command = commands and attempt % 10 == 9
        # Half of the kills fall into the last third, where files take each other's places.
        share = dice.uniform(0.0, 1.1) if attempt % 2 else dice.uniform(0.6, 1.1)
        if command:
            done = commanded(book, share * cold)
            cold *= 0.8 if done else 1.05
        else:
            done = forked(lambda: plan_here(book), share * warm)
            warm *= 0.9 if done else 1.04
        faults = link_faults(book)
        assert not faults, f"attempt {attempt}: {faults}"
        new = book.read_bytes()
        assert planners_parts(new) == planners_parts(asked), f"attempt {attempt}: the planner's pages changed"
        assert "Orders" in openpyxl.load_workbook(io.BytesIO(new), read_only=True).sheetnames
        now = drawings_of(book)
        assert now in (shown, expected[quantity]), f"attempt {attempt}: drawings of neither plan"
        assert not done or now == expected[quantity]
        kind = "finished" if done else "after the book" if new != asked else "before the book"
        sums[kind] += 1
        sums["command"] += command
    plan_here(book)
    stray = [name for name in snapshot(folder) if "part" in name or "sheetplan-" in name]
    assert not stray, f"left behind: {stray}"
    sums["files at the end"] = len(snapshot(folder))
    return sums


def planners_parts(data: bytes) -> dict[str, bytes]:
    """The pages that the planner fills in."""
    ours = own_parts(data)
    return {
        name: content
        for name, content in parts(data).items()
        if name.startswith(("xl/worksheets/", "xl/tables/")) and "sheetplan_" not in name and name not in ours
    }


def main() -> int:
    options = told(__doc__, count=500)
    with tempfile.TemporaryDirectory(prefix="hard-") as folder:
        print(json.dumps(kills(Path(folder), options.count, options.seed)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
