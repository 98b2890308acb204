"""Finding a drawing that the book names, and refusing what lies where it should not.

A workbook comes from anywhere, so what it names is not trusted: only files below its own folder
or below folders that the planner lists in the settings are opened.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from sheetplan.drawings.reading.findings import Refused

PART_NUMBER = re.compile(r"(.*?)\s*#\s*([0-9]{1,6})\s*")
DRIVE = re.compile(r"[A-Za-z]:")
SUFFIXES = (".dxf", ".svg")
HIDDEN = re.compile(r"\.[^0-9]")


SAVE_AS_DXF = "save it as DXF in the program it comes from, R2000 or later, and name that file"
"""What can be done about a DWG."""


@dataclass(frozen=True, slots=True)
class DrawingName:
    """A drawing as the book names it: a path and, for a file with several parts, which (from 1)."""

    path: str
    number: int | None = None


def drawing_name(text: str) -> DrawingName:
    """Take ``plates/bracket.dxf#2`` apart.

    >>> drawing_name("plates/bracket.dxf#2")
    DrawingName(path='plates/bracket.dxf', number=2)
    """
    numbered = PART_NUMBER.fullmatch(text.strip())
    if numbered and numbered[1]:
        return DrawingName(numbered[1].strip(), int(numbered[2]))
    return DrawingName(text.strip())


def find_drawing(name: str, book_folder: Path, folders: Sequence[Path] = ()) -> Path:
    """The file that a book means.

    Parameters
    ----------
    name : str
        A relative path, with slashes either way.
    book_folder : Path
        The workbook's folder, where relative paths begin.
    folders : Sequence[Path]
        Further folders that the planner lists; relative ones begin at the workbook's folder.

    Raises
    ------
    Refused
        With a sentence, if there is no such file or it may not be opened.
    """
    wanted = _relative(name)
    roots = [book_folder, *(book_folder / folder for folder in folders)]
    outside = False
    for root in roots:
        try:
            path = (root / wanted).resolve()
            home = root.resolve()
        except (OSError, RuntimeError, ValueError):
            continue
        if not path.is_relative_to(home):
            outside = True
        elif path.is_file():
            return path
        elif (same := _same_name(root, wanted)) is not None and same.is_file():
            if same.resolve().is_relative_to(home):
                return same.resolve()
            outside = True
    if outside:
        raise Refused(
            f"{name} leads out of the workbook's folder; move the drawing into it or list its folder"
        )
    raise Refused(_not_there(wanted, roots))


def as_it_is_written(path: Path) -> Path:
    """The file or folder that has this name with other code points, where none has it letter by letter."""
    if path.exists():
        return path
    whole = path.absolute()
    return _same_name(Path(whole.anchor), whole.relative_to(whole.anchor)) or path


def _same_name(root: Path, wanted: Path) -> Path | None:
    """What has that name written with other code points: `ö` as one letter, or as o with its dots."""
    path = root
    try:
        for part in wanted.parts:
            step = path / part
            if not step.exists() and part not in ("..", "."):
                composed = unicodedata.normalize("NFC", part)
                step = next(e for e in path.iterdir() if unicodedata.normalize("NFC", e.name) == composed)
            path = step
    except (OSError, StopIteration):
        return None
    return path


def _relative(name: str) -> Path:
    """The path, if it is a plain relative one."""
    text = name.strip().replace("\\", "/")
    if not text:
        raise Refused("no drawing is named")
    if any(ord(letter) < 32 for letter in text) or len(text) > 1000:
        raise Refused("this is no name of a file")
    if text.startswith("//"):
        raise Refused(f"{name} is a network path; only drawings below the workbook's folder are opened")
    if text.startswith(("/", "~")) or DRIVE.match(text):
        raise Refused(f"{name} is a full path; write where the drawing lies below the workbook's folder")
    if "://" in text:
        raise Refused(f"{name} is a web address; save the drawing below the workbook's folder")
    if text.lower().endswith(".dwg"):
        raise Refused(f"{name} is a DWG, which is not read; {SAVE_AS_DXF}")
    if not text.lower().endswith(SUFFIXES):
        raise Refused(f"{name} is neither .dxf nor .svg")
    return Path(text)


NOT_THERE = "there is no "
"""How the sentence about a file begins that is in none of the folders."""


def drawings_below(folder: Path) -> list[Path]:
    """All DXF and SVG files in a folder and its folders, by their names; hidden ones are left out.

    A name such as `.1345` is no hidden one but a thickness.
    """
    found = (path for path in folder.rglob("*") if path.suffix.lower() in SUFFIXES and path.is_file())
    return sorted(p for p in found if not any(HIDDEN.match(s) for s in p.relative_to(folder).parts))


def _not_there(wanted: Path, roots: Sequence[Path]) -> str:
    """Say so, with the nearest name in the folder where there is one."""
    if any((root / wanted).is_dir() for root in roots):
        return f"{wanted.as_posix()} is a folder; name a drawing in it"
    for root in roots:
        folder = (root / wanted).parent
        try:
            same = [entry.name for entry in folder.iterdir() if entry.name.lower() == wanted.name.lower()]
        except OSError:
            continue
        if same:
            return f"{NOT_THERE}{wanted.as_posix()}; there is {same[0]}, written differently"
    others = "".join(f", nor in {root}" for root in roots[1:])
    near = _nearest(wanted, roots)
    return f"{NOT_THERE}{wanted.as_posix()} in the workbook's folder{others}" + (
        f"; the nearest name is {near}" if near else ""
    )


def _nearest(wanted: Path, roots: Sequence[Path]) -> str:
    """The drawing in the same folder whose name comes closest; empty where none does."""
    for root in roots:
        try:
            folder = _same_name(root, wanted.parent) or (root / wanted).parent
            names = sorted(entry.name for entry in folder.iterdir())
        except OSError:
            continue
        close = get_close_matches(wanted.name, [n for n in names if n.lower().endswith(SUFFIXES)], 1, 0.7)
        if close:
            return wanted.with_name(close[0]).as_posix()
    return ""
