"""Spoilt books and spoilt drawings through the real command, each in a process of its own.

``--count`` is how many of each; odd cases are drawings, each named in the book's only part that is ordered,
so that a plan has to read it. Asked of every ``sheetplan check`` and ``sheetplan plan --seconds 1``:

- it ends in time, with a documented exit code, and shows no traceback;
- ``check`` changes nothing in the folder, nor does ``plan`` where it refuses the file;
- a problem in a drawing is told by the name of the drawing or of its part;
- after a plan, or problems written to the book, every part outside our own pages has the bytes that it
  had, and each drawing that a planned book points at is there.
"""

from __future__ import annotations

import functools
import random
import sys
from pathlib import Path

from tests.hard import book_fuzz, drawing_fuzz, spoiling
from tests.hard.command import Ran, run
from tests.hard.looking import book_faults, link_faults, snapshot
from tests.hard.options import told
from tests.hard.watching import Outcome, outcomes, tell
from tests.nasty.books.plain import plain_rows, write_book
from tests.nasty.drawings_dxf import DXF_DRAWINGS
from tests.nasty.drawings_svg import SVG_DRAWINGS

SECONDS = 60.0
"""Most processor time of one command; whatever the drawing or the book, the search has one second."""

WAIT = 240.0
"""Seconds after which a command is ended: on a busy machine it waits for the processor."""

PART = "D-1"
"""The part that is drawn, and all that is ordered."""

BESIDE = "b results.xlsx"
"""Where results go if the planner's book may not be altered."""

MILDLY = 0.5
"""Share of drawings that are good but for a few numbers, so that some are read and planned."""

DONE, PROBLEMS, REFUSED = 0, 1, 3
ENDS = {DONE: "done", PROBLEMS: "problems", REFUSED: "refused"}


def one(seed: int, case: int, folder: Path) -> Outcome:
    """Spoil a book or a drawing, check, plan, and judge what was said and what is left."""
    dice = random.Random(f"{seed} {case}")
    work = folder / "work"
    work.mkdir()
    what, drawing = spoilt_drawing(work, dice) if case % 2 else (spoilt_book(work, dice), "")
    ends, faults = judged(work, drawing)
    kind = f"{'drawing' if drawing else 'book'} {'/'.join(ends)}"
    return {"kind": kind, "what": what, "fault": "\n".join(faults)}


def spoilt_book(work: Path, dice: random.Random) -> str:
    """A spoilt book in the folder; returns in what ways it is spoilt."""
    way, data = spoiling.spoilt(dice.choice(book_fuzz.good_books()), dice)
    (work / "b.xlsx").write_bytes(data)
    return way


def spoilt_drawing(work: Path, dice: random.Random) -> tuple[str, str]:
    """A book whose one order is for a part with a spoilt drawing; returns the ways and the drawing's name."""
    mildly = dice.random() < MILDLY
    name, data = dice.choice(good_drawings() if mildly else drawing_fuzz.drawings())
    ending = "svg" if b"<svg" in data[:2000] else "dxf"
    way, data = ("numbers", mildly_spoilt(data, dice)) if mildly else drawing_fuzz.spoilt(data, dice)
    drawing = f"plates/spoilt.{ending}"
    (work / "plates").mkdir()
    (work / drawing).write_bytes(data)
    rows = plain_rows()
    rows["Parts"].append({
        "Part": PART, "Material": "mild steel", "Thickness": "10 ga", "Drawing": drawing,
        "Drawn in": dice.choice((None, "mm")),
    })  # fmt: skip
    rows["Orders"] = [{"Order": "H-1", "Item": PART, "Quantity": 1}]
    write_book(work / "b.xlsx", rows)
    return f"{name}: {way}", drawing


@functools.cache
def good_drawings() -> tuple[tuple[str, bytes], ...]:
    """Names and bytes of drawings that are good before they are spoilt."""
    return tuple((one.name, one.data) for one in (*DXF_DRAWINGS, *SVG_DRAWINGS) if one.good)


def mildly_spoilt(data: bytes, dice: random.Random) -> bytes:
    """The drawing with a few numbers of its entities, or attributes, changed."""
    if b"<svg" in data[:2000]:
        return drawing_fuzz.attributes(data, dice)
    head, drawn, tail = drawing_fuzz.drawn_section(data)
    return head + drawing_fuzz.numbers(drawn, dice) + tail


def judged(work: Path, drawing: str) -> tuple[list[str], list[str]]:
    """How ``check`` and ``plan`` ended on the folder's book, and what must not be."""
    before, data = snapshot(work), (work / "b.xlsx").read_bytes()
    ends, faults = [], []
    for arguments in (("check", "b.xlsx"), ("plan", "b.xlsx", "--seconds", "1")):
        ran = run(*arguments, folder=work, limit=WAIT)
        ends.append(ENDS.get(ran.code, f"exit code {ran.code}"))
        faults += said_faults(ran, drawing)
        if (arguments[0] == "check" or ran.code == REFUSED) and snapshot(work) != before:
            faults.append(f"{arguments[0]} ({ends[-1]}) changed the folder: {sorted(snapshot(work))}")
    return ends, faults + left_faults(work, ran, before, data)


def left_faults(work: Path, planned: Ran, before: dict[str, str], data: bytes) -> list[str]:
    """What is wrong with what a plan left in the folder, ``data`` being the book as it was."""
    book, after = work / "b.xlsx", snapshot(work)
    changed = {name for name, mark in before.items() if after.get(name) != mark}
    faults = [f"{name} was changed or lost" for name in changed - {book.name}]
    if planned.code in (DONE, PROBLEMS):
        faults += book_faults(book, data)
    if planned.code == DONE:
        faults += link_faults(work / BESIDE if BESIDE in after else book)
    elif any(name[0] != "." and not name.endswith(".xlsx") for name in after.keys() - before.keys()):
        faults.append(f"no plan, and yet the folder holds {sorted(after)}")
    return faults


def said_faults(ran: Ran, drawing: str) -> list[str]:
    """What is wrong with what a command said, or with how long it took."""
    faults = [ran.ugly] if ran.ugly else []
    if "object at 0x" in ran.said or not ran.said.strip():
        faults.append(f"not a sentence: {ran.said[-600:]!r}")
    if ran.worked > SECONDS:
        faults.append(f"took {ran.worked:.0f} s of the processor")
    if drawing and ran.code == PROBLEMS and Path(drawing).name not in ran.said and PART not in ran.said:
        faults.append(f"neither part nor drawing is named: {ran.said[-600:]!r}")
    return faults


def main() -> int:
    options = told(__doc__, count=50)
    first, count = (options.only, 1) if options.only is not None else (0, 2 * options.count)
    found = outcomes("tests.hard.real_command", first, count, options.seed, 2.0 * WAIT + 60.0)
    return len(tell(found)) > 0


if __name__ == "__main__":
    sys.exit(main())
