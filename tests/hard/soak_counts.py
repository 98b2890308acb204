"""Counting anew what plans, drawings, pages, cuts and orders say, each from its own source."""

from __future__ import annotations

import io
import warnings
from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import openpyxl

from sheetplan.app.plan import PlanOutcome
from sheetplan.checking import check_plan
from sheetplan.model import Job, Layout, Plan
from sheetplan.rack.step import Step

OUTLINES = "PART_OUTLINES"
SHAPES = ("CIRCLE", "LWPOLYLINE", "POLYLINE")


def plan_faults(outcome: PlanOutcome) -> list[str]:
    """What does not add up in a plan, counted anew from layouts, orders, drawings, record and page."""
    plan = outcome.plan
    assert plan is not None
    faults = [str(fault) for fault in check_plan(plan)]
    made, short = made_by(plan), Counter[str]()
    for group in plan.groups:
        short.update(group.short)
    for part, count in asked(plan.job, must=True).items():
        if made[part] + short[part] < count:
            faults.append(
                f"{count} of {part} must be made, {made[part]} are, {short[part]} are said to be short"
            )
    wanted = asked(plan.job, must=False)
    for part, count in made.items():
        if count > wanted[part] + plan.job.parts[part].spare:
            faults.append(f"{count} of {part} are made, {wanted[part]} are asked for")
    record: Any = outcome.record
    if record["totals"]["pieces"] != sum(made.values()):
        faults.append(f"the record says {record['totals']['pieces']} pieces, the layouts {made.total()}")
    return faults + drawing_faults(outcome) + page_faults(outcome, made)


def made_by(plan: Plan) -> Counter[str]:
    """Pieces by part that the layouts make."""
    made: Counter[str] = Counter()
    for group in plan.groups:
        for layout in group.layouts:
            for placement in layout.placements:
                made[placement.part] += layout.repeats
    return made


def asked(job: Job, *, must: bool) -> Counter[str]:
    """Pieces by part that the orders ask for; with ``must``, only those that have to be made."""
    found: Counter[str] = Counter()
    for order in job.orders:
        kit = job.kits.get(order.item)
        for part, count in (kit.parts if kit else {order.item: 1}).items():
            found[part] += count * order.quantity * (order.must or not must)
    return found


def drawing_faults(outcome: PlanOutcome) -> list[str]:
    """Drawings with another number of outlines than their layouts have pieces."""
    assert outcome.plan is not None
    assert outcome.drawings is not None
    faults = []
    for group in outcome.plan.groups:
        for layout in group.layouts:
            (path,) = outcome.drawings.glob(f"*-{layout.tag}_*.dxf")
            drawn = outlines_in(path.read_text(encoding="latin-1"))
            if drawn != len(layout.placements):
                faults.append(f"{path.name} draws {drawn} outlines for {len(layout.placements)} pieces")
    return faults


def outlines_in(text: str) -> int:
    """Shapes on the layer of outlines, by reading pairs of lines: no library of drawings is asked."""
    lines = text.replace("\r\n", "\n").split("\n")
    count, kind = 0, ""
    for code, value in zip(lines[::2], lines[1::2], strict=False):
        if code.strip() == "0":
            kind = value
        elif code.strip() == "8" and value == OUTLINES and kind in SHAPES:
            count, kind = count + 1, ""
    return count


def page_faults(outcome: PlanOutcome, made: Mapping[str, int]) -> list[str]:
    """Where the page Made says another number of pieces than the layouts make."""
    rows = table_of(outcome.book, "Made", "Cost of all")
    said = Counter[str]()
    for row in rows:
        said[str(row["Part"])] += row["Pieces"]
    # A name may be written into a cell in another spelling than it was read, so sums are compared.
    if sum(said.values()) != sum(made.values()):
        return [f"the page Made says {said.total()} pieces, the layouts {sum(made.values())}"]
    return []


def table_of(book: Path, page: str, heading: str) -> list[dict[str, Any]]:
    """Rows below the first line of a page that has the heading, up to an empty one."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sheet = openpyxl.load_workbook(io.BytesIO(book.read_bytes()), read_only=True, data_only=True)[page]
        rows: list[dict[str, Any]] = []
        heads: tuple[Any, ...] = ()
        for values in sheet.iter_rows(values_only=True):
            if not heads:
                heads = values if heading in values else ()
            elif values[0] is None:
                break
            else:
                rows.append(dict(zip(heads, values, strict=False)))
    return rows


def stock_on_hand(book: Path) -> dict[str, int]:
    """Sheets on hand by name, as the page Stock says."""
    return {str(row["Sheet"]): int(row["On hand"] or 0) for row in table_of(book, "Stock", "On hand")}


def tags_of(book: Path) -> set[str]:
    """Tags on the page Remnants of sheets that are in the rack."""
    rows = table_of(book, "Remnants", "Tag")
    return {str(row["Tag"]) for row in rows if row.get("State") != "used up"}


def mark_cut(book: Path, tag: str, times: int) -> None:
    """Type a number into the column Cut now, as a planner does, and save with a general library."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        package = openpyxl.load_workbook(book)
        sheet = package["Layouts"]
        head = next(row for row in sheet.iter_rows() if any(cell.value == "Cut now" for cell in row))
        column = next(cell.column for cell in head if cell.value == "Cut now")
        row = next(cells[0].row for cells in sheet.iter_rows(min_row=head[0].row) if cells[0].value == tag)
        sheet.cell(row, column, times)
        package.save(book)


def step_faults(
    step: Step, layout: Layout, stock: Mapping[str, int], tags: set[str], book: Path
) -> list[str]:
    """What a recorded cut did not do as it says: pieces, stock, remnants."""
    faults = []
    on_it = Counter(placement.part for placement in layout.placements)
    for part, count in on_it.items():
        good = step.pieces.get(part, 0) + step.bad.get(part, 0)
        if good != count * step.times:
            faults.append(f"step {step.number} counts {good} of {part}, {count * step.times} were cut")
    now = stock_on_hand(book)
    for name, before in stock.items():
        used = step.times if name == step.sheet else 0
        if now[name] != max(0, before - used):
            faults.append(f"{name}: {before} on hand, {used} cut, and {now[name]} are left")
    left = tags_of(book)
    gone = {step.on} - set(step.left) if step.on else set()
    if left != (tags - gone) | set(step.left):
        faults.append(f"step {step.number}: rack of {sorted(tags)} became {sorted(left)}")
    return faults


def count_faults(first: Job, again: Job, steps: Iterable[Step]) -> list[str]:
    """Where the orders after cuts are not those before less the good pieces, must orders served first."""
    good: Counter[str] = Counter()
    for step in steps:
        good.update(step.pieces)
    faults = []
    for must in (True, False):
        was, now = asked(first, must=must), asked(again, must=must)
        for part, count in was.items():
            if now[part] != max(0, count - good[part]):
                what = "must be made" if must else "are wanted"
                faults.append(f"{part}: {count} {what}, {good[part]} were cut, {now[part]} are left")
    return faults
