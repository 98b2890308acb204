"""Plan a book: read, plan, check, write. A plan that fails the check is never written.

What is edited in the book while the plan is under way is seen, and decides what becomes of the plan.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import os
import time
from collections.abc import Collection, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sheetplan.app.check import check_tables, with_due
from sheetplan.app.making.answer import Answer, CheckFailed, answered
from sheetplan.app.making.drawings import remember
from sheetplan.app.making.earlier import cut_before, since_text, still_on_order, uncut
from sheetplan.app.making.folders import (
    EARLIER,
    PREFIX,
    RECORD,
    output_folder,
    publish,
    retire_others,
    sole_use,
)
from sheetplan.app.making.standing import CHOICES_FILE, choices_text, digests, standing
from sheetplan.app.making.workers import Crew
from sheetplan.app.month import yields_before
from sheetplan.app.rack.belonging import with_mark
from sheetplan.model import Job, Plan, Problem, Weight
from sheetplan.pages.values import BookSeen, ResultPage
from sheetplan.planning.order_book import Before, number_of
from sheetplan.planning.progress import Progress, Report, Stop
from sheetplan.rack.kept_plan import exact_text, kept_plan_of
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import PLANNED_FROM, READ_BACK
from sheetplan.workbook.hosts.closed import ClosedBook
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.outcomes import BookChanged, NotWritten, book_problem
from sheetplan.workbook.package.saving import as_private_as
from sheetplan.workbook.port import Host
from sheetplan.workbook.reading.book import mark_saved, seen_in
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.pick_marks import planner_marks
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, CellValue

if TYPE_CHECKING:
    from sheetplan.app.making.writing import Made
    from sheetplan.drawings.known import KnownOutline
    from sheetplan.money.comparison import Choices
    from sheetplan.money.cutting_plan import Ordered
    from sheetplan.money.figures import PlanFigures
    from sheetplan.planning.whatif.fits import Fits


# What is edited in a book while a plan of it is under way, and what becomes of the plan.
#
# A plan depends on some cells and not on others: a description may be typed while it is made. What it
# depends on has one definition, `standing.digests`. Where such a cell changes, the search ends, and where
# the host can tell of edits as they are made, the plan is made anew from the layouts that were found by
# then.
#
# Hosts compare every input cell when they write; whether a change matters is judged here.

LOOK_SECONDS = 1.0
"""How often, at the most, the book is read again while somebody works in it."""

QUIET_SECONDS = 2.0
"""How long nobody has worked in the book when a plan is begun anew."""

MOST_BEGUN = 20
"""How often a plan is begun anew before it is given up."""

MOST_WRITES = 20
"""How often writing is tried while other cells are edited."""

MOST_NAMED = 3
"""Cells that a sentence names."""


class Overtaken(Exception):
    """Cells that the plan depends on were changed; ``cells`` names them, ``found`` is the plan by then."""

    def __init__(self, cells: str, found: Plan) -> None:
        super().__init__(cells)
        self.cells, self.found = cells, found


class Watch:
    """Looks after a book while a plan of it is made; hand `report` and `stop` to the search."""

    def __init__(self, host: Host, tables: BookTables, job: Job, stop: Stop) -> None:
        self._host, self._tables, self._stop = host, tables, stop
        self._depends = _depends(job, tables)
        self._looked = time.monotonic()
        self.changed = ""
        """Cells that were changed and that the plan depends on; empty where there are none."""

    def report(self, progress: Progress) -> None:
        """Show the progress, and look at the book where somebody has worked in it."""
        self._host.progress(progress)
        now = time.monotonic()
        if not self.changed and now - self._looked >= LOOK_SECONDS and self._host.touched():
            self._looked = now
            self._look()

    def stop(self) -> bool:
        """Whether to end the search: asked for, or of no use any more."""
        return bool(self.changed) or self._stop()

    def settle(self, plan: Plan) -> None:
        """Raise ``Overtaken`` where the plan is of a book that is no more."""
        if self.changed:
            raise Overtaken(self.changed, plan)

    def write(self, pages: Sequence[ResultPage], plan: Plan) -> Path:
        """Write a plan's pages; edits of cells that it does not depend on are no reason not to."""
        units = plan.job.settings.units
        self.settle(plan)
        for _ in range(MOST_WRITES):
            try:
                return self._host.write(pages, units)
            except BookChanged:
                self._look()
                self.settle(plan)
        return self._host.write(pages, units)

    def _look(self) -> None:
        now = self._host.read()
        job = check_tables(now, self._host.path).job
        if job is None or _depends(job, now) != self._depends:
            self.changed = changed_cells(self._tables, now) or "What the plan is made from"


