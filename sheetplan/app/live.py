"""Runs started from within a spreadsheet program: whatever happens is said as a sentence in the book."""

from __future__ import annotations

import datetime
import time
import traceback
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.check import check_tables, with_due, with_folder, with_marks
from sheetplan.app.plan import CheckFailed, PlanAsked, plan_on
from sheetplan.app.rack import Refused
from sheetplan.model import Problem, Settings, Weight
from sheetplan.pages.values import QUOTED_PAGE, RESULT_PAGES, ResultPage
from sheetplan.planning.progress import Progress, Stop
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import (
    CUT_LOG,
    CUTTING_MARKS,
    EARLIER_CUTS,
    FINISHED_MARKS,
    KITS,
    LAYOUT_MARKS,
    ORDERS,
    PARTS,
    PURCHASES,
    QUOTES,
    RACK_COUNT,
    RECORD,
    REMNANTS,
    STOCK,
    STOCK_LOG,
)
from sheetplan.workbook.ledger import Ledger, keeping_ledger, ledger
from sheetplan.workbook.outcomes import BookError
from sheetplan.workbook.port import RUN_LABELS, BookState, Edits, LiveEdit, LiveHost, barred, wrong_kind
from sheetplan.workbook.reading.book import seen_in
from sheetplan.workbook.tables import BookTables
from sheetplan.workbook.writing.grid import MONTH


@dataclass(frozen=True, slots=True)
class Ended:
    """How a run ended: whether it did what it was asked for, and what there is to say about it.

    ``call`` says it in a box as well: what stops a run, and what a person has to do by hand.
    """

    sentence: str
    call: bool = False
    done: bool = True


Run = Callable[[LiveHost, Stop], Ended]

NOT_SAVED = "The workbook is not saved yet; what was typed before can no longer be undone."
"""Said where pages were drawn: a program's list of steps to undo ends there."""


def run_live(host: LiveHost, run: str, stop: Stop) -> bool:
    """Do one of `RUNS` and say how it ended; True where it did what was asked.

    A fault of the system or of our own is written to a log file beside the book as well, and the
    sentence names the file.
    """
    label = RUN_LABELS.get(run, run)
    begun = f"{_now()}  {label}"
    _note(host, f"{begun}: under way.")
    ended = _ended(ShownOnStart(host, begun), run, stop)
    _note(host, f"{_now()}  {label}: {ended.sentence}")
    if ended.call:
        host.tell(ended.sentence)
    return ended.done


def _now() -> str:
    return datetime.datetime.now().strftime("%Y-%m-%d %H:%M")


def _ended(host: LiveHost, run: str, stop: Stop) -> Ended:
    """Do a run; what it says of what was changed comes from the ledger."""
    with keeping_ledger() as kept:
        ended = _done(host, run, stop, kept)
        more = [*kept.lost, *kept.unfinished]
        return replace(ended, sentence=" ".join([ended.sentence, *more]), call=ended.call or bool(more))


def _done(host: LiveHost, run: str, stop: Stop, kept: Ledger) -> Ended:
    try:
        if run not in RUNS:
            return _failed(f"There is no run called {run}. There are: {', '.join(RUN_LABELS.values())}.")
        bar = _bar(host, run)
        if bar is not None:
            return _failed(f"{bar.what} {bar.remedy}")
        return RUNS[run](host, _either(stop, stop_file(host.path)))
    except BookError as error:
        return _failed(f"{error.problem.what} {error.problem.remedy}")
    except OSError as error:
        log = _log(host.path)
        return _failed(
            f"{error.filename or 'A file'}: {error.strerror or error}. {kept.sentence} "
            f"Details stand in {log}."
        )
    except CheckFailed:
        log = _log(host.path)
        return _failed(
            "The plan did not pass the independent check, so nothing was written. This is a fault in "
            f"sheetplan. Details stand in {log}."
        )
    except Exception:
        log = _log(host.path)
        return _failed(f"Something went wrong in sheetplan. {kept.sentence} Details stand in {log}.")


def _bar(host: LiveHost, run: str) -> Problem | None:
    """What keeps the run from writing, before it does any work; a check names a wrong kind of file itself."""
    kind = wrong_kind(host.path) if run != "check" else None
    pages, edited = WRITES[run]
    return kind or barred(host.path, host.state(), pages, edited)


def _failed(sentence: str) -> Ended:
    return Ended(sentence, call=True, done=False)


