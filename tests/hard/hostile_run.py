"""Hostile books through the real command, within stated time and memory.

``--count`` is how many of the list are run, the quick ones first.

Limits
------
What is refused in a sentence rather than tried, and how long the worst may take, with the kernels compiled:

workbook file (`workbook/package/guard.py`)
    150 MB, 20,000 parts, 256 MB unpacked; texts, formats and lists of parts together 32 MB unpacked; one row
    of a page 16 MB unpacked.
one input table (`workbook/reading/book.py`)
    20,000 rows; 256 columns are looked at.
one cell (`workbook/reading/cells.py`)
    A name of 120 characters, a count of 1,000,000, a length of 30 m.
one plan (`workbook/reading/job.py`)
    200,000 pieces, and what is estimated at 4 GB of memory.
one drawing (`drawings/reading/findings.py`)
    12 MB, 100,000 pieces, 16 blocks within blocks, 30 s.
reading or refusing any workbook (`SECONDS`, `MEMORY_MB`)
    3 minutes of one processor, 2 GB.
a second run on one output folder (`app/making/folders.py`)
    Waits 30 s, then refuses.

A planner's own page of a million rows is read past, not refused; without a stated dimension that costs 20 to
40 s. Relations that lead out of the package, links to other books and web queries are left as they are and
not followed. Entities are never expanded beyond what the XML library allows, and never fetched.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path

from tests.hard import hostile
from tests.hard.command import run
from tests.hard.looking import snapshot
from tests.hard.options import told

ABOUT = __doc__.partition("\n\nLimits\n")[0]

SECONDS = 180.0
"""Most processor time that ``check`` or ``plan`` may take for any book, with hardly any search."""

MEMORY_MB = 2048.0
"""Most memory that any book may make them hold."""

TEXTS = ("xl/sharedStrings.xml", b"</t>", b"&l9;")
BOOK = ("xl/workbook.xml", b"</workbook>", b"<x>&l9;</x>")
CELL = (hostile.SHEET, b"</v>", b"&l9;")
FILE, PAGE = "file:///etc/passwd", "http://192.0.2.1/x"
STYLE = ("xl/styles.xml", b"</styleSheet>", b"<x>&l9;</x>")


@dataclass(frozen=True)
class Case:
    """A book, how it may end (0 planned, 1 problems, 3 refused), and a snatch of what is then said."""

    name: str
    make: Callable[[], bytes]
    codes: tuple[int, ...]
    says: str = ""


QUICK = (
    Case("parts that say they unpack to 1 GB", hostile.bomb_declared, (3,), "unpacks to"),
    Case("a part that hides 600 MB", hostile.bomb_forged, (3,), "damaged"),
    Case("a part that says it is empty", partial(hostile.bomb_forged, 0), (3,), "damaged"),
    Case("entries over one another", hostile.bomb_overlapping, (3,), "over one another"),
    Case("entities in the texts", partial(hostile.laughs, *TEXTS), (3,)),
    Case("entities in the workbook", partial(hostile.laughs, *BOOK), (0, 1, 3)),
    Case("entities in a cell", partial(hostile.laughs, *CELL), (0, 1, 3)),
    Case("entities in the formats", partial(hostile.laughs, *STYLE), (0, 1, 3)),
    Case("a file of the machine", partial(hostile.entity_from_a_file, *TEXTS, FILE), (0, 1, 3)),
    Case("a file in the workbook", partial(hostile.entity_from_a_file, *BOOK, FILE), (0, 1, 3)),
    Case("a page of the network", partial(hostile.entity_from_a_file, *CELL, PAGE), (0, 1, 3)),
    Case("relations up and out", partial(hostile.relations_outside, "../../../../../etc/passwd"), (0, 1, 3)),
    Case("relations to a file", partial(hostile.relations_outside, FILE), (0, 1, 3)),
    Case("relations to a server", partial(
        hostile.relations_outside, "\\\\server\\share\\x", ' TargetMode="External"'), (0,), "Wrote"),
    Case("links to elsewhere", hostile.pulls_from_elsewhere, (0,), "Wrote"),
    Case("a table of all columns", hostile.wide_table, (0, 1)),
    Case("a table of all rows", partial(hostile.million_rows, False), (1,), "rows"),
    Case("a sheet that says it is endless", hostile.dimension_lies, (0,), "Wrote"),
    Case("texts of 33 MB", partial(hostile.strings, 33), (3,), "lists of texts"),
    Case("formats of 33 MB", partial(hostile.formats, 33), (3,), "lists of texts"),
    Case("names of 33 MB", partial(hostile.names, 33), (3,), "lists of texts"),
    Case("one text of 33 MB", partial(hostile.one_text, 33), (3,), "lists of texts"),
    Case("a row of 240 MB", partial(hostile.one_row, 240), (3,), "A row of a page"),
    Case("a cell of 240 MB", partial(hostile.one_cell, 240), (3,), "A row of a page"),
)  # fmt: skip

LONG = (
    Case("a table of all rows, filled", partial(hostile.million_rows, True), (1,), "rows"),
    Case("a full page of the planner's own", hostile.other_sheet_full, (0,), "Wrote"),
    Case("short texts up to the limit", partial(hostile.strings, 30), (0,), "Wrote"),
    Case("a text up to the limit", partial(hostile.one_text, 30), (0, 3)),
    Case("formats up to the limit", partial(hostile.formats, 30), (0, 3)),
    Case("names up to the limit", partial(hostile.names, 30), (0, 3)),
    Case("rows that never rise", partial(hostile.same_row, 240), (0, 1, 3)),
    Case("a row up to the limit", partial(hostile.one_row, 15), (0, 1, 3)),
    Case("a cell up to the limit", partial(hostile.one_cell, 15), (0, 1, 3)),
)  # fmt: skip


def faults_of(case: Case) -> tuple[list[str], str]:
    """Run ``check`` and ``plan`` on a case; what must not be, and a line on how it went."""
    faults, line = [], case.name
    with tempfile.TemporaryDirectory(prefix="hard-") as place:
        folder = Path(place) / "work"
        folder.mkdir()
        # Made in another process, since a child's peak memory counts from its parent's.
        maker = get_context("spawn").Process(target=_make, args=(case, folder / "b.xlsx"))
        maker.start()
        maker.join()
        before = snapshot(folder)
        for command in (("check",), ("plan", "--seconds", "0.2", "--workers", "1")):
            ran = run(
                command[0], "b.xlsx", *command[1:], folder=folder, limit=4 * SECONDS, memory=8 * 1024**3
            )
            line += f"; {command[0]} {ran.code}, {ran.worked:.1f} s, {ran.megabytes:.0f} MB"
            allowed = case.codes if command[0] == "plan" else (*case.codes, 0)
            if ran.ugly or ran.code not in allowed or (command[0] == "plan" and case.says not in ran.said):
                faults.append(f"{case.name}, {command[0]}: ended with {ran.code}, said {ran.said[-600:]}")
            if ran.worked > SECONDS or ran.megabytes > MEMORY_MB:
                faults.append(f"{case.name}, {command[0]}: {ran.worked:.0f} s and {ran.megabytes:.0f} MB")
            if (command[0] == "check" or ran.code == 3) and snapshot(folder) != before:
                faults.append(f"{case.name}, {command[0]}: changed the folder")
            if "root:" in ran.said:
                faults.append(f"{case.name}, {command[0]}: shows what stands in a file of the machine")
    return faults, line


def _make(case: Case, path: Path) -> None:
    path.write_bytes(case.make())


def main() -> int:
    options = told(ABOUT, count=len(QUICK) + len(LONG))
    bad = 0
    for case in (*QUICK, *LONG)[: options.count]:
        faults, line = faults_of(case)
        print(line, *faults, sep="\n    ", flush=True)
        bad += bool(faults)
    return bad > 0


if __name__ == "__main__":
    sys.exit(main())
