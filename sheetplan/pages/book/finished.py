"""The page `Finished parts`: good pieces that no order holds, who could use them, and what orders hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sheetplan.model import FinishedPart, Job
from sheetplan.pages.values import Cell, Column, Kind, ResultPage, ResultTable
from sheetplan.planning.grouping import gauge_names
from sheetplan.trade.sentences import counted

FINISHED = "Finished parts"

FREE = (
    Column("Part", width=14),
    Column("Gauge", width=22, wrap=True),
    Column("Free", Kind.COUNT, 8),
    Column("From", width=36, wrap=True),
    Column("For orders", width=24, wrap=True),
    Column("Of orders gone", Kind.COUNT, 9),
    Column("Their names", width=22, wrap=True),
    Column("Counted", Kind.COUNT, 9, asks=True),
)
HELD = (
    Column("Order", width=14),
    Column("Item", width=22, wrap=True),
    Column("State", width=11),
    Column("Part", width=14),
    Column("Cut good", Kind.COUNT, 9),
    Column("Move", Kind.COUNT, 8, asks=True),
    Column("To", width=14, asks=True),
)
FINISHED_NOTES = (
    "Good pieces that no order holds: spares, pieces of cancelled orders, more than an order now asks for. A "
    "plan does not make again what stands under For orders; recording it gives the pieces to those orders.",
    "Record it in the open book (see Start), or close it and run `sheetplan parts BOOK --take`. A count of "
    "the shelf goes into Counted, pieces for another order into Move and To ('free' and 'scrap' do as well).",
)
GONE_SAID = (
    "Of orders gone: cut for orders that the page Orders no longer has. They are offered to nobody until it "
    "is said what became of them: put the row back with a state (done, cancelled), or write a count into "
    "Counted."
)


def finished_page(job: Job) -> ResultPage:
    """The page of a job that knows its steps."""
    gauges = gauge_names(job)
    free = tuple(_free_row(one, gauges) for one in job.finished)
    pieces = sum(one.pieces for one in job.finished)
    said = f"{counted(pieces, 'piece')} free." if job.finished else "No pieces are free."
    gone = any(one.unsettled for one in job.finished)
    tables = (
        ResultTable("FinishedParts", FREE, free, "Free"),
        ResultTable("PartsCutFor", HELD, tuple(_held_rows(job)), "Cut for orders"),
    )
    return ResultPage(
        FINISHED, "Finished parts", (said, *FINISHED_NOTES), tables, notes=(GONE_SAID,) if gone else ()
    )


def is_needed(job: Job) -> bool:
    """Whether there is anything to show."""
    return bool(job.finished) or any(one.cut for one in job.progress)


def _free_row(one: FinishedPart, gauges: Mapping[str, str]) -> tuple[Cell, ...]:
    return (
        one.part, gauges.get(one.part), one.pieces or None, _said(one.free), _said(one.offered),
        sum(one.unsettled.values()) or None, ", ".join(one.unsettled) or None, None,
    )  # fmt: skip


def _said(pieces: Mapping[str, int]) -> str | None:
    return "\n".join(f"{count:,} {name}" for name, count in pieces.items()) or None


def _held_rows(job: Job) -> Iterator[tuple[Cell, ...]]:
    for one in job.progress:
        for part, count in one.cut.items():
            yield one.order.name, one.order.item, str(one.order.state), part, count, None, None