def _recorded(host: LiveHost, record: Callable[[], Iterable[str]]) -> Ended:
    """Record a step in the open book, which is saved with it; it says what there is to say."""
    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    try:
        return Ended(" ".join([*record(), "The workbook was saved."]), call=True)
    except Refused as refused:
        return _failed(_refused(host, refused))


def _note(host: LiveHost, sentence: str) -> None:
    """Say it on the page Start, if that can be: a protected page must not hide the sentence itself."""
    try:
        host.note(sentence)
    except Exception:
        _log(host.path)


def stop_file(book: Path) -> Path:
    """Path of the file that ends a search when somebody makes it: the book's name with ``.stop``."""
    return book.with_suffix(".stop")


def _plan(host: LiveHost, stop: Stop) -> Ended:
    outcome = plan_on(host, PlanAsked(datetime.date.today()), stop=stop)
    if outcome.plan is None:
        stops = [p for p in outcome.problems if p.weight is Weight.STOPS]
        what = "1 problem stops" if len(stops) == 1 else f"{len(stops)} problems stop"
        return _failed(f"No plan was made: {what} it, as the page Problems says.")
    saved = _saved(host, outcome.plan.job.settings) if outcome.plan.job.settings.save_plan else NOT_SAVED
    files = outcome.drawings.relative_to(host.path.parent).as_posix() if outcome.drawings else ""
    early = " It was stopped early, and is the best found by then." if outcome.plan.stopped_early else ""
    said = (
        f"Plan {outcome.mark} was made.{early} Read Plan, Buy, Layouts, Made; drawings and tickets are in "
        f"{files}. {saved}"
    )
    return Ended(said)


def _quote(host: LiveHost, stop: Stop) -> Ended:
    """Price what the page Quotes asks."""
    from sheetplan.app.quote import quote_on

    try:
        outcome = quote_on(host, today=datetime.date.today(), stop=stop)
    except Refused as refused:
        return _failed(_refused(host, refused))
    if outcome.stops:
        _show(host, outcome.problems)
        return _failed("Nothing was quoted. What stands in the way stands on the page Problems.")
    nothing = "No row of the page Quotes could be priced." if outcome.left_out else "It asks for nothing."
    said = [f"Read the page {QUOTED_PAGE}."] if outcome.quotes else [nothing]
    said += [f"A page for each customer is in {outcome.files[0].parent.name}."] if outcome.files else []
    return Ended(" ".join([*said, *outcome.said, NOT_SAVED]))


def _saved(host: LiveHost, settings: Settings) -> str:
    """Have the program save the book with its plan, as its settings ask; what to say of that."""
    try:
        host.change(Edits(), (), settings.units, save=True)
    except BookError as error:
        return f"{_book_said(error)} {NOT_SAVED}"
    return "The workbook was saved; what was typed before can no longer be undone."


def _check(host: LiveHost, stop: Stop) -> Ended:
    from sheetplan.app.making.quote_marks import with_quotes
    from sheetplan.pages.book.problems import problem_summary, problems_page
    from sheetplan.pages.wording import decimals_of

    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    tables = host.read()
    checked = with_due(check_tables(tables, host.path), datetime.date.today(), tables)
    checked = with_quotes(checked, tables, host.path)
    outcome = with_marks(with_folder(checked, host.path), tables, host.path)
    kind = wrong_kind(host.path)
    if kind is not None:
        outcome = replace(outcome, problems=(kind, *outcome.problems))
    units = outcome.job.settings.units if outcome.job else Units.INCH
    page = problems_page(outcome.problems, seen_in(tables))
    line = "Checked only: the other result pages still show the last plan, if there was one."
    page = replace(page, lines=(*page.lines, line))
    host.write(decimals_of(outcome.job).pages((page,)) if outcome.job else (page,), units)
    first = f"{kind.what} {kind.remedy} " if kind is not None else ""
    said = f"{first}{problem_summary(outcome.problems)} {NOT_SAVED}"
    return Ended(said, done=not outcome.stops)


def _cut(host: LiveHost, stop: Stop) -> Ended:
    """Record the rows of the page Record and what is marked in Cut now on the page Layouts."""
    from sheetplan.app.rack.cut import record_marked_live

    said: list[str] = []
    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    try:
        for done in record_marked_live(host, today=datetime.date.today()):
            said += done.sentences
            host.progress(Progress("", 0.5, done.sentences[0]))
    except (Refused, BookError) as error:
        refused = _refused(host, error) if isinstance(error, Refused) else _book_said(error)
        return _failed(" ".join([*said, refused, f"Nothing {'more ' if said else ''}was recorded."]))
    if not said:
        return _failed(NO_CUTS)
    return Ended(" ".join([*said, "The workbook was saved."]), call=True)


