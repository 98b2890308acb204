"""Bring folders of drawings into a closed book: read, sort out, write rows, draw the contact sheet."""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sheetplan.app.import_parts import (
    BookSays,
    DrawingFile,
    Sorted,
    StandingPart,
    row_of,
    sort_out,
)
from sheetplan.app.rack_open import Refused
from sheetplan.model.settings import Settings
from sheetplan.workbook.cell_edits import BookEdit
from sheetplan.workbook.columns import KITS, MATERIALS, PARTS
from sheetplan.workbook.tables import BookTables

SHEET_SUFFIX = ".drawings.pdf"
"""Of the contact sheet beside the book: `harbour.drawings.pdf`."""


@dataclass(frozen=True, slots=True)
class ImportAsked:
    """Files and folders to read, the metal of what says none, and what a kit is: `folder`, `file`, `none`."""

    paths: tuple[Path, ...]
    metal: str = ""
    kit: str = "folder"


@dataclass(frozen=True, slots=True)
class Imported:
    """What came of it: parts sorted out, kit rows written, what changed or went, the contact sheet."""

    found: Sorted
    kit_rows: int
    changed: tuple[str, ...]
    gone: tuple[str, ...]
    sheet: Path


def import_drawings(book: Path, asked: ImportAsked) -> Imported:
    """Write a row for each new outline, and a row in Kits for each kit it is in; or nothing.

    Raises ``BookError`` where the book is open elsewhere or cannot be read or written, ``Refused`` where a
    drawing lies where the book may not look.
    """
    from sheetplan.app.rack_book import put_book
    from sheetplan.app.rack_open import free_book
    from sheetplan.drawings.contact_sheet import contact_sheet
    from sheetplan.workbook.closed_reading import read_tables
    from sheetplan.workbook.replacing import put_file

    book = free_book(book)
    data = book.read_bytes()
    tables = read_tables(book)
    says, changed, gone = _book_says(tables, book)
    files = _files(asked.paths, book, says.settings)
    found = sort_out(files, says, asked.metal, asked.kit)
    edit = BookEdit(data)
    units = says.settings.units
    kit_rows = _write_rows(edit, tables, found, [row_of(part, units) for part in found.new])
    new = edit.done()
    if new != data:
        put_book(book, data, new, sorted(edit.touched))
        _remember(book, {part.name for part in found.new})
    sheet = book.with_name(book.stem + SHEET_SUFFIX)
    pages = [(file.cell, file.report) for file in files]
    put_file(sheet, contact_sheet(pages, found.names, units))
    below = {unicodedata.normalize("NFC", file.cell) for file in files}
    here = [part for part in says.drawn if part.path in below or _under(part.path, asked.paths, book)]
    mine = {part.name for part in here}
    return Imported(
        found, kit_rows, tuple(n for n in changed if n in mine), tuple(n for n in gone if n in mine), sheet
    )


def _book_says(tables: BookTables, book: Path) -> tuple[BookSays, tuple[str, ...], tuple[str, ...]]:
    """What the book has, the names of drawn parts that have changed, and of those that are gone."""
    from sheetplan.app.drawings import book_drawings
    from sheetplan.app.known_outlines import known_outlines
    from sheetplan.drawings.files import drawing_name
    from sheetplan.workbook.reading import drawings_wanted
    from sheetplan.workbook.reading_grid import normal
    from sheetplan.workbook.rows.cells import text_of
    from sheetplan.workbook.rows.metals import read_materials
    from sheetplan.workbook.rows.part_outlines import drawing_ask, drawn_part
    from sheetplan.workbook.rows.reader import readers

    settings, _ = drawings_wanted(tables)
    if settings is None or MATERIALS.name not in tables.tables:
        raise Refused("The book has no usable pages Settings, Materials and Parts.", "Run: sheetplan check")
    drawings = book_drawings(tables, book)
    known, _ = known_outlines(book)
    metals = read_materials(tables.tables[MATERIALS.name], settings.units)
    drawn, names, changed, gone = [], set(), [], []
    for row in readers(PARTS, tables.tables[PARTS.name], settings.units):
        name = row.may("Part", text_of, "")
        names.add(normal(name))
        ask = drawing_ask(row)
        if ask is None:
            continue
        report = drawings.get(ask)
        text = row.may("Drawing", text_of, "")
        then = known.get(normal(name))
        parts = report.parts if report else ()
        part = (then.among(parts) if then else None) or drawn_part(text, parts)
        if part is None:
            gone.append(name)
        elif then is not None and not then.is_still(part.outline):
            changed.append(name)
        outline = then.outline if then is not None else part.outline if part is not None else None
        path = unicodedata.normalize("NFC", drawing_name(text).path.replace("\\", "/"))
        drawn.append(StandingPart(name, path, outline))
    gauged = {read.value.name: read.value.gauge_series for read in metals.rows}
    return BookSays(settings, gauged, tuple(drawn), frozenset(names)), tuple(changed), tuple(gone)


