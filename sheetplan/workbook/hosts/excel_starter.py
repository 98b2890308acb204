"""The one-line file beside a book that lets the xlwings add-in run it.

The add-in's button runs ``main()`` of a module named like the workbook, so ``jobs.xlsx`` needs a
``jobs.py`` in its folder, and the name must be one that Python can import and nothing else has.
"""

from __future__ import annotations

import importlib.util
import keyword
from pathlib import Path

STARTER = "from sheetplan.cli.excel import main\n"


def starter_of(book: Path) -> Path:
    """Where the book's starter stands."""
    return book.with_suffix(".py")


def name_fault(book: Path) -> str | None:
    """Say why a book of this name could not be run by the add-in, or None where it could.

    Examples
    --------
    >>> name_fault(Path("november.xlsx"))
    >>> name_fault(Path("jobs of may.xlsx"))
    'The name jobs of may has signs that the add-in cannot use: take letters, digits and underscores.'
    """
    name = book.stem
    if not name.isidentifier():
        return f"The name {name} has signs that the add-in cannot use: take letters, digits and underscores."
    if keyword.iskeyword(name):
        return f"The name {name} is a word of Python itself: take another, such as {name}_jobs."
    try:
        taken = importlib.util.find_spec(name)
    except (ImportError, ValueError):
        taken = None
    if taken is not None and Path(taken.origin or "").resolve() != starter_of(book).resolve():
        return f"The name {name} is taken by a part of Python here: take another, such as {name}_jobs."
    return None


def write_starter(book: Path) -> Path | None:
    """Write the starter beside the book; None where the name does not allow one.

    A file that is there already is left as it is: it may be the planner's own.
    """
    if name_fault(book) is not None:
        return None
    starter = starter_of(book)
    if not starter.exists():
        starter.write_text(STARTER, encoding="utf-8")
    return starter
