"""The command `accept`: a drawing that changed is meant."""

from __future__ import annotations

from typing import Annotated

import typer

from sheetplan.cli.commands import Book, app
from sheetplan.cli.printing import say


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
    from sheetplan.app.known_outlines import accept as take

    taken = take(book, tuple(parts or ()))
    for one in taken:
        say(f"{one.part}, {one.drawing}: {one.what}.")
    if taken:
        say("Taken as they are now. Plan again: layouts of the last plan still hold the old outlines.")
    else:
        say("No drawing of these parts has changed since it was planned.")
