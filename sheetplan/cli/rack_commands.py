"""The commands for the rack: record a cut, take it back, look, repair, square a sheet."""

from __future__ import annotations

import datetime
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer
from typer.core import TyperGroup

from sheetplan.cli.commands import PROBLEMS, Book, app
from sheetplan.cli.printing import print_problems, print_rack, say
from sheetplan.model import Weight

if TYPE_CHECKING:
    from sheetplan.app.rack.cut_asked import CutAsked

Value = TypeVar("Value")


Tickets = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="LAYOUT", show_default=False,
        help="Such as L3, or the code on the ticket, KRTM-L3; L3x2 was cut twice. Several are recorded "
        "together or not at all. Without any, the rows of the page Record and all that is marked in Cut now.",
    ),
]  # fmt: skip
Times = Annotated[
    int | None,
    typer.Option(min=1, metavar="COUNT", help="How often it was cut; without it, all that is still planned."),
]
On = Annotated[
    str,
    typer.Option(
        metavar="SHEET", help="The remnant, by its tag, or full sheet it was cut from, if not as planned."
    ),
]
Only = Annotated[
    list[str] | None,
    typer.Option(
        metavar="PART[=N]",
        help="Pieces that were cut of a sheet that was stopped half way; PART#1-3 by their numbers from "
        "the datum corner. May be given again.",
    ),
]
CutDay = Annotated[
    str | None, typer.Option(metavar="DAY", help="When it was cut, as 2026-11-24; without it, today.")
]
CutBy = Annotated[str, typer.Option(metavar="NAME", help="Who cut it.")]
Heat = Annotated[str, typer.Option(metavar="NUMBER", help="Heat number of the sheet.")]
Bad = Annotated[
    list[str] | None, typer.Option(metavar="PART=N", help="Pieces that came out bad; may be given again.")
]
PlanMark = Annotated[
    str | None, typer.Option("--plan", metavar="PLAN", help="An earlier plan, as its ticket says.")
]
CutAgain = Annotated[
    bool, typer.Option("--again", help="It was cut once more than planned; record it all the same.")
]
Crop = Annotated[
    bool | None,
    typer.Option(
        "--crop/--as-it-is",
        help="What is left was cropped to a rectangle, or kept as it is; without it, as in Settings.",
    ),
]
Note = Annotated[str, typer.Option(metavar="TEXT", help="A remark for the page Cut log.")]
FromFile = Annotated[
    Path | None,
    typer.Option(
        "--from", metavar="FILE",
        help="Record what the plan's page (plan.html) handed back: all lines of the file or none. - takes "
        "the text of its code, pasted.",
    ),
]  # fmt: skip
LeaveOut = Annotated[
    list[int] | None,
    typer.Option(metavar="LINE", help="A line of that file that is not recorded; may be given again."),
]


@app.command(epilog="Example:  sheetplan cut november.xlsx L3 KRTM-L8x2 --by Ann --heat 7741")
def cut(
    book: Book,
    layouts: Tickets = None,
    repeats: Times = None,
    on: On = "",
    only: Only = None,
    date: CutDay = None,
    by: CutBy = "",
    heat: Heat = "",
    bad: Bad = None,
    plan_mark: PlanMark = None,
    *,
    again: CutAgain = False,
    crop: Crop = None,
    note: Note = "",
    from_file: FromFile = None,
    leave_out: LeaveOut = None,
) -> None:
    """Record what has been cut.

    Counts on hand, remnants, orders and the page Cut log change in one step.
    """
    from sheetplan.app.rack.cut_asked import CutAsked

    told = CutAsked(
        "", repeats, on, plan_mark.upper() if plan_mark else None, by, heat, _counts(bad or []), again, crop,
        _day(date) if date else None, tuple(only or ()), note,
    )  # fmt: skip
    if from_file is not None:
        if layouts or told != CutAsked("", bad={}, plan=told.plan):
            what = "the file says what was cut; beside it only --plan and --leave-out can be given."
            raise typer.BadParameter(what, param_hint="--from")
        _cut_as_handed_back(book, from_file, told.plan, leave_out or [])
        return
    if leave_out:
        what = "it leaves out lines of a file: say which file by --from."
        raise typer.BadParameter(what, param_hint="--leave-out")
    if not layouts:
        _cut_as_marked(book, told)
        return
    if len(layouts) > 1 and (repeats or on or only or bad):
        raise typer.BadParameter(
            "--repeats, --on, --only and --bad are for one layout; how often is said by L3x2.",
            param_hint="LAYOUT",
        )
    _cut_as_told(book, [replace(told, layout=one) for one in layouts])


def _cut_as_told(book: Path, asked: Sequence[CutAsked]) -> None:
    from sheetplan.app.rack.cut import record_cuts

    for done in _not_refused(lambda: record_cuts(book, asked, today=datetime.date.today())):
        for sentence in done.sentences:
            say(sentence)


