"""Everything that a plan prints, by file name: tickets, picking list, labels, what to order."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass

from sheetplan.model import Plan
from sheetplan.money.cutting_plan import Timetable, days_of, order_days, timetable
from sheetplan.money.figures import PlanFigures
from sheetplan.pages.buy_csv import buy_csv
from sheetplan.planning.progress import Progress, Report, quiet

TICKETS = "tickets.pdf"
PICKING_LIST = "picking-list.pdf"
LABELS = "labels.pdf"
TO_ORDER = "to-order.pdf"
BUY_LIST = "buy-list.csv"


def shop_files(
    plan: Plan,
    figures: PlanFigures,
    *,
    today: datetime.date,
    mark: str = "",
    drawings: Mapping[str, str] | None = None,
    report: Report = quiet,
) -> dict[str, bytes]:
    """The files of a plan as bytes, on the paper that goes with the book's units.

    A plan without layouts has no tickets, lists and labels; one that buys nothing has nothing to order.
    """
    from sheetplan.pages.tickets import tickets_pdf

    files: dict[str, bytes] = {}
    found = days_of(plan, figures, today=today)
    days = timetable(plan, found)
    if has_layouts(plan):
        files[TICKETS] = tickets_pdf(
            plan, figures, today=today, mark=mark, drawings=drawings, days=days, report=report
        )
        report(Progress("", 1.0, LISTS_SAID))
    return files | list_files(plan, today, mark, Days(days, order_days(found)))


LISTS_SAID = "Writing the picking list and labels"


def has_layouts(plan: Plan) -> bool:
    """Whether there is anything to cut."""
    return any(group_plan.layouts for group_plan in plan.groups)


@dataclass(frozen=True, slots=True)
class Days:
    """When each layout is cut, in the order of cutting, and by when each size is to be ordered."""

    layouts: Timetable
    order_by: Mapping[str, datetime.date]


def list_files(plan: Plan, today: datetime.date, mark: str, days: Days) -> dict[str, bytes]:
    """All of them but the tickets."""
    from sheetplan.pages.order_list import order_list_pdf
    from sheetplan.pages.part_labels import labels_pdf
    from sheetplan.pages.picking_list import picking_list_pdf

    files: dict[str, bytes] = {}
    if has_layouts(plan):
        files[PICKING_LIST] = picking_list_pdf(plan, today=today, mark=mark, days=days.layouts)
        files[LABELS] = labels_pdf(plan)
    to_order = order_list_pdf(plan, today=today, mark=mark, by=days.order_by)
    if to_order is not None:
        files[TO_ORDER] = to_order
        files[BUY_LIST] = buy_csv(plan).encode("utf-8-sig")
    return files
