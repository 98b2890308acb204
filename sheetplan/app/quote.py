"""Price a job before it is taken: alone, and as what it adds to the month's plan, which stays as it is.

Choices
-------
What a quote adds is the difference between the month's plan and the same plan with the
quote laid beside it (`planned_with`): the plan that the book shows or, where that no longer holds, one
made here for the purpose. None of them is written; what is kept is the answer, with its day and its
prices, in ``NAME.quotes.json`` beside the book and on the page Quoted.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from sheetplan.app.kept_quotes import (
    customers_pages,
    keep_quotes,
    kept_quotes,
    kept_rows,
    only_on_page,
    quotes_file,
    recover_quotes,
    stage_quotes,
    unread_rows,
    with_new,
)
from sheetplan.app.making.quote_marks import ORDERED, is_ordered, marked, says_ordered
from sheetplan.app.quote_plans import (
    FULL_WORK,
    Answer,
    Month,
    also_nearly_free,
    answered,
    checked,
    nearly_free,
    never_more_than_the_next,
    priced,
)
from sheetplan.app.quoted_drawings import (
    assumed_units,
    drawn_name,
    drawn_part,
    new_drawn,
    on_its_page,
    with_drawn,
)
from sheetplan.app.rack import Refused
from sheetplan.model import Job, Plan, Problem, Settings, Weight
from sheetplan.model.job import QuoteLine
from sheetplan.model.problem import Unstated
from sheetplan.money.cutting_days import next_cutting_day
from sheetplan.money.order_shares import parts_of
from sheetplan.money.quoting import Quoted
from sheetplan.pages.book.quoted import left_out_words
from sheetplan.pages.values import QUOTED_PAGE
from sheetplan.pages.wording import decimals_of, size_text
from sheetplan.planning.progress import Progress, Report, RunOptions, Stop, never
from sheetplan.shapes import size
from sheetplan.trade.sentences import counted
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import (
    CUTTING,
    KITS,
    MATERIALS,
    ORDERS,
    PARTS,
    QUOTES,
    REMNANT_SHAPES,
    REMNANTS,
    STOCK,
)
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables

if TYPE_CHECKING:
    from sheetplan.pages.values import ResultPage
    from sheetplan.planning.whatif.fits import Fits
    from sheetplan.workbook.hosts.closed import ClosedBook
    from sheetplan.workbook.package.cells import BookEdit
    from sheetplan.workbook.port import Host, LiveEdit, LiveHost, Put
    from sheetplan.workbook.rates import RateCells
    from sheetplan.workbook.reading.rows import Place

MONTH_SECONDS = 5.0
"""Most seconds for a plan of the month where none stands, however many a plan may take."""

NO_PAGE = (
    "The book has no page Quotes.",
    "Books made earlier have none: copy the page from a book made by `sheetplan new`, or name a page Quotes "
    "with the headings Quote, Item and Quantity.",
)


@dataclass(frozen=True, slots=True)
class QuoteOutcome:
    """What a run gave: the quotes in the order of their page, customers' pages, sentences to say.

    ``stops``: something has to be put right before anything can be quoted; then nothing was written.
    ``left_out``: so many places of the page Quotes could not be used, and what they ask for was not done, or
    rows of other pages were left out, without which the prices were reckoned. ``said_as`` writes numbers in
    texts with the decimal sign of the book.
    """

    quotes: tuple[Quoted, ...]
    problems: tuple[Problem, ...]
    said: tuple[str, ...]
    book: Path
    files: tuple[Path, ...] = ()
    units: Units = Units.INCH
    stops: bool = False
    left_out: int = 0
    said_as: Callable[[str], str] = str


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the book asks: ``job`` is its own, ``parts_too`` has the parts of quoted drawings as well.

    ``of_plan`` is what else a plan would find in the book, for the page Problems; ``undone`` what was found
    of rows that are priced all the same, such as marks that say nothing. ``is_priced``: something is to be
    priced in this run.
    """

    tables: BookTables
    job: Job
    parts_too: Job
    lines: tuple[QuoteLine, ...]
    places: Mapping[str, Place]
    problems: tuple[Problem, ...]
    rates: RateCells
    of_plan: tuple[Problem, ...] = ()
    undone: tuple[Problem, ...] = ()
    is_priced: bool = True


