"""The tickets of a whole run as one PDF: a cover by gauge, small pictures, then a ticket a layout."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from reportlab.graphics.barcode.qr import QrCodeWidget
from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.model import GroupPlan, Job, Plan, Remnant, SheetSize
from sheetplan.money.cutting_order import Turn, in_order
from sheetplan.money.cutting_plan import Timetable
from sheetplan.money.figures import Figures, PlanFigures
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.files import plan_colours
from sheetplan.pages.drawing.layout_drawing import LayoutDrawings
from sheetplan.pages.drawing.lettering import Heads, Holds, text_width
from sheetplan.pages.drawing.marks import Area, Drawing, box
from sheetplan.pages.paper.paper import (
    BODY,
    FOOT,
    HUGE,
    LARGE,
    MARGIN,
    RULE,
    SMALL,
    TICK,
    DrawingBox,
    Paper,
    Section,
    build_pdf,
    heading,
    list_table,
    paper_for,
    text,
    tight,
)
from sheetplan.pages.ticket_facts import Issue, TicketFacts, TicketPart, ticket_facts
from sheetplan.pages.wording import (
    bare_size,
    bare_weight,
    date_text,
    day_text,
    decimals_of,
    minutes_text,
    moves_said,
    sheet_size,
)
from sheetplan.planning.progress import Progress, Report, quiet
from sheetplan.trade.sentences import counted
from sheetplan.trade.starter import DEFERENCE, GENERAL, gist, particular
from sheetplan.trade.units import Units

# The square code on a ticket, for a hand-held reader.
#
# QR code as in ISO/IEC 18004, error correction M: 15 per cent of it may be dirty.

QUIET_MODULES = 4
"""Free rim in modules that ISO/IEC 18004 asks for."""

DARK = "#000000"


def code_drawing(said: str, size: float) -> Drawing:
    """A code as a drawing, ``size`` points square with its free rim."""
    qr = QrCodeWidget(said, barLevel="M").qr
    qr.make()
    count = qr.getModuleCount()
    module = size / (count + 2 * QUIET_MODULES)
    bars = []
    for row in range(count):
        top = size - (row + QUIET_MODULES) * module
        for start, end in _runs([bool(qr.isDark(row, column)) for column in range(count)]):
            left, right = ((edge + QUIET_MODULES) * module for edge in (start, end))
            bars.append(Area((box(left, top - module, right, top),), DARK))
    return Drawing(size, size, tuple(bars), f"Code: {said}")


def _runs(dark: list[bool]) -> list[tuple[int, int]]:
    """Start and end of each stretch of dark modules in a row."""
    found = []
    start: int | None = None
    for place, is_dark in enumerate([*dark, False]):
        if is_dark and start is None:
            start = place
        elif not is_dark and start is not None:
            found.append((start, place))
            start = None
    return found


# One cut ticket as a section of printed pages: for the sleeve at the table.

CODE_SIZE = 76.0
"""Points: modules of 0.9 mm, read from an arm's length."""

_BLANK = "_" * 10
MEASURED = (
    f"The table finds   the corner at x {_BLANK} y {_BLANK}   the second point at x {_BLANK} y {_BLANK}"
)
"""Where the two points that were touched are written down, for whoever turns the drawing."""

LEAST_PICTURE, USUAL_PICTURE, MOST_PICTURE = 200.0, 292.0, 360.0
"""Points. With less room than the least, the list of parts runs over and the picture is as usual."""

PICTURE_AIR = 14.0
"""Points above and under the picture, and what setting rounds."""

MOST_TICKS = 20
"""Repeats that get a box each; more are counted by hand in the space given."""

MOST_ORDERS = 6
"""Orders that are named behind the first due ones; more are counted."""

NUMBERED = (
    "Pieces of a part are numbered from the datum corner along the length, level ones across, by their "
    "nearest edges: PART#1-3 is the first three."
)
"""How `app.rack.cut_asked` counts them where a cut is recorded of some pieces only."""


def part_heads(units: Units) -> Heads:
    """The columns of the list of parts."""
    return (
        ("Key", Holds.WHOLE), ("Part", Holds.TEXT), ("Description", Holds.TEXT),
        (f"Size {units.value}", Holds.WHOLE), ("Per sheet", Holds.NUMBER), ("In all", Holds.NUMBER),
        (f"Each {units.weight}", Holds.NUMBER), ("For", Holds.TEXT), ("Taken off", Holds.WHOLE),
    )  # fmt: skip


