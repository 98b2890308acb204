"""The commands for the rack: look, repair, take a sheet in, count; and square a sheet on the table."""

from __future__ import annotations

import datetime
import math
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from sheetplan.cli.commands import PROBLEMS, Book, app
from sheetplan.cli.printing import print_problems, print_rack, say
from sheetplan.cli.step_commands import Day, day_of, not_refused


class PaperName(StrEnum):
    """Paper that marks are printed on."""

    LETTER = "Letter"
    A4 = "A4"


class RackGroup(TyperGroup):
    """`sheetplan rack BOOK` shows the rack; other words after `rack` are commands of their own."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Put the command in where only a book is named."""
        if args and args[0] not in self.commands and args[0] not in ctx.help_option_names:
            args = ["look", *args]
        return list(super().parse_args(ctx, args))


racks = typer.Typer(cls=RackGroup, rich_markup_mode=None, no_args_is_help=True)
app.add_typer(
    racks, name="rack",
    help="Show the partly used sheets in the rack, or take one in.\n\nThe options of `sheetplan rack BOOK` "
    "are those of `look`: sheetplan rack look --help",
    epilog="Example:  sheetplan rack november.xlsx --repair",
)  # fmt: skip


@racks.command(epilog="Example:  sheetplan rack november.xlsx --repair")
def look(
    book: Book,
    *,
    mend: Annotated[
        bool, typer.Option("--repair", help="Put right where records and book disagree; say what was done.")
    ] = False,
    labels: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write a sticker with a picture for each sheet, as a PDF."),
    ] = None,
    walk: Annotated[
        Path | None,
        typer.Option(
            "--list", metavar="FILE",
            help="Write a list to walk along the rack with, as a PDF: each sheet with its measures.",
        ),
    ] = None,
) -> None:  # fmt: skip
    """Show the partly used sheets in the rack; `look` may be left out.

    Also says where their records and the book disagree.
    """
    from sheetplan.app.rack import looking
    from sheetplan.app.rack.repair import repair
    from sheetplan.model import Weight
    from sheetplan.workbook.package.saving import is_our_pdf, may_write

    if mend:
        for sentence in not_refused(lambda: repair(book)):
            say(sentence)
        return
    for place in filter(None, (labels, walk)):
        may_write(place, is_our_pdf)
    seen = not_refused(lambda: looking.look(book))
    if seen.told:
        say(seen.told)
    print_problems(seen.problems)
    print_rack(seen)
    if labels is not None:
        count = looking.write_labels(seen, labels)
        say(f"{count} labels written: {labels}")
    if walk is not None:
        count = looking.write_list(seen, walk)
        say(f"A list of {count} {'sheet' if count == 1 else 'sheets'} written: {walk}")
    if any(problem.weight is Weight.STOPS for problem in seen.problems):
        raise typer.Exit(PROBLEMS)


@racks.command(epilog="Example:  sheetplan rack add november.xlsx R-030 --drawing old.dxf")
def add(
    book: Book,
    tag: Annotated[str, typer.Argument(metavar="TAG", help="Its tag on the page Remnants.",
                                       show_default=False)],
    drawing: Annotated[Path, typer.Option(metavar="FILE", help="A DXF or SVG of the sheet's edge and what is "
                                          "cut out of it.", show_default=False)],
    degrees: Annotated[float | None, typer.Option("--turn", metavar="DEGREES", help="Turn the drawing first, "
                       "counter-clockwise; without it, as its edges and the size in the row say.")] = None,
) -> None:  # fmt: skip
    """Take a remnant in from a drawing of it.

    Its row on the page Remnants comes first: tag, metal, and the size by tape, which the drawing has to agree
    with. From then on its record is planned on.
    """
    from sheetplan.app.rack.add import add_drawing

    for sentence in not_refused(lambda: add_drawing(book, tag, drawing, degrees=degrees)).sentences:
        say(sentence)


