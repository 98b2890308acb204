"""Replace a file in one step, the old bytes or the new ones, and write over no file but the tool's own."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import signal
import stat
import struct
import tempfile
import threading
import zlib
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.outcomes import NotWritten, book_problem
from sheetplan.workbook.package.guard import only_writer
from sheetplan.workbook.package.parts import Package

# Replace a file in one step: the old bytes or the new ones, never something between.

_ASIDE = ".sheetplan-part-"
"""Follows the file's name in the names of hidden files that are written before they take its place."""


def replace_file(
    path: Path,
    data: bytes,
    *,
    test: Callable[[Path], str | None],
    before: Callable[[], object] | None = None,
    noted: list[Path] | None = None,
    like: Path | None = None,
) -> None:
    """Write data beside the file, test it, and put it in the file's place.

    Parameters
    ----------
    path : Path
        The file to replace or make; not a symbolic link.
    data : bytes
        All that the file is to hold.
    test : callable
        Given the new file under its temporary name, says what is wrong with it, or None.
    before : callable, optional
        Last steps before the replacement; it may raise to prevent it.
    noted : list of Path, optional
        Where the replacement is noted, if not among the books of the ledger.
    like : Path, optional
        The file whose rights the new one has, if not those of the old one.

    Raises
    ------
    NotWritten
        The disk or the folder refused, or the test found fault. The old file is as it was and
        nothing is left beside it.
    BookInUse
        Another run is writing the file.
    """
    try:
        with only_writer(path):
            _sweep(path)
            temporary = _written_aside(path, data)
            try:
                fault = test(temporary)
                if fault is not None:
                    raise NotWritten(_failed(path, fault))
                if before is not None:
                    before()
                _take_place(temporary, path, ledger().books if noted is None else noted, like)
            finally:
                _forget(temporary)
    except OSError as error:
        raise NotWritten(_unwritten(path, error)) from error


def _failed(path: Path, fault: str) -> Problem:
    return book_problem(
        path,
        f"The new workbook failed its test, so the old one was kept: {fault}",
        "Try again; if it fails again, plan a fresh copy made with `sheetplan new`.",
    )


def put_file(path: Path, data: bytes, *, like: Path | None = None) -> None:
    """Write a file in one step without a test; OSError where the disk refuses, and then no trace.

    It has the rights of the file that it replaces, or those of the file ``like``.
    """
    _sweep(path)
    temporary = _written_aside(path, data)
    try:
        _take_place(temporary, path, ledger().files, like)
    finally:
        _forget(temporary)


def moved(path: Path, target: Path) -> None:
    """Give a file or folder another name."""
    path.rename(target)
    _note(ledger().files, target)


def taken_away(path: Path) -> None:
    """Delete a file, if it is there."""
    with suppress(FileNotFoundError):
        path.unlink()
        _note(ledger().files, path)


@contextmanager
def as_private_as(book: Path) -> Iterator[None]:
    """Within the block new files and folders can be read by nobody who may not read the book.

    What a book says stands in its drawings, tickets and backups as well. A book that is not there, and a
    system without such rights, change nothing.
    """
    before = _umask()
    with suppress(OSError):
        mode = book.stat().st_mode
        group = 0 if mode & stat.S_IRGRP else 0o070
        others = 0 if mode & stat.S_IROTH else 0o007
        if os.name != "nt":
            os.umask(before | group | others)
    try:
        yield
    finally:
        os.umask(before)