def quote_book(
    book: Path, *, today: datetime.date, seconds: float | None, report: Report, stop: Stop = never
) -> QuoteOutcome:
    """Answer the page Quotes of a closed book; ``seconds`` are for a plan of the month where none stands.

    Raises ``BookError`` where the book cannot be read or written, ``Refused`` where it has no such page,
    ``CheckFailed`` where a plan behind a quote does not stand up to the check.
    """
    from sheetplan.workbook.hosts.closed import ClosedBook

    return quote_on(ClosedBook(book, report), today=today, seconds=seconds, stop=stop)


def quote_on(
    host: ClosedBook | LiveHost, *, today: datetime.date, seconds: float | None = None, stop: Stop = never
) -> QuoteOutcome:
    """Answer the page Quotes of a book, wherever it lies; as `quote_book`; its files are as private."""
    from sheetplan.workbook.package.saving import as_private_as

    with as_private_as(host.path):
        return _priced(host, today, seconds, stop)


def _priced(
    host: ClosedBook | LiveHost, today: datetime.date, seconds: float | None, stop: Stop
) -> QuoteOutcome:
    host.progress(Progress("", 0.0, f"Reading {host.path.name}"))
    asked = _asked(host, today)
    if isinstance(asked, QuoteOutcome):
        return asked
    told = list(_recovered(host, asked))
    before = kept_quotes(host.path)
    last = {one.line.name: one for one in before}
    asked, orders = _orders(asked)
    asked = _without_false_prices(asked, orders, last)
    there = {one.name for one in asked.lines}
    orders = {name: quantity for name, quantity in orders.items() if name in there}
    open_ = [one for one in asked.lines if _is_open(one, orders, last)]
    asked = replace(asked, is_priced=bool(open_))
    marked = [one for one in open_ if one.name in orders]
    others = [one for one in open_ if one.name not in orders]
    answers = _answers(host, asked, [*marked, *others], today, seconds, stop)
    run = _Run(host, asked, today, before)
    told += _wrong_words(asked)
    told += _unknown_words(asked, host.path)
    if orders:
        first = tuple(islice(answers, len(marked)))
        priced = {one.line.name for one in first}
        told += run.order(orders, first, [one.name for one in marked if one.name not in priced])
        if others:
            host.progress(Progress("", 0.0, " ".join(told)))
    if others or not orders:
        run.write(tuple(answers))
    return QuoteOutcome(
        run.shown, asked.problems, tuple(told), run.book, tuple(run.files), asked.job.settings.units,
        left_out=len(_not_done(asked)) + len(_elsewhere(asked)), said_as=decimals_of(asked.job).said,
    )  # fmt: skip


def _recovered(host: ClosedBook | LiveHost, asked: _Asked) -> Iterator[str]:
    """Put right what an earlier run was stopped in; what is to be said of it."""
    made: list[Path] = []

    def pages(quotes: Sequence[Quoted]) -> None:
        made.extend(customers_pages(host.path, asked.job, quotes, missing=True))

    recover_quotes(host.path, {one.name for one in asked.lines if is_ordered(one)}, pages)
    if made:
        names = ", ".join(path.name for path in made)
        yield f"An earlier run was stopped before all customers' pages were written; they are now: {names}."


