"""The folder of drawings: one folder a plan, complete before the book points at it.

A plan's files go to ``<output folder>/plan-<mark>``. The folder is filled under another name and
renamed when it is whole, so a crash leaves the earlier plan's files and nothing half written.
Earlier plans' folders move to ``earlier`` beside it once the book shows the new plan; the newest
few are kept.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from pathlib import Path, PurePosixPath, PureWindowsPath

from sheetplan.model import Problem

EARLIER_KEPT = 3
"""Earlier plans whose drawings are kept: enough to finish cutting last week's, few enough to stay small."""

PREFIX = "plan-"


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
    return folder


def publish(folder: Path, mark: str, files: Mapping[str, bytes]) -> Path:
    """Write a plan's files as ``folder/plan-<mark>`` and return that folder.

    Raises OSError when the disk refuses; what was there before is then still there.
    """
    folder.mkdir(parents=True, exist_ok=True)
    final = folder / f"{PREFIX}{mark}"
    staged = folder / f".{PREFIX}{mark}.part"
    shutil.rmtree(staged, ignore_errors=True)
    try:
        staged.mkdir()
        for name, content in files.items():
            _write_through(staged / name, content)
        if final.exists():
            if _holds(final, files):
                return final
            _set_aside(final, folder)
        staged.rename(final)
    finally:
        shutil.rmtree(staged, ignore_errors=True)
    return final


def retire_others(folder: Path, mark: str) -> None:
    """Move the folders of earlier plans to ``earlier`` and keep the newest few."""
    for other in sorted(folder.glob(f"{PREFIX}*")):
        if other.is_dir() and other.name != f"{PREFIX}{mark}":
            _set_aside(other, folder)
    kept = sorted(
        (folder / "earlier").glob(f"{PREFIX}*"), key=lambda path: path.stat().st_mtime, reverse=True
    )
    for old in kept[EARLIER_KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


def _set_aside(plan_folder: Path, folder: Path) -> None:
    earlier = folder / "earlier"
    earlier.mkdir(exist_ok=True)
    target = earlier / plan_folder.name
    shutil.rmtree(target, ignore_errors=True)
    plan_folder.rename(target)
    os.utime(target)


def _holds(folder: Path, files: Mapping[str, bytes]) -> bool:
    """Whether the folder holds exactly these files."""
    there = {path.name for path in folder.iterdir()}
    return there == set(files) and all((folder / name).read_bytes() == files[name] for name in files)


def _write_through(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
