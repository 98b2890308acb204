"""What the command line says: plain sentences, aligned tables, progress that suits where it is read."""

from __future__ import annotations

import json
import os
import sys
import textwrap
import time
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from math import fsum
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from sheetplan.money.cents import cent, printed

if TYPE_CHECKING:
    from rich.progress import Progress as Bars
    from rich.progress import TaskID

    from sheetplan.app.month import MonthOutcome
    from sheetplan.app.plan import PlanOutcome
    from sheetplan.app.quote import QuoteOutcome
    from sheetplan.app.rack.looking import RackLine, RackLook
    from sheetplan.model import FinishedPart, Problem, Weight
    from sheetplan.money.month import MonthLine
    from sheetplan.pages.book.problems import Told
    from sheetplan.planning.progress import Progress
    from sheetplan.trade.units import Units


def say(text: str = "") -> None:
    """Print one line, replacing what the terminal cannot show; a reader that has gone hears no more."""
    encoding = sys.stdout.encoding or "utf-8"
    try:
        print(text.encode(encoding, "replace").decode(encoding), flush=True)
    except BrokenPipeError:  # what was done is done, and its exit code says so
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_trouble(problem: Problem) -> None:
    """Say what is wrong with a whole file; there is no plan that it could stop or not."""
    say(f"{problem.where}: {problem.what}")
    say(f"    {problem.remedy}")


MOST_ALIKE = 8
"""Problems of one page with one remedy that are printed each; of more, the first few."""

FIRST_FEW = 3


def print_problems(problems: Iterable[Problem], *, each: bool = False) -> None:
    """List problems, each with where and what to do: in the order of the pages, notes last.

    What is wrong on an early page is often why a later one cannot be used, so causes come first, with what
    waits for them in one line. What is said of several cells alike is said once, and of many with one remedy
    the first few. With ``each``, every problem is listed by itself.
    """
    from sheetplan.model import Weight
    from sheetplan.pages.book.problems import Told, folded

    if each:
        for problem in sorted(problems, key=lambda p: p.weight is Weight.NOTE):
            _print_told(Told([problem], problem.what, problem.remedy))
        return
    told = folded(problems)
    alike = Counter(_kind(one) for one in told)
    printed: Counter[tuple[str, str, Weight]] = Counter()
    for one in told:
        kind = _kind(one)
        printed[kind] += 1
        more = alike[kind] - FIRST_FEW if alike[kind] > MOST_ALIKE else 0
        if more and printed[kind] > FIRST_FEW:
            continue
        _print_told(one)
        if more and printed[kind] == FIRST_FEW:
            say(f"{kind[0]}: and {more} more of this kind; `sheetplan check BOOK --all` lists them.")


def _kind(told: Told) -> tuple[str, str, Weight]:
    return told.problems[0].page, told.remedy, told.weight