class _Run:
    """What a run has written so far: the orders first, since they wait for no other price."""

    def __init__(
        self, host: ClosedBook | LiveHost, asked: _Asked, today: datetime.date, before: tuple[Quoted, ...]
    ) -> None:
        self.book = host.path
        self.files: list[Path] = []
        self._host, self._asked, self._today = host, asked, today
        self._history = before
        self._last = {one.line.name: one for one in before}
        self._ordered: list[str] = []
        self._rows = (*only_on_page(asked.tables, host.path), *kept_rows(host.path))

    @property
    def shown(self) -> tuple[Quoted, ...]:
        """The quotes of the page, each as it was answered last."""
        return tuple(self._last[line.name] for line in self._asked.lines if line.name in self._last)

    def order(self, orders: Mapping[str, int], new: Sequence[Quoted], unpriced: Sequence[str]) -> list[str]:
        """Make orders of quotes; ``new`` are answers to those that had no price yet, and ``unpriced`` those
        that have none now. What is to be said of it."""
        there = {name: quantity for name, quantity in orders.items() if name not in unpriced}
        priced = {one.line.name: one for one in new}
        said = [STOPPED_FIRST.format(name=name) for name in unpriced]
        said += _ordered_words(there, self._last, priced, self._today)
        day, both = self._today.isoformat(), self._last | priced
        for name, quantity in there.items():
            priced[name] = replace(both[name], ordered=day, ordered_quantity=quantity)
        self.write(tuple(priced.values()), there)
        return said

    def write(self, new: Sequence[Quoted], orders: Mapping[str, int] | None = None) -> None:
        """Write the page Quoted with answers, and rows of orders; keep them; write customers' pages."""
        self._history = with_new(self._history, new)
        self._last |= {one.line.name: one for one in new}
        self._ordered += orders or ()
        stage_quotes(self._host.path, self._history, self._rows)
        pages = self._pages()
        self.book = _write(self._host, self._asked, pages, orders or {}, self._today)
        self.files += customers_pages(self._host.path, self._asked.job, new)
        keep_quotes(self._host.path, self._history, self._rows)

    def _pages(self) -> tuple[ResultPage, ResultPage]:
        from sheetplan.pages.book.problems import problems_page
        from sheetplan.pages.book.quoted import Findings, quoted_page
        from sheetplan.workbook.reading.book import seen_in

        asked = self._asked
        page = quoted_page(
            self.shown, self._history, today=self._today, settings=asked.job.settings,
            found=Findings(_not_done(asked), _to_look_at(asked), _elsewhere(asked), not asked.job.orders,
                           self._rows),
            ordered=self._ordered,
        )  # fmt: skip
        problems = problems_page((*asked.problems, *asked.of_plan), seen_in(asked.tables))
        return page, replace(problems, lines=(*problems.lines, QUOTED_LAST))


STOPPED_FIRST = "{name} has no price yet, since the run was stopped, and so it is no order: run it again."


QUOTED_LAST = "Found when the page Quotes was priced: the other result pages still show the last plan."

PRICED_FROM = (MATERIALS, CUTTING, PARTS, KITS, ORDERS, STOCK, REMNANTS, REMNANT_SHAPES)
"""Pages of which a row that is left out may change prices."""


def _not_done(asked: _Asked) -> list[Problem]:
    """What is wrong on the page Quotes and leaves something undone that it asks for."""
    own = asked.tables.tables[QUOTES.name].page
    out = [one for one in asked.problems if one.page == own and one.weight is not Weight.NOTE]
    return sorted([*out, *asked.undone], key=lambda one: one.row or 0)


def _to_look_at(asked: _Asked) -> list[Problem]:
    """Notes on rows of the page Quotes."""
    own, done = asked.tables.tables[QUOTES.name].page, _not_done(asked)
    return [one for one in asked.problems if one.page == own and one not in done]


def _elsewhere(asked: _Asked) -> list[Problem]:
    """Rows of other pages that are left out, without which the prices of this run are reckoned."""
    if not asked.is_priced:
        return []
    there = [asked.tables.tables[page.name].page for page in PRICED_FROM if page.name in asked.tables.tables]
    return [one for one in asked.problems if one.page in there and one.weight is Weight.LEFT_OUT]


def _wrong_words(asked: _Asked) -> Iterator[str]:
    """How many places could not be used, where any could not."""
    wrong, elsewhere = len(_not_done(asked)), len(_elsewhere(asked))
    if wrong:
        yield f"{counted(wrong, 'place')} of the page Quotes could not be used; {QUOTED_PAGE} says which."
    if elsewhere:
        yield f"{left_out_words(elsewhere)} {QUOTED_PAGE} says which."


def _unknown_words(asked: _Asked, book: Path) -> Iterator[str]:
    """That the page lists prices that the file beside the book does not know, and where they would be."""
    own, rows, lost = quotes_file(book).name, only_on_page(asked.tables, book), unread_rows(asked.tables)
    if rows:
        yield (
            f"{QUOTED_PAGE} lists {counted(len(rows), 'price')} that {own} does not know, as in a copy of a "
            "book under another name. The quotes.json file of the book that it was copied from has them with "
            f"their costs; {own} keeps what the page says of them from now on."
        )
    if lost:
        yield (
            f"{counted(lost, 'row')} of the quotes given so far on {QUOTED_PAGE} cannot be read back, since "
            f"a cell was changed there. What {own} does not know of them is on the page no more."
        )


