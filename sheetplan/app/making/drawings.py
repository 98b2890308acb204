"""The drawings that a book names, read and remembered, and the outlines that its parts had when planned."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.reading.parts import DrawingAsk, Drawings
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.drawings.known import KnownOutline


# The drawings that a book names, found below its folder and read, each remembered by its content.


def book_drawings(tables: BookTables, book: Path) -> Drawings:
    """A report for every drawing that the book's parts name.

    Parameters
    ----------
    tables
        The book's tables.
    book
        The workbook; drawings are looked for below its folder.
    """
    from sheetplan.workbook.reading.job import drawings_wanted

    settings, asks = drawings_wanted(tables)
    if settings is None or not asks:
        return {}
    from sheetplan.drawings.reading.choices import LayerChoice
    from sheetplan.drawings.reading.drawing import ReadingChoices, refused
    from sheetplan.drawings.reading.files import find_drawing
    from sheetplan.drawings.reading.findings import Refused
    from sheetplan.drawings.reading.store import DrawingCache, Request, read_drawings

    folders = [Path(folder) for folder in settings.drawing_folders]
    requests: list[tuple[DrawingAsk, Request]] = []
    reports = {}
    for ask in asks:
        layers = LayerChoice(
            ask.cut_layers or settings.cut_layers, settings.mark_layers, settings.ignored_layers
        )
        choices = ReadingChoices(
            settings.units, ask.unit_mm, layers, settings.curve, doubtful=ask.doubtful, told=settings.units
        )
        try:
            requests.append((ask, Request(find_drawing(ask.path, book.parent, folders), ask.path, choices)))
        except Refused as reason:
            reports[ask] = refused(ask.path, str(reason), found=False)
    store = DrawingCache(usual_cache(os.environ, sys.platform))
    read = read_drawings([request for _, request in requests], store)
    reports.update(zip((ask for ask, _ in requests), read, strict=True))
    store.clear_out()
    return reports


def usual_cache(environment: Mapping[str, str], platform: str) -> Path:
    """The user's cache folder for drawings, by the custom of the platform."""
    home = Path.home()
    if platform == "win32":
        base = Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        base = Path(environment.get("XDG_CACHE_HOME") or home / ".cache")
    return base / "sheetplan" / "drawings"


# The outlines that a book's parts had when they were planned, kept in a file beside the book.
#
# A drawing that changes under a book is told until the planner accepts it; the book itself is not
# written for that, so that it may stay open.

SUFFIX = ".outlines.json"
"""Of the file beside the book: `harbour.outlines.json`."""


def outlines_file(book: Path) -> Path:
    """Where a book's known outlines are kept."""
    return book.with_name(book.stem + SUFFIX)


def known_outlines(book: Path) -> tuple[dict[str, KnownOutline], tuple[Problem, ...]]:
    """The known outlines by part, and a problem where the file is there and cannot be read."""
    from sheetplan.drawings.known import known_of

    path = outlines_file(book)
    try:
        return known_of(path.read_text(encoding="utf-8")), ()
    except FileNotFoundError:
        return {}, ()
    except (OSError, ValueError) as reason:
        what = f"{path.name}, which holds the outlines that were planned, cannot be read: {reason}."
        remedy = f"Put a copy of it back; or delete it, and drawings are taken as they are now ({path})."
        return {}, (Problem("Parts", None, None, what, remedy, Weight.STOPS),)


@dataclass(frozen=True, slots=True)
class Changed:
    """A part whose drawing is not what it was: its name, its drawing, and the change in words."""

    part: str
    drawing: str
    what: str


def outlines_now(
    tables: BookTables, drawings: Drawings, known: Mapping[str, KnownOutline]
) -> tuple[dict[str, KnownOutline], frozenset[str]]:
    """Outlines of parts that are not known yet, or whose row names another drawing now; and changed parts.

    A part whose outline is not in its drawing any more, or cannot be cut as it is there, has changed too.
    """
    drawn = _drawn_now(tables, drawings, known)
    fresh = {name: now for name, then, now in drawn if then is None and now is not None}
    return fresh, frozenset(name for name, then, now in drawn if then is not None and _differs(then, now))