@racks.command(epilog="Example:  sheetplan rack markers marks.pdf --paper A4 --pages 6")
def markers(
    target: Annotated[Path, typer.Argument(metavar="FILE", help="The PDF to write.", show_default=False)],
    paper: Annotated[PaperName, typer.Option(help="What it is printed on.")] = PaperName.LETTER,
    pages: Annotated[int, typer.Option(min=1, max=24, metavar="COUNT", help="How many pages.")] = 6,
    first: Annotated[int, typer.Option(min=1, metavar="NUMBER", help="The first page's number; each number "
                                       "is to be printed once.")] = 1,
    *,
    small: Annotated[bool, typer.Option("--small", help="Small ones, to be cut out, for sheets under two "
                                        "feet wide.")] = False,
) -> None:  # fmt: skip
    """Print sheets of reference marks, for pictures of the sheets in the rack.

    They are laid on the metal and photographed with it: `sheetplan rack picture`.
    """
    from sheetplan.pictures import NotSeen, marks_pdf, page_numbers
    from sheetplan.workbook.package.saving import is_our_pdf, put_output

    numbers = page_numbers(first, pages, small=small)
    if numbers is None:
        raise typer.BadParameter("There are 60 pages of the usual size and 36 small ones.",
                                 param_hint="--first")  # fmt: skip
    try:
        written = marks_pdf(numbers, letter=paper is PaperName.LETTER)
    except NotSeen as missing:
        say(missing.what)
        say(f"    {missing.remedy}")
        raise typer.Exit(PROBLEMS) from missing
    put_output(target, written, is_our_pdf)
    many = "1 page" if pages == 1 else f"{pages} pages"
    say(f"{many} of marks written: {target}")
    say("Print at 100 per cent, and measure the bar on a page: it is 200 mm, or 7 7/8 in.")


@racks.command(epilog="Example:  sheetplan rack picture november.xlsx R-030 left.jpg right.jpg")
def picture(
    book: Book,
    tag: Annotated[str, typer.Argument(metavar="TAG", help="Its tag on the page Remnants.",
                                       show_default=False)],
    pictures: Annotated[list[Path], typer.Argument(metavar="PICTURE...", show_default=False, help="JPEG or "
                        "PNG of the sheet with pages of marks on it; several overlap by a page or two.")],
    bar: Annotated[float | None, typer.Option(metavar="LENGTH", help="What the bar on a page measures, in "
                   "the book's lengths; without it, 200 mm or 7 7/8 in.")] = None,
    degrees: Annotated[float | None, typer.Option("--turn", metavar="DEGREES", help="How the first picture "
                       "is to be turned, counter-clockwise, so that the sheet lies as in its row.")] = None,
    point: Annotated[list[str] | None, typer.Option(metavar="X,Y", help="A point of the edge by tape, along "
                     "length and width from the datum corner; may be given again.")] = None,
    confirm: Annotated[str, typer.Option(metavar="CODE", help="Take in the reading of this code.")] = "",
) -> None:  # fmt: skip
    """Take a remnant in from photographs of it.

    Its row on the page Remnants comes first: tag, metal, and the size by tape. What is read is drawn over the
    pictures, with the error that it can have; nothing is recorded until that is confirmed. The outline is
    taken inward by that error, openings outward. Marks: `sheetplan rack markers`.
    """
    from sheetplan.app.rack.picture import PictureAsked, add_pictures

    if bar is not None and not (math.isfinite(bar) and bar > 0.0):
        raise typer.BadParameter(f"{bar} is no length of a bar.", param_hint="--bar")
    if degrees is not None and not math.isfinite(degrees):
        raise typer.BadParameter(f"{degrees} is no angle.", param_hint="--turn")
    asked = PictureAsked(tuple(pictures), bar, degrees, tuple(map(_point, point or [])), confirm)
    done = not_refused(lambda: add_pictures(book, tag, asked))
    for sentence in done.sentences:
        say(sentence)