def _is_open(line: QuoteLine, orders: Mapping[str, int], last: Mapping[str, Quoted]) -> bool:
    """Whether a line is to be priced: it is asked only, or ordered and what is ordered has no price yet."""
    there = last.get(line.name)
    if line.name not in orders:
        return not is_ordered(line)
    if there is None or there.line.what != line.what:
        return True
    answer = there.answer(orders[line.name])
    return answer is None or answer.price_each is None


def _without_false_prices(
    asked: _Asked, orders: Mapping[str, int], last: Mapping[str, Quoted]
) -> _Asked:
    """What is asked, without lines whose metal has no price: what they would cost is false."""
    kept, problems = [], []
    for line in asked.lines:
        cells = _unpriced_metal(asked, line) if _is_open(line, orders, last) and any(line.quantities) else []
        if not cells:
            kept.append(line)
            continue
        heading = "Drawing" if line.drawing else "Item"
        problems.append(asked.places[line.name].problem(
            heading, f"{line.name} is not priced, since its metal has no price: {', '.join(cells)}.",
            "Write what a sheet costs; a 0 says that it costs nothing.", Weight.LEFT_OUT,
        ))  # fmt: skip
    return replace(asked, lines=tuple(kept), problems=(*asked.problems, *problems))


def _unpriced_metal(asked: _Asked, line: QuoteLine) -> list[str]:
    job = asked.parts_too
    return [cell for gauge in _gauges(job, line) for cell in asked.rates.without_price(gauge, job.stock)]


def _gauges(job: Job, line: QuoteLine) -> list[tuple[str, Thickness]]:
    """Metal and thickness of the parts of a line, each once."""
    parts = [job.parts[name] for name in parts_of(job, line.item)]
    return list(dict.fromkeys((part.material, part.thickness) for part in parts))


def _ordered_words(
    orders: Mapping[str, int], last: Mapping[str, Quoted], new: Mapping[str, Quoted], today: datetime.date
) -> Iterator[str]:
    """What is said of quotes that become orders; ``new`` are those that were priced in the same run."""
    for name, quantity in orders.items():
        given = new[name] if name in new else last[name]
        answer = given.answer(quantity)
        if given.holds_until and given.holds_until < today.isoformat():
            yield f"{name} is ordered at the prices of {given.date}, which held until {given.holds_until}."
        if answer is None or answer.price_each is None:
            yield f"{name} is ordered without a price; why it has none stands on the page Quoted."
        elif name in new:
            yield (
                f"{name} had no price for {quantity:,} before it was ordered: it is priced now, at "
                f"{answer.price_each:,.2f} each."
            )
        yield f"{name} is a row of the page Orders now; plan again to have it made."


def _asked(host: Host, today: datetime.date | None = None) -> _Asked | QuoteOutcome:
    """What the book asks, or why nothing can be answered; with ``today``, what is overdue as well."""
    from sheetplan.app.check import check_tables, with_due, with_folder, with_marks
    from sheetplan.workbook.reading.job import rate_cells
    from sheetplan.workbook.reading.orders import read_quotes

    tables = host.read()
    table = tables.tables.get(QUOTES.name)
    if table is None:
        raise Refused(*NO_PAGE)
    with_parts = with_drawn(tables)
    found = check_tables(with_parts, host.path)
    problems = tuple(on_its_page(problem, table.page) for problem in found.problems)
    job = found.job
    if job is None or _stops(problems, job):
        return QuoteOutcome((), problems, (), host.path, stops=True)
    drawn = {drawn_part(row) for row in new_drawn(tables)}
    own = replace(job, parts={name: part for name, part in job.parts.items() if name not in drawn})
    if _asks_for(own, drawn):
        plain = check_tables(tables, host.path)  # as a plan reads them: such a row is not used, and named
        problems = tuple(dict.fromkeys((*problems, *plain.problems)))
        if plain.job is None or _stops(plain.problems, plain.job):
            return QuoteOutcome((), problems, (), host.path, stops=True)
        own = plain.job
    items = {normal(name): name for name in (*own.parts, *own.kits)}
    read = read_quotes(table, job.settings.units, items)
    lines = tuple(replace(one.value, item=drawn_name(one.value.name)) if one.value.drawing else one.value
                  for one in read.rows)  # fmt: skip
    usable = tuple(line for line in lines if line.item in job.parts or line.item in job.kits)
    places = {one.value.name: one.place for one in read.rows}
    told = [one for one in problems if not _is_no_orders(one, own)]
    settled = {row.number for row in table.rows if says_ordered(row)}
    told += [one for one in read.problems if one.row not in settled]
    told += assumed_units(with_parts, found.drawings, job, places)
    rates = rate_cells(with_parts, job.settings, found.drawings)
    bare = replace(found, problems=())
    of_plan = with_marks(with_folder(with_due(bare, today, tables), host.path), tables, host.path).problems
    # Where nothing is ordered yet, a quoted drawing's unit is told by the reading of Parts as well.
    return _Asked(tables, own, job, usable, places, tuple(dict.fromkeys(told)), rates, of_plan)


