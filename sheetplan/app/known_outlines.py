"""The outlines that a book's parts had when they were planned, kept in a file beside the book.

A drawing that changes under a book is told until the planner accepts it; the book itself is not
written for that, so that it may stay open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.model.problem import Problem, Weight
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.drawings.known import KnownOutline
    from sheetplan.workbook.rows.part_outlines import Drawings

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
    from sheetplan.app.drawings import book_drawings
    from sheetplan.workbook.closed_reading import read_tables
    from sheetplan.workbook.errors import BookError
    from sheetplan.workbook.guard import judge
    from sheetplan.workbook.opening import real_path
    from sheetplan.workbook.reading_grid import normal

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
    from sheetplan.workbook.reading import drawings_wanted

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
    from sheetplan.workbook.reading import drawings_wanted
    from sheetplan.workbook.reading_grid import normal
    from sheetplan.workbook.rows.cells import text_of
    from sheetplan.workbook.rows.part_outlines import drawing_ask, drawn_part
    from sheetplan.workbook.rows.reader import readers

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
    from sheetplan.workbook.replacing import put_file

    put_file(outlines_file(book), known_text(known).encode())
