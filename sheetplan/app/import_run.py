"""Bring folders of drawings into a book: read, sort out, write rows, draw the contact sheet."""

from __future__ import annotations

import os
import sys
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.import_parts import (
    FILLED,
    BookSays,
    DrawingFile,
    ImportAsked,
    Row,
    Sorted,
    StandingPart,
    refused_row_of,
    row_again,
    row_of,
    shown_parts,
    sort_out,
)
from sheetplan.app.rack import Refused
from sheetplan.model.settings import Settings
from sheetplan.workbook.columns import KITS, MATERIALS, PARTS
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.port import LiveEdit, LiveHost
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.drawings.known import KnownOutline

SHEET_SUFFIX = ".drawings.pdf"
"""Of the contact sheet beside the book: `harbour.drawings.pdf`."""

USUAL_FOLDER = "drawings"
"""Where a run from within a book looks, beside it, where Settings names no folder of drawings."""


@dataclass(frozen=True, slots=True)
class Imported:
    """What came of it: parts sorted out, kit rows written, what changed or went, and the contact sheet.

    ``filled`` counts the cells of rows of an earlier run that were empty and are filled now, by heading.
    ``sheet`` is None where it could not be written. ``said`` are sentences on what is beside the book,
    ``failed`` those on what could not be written there: the rows stand in the book all the same.
    """

    found: Sorted
    kit_rows: int
    filled: Mapping[str, int]
    changed: tuple[str, ...]
    gone: tuple[str, ...]
    sheet: Path | None
    said: tuple[str, ...] = ()
    failed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Ready:
    """All that is known before anything is written."""

    book: Path
    tables: BookTables
    says: BookSays
    found: Sorted
    changed: tuple[str, ...]
    gone: tuple[str, ...]
    outlines: Mapping[str, KnownOutline]
    """Outlines to be known from now on, by part."""
    unread: tuple[str, ...]
    """Sentences on files that are drawings of another kind."""
    doubtful: str
    """How doubtful lines were read, as new rows have it."""


def import_drawings(book: Path, asked: ImportAsked) -> Imported:
    """Write a row for each new outline, and a row in Kits for each kit it is in; or nothing.

    Raises ``BookError`` where the book is open elsewhere or cannot be read or written, ``Refused`` where a
    drawing lies where the book may not look.
    """
    from sheetplan.app.rack.changes import put_book
    from sheetplan.app.rack.opened import free_book
    from sheetplan.workbook.reading.book import read_tables

    book = free_book(book)
    data = book.read_bytes()
    ready = _ready(book, read_tables(book), asked)
    edit = BookEdit(data)
    written = _write(edit, ready)
    new = edit.done()
    if new != data:
        put_book(book, data, new, sorted(edit.touched))
    return _beside(ready, written)


def import_live(host: LiveHost) -> Imported:
    """The same in an open book, of the folders that Settings names or the one beside the book."""
    from sheetplan.workbook.reading.job import drawings_wanted

    tables, book = host.read(), host.path.resolve()
    settings, _ = drawings_wanted(tables)
    named = [book.parent / folder for folder in settings.drawing_folders] if settings else []
    paths = tuple(path for path in named or [book.parent / USUAL_FOLDER] if path.is_dir())
    if not paths:
        where = ", ".join(str(path) for path in named) or str(book.parent / USUAL_FOLDER)
        raise Refused(
            f"There is no folder {where}.",
            "Put the drawings there, or name their folder in Drawing folders on the page Settings.",
        )
    ready = _ready(book, tables, ImportAsked(paths))
    edit = host.edit()
    written = _write(edit, ready)
    if edit.touched:
        host.change(edit.done(), (), ready.says.settings.units, save=False)
    return _beside(ready, written)


def _ready(book: Path, tables: BookTables, asked: ImportAsked) -> _Ready:
    says, known = _book_says(tables, book)
    asked = _sound(asked, says)
    files = _files(asked, book, says.settings)
    found = sort_out(files, says, asked)
    below = {unicodedata.normalize("NFC", file.cell) for file in files}
    here = [part for part in says.drawn if part.path in below or _under(part.path, asked.paths, book)]
    return _Ready(
        book, tables, says, found,
        tuple(part.name for part in here if part.changed), tuple(part.name for part in here if part.gone),
        _to_know(found, says, known), _dwgs(asked.paths), asked.doubtful,
    )  # fmt: skip