NO_CUTS = "The page Record has no row, and nothing is marked in the column Cut now of the page Layouts."


def _receive(host: LiveHost, stop: Stop) -> Ended:
    """Take in what the column Received of Stock says, or all that is on order."""
    from sheetplan.app.receive import receive_live

    return _recorded(host, lambda: receive_live(host, today=datetime.date.today())[1])


def _ordered(host: LiveHost, stop: Stop) -> Ended:
    """Mark what the page Buy lists as ordered."""
    from sheetplan.app.receive import ordered_live

    return _recorded(host, lambda: ordered_live(host, today=datetime.date.today())[1])


def _parts(host: LiveHost, stop: Stop) -> Ended:
    """Record what is marked on the page Finished parts, or else take over what it offers to orders."""
    from sheetplan.app.parts import parts_live

    return _recorded(host, lambda: parts_live(host, today=datetime.date.today()))


def _undo(host: LiveHost, stop: Stop) -> Ended:
    from sheetplan.app.rack.undo import undo_cut_live

    return _recorded(host, lambda: undo_cut_live(host)[1])


def _refused(host: LiveHost, refused: Refused) -> str:
    """The sentence, and the problems behind it on their page."""
    if refused.problems:
        _show(host, refused.problems)
        they = "It stands" if len(refused.problems) == 1 else "They stand"
        return f"{refused.what} {they} on the page Problems. {refused.remedy}"
    return f"{refused.what} {refused.remedy}"


def _book_said(error: BookError) -> str:
    return f"{error.problem.what} {error.problem.remedy}"


def _show(host: LiveHost, problems: tuple[Problem, ...]) -> None:
    from sheetplan.pages.book.problems import problems_page

    host.write((problems_page(problems, seen_in(host.read())),), Units.INCH)


def _month(host: LiveHost, stop: Stop) -> Ended:
    """Balance the month that the page Start names, or else the one that today lies in."""
    from sheetplan.app.month import month_named, month_on

    asked = host.asked(MONTH) or datetime.date.today().strftime("%Y-%m")
    month = month_named(asked)
    if month is None:
        return _failed(f"{asked} is no month: write it on the page Start, such as 2026-11 or 11.2026.")
    outcome = month_on(host, month)
    if outcome.metals is None:
        return _failed("The month was not balanced. What stands in the way stands on the page Problems.")
    return Ended(f"{month} was balanced; read the page Month. {NOT_SAVED}")


def _close(host: LiveHost, stop: Stop) -> Ended:
    """Close the month that the page Start names; without one, none: it cannot be taken back."""
    from sheetplan.app.close import close_live
    from sheetplan.app.month import month_named

    month = month_named(host.asked(MONTH))
    if month is None:
        return _failed("Write the month to close on the page Start, in Month to balance, such as 2026-11.")
    return _recorded(host, lambda: close_live(host, month, today=datetime.date.today()))


def _import(host: LiveHost, stop: Stop) -> Ended:
    """Bring the drawings in, of the folders that Settings names or the one beside the book."""
    from sheetplan.app.import_parts import counted_words, filled_words
    from sheetplan.app.import_run import import_live
    from sheetplan.trade.sentences import counted

    host.progress(Progress("", 0.0, f"Reading {host.path.name} and its drawings"))
    try:
        done = import_live(host)
    except Refused as refused:
        return _failed(_refused(host, refused))
    said = [f"{counted_words(done.found)}; {counted(done.kit_rows, 'row')} added to Kits."]
    said += [f"{filled_words(done.filled)}."] if done.filled else []
    said += [f"Changed: {', '.join(done.changed)}."] if done.changed else []
    said += [f"Its drawing is gone: {', '.join(done.gone)}."] if done.gone else []
    said += [*done.said, *done.failed]
    said += [f"Pictures, sizes and flaws stand in {done.sheet.name}."] if done.sheet is not None else []
    wrote = bool(done.found.new or done.kit_rows)
    return Ended(" ".join([*said, *([NOT_SAVED] if wrote else [])]), call=bool(done.failed))