def _differs(then: KnownOutline, now: KnownOutline | None) -> bool:
    return now is None or not then.is_still(now.outline)


def remember(book: Path, fresh: Mapping[str, KnownOutline]) -> None:
    """Keep the outlines that were planned beside those that are known."""
    known, unread = known_outlines(book)
    if fresh and not unread:
        _write(book, {**known, **fresh})


def accept(book: Path, wanted: Sequence[str] = ()) -> tuple[Changed, ...]:
    """Take changed drawings as they are now, those of the parts ``wanted`` or all; what was taken.

    Raises ``BookError`` where the book or the file of its outlines cannot be read.
    """
    from sheetplan.workbook.opening import real_path
    from sheetplan.workbook.outcomes import BookError
    from sheetplan.workbook.package.guard import judge
    from sheetplan.workbook.reading.book import read_tables
    from sheetplan.workbook.reading.grid import normal

    book = real_path(book)
    problem = judge(book)
    known, unread = known_outlines(book)
    for trouble in (*((problem,) if problem else ()), *unread):
        raise BookError(trouble)
    tables = read_tables(book)
    drawings = book_drawings(tables, book)
    names = {normal(name) for name in wanted}
    taken = {}
    for name, then, now in _drawn_now(tables, drawings, known):
        if then is not None and now is not None and (not names or name in names) and _differs(then, now):
            taken[name] = (then, now)
    if taken:
        _write(book, {**known, **{name: now for name, (_, now) in taken.items()}})
    return _told(tables, taken)


def _told(tables: BookTables, found: dict[str, tuple[KnownOutline, KnownOutline]]) -> tuple[Changed, ...]:
    from sheetplan.drawings.known import change_words
    from sheetplan.workbook.reading.job import drawings_wanted

    settings, _ = drawings_wanted(tables)
    if settings is None:
        return ()
    return tuple(
        Changed(name, now.drawing, change_words(then.outline, now.outline, settings.units))
        for name, (then, now) in found.items()
    )


def _drawn_now(
    tables: BookTables, drawings: Drawings, known: Mapping[str, KnownOutline]
) -> list[tuple[str, KnownOutline | None, KnownOutline | None]]:
    """Part, known outline and outline now, of each drawn row.

    The known one is None where the row names another drawing, that of now where there is none to be cut.
    """
    from sheetplan.drawings.known import KnownOutline, same_text
    from sheetplan.workbook.columns import PARTS
    from sheetplan.workbook.reading.cells import text_of
    from sheetplan.workbook.reading.grid import normal
    from sheetplan.workbook.reading.job import drawings_wanted
    from sheetplan.workbook.reading.parts import drawing_ask, drawn_part
    from sheetplan.workbook.reading.rows import readers

    settings, _ = drawings_wanted(tables)
    if settings is None:
        return []
    found: list[tuple[str, KnownOutline | None, KnownOutline | None]] = []
    for row in readers(PARTS, tables.tables[PARTS.name], settings.units):
        ask, name = drawing_ask(row), normal(row.may("Part", text_of, ""))
        report = drawings.get(ask) if ask else None
        if report is None or not name:
            continue
        text = row.may("Drawing", text_of, "")
        then = known.get(name)
        then = then if then is not None and same_text(then.drawing, text) else None
        parts = report.parts if report.readable else ()
        moved = then.among(parts) if then is not None else None
        part = moved or drawn_part(text, parts)
        now = KnownOutline(text, part.outline) if part is not None and not part.wrong else None
        found.append((name, then, now))
    return found


def _write(book: Path, known: dict[str, KnownOutline]) -> None:
    from sheetplan.drawings.known import known_text
    from sheetplan.workbook.package.saving import put_file

    put_file(outlines_file(book), known_text(known).encode())