def ticket_section(
    facts: TicketFacts, drawings: LayoutDrawings, paper: Paper, plan_line: str
) -> Section:
    """The pages of one layout; ``plan_line`` names the plan and its date."""
    return Section(facts.code, partial(_ticket, facts, drawings, paper, plan_line))


def _ticket(facts: TicketFacts, drawings: LayoutDrawings, paper: Paper, plan_line: str) -> list[Any]:
    job, width = drawings.job, paper.width - 2 * MARGIN
    above, checks = _above(facts, plan_line, width), _checks(facts, width)
    height = _picture_height([*above, *_below(facts, job, {}, checks, width)], paper)
    drawn = drawings.of(facts.layout, width, height, facts.kept)
    picture = [Spacer(0, 6), DrawingBox(drawn.drawing, middle=True), Spacer(0, 4)]
    return [*above, *picture, *_below(facts, job, drawn.keys, checks, width)]


def _picture_height(rest: list[Any], paper: Paper) -> float:
    """What the rest leaves of one page, so that a ticket is one page wherever that can be."""
    width = paper.width - 2 * MARGIN
    taken = PICTURE_AIR + sum(float(flowable.wrap(width, paper.height)[1]) for flowable in rest)
    room = paper.height - 2 * MARGIN - FOOT - taken
    if room < LEAST_PICTURE:
        return USUAL_PICTURE
    return min(room, MOST_PICTURE)


def _above(facts: TicketFacts, plan_line: str, width: float) -> list[Any]:
    content = [_head(facts, plan_line, width), Spacer(0, 4)]
    content.append(_work(facts, width))
    if facts.drawing:
        content += [Spacer(0, 2), text(f"Drawing {facts.drawing}", BODY, bold=True, narrow=True)]
    content += [Spacer(0, 5), _boxed(_cautions(facts), width)]
    if facts.squaring:
        steps = [text(f"{number}. {step}", BODY) for number, step in enumerate(facts.squaring, start=1)]
        content += [Spacer(0, 5), text("Squaring this remnant", BODY, bold=True), *steps]
        content += [Spacer(0, 3), text(MEASURED, BODY)]
    return content


def _below(
    facts: TicketFacts, job: Job, keys: Mapping[str, str], checks: Any, width: float
) -> list[Any]:
    content = [checks, Spacer(0, 8), _parts(facts, job, keys, width)]
    if any(part.on_sheet > 1 for part in facts.parts):
        content += [Spacer(0, 3), text(NUMBERED, SMALL, narrow=True)]
    return content


def _cautions(facts: TicketFacts) -> list[Any]:
    """What is peculiar to the metal in short, what holds for all by name: both stand in full on the cover."""
    named = ", ".join(caution.partition(":")[0].lower() for caution in GENERAL)
    return [
        *(text(gist(caution), BODY, narrow=True) for caution in facts.cautions),
        text(f"Cautions (full text on the cover): {named}. {DECIDED}", SMALL, narrow=True),
    ]


DECIDED = "Local codes decide."


def _head(facts: TicketFacts, plan_line: str, width: float) -> Any:
    """Tag, what to take and how often, and the code."""
    tag_width = max(80.0, text_width(facts.layout.tag, HUGE, bold=True) + 12.0)
    across = width - tag_width - CODE_SIZE - 8.0
    long = text_width(f"{facts.sheet}   ({facts.sheet_name})", LARGE) > across
    middle = [
        text(facts.gauge, LARGE + 2, bold=True),
        text(f"{facts.sheet}   ({facts.sheet_name})", LARGE, narrow=long),
        text(f"{facts.source}; {facts.weight} each", BODY),
        Spacer(0, 3),
        *_times(facts, across),
    ]
    code = [DrawingBox(code_drawing(facts.code, CODE_SIZE)), text(facts.code, SMALL, middle=True)]
    left = [text(facts.layout.tag, HUGE, bold=True), Spacer(0, 10), text(plan_line, SMALL)]
    table = Table([[left, middle, code]], [tag_width, width - tag_width - CODE_SIZE, CODE_SIZE])
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 1.0, palette.INK), *tight(0, 3),
    ]))  # fmt: skip
    return table


