"""The commands `import` and `accept`: folders of drawings become rows; a drawing that changed is meant."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sheetplan.cli.commands import DONE, FILE_TROUBLE, PROBLEMS, Book, app
from sheetplan.cli.printing import say

if TYPE_CHECKING:
    from sheetplan.app.import_parts import Sorted
    from sheetplan.app.import_run import Imported

MOST_LISTED = 20
"""Drawings that cannot be used, and changed parts, that are printed; more are counted."""


MOST_NAMED = 6
"""Parts that are named at a question about many of them; the others are counted."""


class KitOf(StrEnum):
    """What makes a kit."""

    FOLDER = "folder"
    FILE = "file"
    NONE = "none"


Folders = Annotated[
    list[Path], typer.Argument(metavar="FOLDER...", help="Folders of drawings, or single DXF and SVG files.")
]
Metal = Annotated[str, typer.Option(metavar="NAME", help="Metal of the drawings whose names say none.")]
Thick = Annotated[str, typer.Option(metavar="TEXT", help="Thickness of the drawings whose names say none.")]
Doubtful = Annotated[
    str,
    typer.Option(
        metavar="WORDS",
        help="For Doubtful lines of all new rows: mark, leave out, or such as `mark open lines, cut "
        "lettering`.",
    ),
]
Kits = Annotated[KitOf, typer.Option(help="What makes a kit, in which copies are counted.")]


@app.command("import", epilog="Example:  sheetplan import november.xlsx drawings")
def import_(
    book: Book,
    drawings: Folders,
    material: Metal = "",
    thickness: Thick = "",
    doubtful: Doubtful = "",
    kits: Kits = KitOf.FOLDER,
) -> None:
    """Bring folders of drawings into Parts and Kits.

    Each different outline becomes a row of Parts, its copies counted into a kit.

    Thickness and metal come from the names of layers, files and folders. What is doubtful stands in the
    row's Description as `to confirm`. What cannot be used has its row too, which stops its kit until it is
    mended or deleted. Nothing that stands in the book is overwritten; run again, it adds what is new, and
    fills what is still empty in rows that it wrote. A contact sheet of all outlines is written beside the
    book.
    """
    from sheetplan.app.import_parts import ImportAsked
    from sheetplan.app.import_run import import_drawings
    from sheetplan.app.rack import Refused
    from sheetplan.drawings.reading.files import SAVE_AS_DXF, as_it_is_written

    drawings = [as_it_is_written(path) for path in drawings]
    for path in drawings:
        if path.suffix.lower() == ".dwg":
            say(f"{path} is a DWG, which is not read; {SAVE_AS_DXF}.")
            raise typer.Exit(PROBLEMS)
        if not path.exists():
            say(f"There is no file or folder at {path}.")
            raise typer.Exit(FILE_TROUBLE)
    try:
        done = import_drawings(book, ImportAsked(tuple(drawings), material, thickness, kits.value, doubtful))
    except Refused as refused:
        say(refused.what)
        say(f"    {refused.remedy}")
        say("Nothing was written.")
        raise typer.Exit(PROBLEMS) from refused
    _told(done, doubtful)
    say(f"Next:  sheetplan check {book}")
    raise typer.Exit(FILE_TROUBLE if done.failed else DONE)


def _told(done: Imported, doubtful: str) -> None:
    """Say what became of the drawings, what is doubtful first."""
    from sheetplan.app.import_parts import counted_words, filled_words, left_empty
    from sheetplan.trade.sentences import counted, named

    doubts: dict[str, list[str]] = {}
    for part in done.found.new:
        for doubt in part.doubts:
            doubts.setdefault(doubt.partition(", ")[0], []).append(part.name)
    for doubt, names in doubts.items():
        say(f"to confirm: {doubt}: {counted(len(names), 'part')}, {named(names, MOST_NAMED)}")
    _listed("question", [f"{cell}: {what}" for cell, what in done.found.asked])
    _listed("cannot be used", [f"{one.cell}: {one.why}" for one in done.found.refused])
    _hint(done.found, doubtful)
    _listed("changed since it was planned or imported", done.changed)
    _listed("its drawing is gone", done.gone)
    say(f"{counted_words(done.found)}; {counted(done.kit_rows, 'row')} added to Kits.")
    if done.filled:
        say(f"{filled_words(done.filled)}.")
    _listed("left empty, for its Description is your own", left_empty(done.found))
    for sentence in (*done.said, *done.failed):
        say(sentence)
    if done.sheet is not None:
        say(f"Contact sheet: {done.sheet}")


def _hint(found: Sorted, doubtful: str) -> None:
    """What to run again with, where that answers something."""
    from sheetplan.app.import_parts import unsaid

    options = {"Material": '--material "mild steel"', "Thickness": '--thickness "3 mm"'}
    again = " and ".join(options[heading] for heading in unsaid(found))
    if again:
        say(f"    Run it again with {again}, or what it is, for all whose names say none.")
    if not doubtful and any("Doubtful lines" in one.why for one in found.refused):
        say('    Run it again with --doubtful "leave out" or "mark" where such lines are never cut.')


def _listed(why: str, lines: list[str] | tuple[str, ...]) -> None:
    for line in lines[:MOST_LISTED]:
        say(f"{why}: {line}")
    if len(lines) > MOST_LISTED:
        say(f"{why}: and {len(lines) - MOST_LISTED} more")


@app.command(epilog="Example:  sheetplan accept november.xlsx CB-101")
def accept(
    book: Book,
    parts: Annotated[
        list[str] | None,
        typer.Argument(metavar="PART", help="Parts whose drawing is meant as it is now; all without any."),
    ] = None,
) -> None:
    """Take changed drawings as they are now.

    Until then such a part is not planned. The workbook is not written, and may be open.
    """
    from sheetplan.app.making.drawings import accept as take

    taken = take(book, tuple(parts or ()))
    for one in taken:
        say(f"{one.part}, {one.drawing}: {one.what}.")
    if taken:
        say("Taken as they are now. Plan again: layouts of the last plan still hold the old outlines.")
    else:
        say("No drawing of these parts has changed since it was planned.")
