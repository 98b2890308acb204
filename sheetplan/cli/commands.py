"""The commands: what each takes and which use case it calls."""

from __future__ import annotations

import datetime
import gc
import logging
import signal
import sys
import tempfile
import time
import traceback
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from sheetplan import __version__
from sheetplan.cli.printing import (
    ProgressPrinter,
    may_write_json,
    print_month,
    print_plan,
    print_problems,
    print_trouble,
    problem_rows,
    say,
    write_json,
)
from sheetplan.trade.units import Units
from sheetplan.workbook.ledger import Ledger, Reach, keeping_ledger
from sheetplan.workbook.opening import real_path

DONE, PROBLEMS, FILE_TROUBLE, OUR_FAULT, UNFINISHED, INTERRUPTED = 0, 1, 3, 4, 5, 130

ORDER = (
    "new", "check", "plan", "quote", "ordered", "receive", "cut", "parts", "undo", "rack", "square", "month",
    "close", "show", "import", "accept", "excel", "calc",
)  # fmt: skip

EXIT_CODES = """\b
Exit codes:
  0    done
  1    something in the book or the drawing has to be put right first
  2    the command line is wrong
  3    a file could not be read or written; the workbook is as it was
  4    a fault in sheetplan; it says what was changed
  5    what was done counts, and something more that was asked for could not be done; it says what
  130  stopped with Ctrl-C; it says what was changed"""


class InOrderOfWork(TyperGroup):
    """Lists the commands as a month goes, whichever module brings them."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Names of all commands; one that is not in the list below comes last."""
        return sorted(self.commands, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))


app = typer.Typer(
    name="sheetplan",
    cls=InOrderOfWork,
    rich_markup_mode=None,
    help="Plan a month of sheet metal cutting: from a workbook of parts, kits, orders and sheets to checked "
    "layouts, sheet counts and drawings by gauge.\n\n"
    "To try it out:  sheetplan new --demo harbour.xlsx   and then   sheetplan plan harbour.xlsx",
    epilog=EXIT_CODES,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _the_book_itself(path: Path) -> Path:
    return real_path(path)


Book = Annotated[
    Path,
    typer.Argument(metavar="BOOK.xlsx", help="The workbook.", show_default=False, callback=_the_book_itself),
]
JsonFile = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Also write the result as JSON.")
]


def _print_version(asked: bool) -> None:  # noqa: FBT001 - typer gives a callback its value by position
    if asked:
        say(f"sheetplan {__version__}")
        raise typer.Exit(DONE)