@racks.command(epilog="Example:  sheetplan rack seen november.xlsx --all-but R-021 --place R-017=A4")
def seen(
    book: Book,
    tags: Annotated[
        list[str] | None,
        typer.Argument(metavar="TAG", show_default=False, help="Sheets that were seen; several in one go."),
    ] = None,
    missed: Annotated[
        list[str] | None,
        typer.Option("--all-but", metavar="TAG", help="All were seen but this one; may be given again."),
    ] = None,
    *,
    everything: Annotated[bool, typer.Option("--all", help="All were seen.")] = False,
    place: Annotated[
        list[str] | None,
        typer.Option(metavar="TAG=PLACE", help="It lies there now, and was seen; may be given again."),
    ] = None,
    date: Day = None,
) -> None:
    """Hand back a count of the rack.

    Sheets that two counts in a row did not see are asked about from then on.
    """
    from sheetplan.app.rack.looking import SeenAsked, record_seen

    if sum((bool(tags), bool(missed), everything)) > 1 or not (tags or missed or everything or place):
        raise typer.BadParameter("Name the sheets that were seen, or say --all, or --all-but TAG.")
    places = dict(map(_tag_and_place, place or []))
    asked = SeenAsked(missed or tags or (), bool(missed) or everything, places)
    day = day_of(date) if date else datetime.date.today()
    for sentence in not_refused(lambda: record_seen(book, asked, today=day)):
        say(sentence)


def _tag_and_place(text: str) -> tuple[str, str]:
    tag, equals, where = text.partition("=")
    if not (equals and tag.strip() and where.strip()):
        raise typer.BadParameter(f"{text} is not a tag and a place, such as R-017=A4.", param_hint="--place")
    return tag.strip(), where.strip()


@app.command(epilog="Example:  sheetplan square november.xlsx L3 --corner 1.25,0.5 --far 97.2,1.9")
def square(
    book: Book,
    layout: Annotated[
        str, typer.Argument(metavar="LAYOUT", help="Such as L3, or the ticket's code.", show_default=False)
    ],
    corner: Annotated[
        str | None, typer.Option(metavar="X,Y", help="Where the datum corner lies on the table.")
    ] = None,
    far: Annotated[
        str | None, typer.Option(metavar="X,Y", help="The other end of the long edge from that corner.")
    ] = None,
    along: Annotated[
        str | None, typer.Option(metavar="X,Y", help="Any other point of that long edge.")
    ] = None,
    angle: Annotated[
        float | None, typer.Option(metavar="DEGREES", help="How far the sheet is turned, counter-clockwise.")
    ] = None,
    point: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y=X,Y", help="A sheet point, from the datum corner, and where it lies."),
    ] = None,
    on: Annotated[str, typer.Option(metavar="TAG", help="The remnant on the table, if not as planned.")] = "",
    plan_mark: Annotated[str | None, typer.Option("--plan", metavar="PLAN", help="An earlier plan.")] = None,
) -> None:
    """Write a layout's drawing for the sheet as it lies on the table.

    It is turned by points that were measured on the sheet, all in the book's lengths. Compare the second
    drawing, old cuts alone, with the sheet before cutting.
    """
    from sheetplan.app.rack.square import Measured
    from sheetplan.app.rack.square import square as square_sheet

    if angle is not None and not math.isfinite(angle):
        raise typer.BadParameter(f"{angle} is no angle that can be measured; write degrees, such as 0.35.")
    pairs = tuple((_point(first), _point(second)) for first, second in map(_halves, point or []))
    measured = Measured(
        _point(corner) if corner else None, _point(far) if far else None, _point(along) if along else None,
        angle, pairs,
    )  # fmt: skip
    mark = plan_mark.upper() if plan_mark else None
    done = not_refused(lambda: square_sheet(book, layout, measured, plan=mark, on=on))
    worst = f"{done.lie.worst / done.units.length_mm:.3f} {done.units.value}"
    say(f"The sheet is turned by {done.lie.turn:.4f} degrees; the points fit within {worst}.")
    say("Compare the old cuts and corners with the sheet first, then cut. Wrote:")
    say(f"  {done.check}")
    say(f"  {done.drawing}")
    say("Nothing was recorded: once the sheet is cut, record it with `sheetplan cut`.")


def _halves(text: str) -> tuple[str, str]:
    first, equals, second = text.partition("=")
    if not equals:
        raise typer.BadParameter(f"{text} is not a point and where it lies, such as 96,0=97.2,1.9.")
    return first, second


def _point(text: str) -> tuple[float, float]:
    try:
        x, y = (float(one) for one in text.split(","))
    except ValueError:
        raise typer.BadParameter(f"{text} is not a point, such as 1.25,0.5.") from None
    if not (math.isfinite(x) and math.isfinite(y)):
        raise typer.BadParameter(f"{text} is no point that can be measured; write one such as 1.25,0.5.")
    return x, y
