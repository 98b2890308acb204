"""The folder of drawings: one folder a plan, complete before the book points at it.

A plan's files go to ``<output folder>/plan-<mark>``. The folder is filled under another name and
renamed when it is whole, so a crash leaves the earlier plan's files and nothing half written.
Earlier plans' folders move to ``earlier`` beside it once the book shows the new plan. The newest few
are kept whole; of more of them what recording a cut needs, since their tickets may be out in the shop.
Several books may share an output folder: each plan's folder says whose it is.

Choices
-------
The plan's mark, four letters from a hash of its layouts, names the folder. It stands in the book, in each
drawing (its name and, in a DXF, a comment in its first lines) and on each ticket. The folder comes first and
the book after it: a crash can leave a folder that no book shows, never a book that points at another plan's
drawings.
"""

from __future__ import annotations

import errno
import os
import shutil
import time
from collections.abc import Collection, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path, PurePosixPath, PureWindowsPath

from sheetplan.model import Problem
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.outcomes import BookInUse, book_problem
from sheetplan.workbook.package.guard import only_writer
from sheetplan.workbook.package.saving import backup_of, moved, results_beside

EARLIER_KEPT = 3
"""Earlier plans whose drawings are kept: enough to finish cutting last week's, few enough to stay small."""

RECORDS_KEPT = 24
"""Earlier plans whose cuts can still be recorded, those kept whole among them: weeks of printed tickets."""

PREFIX = "plan-"

EARLIER = "earlier"
"""The folder, among those of plans, that holds earlier plans."""

RECORD = "plan.json"
"""A plan's record among its files, from which later runs take what was planned and what is to be bought."""

BOOK_NOTE = "workbook.txt"
"""The file in a plan's folder that names the workbook which the plan belongs to."""

WAIT_SECONDS = 30.0
"""How long a run waits for another one to finish writing; writing takes a second or two."""

_BEAT_SECONDS = 0.2


def plan_folders(folder: Path, mark: str) -> tuple[Path, Path]:
    """Where files of a plan may lie in the folder of plans: at hand, or set aside."""
    return folder / f"{PREFIX}{mark}", folder / EARLIER / f"{PREFIX}{mark}"


def output_folder(book: Path, asked: str) -> Path | Problem:
    """The folder that `Settings` asks for, or what is wrong with it.

    Only folders below the workbook's own are allowed, so that a book from elsewhere cannot
    write where it likes.
    """
    text = asked.strip().replace("\\", "/") or "."
    relative = PurePosixPath(text)
    reaches_out = relative.is_absolute() or PureWindowsPath(asked).anchor or ".." in relative.parts
    if reaches_out:
        return Problem(
            page="Settings",
            row=None,
            cell=None,
            what=f"The output folder {asked!r} lies outside the workbook's folder.",
            remedy="Write the name of a folder beside the workbook, such as: layouts",
        )
    folder = book.parent.joinpath(*relative.parts)
    if not folder.resolve().is_relative_to(book.parent.resolve()):
        return Problem(
            page="Settings",
            row=None,
            cell=None,
            what=f"The output folder {asked!r} is a link that leads outside the workbook's folder.",
            remedy="Write the name of a plain folder beside the workbook, such as: layouts",
        )
    return _in_the_way(book, folder) or folder


def _in_the_way(book: Path, folder: Path) -> Problem | None:
    """A file where the folder is to be, or a folder where a file is to be: found before hours of work."""
    for place in (folder, *folder.parents):
        if place == book.parent:
            break
        if place.exists() and not place.is_dir():
            what = f"The output folder cannot be made: {place.name} beside the workbook is a file."
            remedy = "Rename the file, or write another name beside Output folder."
            return Problem("Settings", None, None, what, remedy)
    for file, holds in ((backup_of(book), "the book as it was"), (results_beside(book), "results")):
        if file.is_dir():
            what = f"A folder is called {file.name}, as the file is in which a plan keeps {holds}."
            return book_problem(book, what, "Give the folder another name.")
    return None


@contextmanager
def sole_use(folder: Path, book: Path) -> Iterator[None]:
    """Hold an output folder while a plan is written; a second run waits its turn.

    Raises
    ------
    BookInUse
        The other run did not end in time.
    FileNotFoundError
        The book's own folder is gone; it is not made anew, as it may be a drive that was taken off.
    """
    if not book.parent.is_dir():
        raise FileNotFoundError(errno.ENOENT, "the folder is no longer there", str(book.parent))
    folder.mkdir(parents=True, exist_ok=True)
    deadline = time.monotonic() + WAIT_SECONDS
    with ExitStack() as held:
        while not _entered(held, folder):
            if time.monotonic() > deadline:
                what = f"Another run keeps writing into the folder {folder.name}; nothing was written."
                raise BookInUse(book_problem(book, what, "Wait until it has ended, then try again."))
            time.sleep(_BEAT_SECONDS)
        yield