def _stops(problems: Sequence[Problem], job: Job) -> bool:
    """Whether something has to be put right before anything can be quoted."""
    return any(one.weight is Weight.STOPS and not _is_no_orders(one, job) for one in problems)


def _asks_for(job: Job, drawn: Collection[str]) -> bool:
    """Whether orders, or kits, name the part of a drawing that is only quoted so far."""
    named = [order.item for order in job.orders] + [part for kit in job.kits.values() for part in kit.parts]
    return any(name in drawn for name in named)


def _is_no_orders(problem: Problem, job: Job) -> bool:
    """Whether it says that there are no orders, which a quote does without."""
    return not job.orders and problem.page == ORDERS.name and problem.row is None


def _orders(asked: _Asked) -> tuple[_Asked, dict[str, int]]:
    """What is asked, with what is wrong with marks; and the quantities of quotes that become orders."""
    found, problems = marked(asked.lines, asked.places, asked.job)
    return replace(asked, problems=(*asked.problems, *problems), undone=problems), found


def _answers(
    host: Host, asked: _Asked, lines: Sequence[QuoteLine], today: datetime.date, seconds: float | None,
    stop: Stop,
) -> Iterator[Quoted]:  # fmt: skip
    """Each line answered for the month as it stands."""
    from sheetplan.app.making.earlier import still_on_order

    if not lines:
        return
    settings = asked.job.settings
    most = min(MONTH_SECONDS, seconds or settings.seconds)
    options = RunOptions(most, settings.seed, stop, host.progress)
    plan, mark, fits = _month_plan(host, asked, options)
    # The customer has to say yes first, so that nothing of it is cut on the day of the quote.
    first_day = next_cutting_day(today, settings.cutting_days)
    month = Month.of(plan, still_on_order(host.path, asked.tables), first_day)
    job = replace(plan.job, parts={**asked.parts_too.parts, **plan.job.parts})
    quiet = replace(options, report=lambda _: None)
    total, done = sum(len(line.quantities) for line in lines), 0
    share = min(1.0, FULL_WORK / total)
    also = nearly_free(plan, quiet) if fits is None else also_nearly_free(plan, quiet, fits.round_up)
    for line in lines:
        found: list[Answer] = []
        for quantity in line.quantities:
            if stop():
                return
            host.progress(Progress("", done / total, f"Pricing {line.name}: {quantity:,} of {line.item}"))
            found.append(answered(line, quantity, month, job, quiet, share))
            done += 1
        answers = [priced(line, one, month, quiet) for one in never_more_than_the_next(found, month)]
        yield Quoted(
            line, today.isoformat(), settings.currency, tuple(answers), mark,
            described=_described(asked.parts_too, line), free=also, holds_until=_holds_until(settings, today),
            unstated=_unstated(asked, line), counts_from=first_day.isoformat(),
        )  # fmt: skip


def _unstated(asked: _Asked, line: QuoteLine) -> tuple[Unstated, ...]:
    gauges = _gauges(asked.parts_too, line) if any(line.quantities) else []
    return asked.rates.unstated(gauges, line.mark_up) if gauges else ()


def _holds_until(settings: Settings, today: datetime.date) -> str:
    """The last day of today's prices; empty where Settings state no days."""
    days = settings.quote_days
    return "" if days is None else (today + datetime.timedelta(days)).isoformat()