def from_found(before: Before, found: Plan | None, job: Job) -> Before:
    """Where a plan starts that is made anew: the layouts that were found, as far as they still serve.

    Nobody has tickets of them yet: those that no earlier plan has are kept only where nothing counts less.
    """
    if found is None:
        return before
    layouts = uncut(kept_plan_of(exact_text(found, before.mark, {})), job, {})
    return replace(before, uncut=layouts, asks_for_more=before.asks_for_more or not before.mark)


def _depends(job: Job, tables: BookTables) -> tuple[dict[str, str], object]:
    marks, _ = planner_marks(tables)
    return digests(job), marks


def changed_cells(before: BookTables, now: BookTables) -> str:
    """Names of cells that differ, the first few; empty where none does."""
    found = []
    for page in (*PLANNED_FROM, *READ_BACK):
        old, new = _cells(before, page), _cells(now, page)
        places = sorted({*old, *new}, key=lambda place: (len(place), place))
        found += [f"{page.name} {place}" for place in places if old.get(place) != new.get(place)]
    if len(found) > MOST_NAMED:
        return f"{', '.join(found[:MOST_NAMED])} and {len(found) - MOST_NAMED} more"
    return " and ".join(found)


def _cells(tables: BookTables, page: InputPage) -> Mapping[str, CellValue]:
    """Cells of a page's input columns by their address."""
    table, wanted = tables.tables.get(page.name), {normal(column.heading) for column in page.columns}
    return {
        cell.address: cell.value
        for row in (table.rows if table else ())
        for heading, cell in row.cells.items() if normal(heading) in wanted
    }  # fmt: skip


def until_quiet(host: Host, overtaken: Overtaken, stop: Stop) -> None:
    """Wait until nobody works in the book.

    Raises ``BookChanged`` where the host cannot tell: the person then runs it again.
    """
    if host.touched() is None:
        raise BookChanged(book_problem(
            host.path, f"{overtaken.cells} changed while the run was under way; nothing was written.",
            "Run it again so that the results fit what the workbook says now.",
        )) from overtaken  # fmt: skip
    host.progress(Progress("", 0.0, f"{overtaken.cells} changed: the plan is made anew from what was found"))
    quiet_since = time.monotonic()
    while time.monotonic() - quiet_since < QUIET_SECONDS and not stop():
        time.sleep(0.1)
        if host.touched():
            host.read()
            quiet_since = time.monotonic()


# Plan a book: read, plan, check, write. A plan that fails the check is never written.

__all__ = ["CheckFailed", "PlanOutcome", "drawing_name", "mark_of", "plan_book", "plan_on", "record_text"]

MARK_LETTERS = 4
"""Letters of a plan's mark: enough that two plans of one shop are never taken for each other."""

@dataclass(frozen=True, slots=True)
class PlanOutcome:
    """What a run gave: the plan (None where problems stop it), all problems, and the paths written.

    ``book`` is the workbook that holds the result pages: the planner's own, or one beside it
    where the planner's may not be altered.
    """

    plan: Plan | None
    problems: tuple[Problem, ...]
    book: Path
    mark: str = ""
    drawings: Path | None = None
    record: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class PlanAsked:
    """What is asked of a plan beside the book.

    ``seconds`` and ``seed`` override the book's settings; ``picks`` and ``locks`` are tags of choices and
    layouts of the plan that the book shows, beside those marked in it.
    """

    today: datetime.date
    seconds: float | None = None
    seed: int | None = None
    picks: tuple[str, ...] = ()
    locks: tuple[str, ...] = ()