def _sound(asked: ImportAsked, says: BookSays) -> ImportAsked:
    """What was asked with the metal as the book writes it; refused where the book could not use it."""
    from sheetplan.drawings.reading.choices import doubtful_lines
    from sheetplan.trade.thickness import parse_thickness
    from sheetplan.workbook.reading.rows import did_you_mean

    known = {normal(name): name for name in says.metals}
    metal = known.get(normal(asked.metal), "")
    if asked.metal and not metal:
        raise Refused(
            f"{asked.metal} is not on the page Materials.",
            f"{did_you_mean(asked.metal, says.metals)}Correct the name, or add the metal to the page.",
        )
    faults = []
    series = [says.metals[metal]] if metal else list(says.metals.values())
    for one in series if asked.thickness else ():
        try:
            parse_thickness(asked.thickness, one, says.settings.units)
        except ValueError as error:
            faults.append(str(error))
    if faults and len(faults) == len(series):
        what, _, remedy = faults[0].partition("; ")
        raise Refused(f"{what}.", f"{remedy[:1].upper()}{remedy[1:]}." if remedy else "Correct it.")
    if asked.doubtful:
        try:
            doubtful_lines(asked.doubtful)
        except ValueError as error:
            remedy = "Write mark or leave out, or such as: mark open lines, leave out lettering."
            raise Refused(f"In --doubtful {error}.", remedy) from error
    return replace(asked, metal=metal)


def _dwgs(paths: Sequence[Path]) -> tuple[str, ...]:
    """A sentence on each drawing that only its own program can read."""
    from sheetplan.drawings.reading.files import SAVE_AS_DXF

    found = sorted({own for path in paths if path.is_dir() for own in path.rglob("*.[dD][wW][gG]")})
    return tuple(f"{own} is a DWG, which is not read; {SAVE_AS_DXF}." for own in found)


def _to_know(
    found: Sorted, says: BookSays, known: Mapping[str, KnownOutline]
) -> dict[str, KnownOutline]:
    """Outlines of the parts found that are not known yet: those of new rows, and of rows as they stand."""
    from sheetplan.drawings.known import KnownOutline

    fresh = {
        normal(part.name): KnownOutline(part.found.cell, part.found.part.outline) for part in found.new
    }
    for one in found.parts:
        if one.row is not None and one.row.refused:
            fresh[normal(one.name)] = KnownOutline(one.row.text, one.found.part.outline)
    for part in says.drawn:
        name = normal(part.name)
        if name in fresh:
            continue
        if part.name in found.standing and name not in known and part.outline is not None:
            fresh[name] = KnownOutline(part.text, part.outline)
    return fresh


def _book_says(tables: BookTables, book: Path) -> tuple[BookSays, Mapping[str, KnownOutline]]:
    """What the book has, and the outlines that are known."""
    from sheetplan.app.making.drawings import book_drawings, known_outlines
    from sheetplan.drawings.known import same_text
    from sheetplan.drawings.reading.files import drawing_name
    from sheetplan.workbook.reading.cells import text_of
    from sheetplan.workbook.reading.job import drawings_wanted
    from sheetplan.workbook.reading.metals import read_materials
    from sheetplan.workbook.reading.parts import drawing_ask, drawn_part
    from sheetplan.workbook.reading.rows import readers

    settings, _ = drawings_wanted(tables)
    if settings is None or MATERIALS.name not in tables.tables:
        raise Refused("The book has no usable pages Settings, Materials and Parts.", "Run: sheetplan check")
    drawings = book_drawings(tables, book)
    known, _ = known_outlines(book)
    metals = read_materials(tables.tables[MATERIALS.name], settings.units)
    drawn, names = [], set()
    for row in readers(PARTS, tables.tables[PARTS.name], settings.units):
        name = row.may("Part", text_of, "")
        names.add(normal(name))
        ask = drawing_ask(row)
        if ask is None:
            continue
        report, text = drawings.get(ask), row.may("Drawing", text_of, "")
        then = known.get(normal(name))
        then = then if then is not None and same_text(then.drawing, text) else None
        parts = report.parts if report else ()
        part = (then.among(parts) if then else None) or drawn_part(text, parts)
        path = unicodedata.normalize("NFC", drawing_name(text).path.replace("\\", "/"))
        now = part.outline if part is not None else None
        changed = then is not None and now is not None and not then.is_still(now)
        metal = " ".join(filter(None, (row.may(head, text_of, "") for head in ("Thickness", "Material"))))
        said = row.may("Description", text_of, "")
        empty = frozenset(heading for heading in FILLED if row.blank(heading))
        outline = then.outline if then else now
        sound = part is not None and not part.wrong
        drawn.append(
            StandingPart(name, metal, said, path, text, outline, now, changed, sound, empty, row.place)
        )
    gauged = {read.value.name: read.value.gauge_series for read in metals.rows}
    return BookSays(settings, gauged, tuple(drawn), frozenset(names)), known