RUNS: Mapping[str, Run] = {
    "import": _import, "check": _check, "plan": _plan, "quote": _quote, "ordered": _ordered,
    "receive": _receive, "cut": _cut, "parts": _parts, "undo": _undo, "month": _month, "close": _close,
}  # fmt: skip
"""What can be asked for from within a book, in the order of `RUN_LABELS`."""


_LOGS = (CUT_LOG.name, STOCK_LOG.name, FINISHED_MARKS.name)
"""Pages that a step draws."""

_COUNTED = (LAYOUT_MARKS.name, CUTTING_MARKS.name)
"""Pages on which what is cut is counted up."""

WRITES: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "import": ((), (PARTS.name, KITS.name)),
    "check": (("Problems",), ()),
    "plan": ((*RESULT_PAGES, FINISHED_MARKS.name), ()),
    "quote": ((QUOTED_PAGE, "Problems"), (QUOTES.name, ORDERS.name, PARTS.name)),
    "ordered": (_LOGS[1:], (STOCK.name,)),
    "receive": (_LOGS[1:], (STOCK.name, PURCHASES.name)),
    "cut": ((_LOGS[0], _LOGS[2]), (RECORD.name, STOCK.name, REMNANTS.name, *_COUNTED)),
    "parts": (_LOGS[1:], ()),
    "undo": (_LOGS, (STOCK.name, REMNANTS.name, *_COUNTED)),
    "month": (("Month", "Problems"), ()),
    "close": (("Month", "Problems", *_LOGS), (ORDERS.name, RACK_COUNT.name, EARLIER_CUTS.name)),
}
"""For each run the pages that it draws, and those of which it writes cells."""


def _either(stop: Stop, file: Path) -> Stop:
    """Stop when asked in either way; the file is used up by that."""

    def asked() -> bool:
        if stop():
            return True
        if file.exists():
            file.unlink(missing_ok=True)
            return True
        return False

    latched = False

    def once_is_enough() -> bool:
        nonlocal latched
        latched = latched or asked()
        return latched

    return once_is_enough


def _log(book: Path) -> Path:
    """Write the current exception to a log beside the book, or to the home folder where that fails."""
    text = f"{datetime.datetime.now().isoformat(timespec='seconds')}\n{traceback.format_exc()}\n"
    for folder in (book.parent, Path.home()):
        log = folder / f"{book.stem}.sheetplan.log"
        try:
            with log.open("a", encoding="utf-8") as file:
                file.write(text)
        except OSError:
            continue
        return log
    return book.with_name("no log could be written")


NOTE_SECONDS = 2.0
"""How often Start shows the progress of one stage: each time the program draws the page anew."""


class ShownOnStart:
    """A live host whose progress is also noted on Start, behind ``label``."""

    def __init__(self, host: LiveHost, label: str) -> None:
        self._host, self._label = host, label
        self._noted, self._stage = time.monotonic(), ""

    @property
    def path(self) -> Path:
        """Where the book's file lies."""
        return self._host.path

    def progress(self, progress: Progress) -> None:
        """Show the progress, and from time to time on Start as well."""
        self._host.progress(progress)
        now, stage = time.monotonic(), progress.sentence.partition(" ")[0]
        if stage != self._stage or now - self._noted >= NOTE_SECONDS:
            self._noted, self._stage = now, stage
            with suppress(Exception):  # a protected page must not end the run
                self._host.note(f"{self._label}: under way. {progress.sentence}")

    def read(self) -> BookTables:
        """Read all input tables."""
        return self._host.read()

    def touched(self) -> bool | None:
        """Whether somebody has worked in the book since it was last read."""
        return self._host.touched()

    def state(self) -> BookState:
        """How the program has the book open."""
        return self._host.state()

    def write(self, pages: Sequence[ResultPage], units: Units) -> Path:
        """Replace our pages."""
        written = self._host.write(pages, units)
        ledger().books.append(self.path)
        return written

    def tell(self, sentence: str) -> None:
        """Say something that the person must know."""
        self._host.tell(sentence)

    def asked(self, name: str) -> str:
        """Text of a named cell."""
        return self._host.asked(name)

    def note(self, sentence: str) -> None:
        """Show a sentence on Start."""
        self._host.note(sentence)

    def edit(self) -> LiveEdit:
        """Begin changes to cells."""
        return self._host.edit()

    def change(self, edits: Edits, pages: Sequence[ResultPage], units: Units, *, save: bool) -> None:
        """Write cells and replace pages in one step."""
        self._host.change(edits, pages, units, save=save)
        ledger().books.append(self.path)