def _month_plan(host: Host, asked: _Asked, options: RunOptions) -> tuple[Plan, str, Fits | None]:
    """The plan that the book shows, with its mark and what else fits there; else one made for the purpose,
    without them.

    Raises ``Refused`` where a layout is locked that the orders no longer allow.
    """
    from sheetplan.app.making.folders import output_folder
    from sheetplan.app.making.standing import shown_plan, standing
    from sheetplan.planning.continuing import continued
    from sheetplan.workbook.reading.pick_marks import planner_marks

    job = asked.job
    if not job.orders:
        return Plan(job, ()), "", None
    folder = output_folder(host.path, job.settings.output_folder)
    mark = asked.tables.plan
    if isinstance(folder, Path) and mark:
        shown = shown_plan(job, folder, mark)
        if shown is not None:
            return checked(shown[0]), mark, shown[1]
        marks, _ = planner_marks(asked.tables)
        stands = standing(job, replace(marks, picks=()), folder, mark)
        wrong = [one for one in stands.problems if one.weight is Weight.STOPS]
        if stands.plan is None and wrong:
            what = f"The month cannot be planned, so nothing was priced. {wrong[0].what}"
            raise Refused(what, wrong[0].remedy, tuple(wrong))
        plan = stands.plan or continued(job, stands.before, options, locked=stands.locked)
        return checked(plan), "", None
    from sheetplan.planning.order_book import plan_job

    return checked(plan_job(job, options)), "", None


def _described(job: Job, line: QuoteLine) -> str:
    """What the item is, for a customer: a part's own description, or the pieces of a kit."""
    if line.item in job.kits:
        parts = job.kits[line.item].parts
        each = ", ".join(f"{count:,} x {_part_said(job, part)}" for part, count in parts.items())
        metals = " and ".join(f"{material} {thickness.text}" for material, thickness in _gauges(job, line))
        return f"set of {counted(sum(parts.values()), 'piece')} of {metals}: {each}"
    part = job.parts[line.item]
    # A drawing is known to its customer by its size; what has no words of its own is as well.
    words = "" if line.drawing else part.description
    said = words or size_text(*size(part.outline), job.settings.units)
    return f"{said}, {part.material} {part.thickness.text}"


def _part_said(job: Job, name: str) -> str:
    said = job.parts[name].description
    return f"{said} ({name})" if said else name


def _write(
    host: ClosedBook | LiveHost, asked: _Asked, made: Sequence[ResultPage], orders: Mapping[str, int],
    today: datetime.date,
) -> Path:  # fmt: skip
    """The pages Quoted and Problems and, where quotes became orders, their rows, in one step."""
    from sheetplan.workbook.hosts.closed import ClosedBook

    settings = asked.job.settings
    pages = decimals_of(asked.job).pages(tuple(made))
    host.progress(Progress("", 1.0, f"Writing {host.path.name}"))
    if not orders:
        return host.write(pages, settings.units)
    if isinstance(host, ClosedBook):
        return host.write_rows(lambda edit: _write_orders(edit, asked, orders, today), pages, settings.units)
    edit = host.edit()
    _write_orders(edit, asked, orders, today)
    host.change(edit.done(), pages, settings.units, save=False)
    return host.path


def _write_orders(
    edit: BookEdit | LiveEdit, asked: _Asked, orders: Mapping[str, int], today: datetime.date
) -> None:
    """Rows of Orders, and of Parts for what is drawn; the mark in Quotes says the day."""
    lines = {line.name: line for line in asked.lines}
    parts: list[dict[str, Put]] = []
    rows: list[dict[str, Put]] = []
    for name, quantity in orders.items():
        line = lines[name]
        if line.drawing:
            parts.append({"Part": line.item, "Drawing": line.drawing,
                          "Material": line.material, "Thickness": line.thickness,
                          "Drawn in": line.drawn_in})  # fmt: skip
        due = datetime.date.fromisoformat(line.wanted) if line.wanted else None
        rows.append({"Order": name, "Item": line.item, "Quantity": quantity, "Due": due})
        cell = asked.places[name].addresses.get("Order it")
        if cell is not None:
            edit.set(asked.places[name].sheet, cell, f"{ORDERED} {quantity:,} on {today.isoformat()}")
    for page, some in ((PARTS, parts), (ORDERS, rows)):
        try:
            edit.add_rows(page.table, some, tuple(column.heading for column in page.columns))
        except ValueError as full:
            raise Refused(
                f"The table of the page {page.name} has no room for {len(some)} more rows; nothing was done.",
                "Make room below it: delete what stands there, or move it to another page.",
            ) from full
