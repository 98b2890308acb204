"""The commands that record a step, or take one back: cuts, metal, finished parts, a month closed."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from sheetplan.cli.commands import PROBLEMS, Book, app, month_said
from sheetplan.cli.printing import print_problems, say

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
        day_of(date) if date else None, tuple(only or ()), note,
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

    for done in not_refused(lambda: record_cuts(book, asked, today=datetime.date.today())):
        for sentence in done.sentences:
            say(sentence)


def _cut_as_handed_back(book: Path, path: Path, plan: str | None, leave_out: Sequence[int]) -> None:
    from sheetplan.app.rack.cut import record_handed_back
    from sheetplan.app.rack.cut_asked import read_handed_back, read_pasted

    if path == Path("-"):
        typed = sys.stdin.isatty()
        if typed:
            say("Paste the text and press Enter; Ctrl-C gives up.")
        handed = not_refused(lambda: read_pasted(sys.stdin.buffer, typed=typed))
    else:
        handed = not_refused(lambda: read_handed_back(path))
    for sentence in handed.sentences():
        say(sentence)
    today = datetime.date.today()
    done = not_refused(
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
    while (one := not_refused(lambda: next(marked, None), "more " if recorded else "")) is not None:
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

    asked = SheetsAsked(_counts(sheets or []), day_of(date) if date else None, by=by, again=again)
    for sentence in not_refused(lambda: mark_ordered(book, asked, today=datetime.date.today()))[1]:
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

    asked = SheetsAsked(_counts(sheets or []), day_of(date) if date else None, paid, by)
    for sentence in not_refused(lambda: take_in(book, asked, today=datetime.date.today()))[1]:
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
        for sentence in not_refused(lambda: record_marked_parts(book, today=today, by=by)):
            say(sentence)
        return
    moves = [Move(name, pieces, source, target) for name, pieces in _counts(move or []).items()]
    moves += [Move(name, pieces, source, SCRAP) for name, pieces in _counts(scrap or []).items()]
    if not (take or count or moves):
        print_finished(not_refused(lambda: look_at_parts(book)))
        return
    asked = PartsAsked(_counts(count or []), moves, take, day_of(date) if date else None, by)
    for sentence in not_refused(lambda: record_parts(book, asked, today=today)):
        say(sentence)


@app.command(epilog="Example:  sheetplan undo november.xlsx")
def undo(book: Book) -> None:
    """Take the last recorded step back.

    A cut, an order or a delivery, in the book and in the rack. Cuts that were recorded by one command are
    taken back together.
    """
    from sheetplan.app.rack.undo import undo_cut

    _, sentences = not_refused(lambda: undo_cut(book))
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

    named = month_said(month)
    for sentence in not_refused(lambda: close_month(book, named, today=datetime.date.today())):
        say(sentence)


def not_refused(run: Callable[[], Value], more: str = "") -> Value:
    """Run a step of the rack; where it is refused, say why and end with the code for problems."""
    from sheetplan.app.rack import Refused

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


def day_of(text: str) -> datetime.date:
    """The day that an option says."""
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"{text} is not a day, such as 2026-11-24.", param_hint="--date") from None
