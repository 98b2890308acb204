"""A small planned book for tests of recording cuts: made once, copied for each test."""

from __future__ import annotations

import atexit
import datetime
import hashlib
import io
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import openpyxl
from openpyxl.utils.cell import get_column_letter, range_boundaries

from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack.cut import CutDone, record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units

AS_IT_IS = "keep as it is"
"""The word of the setting What is left."""

DAY = datetime.date(2026, 11, 25)

PARTS = (
    ("PLATE", 12, 15), ("BRACE", 6, 18), ("RING", 30, 30),
)  # fmt: skip
"""Name, width and length in inches."""


def fill(book: openpyxl.Workbook, page: str, rows: Sequence[dict[str, object]]) -> None:
    """Write rows into a page's table from its first row on."""
    sheet = book[page]
    heads = {str(cell.value): cell.column for row in sheet.iter_rows(max_row=6) for cell in row if cell.value}
    first = next(row[0].row for row in sheet.iter_rows(max_row=6) for c in row if c.value in rows[0]) + 1
    for table in sheet.tables.values():
        left, top, right, bottom = range_boundaries(table.ref)
        if bottom < first + len(rows) - 1:
            table.ref = f"{get_column_letter(left)}{top}:{get_column_letter(right)}{first + len(rows) - 1}"
            table.autoFilter = None
    for number, row in enumerate(rows, first):
        for heading, value in row.items():
            sheet.cell(number, heads[heading], value)


@dataclass(frozen=True)
class Asked:
    """What a book is to be like; ``remnants`` are rows, each as its headings and values."""

    plates: int
    on_hand: int
    remnants: tuple[tuple[tuple[str, object], ...], ...]
    least: float | None
    seconds: float
    plan_it: bool
    as_it_is: bool


def planned_book(
    folder: Path, *, plates: int = 5, on_hand: int = 3, remnants: Sequence[dict[str, object]] = (),
    seconds: float = 0.3, name: str = "yard.xlsx", least: float | None = None,
    plan_it: bool = True, as_it_is: bool = False,
) -> Path:  # fmt: skip
    """A book of one gauge with two orders, planned; ``as_it_is`` keeps what is left with its old cuts."""
    rows = tuple(tuple(row.items()) for row in remnants)
    return copied(_made(name, Asked(plates, on_hand, rows, least, seconds, plan_it, as_it_is)), folder)


@cache
def _made(name: str, asked: Asked) -> Path:
    """Such a book in a folder of this process, for copies only."""
    folder = Path(tempfile.mkdtemp(prefix="sheetplan-made-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    path = folder / name
    new_book(path, demo=False, units=Units.INCH)
    book = openpyxl.load_workbook(path)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    fill(book, "Parts", [{"Part": p, **metal, "Width": w, "Length": length} for p, w, length in PARTS])
    fill(book, "Kits", [{"Kit": "frame", "Part": "PLATE", "Quantity": 2},
                        {"Kit": "frame", "Part": "BRACE", "Quantity": 1}])  # fmt: skip
    fill(book, "Orders", [{"Order": "H-1", "Item": "frame", "Quantity": asked.plates},
                          {"Order": "H-2", "Item": "BRACE", "Quantity": 4}])  # fmt: skip
    fill(book, "Stock", [{"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "On hand": asked.on_hand,
                          "Price": 140, "Price per": "sheet"}])  # fmt: skip
    if asked.least is not None:
        for row in book["Settings"].iter_rows():
            if str(row[0].value).startswith("Least remnant"):
                row[1].value = asked.least
    if asked.as_it_is:
        rows = book["Settings"].iter_rows()
        next(row for row in rows if row[0].value == "What is left")[1].value = AS_IT_IS
    if asked.remnants:
        fill(book, "Remnants", [dict(row) for row in asked.remnants])
    book.save(path)
    if asked.plan_it:
        plan(path, seconds=asked.seconds)
    return path


def plan(path: Path, seconds: float = 0.3) -> str:
    """Plan a book; gives the mark."""
    outcome = plan_book(
        path, PlanAsked(DAY, seconds=seconds, seed=1), stop=lambda: False, report=quiet, workers=1
    )
    assert outcome.plan is not None, outcome.problems
    return outcome.mark


def record_cut(book: Path, asked: CutAsked, *, today: datetime.date) -> CutDone:
    """Record one cut by itself."""
    return record_cuts(book, (asked,), today=today)[0]


def copied(book: Path, folder: Path) -> Path:
    """The book with all that lies beside it, in another folder."""
    shutil.copytree(book.parent, folder, dirs_exist_ok=True)
    return folder / book.name


@lru_cache(maxsize=4)
def _rows(data: bytes, page: str) -> list[tuple[object, ...]]:
    """A page that is only looked at; tests ask it for one cell after another."""
    sheet = openpyxl.load_workbook(io.BytesIO(data), read_only=True)[page]
    return list(sheet.iter_rows(values_only=True))


def cell(path: Path, page: str, key: object, heading: str) -> object:
    """The value in the row that starts with a name, under a heading."""
    rows = iter(_rows(path.read_bytes(), page))
    heads = next((row for row in rows if heading in row), ())
    assert heads, f"{page} has no {heading}"
    column = max(at for at, name in enumerate(heads) if name == heading)
    found = [below for below in rows if below[:1] == (key,)]
    assert found, f"{page} has no {key}"
    return found[0][column] if column < len(found[0]) else None


def write(path: Path, page: str, key: str, heading: str, value: object) -> None:
    """Type a value as a planner would, and save with a general-purpose library."""
    write_all(path, (page, key, heading, value))


def write_all(path: Path, *cells: tuple[str, str, str, object]) -> None:
    """Type several values before saving once: page, first cell of the row, heading and value of each."""
    book = openpyxl.load_workbook(path)
    for page, key, heading, value in cells:
        sheet = book[page]
        head = next(row for row in sheet.iter_rows() if any(c.value == heading for c in row))
        column = next(c.column for c in head if c.value == heading)
        row = next(r[0].row for r in sheet.iter_rows(min_row=head[0].row + 1) if r[0].value == key)
        sheet.cell(row, column, value)
    book.save(path)


def state(folder: Path) -> dict[str, str]:
    """Digest of every file, the backup aside."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*")) if path.is_file() and ".backup." not in path.name
    }  # fmt: skip


def ring_book(folder: Path) -> Path:
    """The book, not planned, with one ring to make whose hole leaves a disc worth keeping."""
    path = planned_book(folder, plan_it=False)
    book = openpyxl.load_workbook(path)
    fill(book, "Orders", [{"Order": "H-1", "Item": "RING", "Quantity": 1},
                          {"Order": None, "Item": None, "Quantity": None}])  # fmt: skip
    book.save(path)
    for heading, value in (("Shape", "ring"), ("Inside", 24)):
        write(path, "Parts", "RING", heading, value)
    return path
