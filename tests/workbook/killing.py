"""Kill writers at random moments and look at what they leave. Run as a program with a folder and a count.

A warm process forks a writer for each attempt, so that the kills fall into the writing and not
into imports. Prints one line of JSON.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import random
import signal
import sys
import time
from pathlib import Path

import openpyxl

from sheetplan.trade.units import Units
from sheetplan.workbook.package.guard import fingerprint, judge
from sheetplan.workbook.package.saving import backup_of
from sheetplan.workbook.package.splice import splice_pages
from sheetplan.workbook.writing.closed import put_pages
from sheetplan.workbook.writing.grid import NAMED_COLUMNS
from sheetplan.workbook.writing.page_writer import draw_pages
from tests.nasty.worst_book import worst_book
from tests.workbook.sample_pages import all_pages, plan_page

PAGES = (all_pages(), (plan_page("The other plan", 40), *all_pages()[1:]))


def main(folder: Path, kills: int, seed: int = 1) -> dict[str, object]:
    book = folder / "jobs.xlsx"
    book.write_bytes(worst_book())
    for turn in (0, 1, 0, 1):  # until the formats of both are in the book and each knows the other
        put_pages(book, PAGES[turn], Units.INCH, fingerprint(book))
    states = {1: book.read_bytes()}
    states[0] = splice_pages(states[1], draw_pages(PAGES[0], Units.INCH, names=NAMED_COLUMNS))
    assert splice_pages(states[0], draw_pages(PAGES[1], Units.INCH, names=NAMED_COLUMNS)) == states[1]
    first = seconds = min(timed(book, turn) for turn in (0, 1, 0, 1))
    assert book.read_bytes() == states[1]
    moments = random.Random(seed)
    now, outcomes = 1, {"old": 0, "new": 0, "finished": 0}
    for attempt in range(kills):
        wanted = 1 - now
        # Every other kill falls near the end, where the new book takes the old one's place.
        share = moments.uniform(0.0, 1.1) if attempt % 2 else moments.uniform(0.8, 1.1)
        finished = killed(book, wanted, share * seconds)
        data = book.read_bytes()
        assert data in (states[now], states[wanted]), "the book is neither the old one nor the new one"
        assert judge(book) is None
        assert opens(data)
        backup = backup_of(book).read_bytes()
        assert backup in states.values(), "the backup is not a whole book"
        changed = data == states[wanted]
        # The machine is slower at one time than at another: the end is sought where it is now.
        seconds *= 0.85 if changed else 1.06
        outcomes["finished" if finished else "new" if changed else "old"] += 1
        now = wanted if changed else now
    left = sorted(p.name for p in folder.iterdir())
    put_pages(book, PAGES[1 - now], Units.INCH, fingerprint(book))
    assert sorted(p.name for p in folder.iterdir()) == [".jobs.backup.json", "jobs.backup.xlsx", "jobs.xlsx"]
    return {**outcomes, "seconds": first, "most left behind": len(left)}


def timed(book: Path, turn: int) -> float:
    start = time.perf_counter()
    assert killed(book, turn, 30.0)
    return time.perf_counter() - start


def killed(book: Path, turn: int, delay: float) -> bool:
    """Write in a process of its own that is killed after the delay; whether it was done before."""
    child = os.fork()
    if child == 0:
        put_pages(book, PAGES[turn], Units.INCH, fingerprint(book))
        os._exit(0)
    end = time.perf_counter() + delay
    while time.perf_counter() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            assert status == 0, "the writer failed by itself"
            return True
        time.sleep(0.0002)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return not os.WIFSIGNALED(status)


_opened: set[str] = set()


def opens(data: bytes) -> bool:
    """Whether another reader opens the book whole; each different book is tried once."""
    digest = hashlib.sha256(data).hexdigest()
    if digest not in _opened:
        assert "Plan" in openpyxl.load_workbook(io.BytesIO(data)).sheetnames
        _opened.add(digest)
    return True


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]))))