def _print_told(told: Told) -> None:
    say(f"{told.places}: {told.what}")
    say(f"    {told.remedy}  [{told.weight}]")
    if told.waiting:
        say(f"    {told.waiting}.  [{told.waiting_weight}]")


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Problems as plain values for JSON."""
    return [
        {
            "page": p.page,
            "row": p.row,
            "cell": p.cell,
            "what": p.what,
            "remedy": p.remedy,
            "weight": p.weight.value,
        }
        for p in problems
    ]


def may_write_json(path: Path | None, keys: Collection[str]) -> None:
    """Refuse, before any work, a file that is not an earlier answer with these entries."""
    if path is not None:
        from sheetplan.workbook.package.saving import json_with, may_write

        may_write(path, json_with(keys))


def write_json(
    path: Path, record: Mapping[str, Any], keys: Collection[str], book: Path | None = None
) -> None:
    """Write a record as readable JSON, as private as the book; NaN and infinities are refused.

    A file that is not an earlier answer with these entries stays as it is.
    """
    from sheetplan.workbook.package.saving import as_private_as, json_with, put_output

    text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    with as_private_as(book or path):
        put_output(path, text.encode(), json_with(keys))


def print_plan(outcome: PlanOutcome, elapsed: float) -> None:
    """Print the plan by gauge, then where everything was written."""
    from sheetplan.money.buy_list import buy_list

    record = outcome.record
    if outcome.plan is None or record is None:
        return
    say()
    gauges, totals = record["groups"], record["totals"]
    costs = [*printed([one["cost"] for one in gauges], totals["cost"]), cent(totals["cost"])]
    bill = buy_list(outcome.plan)
    to_pay = [cent(fsum(line.printed_price for line in bill if line.gauge == one["gauge"])) for one in gauges]
    rows = [
        _gauge_row(figures, *amounts)
        for figures, *amounts in zip(
            (*gauges, totals), costs, (*to_pay, cent(totals["to_pay"])), strict=True
        )
    ]
    print_table(GAUGE_HEADS, rows, 1, PLAN_WIDTH)
    say()
    if outcome.plan.stopped_early:
        say("Stopped early: this is the best plan found until then.")
    layouts = sum(len(group["layouts"]) for group in record["groups"])
    said = f"{layouts:,} layout{'' if layouts == 1 else 's'}"
    say(f"Plan {outcome.mark}: {said}, planned and checked in {elapsed:.1f} s. Wrote:")
    say(f"  {outcome.book}")
    say(f"  {outcome.drawings}")


GAUGE_HEADS = (
    "Gauge", "On hand", "To buy", "Remnants", "Yield", "Metal and\ncutting", "To pay",
    "Against the\ncheapest",
)  # fmt: skip

PLAN_WIDTH = 100
"""Letters of a line that a usual terminal shows without a break."""

NARROWEST = 12


def _gauge_row(figures: Mapping[str, Any], cost: float, to_pay: float) -> tuple[str, ...]:
    """One line of the table by gauge; the totals have no gauge."""
    return (
        figures.get("gauge", "Total"),
        str(figures["sheets_from_rack"]),
        str(figures["sheets_to_buy"]),
        str(figures["remnants_used"]),
        "" if figures["yield"] is None else f"{figures['yield']:.1%}",
        f"{cost:,.2f}",
        f"{to_pay:,.2f}",
        figures["against_cheapest"],
    )


NOTHING_ASKED = "The page Quotes asks for nothing."

QUOTE_HEADS = (
    "Quote", "Item", "Quantity", "Price each", "Price", "Cost alone", "Adds this\nmonth", "Can be cut by",
)  # fmt: skip


def print_quotes(outcome: QuoteOutcome) -> None:
    """Print the prices of the page Quotes, what is to be said of them, and where they were written."""
    from sheetplan.pages.book.quoted import quote_notes, unstated_words

    said = outcome.said_as
    rows = [
        (
            one.line.name, one.line.item, said(f"{answer.quantity:,}"),
            *(said(_money(amount)) for amount in (
                answer.price_each, answer.price, *answer.printed_costs,
            )), answer.finish,
        )
        for one in outcome.quotes for answer in one.answers
    ]  # fmt: skip
    say()
    if rows:
        print_table(QUOTE_HEADS, rows, 2, PLAN_WIDTH)
    else:
        say("No row of the page Quotes could be priced." if outcome.left_out else NOTHING_ASKED)
    say()
    for sentence in (*unstated_words(outcome.quotes), *quote_notes(outcome.quotes), *outcome.said):
        say(said(sentence))
    say("Wrote:")
    for path in (outcome.book, *outcome.files):
        say(f"  {path}")


def _money(amount: float | None) -> str:
    return "" if amount is None else f"{amount:,.2f}"


MONTH_HEADS = (
    "Metal", "Used up", "By the cuts", "Not recorded", "Scrap weighed", "By the scales", "Waste by the cuts",
)  # fmt: skip


def print_month(outcome: MonthOutcome) -> None:
    """Print a month by metal, what does not agree, and where it was written."""
    from sheetplan.money.month import named_differences
    from sheetplan.pages.book.month import difference_text, learned_text

    metals = outcome.metals
    if metals is None:
        return
    say()
    say(f"{metals.month}, weights in {outcome.units.weight}")
    print_table(MONTH_HEADS, [_month_row(line, outcome.units) for line in (*metals.lines, metals.total)], 1)
    say()
    for line, found in named_differences(metals):
        say(difference_text(line, found, outcome.units))
    for one in outcome.taught[-1:]:
        say(learned_text(one, outcome.units))
    say("Wrote:")
    say(f"  {outcome.book}")
    if outcome.shown is not None:
        say(f"  {outcome.shown}")


def _month_row(line: MonthLine, units: Units) -> tuple[str, ...]:
    from sheetplan.pages.book.month import name_of

    def weight(kg: float) -> str:
        return f"{round(kg / units.weight_kg, 1) + 0.0:,.1f}"

    def share(value: float | None) -> str:
        return "" if value is None else f"{value:.1%}"

    return (
        name_of(line),
        weight(line.used_up),
        weight(line.split.used_up),
        weight(line.not_recorded) if line.counted else "not counted",
        weight(line.weighed),
        share(line.scale_waste_share),
        share(line.split.waste_share if line.split.used_up > 0 else None),
    )


def print_table(
    heads: tuple[str, ...], rows: Sequence[tuple[str, ...]], text_columns: int, most: int | None = None
) -> None:
    """Print rows under their heads; the first ``text_columns`` to the left, figures to the right.

    Cells of more lines than one, set apart by line ends, make a row taller. Where the table would be wider
    than ``most`` letters, its first column is broken at words.
    """
    widths = [max(_width(row[i]) for row in [heads, *rows]) for i in range(len(heads))]
    over = sum(widths) + 2 * (len(widths) - 1) - most if most is not None else 0
    if over > 0:
        widths[0] = max(NARROWEST, widths[0] - over)
        rows = [("\n".join(textwrap.wrap(row[0], widths[0])), *row[1:]) for row in rows]
    for row in [heads, *rows]:
        # Headings stand on what is under them.
        lines = [cell.split("\n") for cell in row]
        for number in range(tall := max(map(len, lines))):
            cells = (
                _line_of(cell, number, tall, at_foot=row is heads).ljust(width) if i < text_columns
                else _line_of(cell, number, tall, at_foot=row is heads).rjust(width)
                for i, (cell, width) in enumerate(zip(lines, widths, strict=True))
            )  # fmt: skip
            say("  ".join(cells).rstrip())


def _width(cell: str) -> int:
    return max(len(line) for line in cell.split("\n"))


def _line_of(lines: Sequence[str], number: int, tall: int, *, at_foot: bool) -> str:
    """A cell's line in its row; empty above or below its own."""
    place = number - (tall - len(lines)) if at_foot else number
    return lines[place] if 0 <= place < len(lines) else ""