def plan_book(
    book: Path, asked: PlanAsked, *, stop: Stop, report: Report, workers: Crew | int | None = None
) -> PlanOutcome:
    """Plan the orders of a closed book and write the results into it and beside it.

    ``report`` shows the progress; the rest is as in `plan_on`.
    """
    return plan_on(ClosedBook(book, report), asked, stop=stop, workers=workers)


def plan_on(
    host: Host, asked: PlanAsked, *, stop: Stop, workers: Crew | int | None = None
) -> PlanOutcome:
    """Plan the orders of a book, wherever it lies, and write the results into it and beside it.

    ``workers`` says who plans, or how many processes do; None means as many as the machine has. Raises
    ``BookError`` where the book cannot be read or written, ``NoCluster`` where the scheduler cannot be used,
    ``CheckFailed`` where the plan does not stand up to the check.
    """
    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    with as_private_as(host.path), ExitStack() as held:
        crew = workers if isinstance(workers, Crew) else held.enter_context(Crew(workers))
        crew.get_ready(host.progress)
        found = None
        for _ in range(MOST_BEGUN):
            tables = host.read()
            try:
                return _planned(host, tables, asked, stop, crew, found)
            except Overtaken as overtaken:
                until_quiet(host, overtaken, stop)
                found = overtaken.found
        return _planned(host, host.read(), asked, stop, crew, found)


def _planned(
    host: Host, tables: BookTables, asked: PlanAsked, stop: Stop, crew: Crew, found: Plan | None
) -> PlanOutcome:
    """Judge what was read, plan it, and write the results; ``found`` is a plan that edits overtook."""
    from sheetplan.app.making.quote_marks import with_quotes

    today = asked.today
    checked = with_quotes(with_due(check_tables(tables, host.path), today, tables), tables, host.path)
    marks, wrong = planner_marks(tables)
    job = checked.job
    folder = output_folder(host.path, job.settings.output_folder) if job else None
    problems = checked.problems + wrong + ((folder,) if isinstance(folder, Problem) else ())
    units = job.settings.units if job else Units.INCH
    if job is None or stops(problems) or not isinstance(folder, Path):
        page = stopped_page(problems, seen_in(tables), job)
        return PlanOutcome(None, problems, host.write((page,), units))
    job = _overridden(job, asked.seconds, asked.seed)
    stands = standing(job, marks.and_told(asked.picks, asked.locks), folder, tables.plan)
    problems += stands.problems
    if stops(problems):
        page = stopped_page(problems, seen_in(tables), job)
        return PlanOutcome(None, problems, host.write((page,), units))
    stands = replace(stands, before=from_found(stands.before, found, job))
    watch = Watch(host, tables, job, stop)
    answer = answered(job, problems, stands, watch.stop, watch.report, crew)
    watch.settle(answer.plan)
    before = stands.before
    said = Said(
        today, seen_in(tables), before, cut_before(before, host.path, tables),
        yields_before(host.path, tables, today), still_on_order(host.path, tables), tables,
    )  # fmt: skip
    return _write_all(host, watch, answer, said, crew, checked.outlines)


def stops(problems: Sequence[Problem]) -> bool:
    """Whether one of the problems stops a plan."""
    return any(problem.weight is Weight.STOPS for problem in problems)


def stopped_page(
    problems: tuple[Problem, ...], seen: BookSeen | None = None, job: Job | None = None
) -> ResultPage:
    """The page Problems of a run that they stop; the pages of the last plan stay as they are."""
    from sheetplan.pages.book.problems import problems_page
    from sheetplan.pages.wording import decimals_of

    page = problems_page(problems, seen)
    line = "No plan was made. The other result pages still show the last plan, if there was one."
    page = replace(page, lines=(*page.lines, line))
    return decimals_of(job).pages((page,))[0] if job else page


def _overridden(job: Job, seconds: float | None, seed: int | None) -> Job:
    settings = replace(
        job.settings,
        seconds=job.settings.seconds if seconds is None else seconds,
        seed=job.settings.seed if seed is None else seed,
    )
    return replace(job, settings=settings)