def _files(asked: ImportAsked, book: Path, settings: Settings) -> list[DrawingFile]:
    """All drawings, read as the book would read them."""
    from sheetplan.app.making.drawings import usual_cache
    from sheetplan.drawings.reading.choices import DoubtfulLines, LayerChoice, doubtful_lines
    from sheetplan.drawings.reading.drawing import ReadingChoices
    from sheetplan.drawings.reading.files import drawings_below
    from sheetplan.drawings.reading.store import DrawingCache, Request, read_drawings

    roots = [book.parent, *(book.parent / folder for folder in settings.drawing_folders)]
    found: dict[Path, tuple[str, tuple[str, ...]]] = {}
    for top in asked.paths:
        for path in drawings_below(top) if top.is_dir() else [top]:
            own = path.resolve()
            if top.is_dir() and _is_ours(own, book, settings):
                continue
            between = own.parent.relative_to(top.resolve()).parts if top.is_dir() else ()
            folders = (*reversed(between), (top.resolve() if top.is_dir() else own.parent).name)
            found.setdefault(own, (_cell(own, roots), folders))
    layers = LayerChoice(settings.cut_layers, settings.mark_layers, settings.ignored_layers)
    doubtful = doubtful_lines(asked.doubtful) if asked.doubtful else DoubtfulLines()
    units = settings.units
    choices = ReadingChoices(units, None, layers, settings.curve, doubtful=doubtful, told=units)
    requests = [Request(path, cell, choices) for path, (cell, _) in found.items()]
    reports = read_drawings(requests, DrawingCache(usual_cache(os.environ, sys.platform)))
    return [
        DrawingFile(path, cell, folders, report)
        for (path, (cell, folders)), report in zip(found.items(), reports, strict=True)
    ]


def _is_ours(path: Path, book: Path, settings: Settings) -> bool:
    """Whether a drawing is one that a plan or the rack wrote."""
    from sheetplan.app.making.folders import EARLIER, PREFIX, output_folder
    from sheetplan.app.rack.folder import rack_of

    plans = output_folder(book, settings.output_folder)
    if isinstance(plans, Path) and path.is_relative_to(plans.resolve()):
        first = path.relative_to(plans.resolve()).parts[0]
        return first.startswith(PREFIX) or first == EARLIER
    return path.is_relative_to(rack_of(book).resolve())


def _cell(path: Path, roots: Sequence[Path]) -> str:
    """A drawing as the book names it: below its own folder, or below one that Settings lists."""
    for root in roots:
        if path.is_relative_to(root.resolve()):
            return path.relative_to(root.resolve()).as_posix()
    raise Refused(
        f"{path} does not lie below the workbook's folder.",
        "Copy the drawings there, or name their folder in Drawing folders on the page Settings.",
    )


def _under(cell: str, paths: Sequence[Path], book: Path) -> bool:
    """Whether a drawing that the book names lies, or lay, below one of the folders."""
    own = book.parent / cell
    return any(path.is_dir() and own.is_relative_to(path.resolve()) for path in paths)


@dataclass(frozen=True, slots=True)
class _Written:
    """Rows of Kits that are new, and cells that were filled in rows that stood, by heading."""

    kit_rows: int
    filled: Mapping[str, int]


def _write(edit: BookEdit | LiveEdit, ready: _Ready) -> _Written:
    filled = _write_again(edit, ready)
    return _Written(_write_rows(edit, ready), filled)


