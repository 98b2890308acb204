"""Make a new book by copying one that ships with the tool."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from pathlib import Path

from sheetplan.app.check import system_comma
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import SETTINGS
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.outcomes import BookError, NotWritten, book_problem
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.package.guard import READABLE
from sheetplan.workbook.package.saving import uninterrupted
from sheetplan.workbook.schema import SETTING_ROWS, DecimalWord
from sheetplan.workbook.template.formulas import FIRST_ROW

FOLDER = "workbook_template"

DEMO_DRAWINGS: Mapping[Units, str] = {Units.INCH: "drawings", Units.MM: "drawings_mm"}
"""The folder beside a demo book with the drawings that its parts name: one for each unit, so that both
demos can lie in one folder."""


def new_book(book: Path, *, demo: bool, units: Units) -> Path:
    """Copy the empty book, or the demo book, to ``book`` and return its path.

    It states the decimal sign of this computer where that is a comma.

    Raises ``workbook.outcomes.BookError`` where a file stands there already or the folder refuses.
    """
    write_new(book, demo=demo, units=units, comma=system_comma())
    return book


def excel_starter(book: Path) -> Path | None:
    """Write the one-line file that lets Excel's add-in run the book, where there is Excel to run it.

    None on other systems, and where the book's name does not allow one (`sheetplan excel` says why).
    """
    from sheetplan.workbook.hosts.excel_setup import has_excel, write_starter

    return write_starter(book) if has_excel() else None


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


def demo_drawings(units: Units) -> dict[str, bytes]:
    """The drawings that the demo's parts name, by their path below the book's folder."""
    folder = template_path(demo=True, units=units).with_name(DEMO_DRAWINGS[units])
    return {f"{folder.name}/{path.name}": path.read_bytes() for path in sorted(folder.glob("*.dxf"))}


def write_new(path: str | os.PathLike[str], *, demo: bool, units: Units, comma: bool = False) -> None:
    """Copy the empty book, or the demo with its drawings, to ``path``; ``comma`` is its decimal sign.

    A file that is there already is never touched; a drawing that is there with the same content serves.

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
    if comma:
        data = _with_comma(data)
    if demo and path.parent.is_dir() and not path.exists():
        _write_drawings(path, demo_drawings(units))
    try:
        _put_new(path, data)
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


def _with_comma(data: bytes) -> bytes:
    """A shipped book whose setting says that numbers in texts have a comma."""
    row = FIRST_ROW + 1 + [setting.name for setting in SETTING_ROWS].index("Decimal sign")
    edit = BookEdit(data)
    edit.set(SETTINGS.name, f"B{row}", DecimalWord.COMMA.value)
    return edit.done()


def _write_drawings(book: Path, drawings: Mapping[str, bytes]) -> None:
    """Put the drawings beside a book that is about to be made: none of them where one cannot be."""
    wanted = {book.parent / name: content for name, content in drawings.items()}
    try:
        missing = [path for path, content in wanted.items() if not _serves(path, content)]
        for path in missing:
            path.parent.mkdir(exist_ok=True)
            _put_new(path, wanted[path])
    except FileExistsError as error:
        where = Path(str(error.filename)).relative_to(book.parent).as_posix()
        raise NotWritten(book_problem(
            book, f"The demo's drawings go beside it, and something else is there already as {where}; it was "
            "left as it is, and no book was made.",
            "Make the demo in another folder, or move that away.",
        )) from error  # fmt: skip
    except OSError as error:
        raise NotWritten(book_problem(
            book, f"The demo's drawings could not be written beside it ({error.strerror or error}).",
            "Choose a folder in which you may write and that has room.",
        )) from error  # fmt: skip


def _serves(path: Path, content: bytes) -> bool:
    """Whether a drawing is there already with this content; raises where something else is."""
    if path.is_file() and path.read_bytes() == content:
        return True
    for there in (path, path.parent):
        if there.is_symlink() or (there.exists() and (there == path or not there.is_dir())):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(there))
    return False


def _put_new(path: Path, data: bytes) -> None:
    """Write a file that is not there yet; one that could not be filled is removed, since it is ours.

    Where it cannot be removed either it is noted as written, so that nobody is told that nothing was.
    """
    noted, ours = ledger().files, False
    with uninterrupted():
        try:
            with path.open("xb") as file:
                ours = True
                noted.append(path)
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        except OSError:
            with suppress(OSError):
                if ours:
                    path.unlink(missing_ok=True)
                    noted.remove(path)
            raise


def _folders() -> Iterator[Path]:
    package = Path(__file__).resolve().parent.parent
    yield package / FOLDER
    yield package.parent / FOLDER