def _files(paths: Sequence[Path], book: Path, settings: Settings) -> list[DrawingFile]:
    """All drawings, read as the book would read them."""
    from sheetplan.app.drawings import usual_cache
    from sheetplan.drawings.cache import DrawingCache
    from sheetplan.drawings.drawing_files import Request, read_drawings
    from sheetplan.drawings.files import drawings_below
    from sheetplan.drawings.layer_choice import LayerChoice
    from sheetplan.drawings.reading import ReadingChoices

    roots = [book.parent, *(book.parent / folder for folder in settings.drawing_folders)]
    found: dict[Path, tuple[str, tuple[str, ...]]] = {}
    for top in paths:
        for path in drawings_below(top) if top.is_dir() else [top]:
            own = path.resolve()
            between = own.parent.relative_to(top.resolve()).parts if top.is_dir() else ()
            folders = (*reversed(between), (top.resolve() if top.is_dir() else own.parent).name)
            found.setdefault(own, (_cell(own, roots), folders))
    layers = LayerChoice(settings.cut_layers, settings.mark_layers, settings.ignored_layers)
    choices = ReadingChoices(settings.units, None, layers, settings.curve)
    requests = [Request(path, cell, choices) for path, (cell, _) in found.items()]
    reports = read_drawings(requests, DrawingCache(usual_cache(os.environ, sys.platform)))
    return [
        DrawingFile(path, cell, folders, report)
        for (path, (cell, folders)), report in zip(found.items(), reports, strict=True)
    ]


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


def _write_rows(
    edit: BookEdit, tables: BookTables, found: Sorted, rows: Sequence[dict[str, str | float]]
) -> int:
    """Rows of Parts and of Kits; how many of the latter."""
    from sheetplan.trade.units import Units
    from sheetplan.workbook.reading_grid import normal
    from sheetplan.workbook.rows.cells import text_of
    from sheetplan.workbook.rows.reader import readers

    edit.add_rows(PARTS.table, rows, tuple(column.heading for column in PARTS.columns))
    kits = tables.tables.get(KITS.name)
    there = {
        (normal(row.may("Kit", text_of, "")), normal(row.may("Part", text_of, "")))
        for row in (readers(KITS, kits, Units.MM) if kits else ())
    }
    wanted = [(kit, part.name, count) for part in found.new for kit, count in part.in_kits.items()]
    for name, in_kits in found.standing.items():
        wanted += [(kit, name, count) for kit, count in in_kits.items()]
    new: list[dict[str, str | float]] = [
        {"Kit": kit, "Part": name, "Quantity": count}
        for kit, name, count in wanted if (normal(kit), normal(name)) not in there
    ]  # fmt: skip
    edit.add_rows(KITS.table, new, tuple(column.heading for column in KITS.columns))
    return len(new)


def _remember(book: Path, names: set[str]) -> None:
    """The outlines of the rows just written are known from now on."""
    from sheetplan.app.check import check_tables
    from sheetplan.app.known_outlines import remember
    from sheetplan.workbook.closed_reading import read_tables
    from sheetplan.workbook.reading_grid import normal

    wanted = {normal(name) for name in names}
    fresh = check_tables(read_tables(book), book, rack=False).outlines
    remember(book, {name: outline for name, outline in fresh.items() if name in wanted})