def _write_again(edit: BookEdit | LiveEdit, ready: _Ready) -> Mapping[str, int]:
    """Cells of the rows that an earlier run wrote; how many of each heading were filled."""
    filled, done = Counter[str](), set[str]()
    for part in ready.found.every:
        place = part.row.place if part.row is not None else None
        if place is None or part.name in done:
            continue
        done.add(part.name)
        for heading, value in row_again(part, ready.doubtful).items():
            address = place.addresses.get(heading)
            if address is not None and edit.set(place.sheet, address, value) and heading in FILLED:
                filled[heading] += 1
    return filled


def _write_rows(edit: BookEdit | LiveEdit, ready: _Ready) -> int:
    """Rows of Parts and of Kits; how many of the latter."""
    from sheetplan.trade.units import Units
    from sheetplan.workbook.reading.cells import text_of
    from sheetplan.workbook.reading.rows import readers

    kits = ready.tables.tables.get(KITS.name)
    there = {
        (normal(row.may("Kit", text_of, "")), normal(row.may("Part", text_of, "")))
        for row in (readers(KITS, kits, Units.MM) if kits else ())
    }
    wanted: dict[tuple[str, str], int] = {}
    for part in ready.found.every:
        for kit, pieces in part.in_kits.items():
            if (normal(kit), normal(part.name)) not in there:
                wanted[kit, part.name] = wanted.get((kit, part.name), 0) + pieces
    units = ready.says.settings.units
    kit_rows: list[Row] = [
        {"Kit": kit, "Part": name, "Quantity": pieces} for (kit, name), pieces in wanted.items()
    ]
    part_rows = [row_of(part, units, ready.doubtful) for part in ready.found.new]
    part_rows += [refused_row_of(one, units) for one in ready.found.refused if one.row is None]
    for page, rows in ((PARTS, part_rows), (KITS, kit_rows)):
        try:
            edit.add_rows(page.table, rows, tuple(column.heading for column in page.columns))
        except ValueError as full:
            raise Refused(
                f"The table of the page {page.name} has no room for {len(rows)} more rows; nothing was done.",
                "Make room below it: delete what stands there, or move it to another page.",
            ) from full
    return len(kit_rows)


def _beside(ready: _Ready, written: _Written) -> Imported:
    """What is kept beside the book, once the book has its rows: known outlines and the contact sheet."""
    from sheetplan.app.making.drawings import outlines_file, remember
    from sheetplan.pages.paper.contact_sheet import contact_sheet
    from sheetplan.workbook.package.saving import put_file

    said, failed = list(ready.unread), []
    try:
        remember(ready.book, ready.outlines)
    except OSError as reason:
        failed.append(
            f"{outlines_file(ready.book).name} could not be written ({reason.strerror or reason}), so that a "
            "drawing that changes before the first plan will not be noticed. Run the import again then."
        )
    sheet, free = _sheet_path(ready.book)
    if not free:
        said.append(f"{ready.book.stem}{SHEET_SUFFIX} is not a contact sheet of ours, and was left as it is.")
    title = f"{ready.book.name}: drawings brought in"
    shown, unread = shown_parts(ready.found)
    drawn = contact_sheet(title, shown, unread, ready.says.settings.units)
    try:
        put_file(sheet, drawn)
    except OSError as reason:
        failed.append(f"The contact sheet {sheet.name} could not be written ({reason.strerror or reason}).")
        kept = None
    else:
        kept = sheet
    rows, filled = written.kit_rows, written.filled
    return Imported(
        ready.found, rows, filled, ready.changed, ready.gone, kept, tuple(said), tuple(failed)
    )


def _sheet_path(book: Path) -> tuple[Path, bool]:
    """Where the contact sheet goes, and whether that is its usual name: a file not ours is left alone."""
    from sheetplan.pages.paper.contact_sheet import is_contact_sheet

    def is_free(path: Path) -> bool:
        try:
            return not path.exists() or is_contact_sheet(path.read_bytes())
        except OSError:
            return False

    usual = book.with_name(book.stem + SHEET_SUFFIX)
    numbered = (book.with_name(f"{book.stem}.drawings {number}.pdf") for number in count(2))
    return (usual, True) if is_free(usual) else (next(path for path in numbered if is_free(path)), False)
