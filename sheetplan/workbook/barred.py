"""What keeps a program from writing into a book that it has open, told before any work is done."""

from __future__ import annotations

import os
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.workbook.errors import book_problem
from sheetplan.workbook.guard import READABLE


@dataclass(frozen=True, slots=True)
class BookState:
    """How a program has a book open. ``pages`` are its pages, ``locked`` those that are protected.

    ``planners`` are pages that the tool did not make and that hold something.
    """

    read_only: bool = False
    structure_locked: bool = False
    pages: frozenset[str] = frozenset()
    locked: frozenset[str] = frozenset()
    planners: frozenset[str] = frozenset()


def wrong_kind(path: Path) -> Problem | None:
    """What is wrong with the kind of the book's file; nothing can be recorded in another kind."""
    if path.suffix.lower() in READABLE:
        return None
    return book_problem(
        path, f"The workbook is a file of the kind {path.suffix or 'without an ending'}, in which no cut, "
        "order or delivery can be recorded.",
        "Save it as an Excel workbook (File, Save As, Excel 2007-365, ending .xlsx) and go on in that one.",
    )  # fmt: skip


def barred(path: Path, state: BookState, wanted: Collection[str], edited: Collection[str]) -> Problem | None:
    """The first thing that keeps pages from being drawn or cells of others from being written, or None."""
    if state.read_only:
        return book_problem(
            path, "The workbook is open for reading only, so nothing can be written into it.",
            "Open it for editing, or save it under another name, then run it again.",
        )  # fmt: skip
    if path.parent.is_dir() and not os.access(path.parent, os.W_OK):
        return book_problem(
            path, f"The folder {path.parent} may not be written, and drawings and records go there.",
            "Save the workbook in a folder of your own, then run it again.",
        )  # fmt: skip
    own = sorted({*wanted} & state.planners)
    if own:
        return book_problem(
            path, f"The page {own[0]} is your own: it was not made here, so it is not replaced.",
            "Give your page another name, then run it again.",
        )  # fmt: skip
    missing = sorted({*wanted} - state.pages)
    if state.structure_locked and missing:
        return book_problem(
            path, f"The workbook's structure is protected, so the page {missing[0]} cannot be added.",
            "Take the protection off (Tools, Protect Spreadsheet Structure), then run it again.",
        )  # fmt: skip
    locked = sorted({*wanted, *edited} & state.locked)
    if locked:
        pages = f"page {locked[0]} is" if len(locked) == 1 else f"pages {', '.join(locked)} are"
        return book_problem(
            path, f"The {pages} protected, so nothing can be written there.",
            "Take the protection off (Tools, Protect Sheet), then run it again.",
        )  # fmt: skip
    return None