@dataclass(frozen=True, slots=True)
class Said:
    """What pages and files say beside the plan.

    ``seen`` is what the page Problems has to know of the book, ``cut_before`` how often layouts
    of the plan before were cut, by their tag, ``last_yields`` the yield of gauges in the month before,
    ``ordered`` what is on order and since when; ``tables`` are the book's as they were read.
    """

    today: datetime.date
    seen: BookSeen
    before: Before
    cut_before: Mapping[str, int]
    last_yields: Mapping[str, float]
    ordered: Ordered
    tables: BookTables


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A plan with all that is written of it: figures, what else fits, the record, and the files."""

    figures: PlanFigures
    choices: Choices
    fits: Fits | None
    record: dict[str, Any]
    mark: str
    names: dict[str, str]
    made: Made
    source: str


def _prepared(host: Host, watch: Watch, answer: Answer, said: Said, crew: Crew) -> _Prepared:
    """Figures and files of a plan. Tickets are made here while the helpers work out what fits."""
    from sheetplan.app.making.writing import Told, Writing, made_before, source_of, worked_out
    from sheetplan.pages.plan_json import plan_json, with_fits

    plan, source = answer.plan, source_of(answer.plan, said.today, said.ordered, host.path.name)
    known = made_before(_output(host, plan) / f"{PREFIX}{said.before.mark}", source)
    number = sum(len(group.layouts) for group in plan.groups)
    executor = crew.writing(0 if known else number)
    host.progress(Progress("", 1.0, "Adding up weights and costs"))
    figures, choices = worked_out(plan, executor)
    record = plan_json(plan, figures, choices)
    mark = mark_of(record)
    names = _drawing_names(plan, mark)
    known = known if mark == said.before.mark else None
    told = Told(mark, names, said.today, said.ordered, host.path.name)
    writing = Writing(plan, figures, told, watch.report)
    if known is None and executor is not None:
        writing.begin_paper()
    fits = answer.fits()
    made = known or writing.made(crew.writing(number))
    return _Prepared(figures, choices, fits, with_fits(record, fits), mark, names, made, source)


def _write_all(
    host: Host, watch: Watch, answer: Answer, said: Said, crew: Crew, outlines: Mapping[str, KnownOutline]
) -> PlanOutcome:
    """The plan's files first, then the book that points at them, then the earlier plan's files step aside.

    Outlines to be known from now on are kept before the book is written, so that what the disk refuses
    leaves the book as it was.

    They go beside the book as it is called by now: an open book may have been saved under another name.
    """
    from sheetplan.app.making.writing import MADE_NOTE, made_note
    from sheetplan.pages.book.plan import Earlier
    from sheetplan.pages.book.results import Beside, Files, result_pages
    from sheetplan.pages.floor import PLAN_HTML
    from sheetplan.pages.wording import decimals_of

    plan, ready = answer.plan, _prepared(host, watch, answer, said, crew)
    mark, made = ready.mark, ready.made
    note = {MADE_NOTE: made_note(made, ready.source), RECORD: record_text(ready.record).encode()}
    files = {**made.files, **note, **_kept_files(plan, ready.fits, mark, said)}
    folder = _output(host, plan)
    host.progress(Progress("", 1.0, f"Writing {len(files)} files"))
    with sole_use(folder, host.path):
        drawings = publish(folder, mark, files, host.path.name)
        shown = Files(
            {tag: _relative(drawings / name, host.path.parent) for tag, name in ready.names.items()},
            made.pictures, _lists_to_order(host, drawings, files),
            _relative(drawings / PLAN_HTML, host.path.parent) if PLAN_HTML in files else "",
        )  # fmt: skip
        host.progress(Progress("", 1.0, "Making up the pages"))
        earlier = Earlier(since_text(said.before, plan), said.last_yields)
        beside = Beside(ready.choices, ready.fits, said.seen, earlier, said.ordered)
        pages = result_pages(plan, ready.figures, today=said.today, mark=mark, files=shown, beside=beside)
        pages = with_mark(pages, host.path, said.tables)
        remember(host.path, outlines)
        host.progress(Progress("", 1.0, f"Writing {host.path.name}"))
        written = watch.write(decimals_of(plan.job).pages(pages), plan)
        ledger().done.append(f"Plan {mark} is written into {written.name}.")
        _set_aside(folder, mark, host)
    return PlanOutcome(plan, plan.problems, written, mark, drawings, ready.record)


def _set_aside(folder: Path, mark: str, host: Host) -> None:
    """Files of earlier plans step aside; where they cannot, that is said, and the plan stands."""
    try:
        retire_others(folder, {mark, mark_saved(host.path)}, host.path.name)
    except OSError as error:
        ledger().unfinished.append(
            f"Plan {mark} is made and written. But files of earlier plans could not be put into "
            f"{folder.name}/{EARLIER} ({error.filename or 'a file'}: {error.strerror or error}); the "
            "next plan does that."
        )


def _lists_to_order(host: Host, drawings: Path, files: Collection[str]) -> dict[str, str]:
    """The lists of what to order beside the book, as far as there are any, and what each is for."""
    from sheetplan.pages.paper.shop_files import BUY_LIST, TO_ORDER

    return {
        _relative(drawings / name, host.path.parent): what
        for name, what in ((BUY_LIST, "for another program"), (TO_ORDER, "for printing"))
        if name in files
    }


def _output(host: Host, plan: Plan) -> Path:
    """Where plans of the book go by now; raises ``NotWritten`` where its folder leads elsewhere."""
    folder = output_folder(host.path, plan.job.settings.output_folder)
    if isinstance(folder, Problem):
        raise NotWritten(folder)
    return folder


def _drawing_names(plan: Plan, mark: str) -> dict[str, str]:
    """File names of drawings by layout tag; a kept one bears the plan that it was first made in."""
    return {
        layout.tag: drawing_name(layout.tag, layout.of_plan or mark, group.group.label)
        for group in plan.groups
        for layout in group.layouts
    }


def _kept_files(plan: Plan, fits: Fits | None, mark: str, said: Said) -> dict[str, bytes]:
    """What recording cuts and the next plan need of a plan, exact."""
    from sheetplan.rack.kept_plan import EXACT_FILE, exact_text

    tags = (layout.tag for group in plan.groups for layout in group.layouts)
    highest = max([said.before.highest, *map(number_of, tags)])
    return {
        EXACT_FILE: exact_text(plan, mark, said.cut_before).encode(),
        CHOICES_FILE: choices_text(plan, fits, highest).encode(),
    }


def mark_of(record: Mapping[str, Any]) -> str:
    """The plan's mark: letters from a hash of all that is cut and made.

    Choices beside the plan, what is proven of it, what else would fit and problems are no part of it, so
    that a mark on the page Choices, a busier machine or an order that has become overdue does not make
    tickets stale.

    >>> mark_of({"layouts": []}) == mark_of({"layouts": []})
    True
    """
    beside = ("choices", "fits", "problems", "bound", "within", "against_cheapest")

    def told(values: Mapping[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in values.items() if key not in beside}

    groups, totals = [told(one) for one in record.get("groups", ())], told(record.get("totals", {}))
    told_of_all = {**told(record), "groups": groups, "totals": totals}
    number = int.from_bytes(hashlib.sha256(record_text(told_of_all).encode()).digest()[:8])
    alphabet = "ABCDEFGHJKLMNPRSTUVWXYZ"  # without I, O and Q, which are misread on a dirty ticket
    letters = []
    for _ in range(MARK_LETTERS):
        number, index = divmod(number, len(alphabet))
        letters.append(alphabet[index])
    return "".join(letters)


def record_text(record: Mapping[str, Any]) -> str:
    """A plan's record as readable JSON, the same text for the same plan."""
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def drawing_name(tag: str, mark: str, gauge: str) -> str:
    """A file name that any table's program takes: letters, digits, dashes and underscores.

    It begins with the ticket's code, so that at the machine an earlier plan's L3 is not taken for this
    one's. The gauge's label comes from the book, so only its letters and digits are kept.

    >>> drawing_name("L3", "ABCD", "mild steel 3/16 in")
    'ABCD-L3_mild-steel-3-16-in.dxf'
    """
    words = "".join(c if c.isascii() and c.isalnum() else " " for c in gauge.lower()).split()
    return f"{mark}-{tag}_{'-'.join(words)[:40]}.dxf"


def _relative(path: Path, start: Path) -> str:
    return Path(os.path.relpath(path, start)).as_posix()
