"""One cut ticket as a section of printed pages: for the sleeve at the table."""

from __future__ import annotations

from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.model import Job
from sheetplan.pages import palette
from sheetplan.pages.code_mark import code_drawing
from sheetplan.pages.layout_drawing import draw_layout
from sheetplan.pages.lettering import text_width
from sheetplan.pages.palette import PartColours
from sheetplan.pages.paper import BODY, HUGE, LARGE, MARGIN, SMALL, DrawingBox, Paper, Section, text
from sheetplan.pages.ticket_facts import TicketFacts, TicketPart
from sheetplan.pages.wording import counted, weight_text

CODE_SIZE = 76.0
"""Points: modules of 0.9 mm, read from an arm's length."""

PICTURE_HEIGHT = 292.0
TICK = "☐"
MOST_TICKS = 20
"""Repeats that get a box each; more are counted by hand in the space given."""

RULE = "#9AA5AB"
PART_SHARES = (0.05, 0.17, 0.2, 0.15, 0.08, 0.08, 0.09, 0.13, 0.05)
"""Widths of the columns of the list of parts over the width of the page."""


def ticket_section(
    facts: TicketFacts, job: Job, colours: PartColours, paper: Paper, plan_line: str
) -> Section:
    """The pages of one layout; ``plan_line`` names the plan and its date."""
    return Section(facts.code, lambda: _content(facts, job, colours, paper, plan_line))


def _content(facts: TicketFacts, job: Job, colours: PartColours, paper: Paper, plan_line: str) -> list[Any]:
    width = paper.width - 2 * MARGIN
    drawn = draw_layout(
        facts.layout, job, width=width, height=PICTURE_HEIGHT, colours=colours, keep=facts.kept
    )
    content = [_head(facts, plan_line, width), Spacer(0, 4), _work(facts, width)]
    if facts.cautions:
        content += [Spacer(0, 5), _boxed([text(caution, BODY) for caution in facts.cautions], width)]
    if facts.squaring:
        steps = [text(f"{number}. {step}", BODY) for number, step in enumerate(facts.squaring, start=1)]
        content += [Spacer(0, 5), text("Squaring this remnant", BODY, bold=True), *steps]
    content += [Spacer(0, 6), DrawingBox(drawn.drawing, middle=True), Spacer(0, 4), _checks(facts, width)]
    content += [Spacer(0, 8), _parts(facts, job, drawn.keys, width), Spacer(0, 8)]
    content.append(KeepTogether([text(line, SMALL) for line in facts.general_cautions]))
    return content


def _head(facts: TicketFacts, plan_line: str, width: float) -> Any:
    """Tag, what to take and how often, and the code."""
    repeats = facts.layout.repeats
    times = text(f"Cut {repeats} {'time' if repeats == 1 else 'times'}", LARGE + 2, bold=True)
    ticks = text(
        f"{TICK} " * repeats if repeats <= MOST_TICKS else "Done so far: ____________________", LARGE
    )
    middle = [
        text(facts.gauge, LARGE + 2, bold=True),
        text(f"{facts.sheet}   ({facts.sheet_name})", LARGE),
        text(f"{facts.source}; {facts.weight} each", BODY),
        Spacer(0, 3),
        times,
        ticks,
    ]
    code = [DrawingBox(code_drawing(facts.code, CODE_SIZE)), text(facts.code, SMALL, middle=True)]
    left = [text(facts.layout.tag, HUGE, bold=True), Spacer(0, 10), text(plan_line, SMALL)]
    tag_width = max(80.0, text_width(facts.layout.tag, HUGE, True) + 12.0)
    table = Table([[left, middle, code]], [tag_width, width - tag_width - CODE_SIZE, CODE_SIZE])
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 1.0, palette.INK), *_tight(0, 3),
    ]))  # fmt: skip
    return table


def _work(facts: TicketFacts, width: float) -> Any:
    """Words over their values, side by side."""
    pairs = facts.work
    wide = [max(text_width(word, SMALL), text_width(value, BODY, True)) + 8.0 for word, value in pairs]
    scale = width / sum(wide)
    table = Table(
        [[text(word, SMALL) for word, _ in pairs], [text(value, BODY, bold=True) for _, value in pairs]],
        [share * scale for share in wide],
    )
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEAFTER", (0, 0), (-2, -1), 0.4, RULE), *_tight(3, 1),
    ]))  # fmt: skip
    return table


def _boxed(lines: list[Any], width: float) -> Any:
    table = Table([[lines]], [width])
    table.setStyle(TableStyle([("BOX", (0, 0), (-1, -1), 1.2, palette.INK), *_tight(5, 4)]))
    return table


def _checks(facts: TicketFacts, width: float) -> Any:
    """Boxes to tick, what to write on the remnant, and who cut it."""
    lines = [text("     ".join(f"{TICK} {check}" for check in facts.checks), BODY + 0.5, bold=True)]
    if facts.kept_text:
        blank = "_" * 12
        lines += [
            Spacer(0, 4),
            text(f"Remnant {facts.kept_text}: tag {blank}  rack place {blank}", BODY + 0.5),
        ]
    blank = "_" * 18
    lines += [Spacer(0, 4), text(f"Heat number {blank}   Cut by {blank}   Date {blank}", BODY + 0.5)]
    return _boxed(lines, width)


def _parts(facts: TicketFacts, job: Job, keys: Any, width: float) -> Any:
    """The list of parts; its head is repeated on every page that it runs over."""
    heads = ("Key", "Part", "Description", "Size", "A sheet", "In all", "Each", "For", "Out")
    rights = {4, 5, 6}
    rows = [[text(head, SMALL, bold=True, right=place in rights) for place, head in enumerate(heads)]]
    for part in facts.parts:
        cells = _part_cells(part, job, keys)
        rows.append([text(cell, BODY, right=place in rights) for place, cell in enumerate(cells)])
    pieces = sum(part.on_sheet for part in facts.parts)
    rows.append([
        text(cell, BODY, bold=True, right=place in rights)
        for place, cell in enumerate(
            ("", counted(len(facts.parts), "kind"), "", "", f"{pieces:,}",
             f"{pieces * facts.layout.repeats:,}", "", "", "")
        )
    ])  # fmt: skip
    table = Table(rows, [share * width for share in PART_SHARES], repeatRows=1)
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("BACKGROUND", (0, 0), (-1, 0), "#E4E9EB"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        *_tight(3, 2),
    ]))  # fmt: skip
    return table


def _part_cells(part: TicketPart, job: Job, keys: Any) -> tuple[str, ...]:
    return (
        keys.get(part.part, ""), part.part, part.description, part.size, f"{part.on_sheet:,}",
        f"{part.in_all:,}", weight_text(part.weight, job.settings.units), part.wanted_for, TICK,
    )  # fmt: skip


def _tight(across: float, down: float) -> list[Any]:
    """Padding of all cells of a table."""
    every = ((0, 0), (-1, -1))
    return [
        ("LEFTPADDING", *every, across), ("RIGHTPADDING", *every, across),
        ("TOPPADDING", *every, down), ("BOTTOMPADDING", *every, down),
    ]  # fmt: skip
