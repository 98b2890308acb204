"""The command `show`: what a drawing says, before it is cut."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sheetplan.cli.commands import DONE, FILE_TROUBLE, PROBLEMS, app
from sheetplan.cli.printing import say
from sheetplan.trade.units import Units


@app.command(epilog="Example:  sheetplan show drawings/cleat.dxf")
def show(
    drawing: Annotated[
        Path, typer.Argument(metavar="DRAWING", help="A DXF or SVG file.", show_default=False)
    ],
    units: Annotated[Units, typer.Option(help="Unit of the lengths in the report.")] = Units.INCH,
    picture: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Where to draw it; without it, NAME.read.png here."),
    ] = None,
) -> None:
    """Read a drawing and say what is in it and what cannot be cut.

    Parts, sizes, holes and repairs, with a picture of it all. Exit code 1 if it cannot be cut as it is.
    """
    from sheetplan.drawings import read_drawing, report_text
    from sheetplan.drawings.picture import report_picture
    from sheetplan.drawings.reading import ReadingChoices

    if not drawing.is_file():
        say(f"There is no file at {drawing}.")
        raise typer.Exit(FILE_TROUBLE)
    report = read_drawing(drawing, ReadingChoices(units=units))
    say(report_text(report, units))
    target = picture or Path(f"{drawing.stem}.read.png")
    target.write_bytes(report_picture(report, units))
    say(f"Picture: {target}")
    raise typer.Exit(DONE if report.good else PROBLEMS)
