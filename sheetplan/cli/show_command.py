"""The command `show`: what drawings say, before they are cut."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sheetplan.cli.commands import DONE, FILE_TROUBLE, PROBLEMS, JsonFile, app
from sheetplan.cli.printing import may_write_json, say, write_json
from sheetplan.trade.units import Units

if TYPE_CHECKING:
    from sheetplan.drawings.reading.report import DrawingReport


Drawings = Annotated[
    list[Path], typer.Argument(metavar="DRAWING...", help="DXF and SVG files, and folders of them.")
]
ToldIn = Annotated[
    Units | None,
    typer.Option(help="Unit of the lengths told, and of drawings that state none; without it, as drawn."),
]
Layers = Annotated[str, typer.Option(metavar="NAMES", help="Layers to cut, as in the column Cut layers.")]
PictureFile = Annotated[
    Path | None, typer.Option(metavar="FILE.png", help="Where to draw it; without it, NAME.read.png here.")
]


@app.command(epilog="Example:  sheetplan show drawings/cleat.dxf")
def show(
    drawings: Drawings,
    units: ToldIn = None,
    layers: Layers = "",
    picture: PictureFile = None,
    json_file: JsonFile = None,
) -> None:
    """Read drawings and say what is in them and what cannot be cut.

    Parts with their number, layer, place, size and holes, repairs, and a picture of each file. Exit code 1
    if one of them cannot be cut as it is.
    """
    from sheetplan.drawings.reading.choices import LayerChoice, layer_names
    from sheetplan.drawings.reading.drawing import ReadingChoices, shown_json
    from sheetplan.drawings.reading.report import report_text, shown_units
    from sheetplan.drawings.reading.store import DrawingCache, Request, read_drawings
    from sheetplan.drawings.writing.picture import report_picture
    from sheetplan.workbook.package.saving import is_our_png, may_write, put_output, signed_png

    paths = _files(drawings)
    if picture and len(paths) > 1:
        say("--picture names one file, and there are several drawings; leave it away.")
        raise typer.Exit(2)
    taken: set[Path] = set()
    targets = [picture or _target(path, taken) for path in paths]
    for target in targets:
        may_write(target, is_our_png)
    may_write_json(json_file, ("drawings",))
    choices = ReadingChoices(units or Units.INCH, layers=LayerChoice(cut=layer_names(layers)), told=units)
    reports = read_drawings([Request(path, path.name, choices) for path in paths], DrawingCache(None))
    for target, report in zip(targets, reports, strict=True):
        shown = units or shown_units(report)
        say(report_text(report, shown))
        put_output(target, signed_png(report_picture(report, shown)), is_our_png)
        say(f"Picture: {target}")
    if json_file:
        told = [shown_json(report, units or shown_units(report)) for report in reports]
        write_json(json_file, {"drawings": told}, ("drawings",))
    if len(reports) > 1:
        say(_summary(reports))
    raise typer.Exit(DONE if all(report.good for report in reports) else PROBLEMS)


def _files(drawings: list[Path]) -> list[Path]:
    """The drawings named, folders with all that lie in them; ends where one is not there."""
    from sheetplan.drawings.reading.files import SAVE_AS_DXF, as_it_is_written, drawings_below

    found: list[Path] = []
    for path in map(as_it_is_written, drawings):
        if path.is_dir():
            found += drawings_below(path)
        elif path.suffix.lower() == ".dwg":
            say(f"{path} is a DWG, which is not read; {SAVE_AS_DXF}.")
            raise typer.Exit(PROBLEMS)
        elif path.is_file():
            found.append(path)
        else:
            say(f"There is no file at {path}.")
            raise typer.Exit(FILE_TROUBLE)
    if not found:
        say("There is no DXF or SVG in it.")
        raise typer.Exit(FILE_TROUBLE)
    return found


def _target(path: Path, taken: set[Path]) -> Path:
    """A picture's file in this folder; drawings of one name get a number."""
    target, count = Path(f"{path.stem}.read.png"), 1
    while target in taken:
        count += 1
        target = Path(f"{path.stem}.{count}.read.png")
    taken.add(target)
    return target


def _summary(reports: list[DrawingReport]) -> str:
    from sheetplan.trade.sentences import counted

    parts = [part for report in reports for part in report.parts if report.readable]
    good = sum(not part.wrong for part in parts)
    bad = sum(not report.good for report in reports)
    outlines, wrong = counted(good, "outline"), counted(bad, "drawing")
    return f"{len(reports)} drawings, {outlines} good to cut; {wrong} with something wrong"
