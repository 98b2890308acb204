"""The page `Made`: what each order line asked for and gets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sheetplan.model import Job, Plan
from sheetplan.money.allocation import Allocation, LineResult, allocate
from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import counted

LINES = (
    Column("Order", width=14),
    Column("Item", width=26),
    Column("Due", width=12),
    Column("Must", width=10),
    Column("Asked", Kind.COUNT, 9),
    Column("Made", Kind.COUNT, 9),
    Column("Short", Kind.COUNT, 9),
    Column("Note", width=54, wrap=True),
)
SPARES = (Column("Part", width=14), Column("Spare pieces", Kind.COUNT, 26))

MUST = "must"
IF_IT_FITS = "if it fits"

PARTS_NAMED = 6
"""Missing parts that a note names before it only counts the rest."""


def made_page(plan: Plan | None) -> ResultPage:
    """What is made of every order line; without a plan, the same tables empty."""
    if plan is None:
        return _page((), (), ())
    shared = allocate(plan)
    gauges = {need.part: gp.group.label for gp in plan.groups for need in gp.group.needs}
    rows = tuple(_row(plan.job, line, gauges) for line in shared.lines)
    spare = tuple((part, pieces) for part, pieces in sorted(shared.spare.items()))
    return _page(tuple(_lines(plan.job, shared)), rows, spare)


def _page(
    lines: tuple[str, ...], rows: tuple[tuple[Cell, ...], ...], spare: tuple[tuple[Cell, ...], ...]
) -> ResultPage:
    tables = [ResultTable("MadeList", LINES, rows, "By order line. A kit counts when all its parts are made")]
    if spare or not rows:
        tables.append(ResultTable("SpareList", SPARES, spare, "Made beyond what the orders ask for"))
    return ResultPage("Made", "What is made", lines, tuple(tables))


def _lines(job: Job, shared: Allocation) -> Iterator[str]:
    """One sentence on the musts, one on the rest."""
    for must, name in ((True, "Must be made"), (False, "Made if it fits")):
        results = [line for line in shared.lines if job.orders[line.order].must is must]
        if not results:
            continue
        whole = sum(line.short == 0 for line in results)
        text = f"{name}: {whole:,} of {counted(len(results), 'line')} complete"
        yield text + ("." if whole == len(results) else "; the others are short, see the column Short.")


def _row(job: Job, line: LineResult, gauges: Mapping[str, str]) -> tuple[Cell, ...]:
    order = job.orders[line.order]
    return (
        order.name,
        order.item,
        order.due or None,
        MUST if order.must else IF_IT_FITS,
        line.asked,
        line.made,
        line.short or None,
        _note(line, gauges) or None,
    )


def _note(line: LineResult, gauges: Mapping[str, str]) -> str:
    """Which parts a short line waits for, with their gauge, since a kit may span several."""
    if not line.missing:
        return ""
    named = [
        f"{pieces} x {part} ({gauges[part]})" if part in gauges else f"{pieces} x {part}"
        for part, pieces in line.missing[:PARTS_NAMED]
    ]
    more = len(line.missing) - PARTS_NAMED
    if more > 0:
        named.append(counted(more, "more part"))
    return "Wants " + ", ".join(named)