def _times(facts: TicketFacts, width: float) -> list[Any]:
    """How often to cut, with a box for each time, and beside it for which orders, the first due large."""
    repeats = facts.layout.repeats
    times = f"Cut {repeats:,} {'time' if repeats == 1 else 'times'}"
    ticks = f"{TICK} " * repeats if repeats <= MOST_TICKS else "Done so far: ____________________"
    first, then = _due(facts)
    size, air = LARGE + 2, 18.0
    beside = f"{times}  {ticks.strip()}"
    if text_width(beside, size, bold=True) + air + text_width(first, size, bold=True, narrow=True) < width:
        times, ticks = beside, ""
    aside = text_width(times, size, bold=True) + air
    cells = [text(times, size, bold=True), heading(first, width - aside, size)]
    row = Table([cells], [aside, width - aside])
    row.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), *tight(0, 0)]))
    below = [text(f"To be cut {facts.day}", LARGE, bold=True)] if facts.day else []
    below += [text(then, BODY, narrow=True)] if then else []
    return [row, *([text(ticks, LARGE)] if ticks else []), *below]


def _due(facts: TicketFacts) -> tuple[str, str]:
    """The orders that are due first, and those after them."""
    if not facts.orders:
        return "For no order", ""
    first_date = facts.orders[0][1]
    first = [name for name, date in facts.orders if date == first_date]
    rest = [f"{name} {date or 'no date'}" for name, date in facts.orders[len(first) :]]
    more = f" and {len(rest) - MOST_ORDERS} more" if len(rest) > MOST_ORDERS else ""
    said = ", ".join(first[:MOST_ORDERS])
    said += f" and {len(first) - MOST_ORDERS} more" if len(first) > MOST_ORDERS else ""
    due = f"First due {first_date}: {said}" if first_date else f"No date: {said}"
    return due, f"Then {', '.join(rest[:MOST_ORDERS])}{more}" if rest else ""


def _work(facts: TicketFacts, width: float) -> Any:
    """Words over their values, side by side."""
    pairs = facts.work
    wide = [max(text_width(word, SMALL), text_width(value, BODY, bold=True)) + 8.0 for word, value in pairs]
    narrow = sum(wide) > width
    scale = width / sum(wide)
    table = Table(
        [
            [text(word, SMALL, narrow=narrow) for word, _ in pairs],
            [text(value, BODY, bold=True, narrow=narrow) for _, value in pairs],
        ],
        [share * scale for share in wide],
    )
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEAFTER", (0, 0), (-2, -1), 0.4, RULE), *tight(3, 1),
    ]))  # fmt: skip
    return table


def _boxed(lines: list[Any], width: float) -> Any:
    table = Table([[lines]], [width])
    table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 1.2, palette.INK), *tight(5, 4)]))
    return table


def _checks(facts: TicketFacts, width: float) -> Any:
    """Boxes to tick, what to write on the remnant, and who cut it."""
    size = BODY + 0.5
    ticks = [text(f"{TICK} {check}", size, bold=True) for check in facts.checks]
    shares = [text_width(check, size, bold=True) + 30.0 for check in facts.checks]
    row = Table([ticks], [share * (width - 12.0) / sum(shares) for share in shares])
    row.setStyle(TableStyle(tight(0, 0)))
    lines = [row]
    blank = "_" * 12
    for kept in facts.kept_texts:
        said = f"Back to the rack, {kept}:   tag {blank}   place {blank}"
        lines += [Spacer(0, 5), text(said, size, narrow=True)]
    blank = "_" * 18
    lines += [Spacer(0, 5), text(f"Heat number {blank}   cut by {blank}   date {blank}", size)]
    return _boxed(lines, width)


def _parts(facts: TicketFacts, job: Job, keys: Mapping[str, str], width: float) -> Any:
    """The list of parts; its head is repeated on every page that it runs over."""
    rows = [_part_cells(part, job, keys) for part in facts.parts]
    pieces = sum(part.on_sheet for part in facts.parts)
    in_all = pieces * facts.layout.repeats
    kinds = counted(len(facts.parts), "part", "different parts")
    rows.append(("", kinds, "", "", f"{pieces:,}", f"{in_all:,}", "", "", ""))
    return list_table(part_heads(job.settings.units), rows, width, closing=True)