def _written_aside(path: Path, data: bytes) -> Path:
    """Write data to a new hidden file in the same folder and force it to the disk."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}{_ASIDE}", suffix=path.suffix, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _take_place(temporary: Path, path: Path, noted: list[Path], like: Path | None = None) -> None:
    """Give the new file the rights of the old one and its name, and force the folder to the disk.

    From the renaming on the file is replaced, whatever comes after it: so it is noted, and that a drive did
    not confirm it is said and no failure.
    """
    lost: list[str] = []
    try:
        if like is not None:
            _like(temporary, like)
        else:
            lost = _like(temporary, path)
    except FileNotFoundError:
        temporary.chmod(0o666 & ~_umask())
    with uninterrupted():
        os.replace(temporary, path)
        _note(noted, path)
    ledger().lost += lost
    try:
        _force_folder(path.parent)
    except OSError as error:
        ledger().unfinished.append(
            f"{path.name} is written, but the drive did not confirm it ({error.strerror or error}): look at "
            "it before the machine goes off."
        )


def _forget(temporary: Path) -> None:
    """Delete a file that was written aside; where that fails, the next writer sweeps it up."""
    with suppress(OSError):
        temporary.unlink(missing_ok=True)


_pressed: list[int] | None = None
"""Ctrl-C that waits, while something is not to be interrupted."""


@contextmanager
def uninterrupted() -> Iterator[None]:
    """Within the block Ctrl-C waits: what has begun to count is finished before it is heard.

    Only the main thread hears signals; elsewhere, and within another such block, nothing is changed.
    """
    global _pressed
    if threading.current_thread() is not threading.main_thread() or _pressed is not None:
        yield
        return
    _pressed = pressed = []
    before = signal.signal(signal.SIGINT, lambda number, _frame: pressed.append(number))
    try:
        yield
    finally:
        _pressed = None
        signal.signal(signal.SIGINT, before)
    if pressed:
        raise KeyboardInterrupt


def _note(noted: list[Path], path: Path) -> None:
    """Note a change; hidden files and those of hidden folders are none that a person sees."""
    if not path.name.startswith(".") and not path.parent.name.startswith("."):
        noted.append(path)


def _like(temporary: Path, path: Path) -> list[str]:
    """Give a new file rights, owner and attributes of the one that it replaces; what could not be kept."""
    old = path.stat()
    lost = [] if old.st_nlink < 2 else [
        f"{path.name} had another name elsewhere (a hard link): there it is as it was before, and no longer "
        "the same file."
    ]  # fmt: skip
    temporary.chmod(old.st_mode & 0o7777)
    lost += _same_owner(temporary, path, old)
    return lost + _same_attributes(temporary, path)


def _same_owner(temporary: Path, path: Path, old: os.stat_result) -> list[str]:
    """Keep owner and group where the system lets us."""
    new = temporary.stat()
    if not hasattr(os, "chown") or (new.st_uid, new.st_gid) == (old.st_uid, old.st_gid):
        return []
    try:
        os.chown(temporary, old.st_uid, old.st_gid)
    except OSError:
        return [f"{path.name} belongs to you now: its owner or group before could not be kept."]
    temporary.chmod(old.st_mode & 0o7777)  # a new owner takes some rights away
    return []


def _same_attributes(temporary: Path, path: Path) -> list[str]:
    """Keep extended attributes, among them lists of who may read, on systems that have them."""
    if not hasattr(os, "listxattr"):
        return []
    missing = []
    with suppress(OSError):
        for name in os.listxattr(path):
            try:
                os.setxattr(temporary, name, os.getxattr(path, name))
            except OSError:
                missing.append(name)
    return [f"{path.name} lost what its system noted of it: {', '.join(missing)}."] if missing else []


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _force_folder(folder: Path) -> None:
    """Force a renaming to the disk, on systems where a folder can be opened."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        # Some network drives cannot do this; the renaming itself has happened.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):
            raise
    finally:
        os.close(handle)


def _sweep(path: Path) -> None:
    """Remove what killed runs left behind; nobody else is writing, so none of it is in use."""
    for name in os.listdir(path.parent):
        if name.startswith(f".{path.name}{_ASIDE}"):
            path.with_name(name).unlink(missing_ok=True)


def _unwritten(path: Path, error: OSError) -> Problem:
    """Put the system's reason for not writing into plain words."""
    folder = path.parent
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return book_problem(
            path,
            "The disk is full; the workbook is as it was.",
            f"Free some space on the drive of {folder}, then try again.",
        )
    if error.errno == errno.EROFS:
        return book_problem(
            path,
            f"The drive of {folder} is read-only; nothing was written.",
            "Copy the workbook to a folder where you may write.",
        )
    if isinstance(error, PermissionError):
        return book_problem(
            path,
            f"Nothing may be written in {folder}, or the workbook is open elsewhere; "
            "the workbook is as it was.",
            "Close it where it is open, or copy it to a folder where you may write.",
        )
    return book_problem(
        path,
        f"The workbook could not be written ({error.strerror or error}).",
        "Check that the drive is connected and has room, then try again.",
    )


# Files that a run may write over: those that the tool wrote itself, known by what is in them, and no others.
#
# An output that is asked for by name is judged before the run and again when it is written. What goes beside
# a book by itself (backup, results book) takes another name where its own is taken by a file of the
# planner's.
#
# Choices: A backup is the planner's book byte for byte, so nothing in it can say who wrote it:
# digests of the one there and of the one that takes its place are kept in a hidden file beside it. A
# results book bears a digest of its own parts, which no longer fits once anybody has saved something into it.

IsOurs = Callable[[bytes], bool]
"""Whether the content of a file is what the tool writes under such a name."""

MOST_READ = 64 * 1024**2
"""A file larger than this is none of ours."""


def may_write(path: Path, is_ours: IsOurs) -> None:
    """Raise ``NotWritten`` where an output would take the place of something that the tool did not write."""
    if not path.parent.is_dir():
        raise NotWritten(book_problem(
            path, f"There is no folder {path.parent} to write {path.name} into.",
            "Make the folder first, or name another.",
        ))  # fmt: skip
    if path.is_dir():
        raise NotWritten(book_problem(path, "This is a folder, not a file to write.", "Name a file in it."))
    try:
        if path.exists() and not (path.stat().st_size <= MOST_READ and is_ours(path.read_bytes())):
            raise NotWritten(book_problem(
                path, "A file of this name is there, and sheetplan did not write it; it stays as it is.",
                "Choose another name, or move that file away.",
            ))  # fmt: skip
    except OSError as error:
        raise NotWritten(book_problem(
            path, f"It cannot be told what lies there ({error.strerror or error}).", "Choose another name.",
        )) from error  # fmt: skip