def _cut_as_handed_back(book: Path, path: Path, plan: str | None, leave_out: Sequence[int]) -> None:
    from sheetplan.app.rack.cut import record_handed_back
    from sheetplan.app.rack.cut_asked import read_handed_back, read_pasted

    if path == Path("-"):
        typed = sys.stdin.isatty()
        if typed:
            say("Paste the text and press Enter; Ctrl-C gives up.")
        handed = _not_refused(lambda: read_pasted(sys.stdin.buffer, typed=typed))
    else:
        handed = _not_refused(lambda: read_handed_back(path))
    for sentence in handed.sentences():
        say(sentence)
    today = datetime.date.today()
    done = _not_refused(
        lambda: record_handed_back(book, handed, today=today, plan=plan, leave_out=leave_out)
    )
    for one in done:
        for sentence in one.sentences:
            say(sentence)


def _cut_as_marked(book: Path, told: CutAsked) -> None:
    """Record what the book tells of; of the options only who cut it says something of all of it."""
    from sheetplan.app.rack.cut import record_marked
    from sheetplan.app.rack.cut_asked import SAID_BY, CutAsked, Way

    nothing = CutAsked("", bad={}, by=told.by)
    said = [field for field in SAID_BY if getattr(told, field) != getattr(nothing, field)]
    names = [SAID_BY[field][Way.COMMAND.value] for field in said] + (["--plan"] if told.plan else [])
    if names:
        raise typer.BadParameter(
            f"{', '.join(names)} without a layout: what was not as planned of a cut that the book tells of "
            "stands in its row of Record, or beside its mark in Cut now, in How.", param_hint="LAYOUT",
        )  # fmt: skip
    marked, recorded = record_marked(book, today=datetime.date.today(), by=told.by), 0
    while (one := _not_refused(lambda: next(marked, None), "more " if recorded else "")) is not None:
        recorded += 1
        for sentence in one.sentences:
            say(sentence)
    if not recorded:
        say(
            "No layout was given, the page Record has no row, and nothing is marked in the column Cut now of "
            "the page Layouts."
        )
        raise typer.Exit(PROBLEMS)


Sheets = Annotated[
    list[str] | None,
    typer.Argument(metavar="SHEET=N", show_default=False, help="Such as MS10-4x8=4; may be given again."),
]
Day = Annotated[
    str | None, typer.Option("--date", metavar="DAY", help="The day, as 2026-11-24; without it, today.")
]
By = Annotated[str, typer.Option("--by", metavar="NAME", help="Who did it.")]


@app.command(epilog="Example:  sheetplan ordered november.xlsx")
def ordered(
    book: Book,
    sheets: Sheets = None,
    date: Day = None,
    by: By = "",
    *,
    again: Annotated[
        bool, typer.Option("--again", help="The same buy list was ordered a second time.")
    ] = False,
) -> None:
    """Mark sheets as ordered.

    All that the page Buy lists, or those named. The next plan reckons with them, and Buy lists only what is
    still to be ordered.
    """
    from sheetplan.app.receive import SheetsAsked
    from sheetplan.app.receive import ordered as mark_ordered

    asked = SheetsAsked(_counts(sheets or []), _day(date) if date else None, by=by, again=again)
    for sentence in _not_refused(lambda: mark_ordered(book, asked, today=datetime.date.today()))[1]:
        say(sentence)


@app.command(epilog="Example:  sheetplan receive november.xlsx MS10-4x8=4 --paid 348.50")
def receive(
    book: Book,
    sheets: Sheets = None,
    date: Day = None,
    paid: Annotated[
        float | None,
        typer.Option(min=0.0, metavar="AMOUNT", help="What was paid; without it, by the prices of Stock."),
    ] = None,
    by: By = "",
) -> None:
    """Take a delivery of sheets in.

    Those named, or noted in the column Received of Stock, or else all that is on order. On hand goes up, On
    order down, and Purchases gets a row. Sheets that were cut before they came are not put on hand again.
    """
    from sheetplan.app.receive import SheetsAsked
    from sheetplan.app.receive import receive as take_in

    asked = SheetsAsked(_counts(sheets or []), _day(date) if date else None, paid, by)
    for sentence in _not_refused(lambda: take_in(book, asked, today=datetime.date.today()))[1]:
        say(sentence)