def _entered(held: ExitStack, folder: Path) -> bool:
    try:
        held.enter_context(only_writer(folder / "plans"))
    except BookInUse:
        return False
    return True


def publish(folder: Path, mark: str, files: Mapping[str, bytes], book: str = "") -> Path:
    """Write a plan's files as ``folder/plan-<mark>`` and return that folder.

    A folder of this mark that is there already holds the same layouts; its files are renewed one
    by one, so that the book's links never lead nowhere, and what differed (drawings changed by
    hand, tickets of another day) is kept in ``earlier``. Raises OSError when the disk refuses;
    what was there before is then still there.
    """
    folder.mkdir(parents=True, exist_ok=True)
    files = {**files, BOOK_NOTE: f"{book}\n".encode()}
    final = folder / f"{PREFIX}{mark}"
    staged = folder / f".{PREFIX}{mark}.part"
    for left_by_a_crash in folder.glob(f".{PREFIX}*.part"):
        shutil.rmtree(left_by_a_crash, ignore_errors=True)
    try:
        staged.mkdir()
        for name, content in files.items():
            if not _holds(final / name, content):
                _write_through(staged / name, content)
        if final.is_dir():
            _renew(final, staged, folder)
        else:
            moved(staged, final)
    finally:
        shutil.rmtree(staged, ignore_errors=True)
    return final


def _renew(final: Path, staged: Path, folder: Path) -> None:
    """Put the staged files in the place of those that differ, which are kept aside."""
    changed = sorted(staged.iterdir())
    kept = folder / EARLIER / final.name
    for path in changed:
        there = final / path.name
        if there.is_file():
            kept.mkdir(parents=True, exist_ok=True)
            shutil.copy2(there, kept / path.name)
            ledger().files.append(kept / path.name)
            shutil.copy2(final / BOOK_NOTE, kept / BOOK_NOTE)
        path.replace(there)
        ledger().files.append(there)


def retire_others(folder: Path, marks: Collection[str], book: str = "") -> None:
    """Move the folders of the book's earlier plans to ``earlier``; keep the newest few, of more the record.

    ``marks`` are the plans that stay: the one just made, and the one that the book's file shows as
    long as a program has not saved the new one into it.
    """
    stay = {f"{PREFIX}{mark}" for mark in marks}
    for other in sorted(folder.glob(f"{PREFIX}*")):
        if other.name not in stay and _book_of(other) == book:
            _set_aside(other, folder)
    newest_first = earlier_folders(folder, book)
    for old in newest_first[EARLIER_KEPT:RECORDS_KEPT]:
        _keep_record(old)
    for old in newest_first[RECORDS_KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


def earlier_folders(folder: Path, book: str) -> list[Path]:
    """Folders of a book's earlier plans, the newest first."""
    earlier = [path for path in (folder / EARLIER).glob(f"{PREFIX}*") if _book_of(path) == book]
    return sorted(earlier, key=lambda path: path.stat().st_mtime, reverse=True)


def _keep_record(plan_folder: Path) -> None:
    """Delete all of a plan but what recording a cut needs; the folder's age stays, as it gives its turn."""
    from sheetplan.rack.kept_plan import EXACT_FILE

    if not (plan_folder / EXACT_FILE).is_file():
        shutil.rmtree(plan_folder, ignore_errors=True)
        return
    age = plan_folder.stat()
    for path in sorted(plan_folder.iterdir()):
        if path.name in (EXACT_FILE, BOOK_NOTE):
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
            continue
        with suppress(OSError):  # a drawing that is open elsewhere goes after the next plan
            path.unlink()
    os.utime(plan_folder, ns=(age.st_atime_ns, age.st_mtime_ns))


def _book_of(plan_folder: Path) -> str | None:
    """The workbook that a plan's folder belongs to; None where it does not say."""
    try:
        return (plan_folder / BOOK_NOTE).read_text(encoding="utf-8").strip()
    except (OSError, ValueError):
        return None


def _set_aside(plan_folder: Path, folder: Path) -> None:
    earlier = folder / EARLIER
    earlier.mkdir(exist_ok=True)
    target = earlier / plan_folder.name
    shutil.rmtree(target, ignore_errors=True)
    moved(plan_folder, target)
    os.utime(target)


def _holds(path: Path, content: bytes) -> bool:
    """Whether the file is there and holds just this."""
    return path.is_file() and path.read_bytes() == content


def _write_through(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
