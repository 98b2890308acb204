"""Replace a file in one step: the old bytes or the new ones, never something between."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Callable
from pathlib import Path

from sheetplan.model.problem import Problem
from sheetplan.workbook.errors import NotWritten, book_problem
from sheetplan.workbook.in_use import only_writer

_ASIDE = ".sheetplan-part-"
"""Follows the file's name in the names of hidden files that are written before they take its place."""


def replace_file(
    path: Path,
    data: bytes,
    *,
    test: Callable[[Path], str | None],
    before: Callable[[], object] | None = None,
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
                    raise NotWritten(
                        book_problem(
                            path,
                            f"The new workbook failed its test, so the old one was kept: {fault}",
                            "Try again; if it fails again, plan a fresh copy made with `sheetplan new`.",
                        )
                    )
                if before is not None:
                    before()
                _take_place(temporary, path)
            finally:
                temporary.unlink(missing_ok=True)
    except OSError as error:
        raise NotWritten(_unwritten(path, error)) from error


def put_file(path: Path, data: bytes) -> None:
    """Write a file in one step without a test; OSError where the disk refuses, and then no trace."""
    _sweep(path)
    temporary = _written_aside(path, data)
    try:
        _take_place(temporary, path)
    finally:
        temporary.unlink(missing_ok=True)


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


def _take_place(temporary: Path, path: Path) -> None:
    """Give the new file the rights of the old one and its name, and force the folder to the disk."""
    try:
        old = path.stat()
        temporary.chmod(old.st_mode & 0o7777)
        _same_owner(temporary, old)
    except FileNotFoundError:
        temporary.chmod(0o666 & ~_umask())
    os.replace(temporary, path)
    _force_folder(path.parent)


def _same_owner(temporary: Path, old: os.stat_result) -> None:
    """Keep the owner where the system lets us; a file of our own is no harm."""
    if hasattr(os, "chown"):
        try:
            os.chown(temporary, old.st_uid, old.st_gid)
        except OSError:
            return


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