@app.command(epilog="Example:  sheetplan parts november.xlsx --move CB-100=4 --from H-2041 --to H-2050")
def parts(
    book: Book,
    *,
    take: Annotated[
        bool, typer.Option("--take", help="Give the orders the finished parts that the plan reckons with.")
    ] = False,
    count: Annotated[
        list[str] | None,
        typer.Option(metavar="PART=N", help="So many are free by a count of the shelf; may be given again."),
    ] = None,
    move: Annotated[
        list[str] | None,
        typer.Option(metavar="PART=N", help="Pieces that go elsewhere, by --from and --to."),
    ] = None,
    scrap: Annotated[
        list[str] | None, typer.Option(metavar="PART=N", help="Pieces found bad later: free, or --from.")
    ] = None,
    source: Annotated[
        str, typer.Option("--from", metavar="ORDER", help="Whose they are; without it, free ones.")
    ] = "free",
    target: Annotated[
        str, typer.Option("--to", metavar="ORDER", help="Who gets them; without it, they are free.")
    ] = "free",
    marked: Annotated[
        bool, typer.Option("--marked", help="Record what is marked on the page Finished parts.")
    ] = False,
    date: Day = None,
    by: By = "",
) -> None:
    """Show finished parts, or record what became of them.

    Those that no order holds: pieces of cancelled orders, spares, and what was cut beyond what an order asks
    for. A plan reckons with them before it makes anything; they are an order's own once that is recorded.
    """
    from sheetplan.app.parts import SCRAP, Move, PartsAsked, look_at_parts, record_marked_parts, record_parts
    from sheetplan.cli.printing import print_finished

    today = datetime.date.today()
    if marked:
        for sentence in _not_refused(lambda: record_marked_parts(book, today=today, by=by)):
            say(sentence)
        return
    moves = [Move(name, pieces, source, target) for name, pieces in _counts(move or []).items()]
    moves += [Move(name, pieces, source, SCRAP) for name, pieces in _counts(scrap or []).items()]
    if not (take or count or moves):
        print_finished(_not_refused(lambda: look_at_parts(book)))
        return
    asked = PartsAsked(_counts(count or []), moves, take, _day(date) if date else None, by)
    for sentence in _not_refused(lambda: record_parts(book, asked, today=today)):
        say(sentence)


@app.command(epilog="Example:  sheetplan undo november.xlsx")
def undo(book: Book) -> None:
    """Take the last recorded step back.

    A cut, an order or a delivery, in the book and in the rack. Cuts that were recorded by one command are
    taken back together.
    """
    from sheetplan.app.rack.undo import undo_cut

    _, sentences = _not_refused(lambda: undo_cut(book))
    for sentence in sentences:
        say(sentence)


@app.command(epilog="Example:  sheetplan close november.xlsx 2026-11")
def close(
    book: Book,
    month: Annotated[str, typer.Argument(metavar="MONTH", help="Such as 2026-11.", show_default=False)],
) -> None:
    """Close a month and carry the rest on.

    It is balanced, then orders that are done or cancelled, its cuts and its plans go into an archive beside
    the book. The rack, finished parts and open orders stay. It cannot be taken back: the archive has the book
    as it was.
    """
    from sheetplan.app.close import close_month
    from sheetplan.app.month import month_named

    named = month_named(month)
    if named is None:
        raise typer.BadParameter(f"{month!r} is not a month; write it such as 2026-11.", param_hint="MONTH")
    for sentence in _not_refused(lambda: close_month(book, named, today=datetime.date.today())):
        say(sentence)


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
    from sheetplan.workbook.package.saving import is_our_pdf, may_write

    if mend:
        for sentence in _not_refused(lambda: repair(book)):
            say(sentence)
        return
    for place in filter(None, (labels, walk)):
        may_write(place, is_our_pdf)
    seen = _not_refused(lambda: looking.look(book))
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

    for sentence in _not_refused(lambda: add_drawing(book, tag, drawing, degrees=degrees)).sentences:
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
    done = _not_refused(lambda: add_pictures(book, tag, asked))
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
    day = _day(date) if date else datetime.date.today()
    for sentence in _not_refused(lambda: record_seen(book, asked, today=day)):
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
    done = _not_refused(lambda: square_sheet(book, layout, measured, plan=mark, on=on))
    worst = f"{done.lie.worst / done.units.length_mm:.3f} {done.units.value}"
    say(f"The sheet is turned by {done.lie.turn:.4f} degrees; the points fit within {worst}.")
    say("Compare the old cuts and corners with the sheet first, then cut. Wrote:")
    say(f"  {done.check}")
    say(f"  {done.drawing}")
    say("Nothing was recorded: once the sheet is cut, record it with `sheetplan cut`.")


def _not_refused(run: Callable[[], Value], more: str = "") -> Value:
    """Run a step of the rack; where it is refused, say why and end with the code for problems."""
    from sheetplan.app.rack.opened import Refused

    try:
        return run()
    except Refused as refused:
        print_problems(refused.problems)
        say(refused.what)
        say(f"    {refused.remedy}")
        say(f"Nothing {more}was recorded.")
        raise typer.Exit(PROBLEMS) from refused


def _counts(texts: list[str]) -> dict[str, int]:
    """Pieces by part from texts such as ``CB-101=2``."""
    counts = {}
    for text in texts:
        part, _, number = text.rpartition("=")
        if not part or not number.strip().isdigit():
            raise typer.BadParameter(f"{text} is not a name and a number, such as CB-101=2.")
        counts[part.strip()] = int(number)
    return counts


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text} is not a day, such as 2026-11-24.", param_hint="--date") from None


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