def _part_cells(part: TicketPart, job: Job, keys: Mapping[str, str]) -> tuple[str, ...]:
    return (
        keys.get(part.part, ""), part.part, part.description, part.size, f"{part.on_sheet:,}",
        f"{part.in_all:,}", bare_weight(part.weight, job.settings.units), part.wanted_for, TICK,
    )  # fmt: skip


# The cover of a run of tickets: gauges, layouts to tick off, and a small picture of each.

ACROSS = 3
"""Small pictures side by side."""

PICTURE_HEIGHT = 130.0


def gauge_heads(units: Units) -> Heads:
    """The columns of the list of gauges."""
    return (
        ("Gauge", Holds.TEXT), (f"Sheets {units.value}", Holds.TEXT), ("On hand", Holds.NUMBER),
        ("To buy", Holds.NUMBER), (f"Weight {units.weight}", Holds.NUMBER), ("Pieces", Holds.NUMBER),
        ("Time", Holds.NUMBER),
    )  # fmt: skip


def layout_heads(units: Units) -> Heads:
    """The columns of the list of layouts."""
    return (
        ("Cut", Holds.WHOLE), ("Layout", Holds.WHOLE), ("Day", Holds.WHOLE), ("First due", Holds.WHOLE),
        ("Late", Holds.NUMBER), ("Metal", Holds.TEXT),
        ("Gauge", Holds.TEXT), (f"Sheet {units.value}", Holds.WHOLE), ("Times", Holds.NUMBER),
        ("Pieces", Holds.NUMBER), ("Time", Holds.NUMBER),
    )  # fmt: skip


ORDER_SAID = (
    "By the day on which each is to be cut, as the page Cutting order has it; late in days. Pieces and time "
    "are of one sheet."
)


def cover_section(issue: Issue, pictures: LayoutDrawings, paper: Paper, plan_line: str) -> Section:
    """What the run is, gauge by gauge, and all its layouts."""
    return Section("cover", lambda: _covered(issue, pictures, paper, plan_line))


def _covered(issue: Issue, pictures: LayoutDrawings, paper: Paper, plan_line: str) -> list[Any]:
    plan, figures, days = issue.plan, issue.figures, issue.days
    width, units = paper.width - 2 * MARGIN, plan.job.settings.units
    layouts = sum(len(group_plan.layouts) for group_plan in plan.groups)
    total = figures.total
    metal = counted(total.sheets_used, "sheet")
    if total.remnants_used:
        metal += f" and {counted(total.remnants_used, 'remnant')}"
    content = [
        text("Cutting run", HUGE, bold=True),
        Spacer(0, 6),
        text(plan_line, LARGE),
        text(f"{counted(total.pieces, 'piece')} from {metal} in {counted(layouts, 'layout')}", LARGE),
        Spacer(0, 10),
        list_table(gauge_heads(units), list(_gauge_rows(plan, figures)), width, closing=True),
        Spacer(0, 12),
        text("Layouts in the order of cutting", LARGE, bold=True),
        text(f"{ORDER_SAID} {moves_said(plan)}".strip(), SMALL, narrow=True),
        Spacer(0, 3),
        list_table(layout_heads(units), list(_layout_rows(plan, figures, days)), width),
        Spacer(0, 10),
        KeepTogether([text("Cautions", BODY, bold=True), *(text(line, SMALL) for line in _peculiar(plan))]),
        Spacer(0, 14),
    ]
    return content + _overview(plan, figures, pictures, width, days)


def _gauge_rows(plan: Plan, figures: PlanFigures) -> Iterator[tuple[str, ...]]:
    units = plan.job.settings.units

    def measures(found: Figures) -> tuple[str, ...]:
        return (
            f"{found.sheets_from_rack:,}", f"{found.sheets_to_buy:,}", bare_weight(found.sheet_weight, units),
            f"{found.pieces:,}", minutes_text(found.table_hours),
        )  # fmt: skip

    for group_plan, group in zip(plan.groups, figures.groups, strict=True):
        yield (group_plan.group.label, _sheets(group_plan, units), *measures(group))
    yield ("Total", "", *measures(figures.total))


def _layout_rows(plan: Plan, figures: PlanFigures, days: Timetable) -> Iterator[tuple[str, ...]]:
    for turn, of_sheet in _turns(plan, figures, days):
        layout, day = turn.layout, days[turn.layout.tag]
        yield (
            TICK, layout.tag, day_text(day.first) if day else "", turn.due,
            f"{day.late:,}" if day and day.late else "", metal_text(turn), turn.group_plan.group.label,
            _sheet(layout.sheet, plan.job.settings.units), f"{layout.repeats:,}",
            f"{len(layout.placements):,}", minutes_text(of_sheet.table_hours),
        )  # fmt: skip