RACK_HEADS = ("Tag", "Metal", "Size", "Place", "State", "Weight", "Value", "Cuts", "Left")


def print_rack(seen: RackLook) -> None:
    """Print every sheet with what one walks to the rack with, those that can be used first."""
    if not seen.lines:
        say("There is nothing in the rack.")
        return
    print_table(RACK_HEADS, [_rack_row(line, seen.units) for line in seen.lines], 5)
    if seen.without_record:
        say(f"Entered in the book, never cut by sheetplan: {', '.join(seen.without_record)}")


def _rack_row(line: RackLine, units: Units) -> tuple[str, ...]:
    from sheetplan.pages.wording import shape_text, weight_text

    record = line.record
    return (
        record.tag,
        f"{record.material} {record.thickness.text}".strip(),
        shape_text(record.edge, units, has_cuts=bool(record.cuts)),
        line.place,
        line.state,
        "" if line.weight is None else weight_text(line.weight, units),
        "" if line.value is None else f"{line.value:,.2f}",
        str(len(record.cuts)),
        f"{record.metal_left / record.metal_whole:.0%}",
    )


FINISHED_HEADS = ("Part", "Free", "From", "For orders", "Of orders gone")


def print_finished(parts: Sequence[FinishedPart]) -> None:
    """Print good pieces that no order holds, where they come from and who could use them."""
    if not parts:
        say("No finished part is free.")
        return

    def said(pieces: Mapping[str, int]) -> str:
        return ", ".join(f"{count} {name}" for name, count in pieces.items())

    rows: list[tuple[str, ...]] = [
        (one.part, str(one.pieces), said(one.free), said(one.offered), said(one.unsettled)) for one in parts
    ]
    print_table(FINISHED_HEADS, rows, 1)


COUNTING_SECONDS = 2.5
"""Between two lines that differ in their numbers alone: often enough to be a sign of life."""


class ProgressPrinter:
    """Shows progress as bars in a terminal, as plain lines elsewhere.

    Use it as a context; `show` is the ``report`` that use cases ask for.
    """

    def __init__(self) -> None:
        self._bars: Bars | None = None
        self._tasks: dict[str, TaskID] = {}
        self._said: dict[str, tuple[str, float]] = {}

    def __enter__(self) -> ProgressPrinter:
        if sys.stderr.isatty():
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

            self._bars = Progress(
                TextColumn("{task.fields[gauge]}"),
                BarColumn(bar_width=24),
                TextColumn("{task.description}"),
                TimeElapsedColumn(),
                console=Console(stderr=True),
                transient=True,
            )
            self._bars.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._bars is not None:
            self._bars.stop()

    def show(self, progress: Progress) -> None:
        """Take one piece of progress."""
        if self._bars is None:
            self._line(progress)
            return
        name = progress.group
        if name not in self._tasks:
            self._tasks[name] = self._bars.add_task("", total=1.0, gauge=name or "sheetplan")
        self._bars.update(self._tasks[name], completed=progress.done, description=_said(progress))

    def _line(self, progress: Progress) -> None:
        """Print a line only when the sentence changes, and one that only counts on now and then."""
        before, at = self._said.get(progress.group, ("", 0.0))
        counts_on = _without_numbers(before) == _without_numbers(progress.sentence)
        if before != progress.sentence and not (counts_on and time.monotonic() < at + COUNTING_SECONDS):
            self._said[progress.group] = progress.sentence, time.monotonic()
            head = f"{progress.group}: " if progress.group else ""
            print(f"{head}{_said(progress)}", file=sys.stderr, flush=True)


def _said(progress: Progress) -> str:
    """The sentence without the gauge in front, which stands beside it anyway."""
    return progress.sentence.removeprefix(f"{progress.group}: ")


def _without_numbers(sentence: str) -> str:
    return "".join(letter for letter in sentence if not letter.isdigit())
