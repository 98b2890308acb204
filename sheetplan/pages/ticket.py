"""One cut ticket as a section of printed pages: for the sleeve at the table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reportlab.platypus import Spacer, Table, TableStyle

from sheetplan.model import Job
from sheetplan.pages import palette
from sheetplan.pages.code_mark import code_drawing
from sheetplan.pages.layout_drawing import LayoutDrawings
from sheetplan.pages.lettering import text_width
from sheetplan.pages.line_breaks import Heads, Holds
from sheetplan.pages.paper import (
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
    heading,
    list_table,
    text,
    tight,
)  # fmt: skip
from sheetplan.pages.ticket_facts import TicketFacts, TicketPart
from sheetplan.pages.wording import bare_weight, counted
from sheetplan.trade.cautions import DEFERENCE, GENERAL, gist
from sheetplan.trade.units import Units

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
    facts: TicketFacts, drawings: LayoutDrawings, paper: Paper, plan_line: str, has_cover: bool
) -> Section:
    """The pages of one layout.

    ``plan_line`` names the plan and its date; a ticket without a cover says all cautions in full.
    """
    job, width = drawings.job, paper.width - 2 * MARGIN
    above, checks = _above(facts, plan_line, width, has_cover), _checks(facts, width)
    height = _picture_height([*above, *_below(facts, job, {}, checks, width, has_cover)], paper)
    drawn = drawings.of(facts.layout, width, height, facts.kept)
    picture = [Spacer(0, 6), DrawingBox(drawn.drawing, middle=True), Spacer(0, 4)]
    below = _below(facts, job, drawn.keys, checks, width, has_cover)
    return Section(facts.code, lambda: [*above, *picture, *below])


def _picture_height(rest: list[Any], paper: Paper) -> float:
    """What the rest leaves of one page, so that a ticket is one page wherever that can be."""
    width = paper.width - 2 * MARGIN
    taken = PICTURE_AIR + sum(float(flowable.wrap(width, paper.height)[1]) for flowable in rest)
    room = paper.height - 2 * MARGIN - FOOT - taken
    if room < LEAST_PICTURE:
        return USUAL_PICTURE
    return min(room, MOST_PICTURE)


def _above(facts: TicketFacts, plan_line: str, width: float, has_cover: bool) -> list[Any]:
    content = [_head(facts, plan_line, width), Spacer(0, 4)]
    content.append(_work(facts, width))
    if facts.drawing:
        content += [Spacer(0, 2), text(f"Drawing {facts.drawing}", BODY, bold=True, narrow=True)]
    content += [Spacer(0, 5), _boxed(_cautions(facts, has_cover), width)]
    if facts.squaring:
        steps = [text(f"{number}. {step}", BODY) for number, step in enumerate(facts.squaring, start=1)]
        content += [Spacer(0, 5), text("Squaring this remnant", BODY, bold=True), *steps]
        content += [Spacer(0, 3), text(MEASURED, BODY)]
    return content


def _below(
    facts: TicketFacts, job: Job, keys: Mapping[str, str], checks: Any, width: float, has_cover: bool
) -> list[Any]:
    content = [checks, Spacer(0, 8), _parts(facts, job, keys, width)]
    if any(part.on_sheet > 1 for part in facts.parts):
        content += [Spacer(0, 3), text(NUMBERED, SMALL, narrow=True)]
    if not has_cover:
        lines = (*facts.cautions, *GENERAL, DEFERENCE)
        content += [Spacer(0, 6), *(text(line, SMALL) for line in dict.fromkeys(lines))]
    return content


def _cautions(facts: TicketFacts, has_cover: bool) -> list[Any]:
    """What is peculiar to the metal in short, what holds for all by name: both stand in full elsewhere."""
    named = ", ".join(caution.partition(":")[0].lower() for caution in GENERAL)
    place = "on the cover" if has_cover else "at the end"
    return [
        *(text(gist(caution), BODY, narrow=True) for caution in facts.cautions),
        text(f"Cautions (full text {place}): {named}. {DECIDED}", SMALL, narrow=True),
    ]


DECIDED = "Local codes decide."


def _head(facts: TicketFacts, plan_line: str, width: float) -> Any:
    """Tag, what to take and how often, and the code."""
    tag_width = max(80.0, text_width(facts.layout.tag, HUGE, True) + 12.0)
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
    if text_width(beside, size, True) + air + text_width(first, size, True, narrow=True) < width:
        times, ticks = beside, ""
    aside = text_width(times, size, True) + air
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
    wide = [max(text_width(word, SMALL), text_width(value, BODY, True)) + 8.0 for word, value in pairs]
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
    shares = [text_width(check, size, True) + 30.0 for check in facts.checks]
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
