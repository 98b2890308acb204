"""The drawings that a book names, found below its folder and read, each remembered by its content."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path

from sheetplan.workbook.rows.part_outlines import DrawingAsk, Drawings
from sheetplan.workbook.tables import BookTables


def book_drawings(tables: BookTables, book: Path, cache: Path | None = None) -> Drawings:
    """A report for every drawing that the book's parts name.

    Parameters
    ----------
    tables
        The book's tables.
    book
        The workbook; drawings are looked for below its folder.
    cache
        Where to remember them; by default the user's own cache folder.
    """
    from sheetplan.workbook.reading import drawings_wanted

    settings, asks = drawings_wanted(tables)
    if settings is None or not asks:
        return {}
    from sheetplan.drawings.cache import DrawingCache
    from sheetplan.drawings.drawing_files import Request, read_drawings
    from sheetplan.drawings.files import find_drawing
    from sheetplan.drawings.layer_choice import LayerChoice
    from sheetplan.drawings.limits import Refused
    from sheetplan.drawings.reading import ReadingChoices, refused

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
    store = DrawingCache(cache or usual_cache(os.environ, sys.platform))
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