def put_output(path: Path, data: bytes, is_ours: IsOurs) -> None:
    """Write an output in one step; raises as `may_write`, and OSError where the disk refuses."""
    may_write(path, is_ours)
    put_file(path.resolve(), data)


def json_with(keys: Collection[str]) -> IsOurs:
    """Whether a file is JSON with just these entries among its own: an earlier answer of the same command."""

    def is_ours(data: bytes) -> bool:
        try:
            value = json.loads(data)
        except (ValueError, RecursionError):
            return False
        return isinstance(value, dict) and set(keys) <= value.keys()

    return is_ours


_PNG = b"\x89PNG\r\n\x1a\n"
_MADE_BY = b"tEXtSoftware\0sheetplan"


def signed_png(png: bytes) -> bytes:
    """The picture with a note of who made it (PNG, third edition, 11.3.3.2: tEXt), after its header."""
    end = len(_PNG) + 4 + struct.unpack(">I", png[8:12])[0] + 8
    note = struct.pack(">I", len(_MADE_BY) - 4) + _MADE_BY + struct.pack(">I", zlib.crc32(_MADE_BY))
    return png[:end] + note + png[end:]


def is_our_png(data: bytes) -> bool:
    """Whether a picture bears our note."""
    return data.startswith(_PNG) and _MADE_BY in data[:200]


def is_our_pdf(data: bytes) -> bool:
    """Whether a PDF says that we made it."""
    return data.startswith(b"%PDF") and re.search(rb"/Creator \(sheetplan", data) is not None


MOST_NAMES = 1_000


def backup_of(book: Path) -> Path:
    """Where a book's backup stands, if no file of the planner's has that name."""
    return next(_names(book, f".backup{book.suffix}"))


def results_beside(book: Path) -> Path:
    """Where a book's results stand beside it, if no file of the planner's has that name."""
    return next(_names(book, " results.xlsx"))


def _names(path: Path, kind: str) -> Iterator[Path]:
    yield path.with_name(f"{path.stem}{kind}")
    for number in range(2, MOST_NAMES):
        yield path.with_name(f"{path.stem} {number}{kind}")


def _free_name(path: Path, kind: str, is_ours: IsOurs) -> Path:
    """The first name beside a book that nobody has, or that a file of ours has; says what was passed over."""
    passed = ""
    for place in _names(path, kind):
        if not place.exists() or (place.is_file() and not place.is_symlink() and is_ours(place.read_bytes())):
            if passed:
                ledger().lost.append(
                    f"{passed} may be your own, or was changed since it was written, and stays as it is; "
                    f"{place.name} was written instead."
                )
            return place
        passed = passed or place.name
    raise NotWritten(
        book_problem(path, f"No name is free for {passed}.", "Move old files of that name away.")
    )


def put_backup(book: Path, data: bytes) -> None:
    """Keep a book as it was, beside it, with the rights that it has."""
    note = book.with_name(f".{book.stem}.backup.json")
    try:
        known = [str(one) for one in json.loads(note.read_bytes())]
    except (OSError, ValueError, TypeError):
        known = []
    place = _free_name(book, f".backup{book.suffix}", lambda there: _digest(there) in known)
    # What stands there stays known until the new backup has taken its place, however often a run is killed.
    known = [_digest(place.read_bytes())] if place.exists() else []
    put_file(note, json.dumps([*known, _digest(data)]).encode(), like=book)
    put_file(place, data, like=book)


def results_place(book: Path) -> Path:
    """Where the results go if the planner's book may not be altered."""
    return _free_name(book, " results.xlsx", is_results)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


_CORE = "docProps/core.xml"
_STAMP = re.compile(rb"<dc:description>sheetplan results ([0-9a-f]{64})</dc:description>")


def stamped(data: bytes) -> bytes:
    """A results book with a digest of all its parts in its properties."""
    package = Package.of_bytes(data)
    core = _STAMP.sub(b"", package.read(_CORE))
    stamp = b"<dc:description>sheetplan results %s</dc:description>" % _parts(package).encode()
    package.put(_CORE, core.replace(b"</cp:coreProperties>", stamp + b"</cp:coreProperties>"))
    return package.to_bytes()


def is_results(data: bytes) -> bool:
    """Whether a book is a results book as we wrote it, nothing saved into it since."""
    try:
        package = Package.of_bytes(data)
        found = _STAMP.search(package.read(_CORE))
        return found is not None and found.group(1).decode() == _parts(package)
    except Exception:  # whatever it is, it is no book of ours
        return False


def _parts(package: Package) -> str:
    whole = hashlib.sha256()
    for name in sorted(package.names):
        if name != _CORE:
            whole.update(name.encode() + b"\0" + package.read(name) + b"\0")
    return whole.hexdigest()