def _sheets(group_plan: GroupPlan, units: Units) -> str:
    """Sheets of a gauge by size, then its remnants."""
    lines = [
        f"{count.used:,} of {bare_size(count.sheet.length, count.sheet.width, units)}"
        for count in group_plan.sheets
    ]
    return ", ".join([*lines, *(
        _sheet(layout.sheet, units)
        for layout in group_plan.layouts if isinstance(layout.sheet, Remnant)
    )])  # fmt: skip


def _sheet(sheet: SheetSize | Remnant, units: Units) -> str:
    size = bare_size(*sheet_size(sheet), units)
    return f"{sheet.tag}: {size}" if isinstance(sheet, Remnant) else size


def metal_text(turn: Turn) -> str:
    """Whether the metal of a layout is there: ``on hand``, ``1 of 3 on hand`` or ``to buy``."""
    if turn.on_hand == turn.layout.repeats:
        return "on hand"
    return f"{turn.on_hand} of {turn.layout.repeats} on hand" if turn.on_hand else "to buy"


def _turns(
    plan: Plan, figures: PlanFigures, days: Timetable
) -> Iterator[tuple[Turn, LayoutFigures]]:
    """Layouts in the order of cutting with the figures of one sheet."""
    sheets = {tag: of_sheet for group in figures.groups for tag, of_sheet in group.layouts.items()}
    for turn in in_order(plan, days):
        yield turn, sheets[turn.layout.tag]


def _peculiar(plan: Plan) -> Iterator[str]:
    for material in dict.fromkeys(group_plan.group.material for group_plan in plan.groups):
        for caution in particular(material.gauge_series):
            yield f"{material.name}: {caution}"
    yield from GENERAL
    yield DEFERENCE


def _overview(
    plan: Plan, figures: PlanFigures, pictures: LayoutDrawings, width: float, days: Timetable
) -> list[Any]:
    """Small pictures in the order of cutting, so that a sheet on the table is found at a glance."""
    each = width / ACROSS
    cells = []
    for turn, of_sheet in _turns(plan, figures, days):
        layout = turn.layout
        small = pictures.small(layout, each - 8.0, PICTURE_HEIGHT, of_sheet.kept)
        words = text(f"{layout.tag}, {counted(layout.repeats, 'time')}", BODY, bold=True)
        cells.append([words, text(turn.group_plan.group.label, SMALL), DrawingBox(small)])
    rows = [_row(cells[start : start + ACROSS], each) for start in range(0, len(cells), ACROSS)]
    heading = [text("All layouts at a glance", LARGE, bold=True), Spacer(0, 4)]
    return [KeepTogether([*heading, *rows[:1]]), *rows[1:]]


def _row(cells: list[list[Any]], each: float) -> Any:
    table = Table([cells + [""] * (ACROSS - len(cells))], [each] * ACROSS)
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 8),
    ]))  # fmt: skip
    return table


# The tickets of a whole run as one PDF: a cover by gauge, small pictures, then a ticket a layout.

TOLD_EVERY = 10
"""Tickets between two signs of life: less than a second."""


def tickets_pdf(issue: Issue, report: Report = quiet) -> bytes:
    """The tickets of a plan with at least one layout as a PDF, in the order of cutting.

    ``report`` hears of every tenth ticket.
    """
    plan, mark = issue.plan, issue.mark
    paper = paper_for(plan.job.settings.units)
    pictures = LayoutDrawings(plan.job, plan_colours(plan))
    dated = [*([f"plan {mark}"] if mark else []), date_text(issue.day)]
    plan_line, foot = "\n".join(dated), ", ".join(dated)
    wanted = ticket_facts(issue)

    def told(number: int) -> None:
        if number % TOLD_EVERY == 0:
            report(Progress("", 1.0, f"Making up tickets, {number} of {len(wanted)}"))

    sections = [cover_section(issue, pictures, paper, foot)]
    sections += [ticket_section(facts, pictures, paper, plan_line) for facts in wanted]
    return build_pdf(
        sections, paper, f"Cut tickets {mark}".strip(), foot, told, said=decimals_of(plan.job).said
    )
