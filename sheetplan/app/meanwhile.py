"""What is edited in a book while a plan of it is under way, and what becomes of the plan.

A plan depends on some cells and not on others: a description may be typed while it is made. What it
depends on has one definition, `standing.digests`. Where such a cell changes, the search ends, and where
the host can tell of edits as they are made, the plan is made anew from the layouts that were found by then.

Hosts compare every input cell when they write; whether a change matters is judged here.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from sheetplan.app.check import check_tables
from sheetplan.app.earlier import uncut
from sheetplan.app.standing import digests
from sheetplan.model import Job, Plan
from sheetplan.pages.values import ResultPage
from sheetplan.planning.order_book import Before
from sheetplan.planning.progress import Progress, Stop
from sheetplan.rack.plan_file import exact_text, kept_plan_of
from sheetplan.workbook.columns import PLANNED_FROM, READ_BACK
from sheetplan.workbook.errors import BookChanged, book_problem
from sheetplan.workbook.pick_marks import planner_marks
from sheetplan.workbook.port import Host
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.schema import InputPage
from sheetplan.workbook.tables import BookTables, CellValue

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
