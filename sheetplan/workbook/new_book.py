"""Make a new book by copying one that ships with the tool."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from sheetplan.trade.units import Units
from sheetplan.workbook.errors import BookError, NotWritten, book_problem
from sheetplan.workbook.guard import READABLE

FOLDER = "workbook_template"


def template_name(*, demo: bool, units: Units) -> str:
    """The file name of a shipped book.

    >>> template_name(demo=True, units=Units.MM)
    'demo_mm.xlsx'
    """
    return f"{'demo' if demo else 'empty'}_{units.value}.xlsx"


def template_path(*, demo: bool, units: Units) -> Path:
    """Where the shipped book stands: inside the installed package, or beside it in a source tree.

    Raises
    ------
    BookError
        The installation is not whole.
    """
    name = template_name(demo=demo, units=units)
    for folder in _folders():
        if (folder / name).is_file():
            return folder / name
    raise BookError(book_problem(
        Path(name), "This installation has no books to copy from.", "Install sheetplan again.",
    ))  # fmt: skip


def write_new(path: str | os.PathLike[str], *, demo: bool, units: Units) -> None:
    """Copy the empty book, or the demo, to ``path``. A file that is there already is never touched.

    Raises
    ------
    BookError
        A file of this name is there, the name is no workbook's, or the folder refuses.
    """
    path = Path(path)
    if path.suffix.lower() != READABLE[0]:
        raise NotWritten(book_problem(
            path, f"The name of a new book ends in {READABLE[0]}, not in {path.suffix or 'nothing'}.",
            f"Call it {path.stem}{READABLE[0]}.",
        ))  # fmt: skip
    data = template_path(demo=demo, units=units).read_bytes()
    try:
        with path.open("xb") as file:
            _fill(file.fileno(), path, data)
    except FileExistsError as error:
        raise NotWritten(book_problem(
            path, "A file of this name is there already; it was left as it is.",
            "Choose another name, or move that file away.",
        )) from error  # fmt: skip
    except FileNotFoundError as error:
        raise NotWritten(book_problem(
            path, f"There is no folder {path.parent}.", "Make the folder first, or choose another.",
        )) from error  # fmt: skip
    except OSError as error:
        raise NotWritten(book_problem(
            path, f"The book could not be written ({error.strerror or error}).",
            "Choose a folder in which you may write and that has room.",
        )) from error  # fmt: skip


def _fill(file: int, path: Path, data: bytes) -> None:
    """Write all bytes; a file that could not be filled is removed, since it is ours and no book."""
    try:
        written = 0
        while written < len(data):
            written += os.write(file, data[written:])
        os.fsync(file)
    except OSError:
        path.unlink(missing_ok=True)
        raise


def _folders() -> Iterator[Path]:
    package = Path(__file__).resolve().parent.parent
    yield package / FOLDER
    yield package.parent / FOLDER