@app.callback()
def top(
    *,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Hold the options that belong to no command; typer shows the help given above."""


@app.command(epilog="Example:  sheetplan new november.xlsx --units mm")
def new(
    book: Annotated[
        Path, typer.Argument(metavar="BOOK.xlsx", help="The workbook to make.", show_default=False)
    ],
    *,
    demo: Annotated[bool, typer.Option("--demo", help="Fill it with the harbour workshop's month.")] = False,
    units: Annotated[
        Units, typer.Option(help="Inches and pounds (in) or millimetres and kilograms (mm).")
    ] = Units.INCH,
) -> None:
    """Make a new workbook, empty or with a demo month.

    An existing file is never overwritten.
    """
    from sheetplan.app.new import excel_starter, new_book

    path = new_book(book, demo=demo, units=units)
    say(f"Made {path}{', with the drawings of its parts beside it' if demo else ''}")
    if starter := excel_starter(path):
        say(f"Made {starter}, which lets Excel's xlwings add-in run the book")
    named = f'"{path}"' if " " in str(path) else str(path)
    if demo:
        say(f"Next:  sheetplan plan {named}")
    else:
        say(f"Fill in its pages from left to right, then:  sheetplan check {named}")


@app.command(epilog="Example:  sheetplan check november.xlsx")
def check(
    book: Book,
    json_file: JsonFile = None,
    *,
    each: Annotated[
        bool, typer.Option("--all", help="List each problem, also where many are alike.")
    ] = False,
) -> None:
    """Find every problem in the workbook in one pass, changing nothing.

    Exit code 1 if any of them stops the plan.
    """
    from sheetplan.app.check import check_book

    keys = ("stops", "problems")
    may_write_json(json_file, keys)
    outcome = check_book(book, datetime.date.today())
    print_problems(outcome.problems, each=each)
    if json_file:
        write_json(
            json_file, {"stops": outcome.stops, "problems": problem_rows(outcome.problems)}, keys, book
        )
    if outcome.stops:
        say("No plan can be made until what is marked 'stops the plan' is put right.")
        raise typer.Exit(PROBLEMS)
    say(f"{book.name} can be planned.")


Seconds = Annotated[
    float | None,
    typer.Option(min=0.1, metavar="SECONDS", help="Time to search; without it, as the page Settings says."),
]
Seed = Annotated[
    int | None,
    typer.Option(
        min=0, metavar="NUMBER", help="Another seed gives another plan; without it, as in Settings."
    ),
]
Workers = Annotated[
    int | None, typer.Option(min=1, metavar="COUNT", help="Gauges planned at the same time.")
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS", help="Plan the gauges on the cluster of this Dask scheduler (sheetplan[dask])."
    ),
]
Picks = Annotated[
    list[str] | None,
    typer.Option(metavar="CHOICE", help="Take this choice of the page Choices; may be given again."),
]
Locks = Annotated[
    list[str] | None, typer.Option(metavar="LAYOUT", help="Keep this layout as it is; may be given again.")
]


@app.command(epilog="Example:  sheetplan plan november.xlsx --seconds 60 --json november.json")
def plan(
    book: Book,
    seconds: Seconds = None,
    seed: Seed = None,
    workers: Workers = None,
    scheduler: Scheduler = None,
    pick: Picks = None,
    lock: Locks = None,
    json_file: JsonFile = None,
) -> None:
    """Plan this month's orders: result pages, drawings and tickets.

    The results are written into the workbook, drawings and tickets into a folder beside it.

    A choice that is picked, here or on the page Choices, is used without a new search; a layout that is
    locked stays, and what is planned anew is planned round it.

    Ctrl-C ends the search and keeps the best plan so far; a second Ctrl-C gives up and changes nothing.
    """
    from sheetplan.app.making.workers import Crew, NoCluster
    from sheetplan.cli.stopping import StopSwitch, stops_on_ctrl_c

    keys = ("groups", "totals")
    may_write_json(json_file, keys)
    started, stop = time.monotonic(), StopSwitch()
    try:
        with stops_on_ctrl_c(stop), ProgressPrinter() as printer, Crew(workers, scheduler) as crew:
            crew.get_ready(printer.show)
            from sheetplan.app.plan import PlanAsked, plan_book  # fetched while helpers start

            asked = PlanAsked(datetime.date.today(), seconds, seed, tuple(pick or ()), tuple(lock or ()))
            outcome = plan_book(book, asked, stop=stop, report=printer.show, workers=crew)
    except NoCluster as none:
        raise typer.BadParameter(str(none), param_hint="--scheduler") from none
    print_problems(outcome.problems)
    if outcome.plan is None:
        say(f"No plan was made. The problems stand on the page Problems of {outcome.book}.")
        raise typer.Exit(PROBLEMS)
    print_plan(outcome, time.monotonic() - started)
    if json_file and outcome.record is not None:
        write_json(json_file, outcome.record, keys, book)
        say(f"  {json_file}")


@app.command(epilog="Example:  sheetplan quote november.xlsx --json quotes.json")
def quote(
    book: Book,
    seconds: Annotated[
        float | None,
        typer.Option(
            min=0.1, metavar="SECONDS", help="Seconds for a plan of the month where none stands, 5 at "
            "most. Each quantity gets the same work.",
        ),
    ] = None,
    json_file: JsonFile = None,
) -> None:
    """Price what the page Quotes asks for.

    Alone, and as what it adds to the month's plan.

    The answers go on the page Quoted, a page for each customer into the folder quotes beside the book. The
    plan and its files stay as they are. A quote that is marked in Order it becomes a row of Orders, before
    the others are priced.

    Exit code 5 if rows or marks of the page were left out, or rows of other pages that prices are reckoned
    from; 1 if nothing could be answered.
    """
    from sheetplan.app.quote import quote_book
    from sheetplan.app.rack import Refused
    from sheetplan.cli.printing import print_quotes
    from sheetplan.cli.stopping import StopSwitch, stops_on_ctrl_c

    stop, keys = StopSwitch(), ("units", "quotes")
    may_write_json(json_file, keys)
    try:
        with stops_on_ctrl_c(stop), ProgressPrinter() as printer:
            outcome = quote_book(
                book, today=datetime.date.today(), seconds=seconds, report=printer.show, stop=stop
            )
    except Refused as refused:
        say(f"{refused.what} {refused.remedy} Nothing was changed.")
        raise typer.Exit(PROBLEMS) from None
    print_problems(outcome.problems)
    if outcome.stops:
        say("Nothing was quoted; put right first what is marked 'stops the plan'.")
        raise typer.Exit(PROBLEMS)
    print_quotes(outcome)
    if json_file:
        from sheetplan.app.kept_quotes import quotes_json

        values = quotes_json(outcome.quotes, outcome.units) | {"problems": problem_rows(outcome.problems)}
        write_json(json_file, values, keys, book)
        say(f"  {json_file}")
    if outcome.left_out:
        raise typer.Exit(UNFINISHED if outcome.quotes else PROBLEMS)


def month_said(text: str) -> str:
    """The month that an argument names, such as ``2026-11``."""
    from sheetplan.app.month import month_named

    named = month_named(text)
    if named is None:
        raise typer.BadParameter(f"{text!r} is not a month; write it such as 2026-11.", param_hint="MONTH")
    return named


@app.command(epilog="Example:  sheetplan month november.xlsx 2026-11")
def month(
    book: Book,
    month: Annotated[str, typer.Argument(metavar="MONTH", help="Such as 2026-11.", show_default=False)],
    json_file: JsonFile = None,
) -> None:
    """Balance a month: the scales beside the recorded cuts.

    Waste by metal and gauge, in weight and money. Reads Purchases, Scrap log and Rack count, and writes the
    page Month.
    """
    from sheetplan.app.month import month_json, month_of

    named = month_said(month)
    keys = ("month", "units", "metals")
    may_write_json(json_file, keys)
    with ProgressPrinter() as printer:
        outcome = month_of(book, named, report=printer.show)
    print_problems(outcome.problems)
    if outcome.metals is None:
        say("The month could not be balanced until what is marked 'stops the plan' is put right.")
        raise typer.Exit(PROBLEMS)
    print_month(outcome)
    if json_file:
        write_json(json_file, month_json(outcome), keys, book)
        say(f"  {json_file}")


def main() -> None:
    """Run the command line; however a run ends, the sentence and the exit code say what was changed."""
    for library in ("matplotlib", "ezdxf"):  # which tell where they keep, or cannot keep, lists of typefaces
        logging.getLogger(library).setLevel(logging.ERROR)
    with keeping_ledger() as kept:
        try:
            app()
            code = DONE
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else DONE
        except KeyboardInterrupt:
            code = INTERRUPTED
        except Exception as error:
            code = _told(error)
        before = signal.signal(signal.SIGINT, signal.SIG_IGN)  # what is said now is short
        code = _ended(kept, code)
        signal.signal(signal.SIGINT, before)
        gc.freeze()  # nobody looks once more through all that the run made: that holds the shell for .2 s
        sys.exit(code)


def _ended(kept: Ledger, code: int) -> int:
    """Say what was changed where that is not plain, and give the exit code."""
    for sentence in kept.lost:
        say(f"Note: {sentence}")
    for sentence in kept.unfinished:
        say(sentence)
    if code == INTERRUPTED:
        say(f"Stopped. {kept.sentence}")
    elif code in (FILE_TROUBLE, OUR_FAULT) or (code == PROBLEMS and kept.reach is Reach.FILES):
        say(kept.sentence)
    if code == FILE_TROUBLE and (kept.reach is Reach.BOOK or kept.done):
        return UNFINISHED
    return UNFINISHED if code == DONE and kept.unfinished else code


def _told(error: Exception) -> int:
    """Say a failure in a sentence and give the exit code.

    The modules that know the failures are fetched here: fetched before, `--help` waits for them.
    """
    from sheetplan.workbook.outcomes import BookError

    if isinstance(error, BookError):
        print_trouble(error.problem)
        return FILE_TROUBLE
    if isinstance(error, OSError):
        say(f"{error.filename or 'A file'}: {error.strerror or error}.")
        return FILE_TROUBLE
    from sheetplan.app.plan import CheckFailed

    if isinstance(error, CheckFailed):
        say(
            "The plan did not pass the independent check, so nothing was written. This is a fault in "
            "sheetplan."
        )
        for fault in error.faults[:20]:
            say(f"    {fault}")
        return OUR_FAULT
    say(f"A fault in sheetplan. Please send this file with your report: {_log_fault()}")
    return OUR_FAULT


def _log_fault() -> Path:
    """Keep the traceback in a file, since it helps only those who mend the program."""
    with tempfile.NamedTemporaryFile(
        "w", prefix="sheetplan-fault-", suffix=".txt", delete=False, encoding="utf-8"
    ) as file:
        file.write(traceback.format_exc())
    return Path(file.name)
