"""The plan at the table: every sheet in the order of cutting, to be looked at, searched and ticked.

What stands here is what the tickets say (`ticket_facts`) and the tickets' letters and fills. Without its
script the page is a list of pictures that can be read and printed; with it a sheet fills the screen, and what
is ticked is handed back to the book (`app/rack/cut_asked.py`).

Choices
-------
Pictures stand in the page as they are, so that the first is there before the script has run; what the script
needs beside them are values (`_values`), which nothing takes for HTML.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sheetplan.model import Plan, Remnant
from sheetplan.pages.contents import Shares, shares_of
from sheetplan.pages.drawing import marks
from sheetplan.pages.drawing.files import plan_colours
from sheetplan.pages.drawing.layout_drawing import alt_text
from sheetplan.pages.drawing.marks import PartColours
from sheetplan.pages.floor.pictures import (
    SheetPicture,
    SheetPictures,
    data_element,
    name,
    page_html,
    said,
    source,
    vendored,
)
from sheetplan.pages.ticket_facts import Issue, TicketFacts, ticket_facts
from sheetplan.pages.wording import (
    Decimals,
    date_text,
    day_text,
    decimals_of,
    length_text,
    size_text,
    weight_text,
)
from sheetplan.shapes import as_circle
from sheetplan.trade.sentences import counted
from sheetplan.trade.starter import DEFERENCE, GENERAL

PLAN_HTML = "plan.html"

FORMAT = 1
"""Of the values that the script reads."""

THUMB_DOTS = 340.0
"""About as wide as a picture stands in the list: its lines are drawn for that."""

SCRIPTS = ("ledger.js", "view.js", "find.js", "code.js", "floor.js")
STYLES = ("look.css", "plan.css")


@dataclass(frozen=True, slots=True)
class _Made:
    """All that the page is put together from."""

    issue: Issue
    book: str
    facts: tuple[TicketFacts, ...]
    pictures: tuple[SheetPicture, ...]
    drawn: SheetPictures
    shares: Shares
    colours: PartColours
    decimals: Decimals


def plan_page_html(issue: Issue, book: str) -> bytes:
    """The page of a plan with at least one layout.

    ``book`` is the workbook's file name: what is handed back names it beside the plan's mark.
    """
    plan = issue.plan
    facts = tuple(ticket_facts(issue))
    found = {tag: one for group in issue.figures.groups for tag, one in group.layouts.items()}
    colours = plan_colours(plan)
    drawn = SheetPictures(plan.job.parts, plan.job.settings, colours, _fill_numbers(colours))
    pictures = tuple(
        drawn.of(one.layout, found[one.layout.tag].left.crop, one.kept, _stays(one, plan)) for one in facts
    )
    shares = shares_of(plan, issue.days)
    made = _Made(issue, book, facts, pictures, drawn, shares, colours, decimals_of(plan.job))
    styles = [*map(source, STYLES), _fills()]
    title = f"Plan {issue.mark}: {counted(len(facts), 'layout')} to cut"
    return page_html(title, _body(made), styles, [_one_script()]).encode("utf-8")


def _one_script() -> str:
    """The scripts as one, so that none of their names is the window's."""
    parts = (vendored("lean_qr", "leanQr"), *map(source, SCRIPTS))
    return "\n".join(('(() => {\n"use strict";', *parts, "start();\n})();"))


def _fill_numbers(colours: PartColours) -> dict[str, int]:
    """The class of each kind of fill: its place among the palette's."""
    fills = _palette()
    return {purpose: fills.index(fill) for purpose, fill in colours.fills.items()}


def _palette() -> tuple[str, ...]:
    return (*marks.KIT_FILLS, marks.SEVERAL_KITS_FILL, marks.LOOSE_FILL)


def _fills() -> str:
    return "".join(
        f".k{number}{{fill:{fill};background-color:{fill}}}" for number, fill in enumerate(_palette())
    )


def _stays(facts: TicketFacts, plan: Plan) -> str:
    if facts.kept is None:
        return ""
    return f"stays: {size_text(facts.kept.length, facts.kept.width, plan.job.settings.units)}"


# What stands in the page.


def _body(made: _Made) -> str:
    shapes = "".join(made.drawn.shapes.marks)
    return "".join(
        (
            f'<svg class="once" aria-hidden="true" focusable="false"><defs>{shapes}</defs></svg>\n',
            _head(made),
            '<main id="floor">\n<section id="list" aria-labelledby="list-title">\n',
            '<h2 id="list-title">Sheets in the order of cutting</h2>\n',
            *_days(made),
            f"</section>\n{source('stage.html')}</main>\n",
            source("dialogs.html"),
            data_element("values", _values(made)),
        )
    )


def _head(made: _Made) -> str:
    sheets = sum(one.layout.repeats for one in made.facts)
    pieces = sum(len(one.layout.placements) * one.layout.repeats for one in made.facts)
    summary = f": {counted(sheets, 'sheet')}, {counted(pieces, 'piece')}, {date_text(made.issue.day)}"
    return "".join(
        (
            f'<header id="top">\n<div class="name"><h1>Plan {said(made.issue.mark)}</h1>',
            f'<p>{name(made.book)}<span class="more">{said(made.decimals.said(summary))}</span></p></div>\n',
            source("top.html"),
            "</header>\n",
            cautions_html(),
        )
    )


def cautions_html() -> str:
    """The usual cautions: their heads in one line, in full where it is opened."""
    heads = "; ".join(caution.partition(":")[0].lower() for caution in GENERAL)
    full = "".join(f"<li>{said(caution)}</li>" for caution in GENERAL)
    return (
        f'<aside class="caution" aria-label="Cautions"><details><summary>Take care: {said(heads)}. '
        f"Local rules and trained people decide.</summary>\n<ul>{full}</ul><p>{said(DEFERENCE)}</p></details>"
        "</aside>\n"
    )


def _days(made: _Made) -> Iterator[str]:
    """The sheets under the days on which they are begun."""
    last: object = ""
    for place, facts in enumerate(made.facts):
        day = made.issue.days[facts.layout.tag]
        first = day.first if day else None
        if first != last:
            if place:
                yield "</ol>\n"
            yield f'<h3 class="day">{said(day_text(first)) if first else "Day not known"}</h3>\n<ol>\n'
            last = first
        yield _card(made, place, facts)
    yield "</ol>\n"


def _card(made: _Made, place: int, facts: TicketFacts) -> str:
    """One layout: what is fetched, how often it is cut and until when, and its picture."""
    layout, say = facts.layout, made.decimals.said
    minutes = next((text for heading, text in facts.work if heading.startswith("Time a sheet")), "")
    cut = f"{counted(layout.repeats, 'sheet')}, {minutes} each" if layout.repeats > 1 else minutes
    due = next((date for _, date in facts.orders if date), "")
    until = f', due <span class="whole">{said(due)}</span>' if due else ""
    late = made.issue.days[layout.tag]
    lines = [
        f'<p class="metal">{name(facts.gauge)}, {said(say(facts.sheet))}</p>',
        f"<p>{name(facts.sheet_name)}, {said(say(facts.source))}</p>",
        f"<p>{said(say(cut))}{until}</p>",
    ]
    if late is not None and late.late:
        lines.append(f'<p class="late">{said(counted(late.late, "day"))} late</p>')
    return "".join(
        (
            f'<li class="sheet" id="sheet-{said(layout.tag)}">\n<div class="facts"><h4><a ',
            f'href="#{said(layout.tag)}">{said(layout.tag)}</a></h4><p class="state">to cut</p>',
            *lines,
            '<p class="hits" hidden></p></div>\n',
            _svg(made, place, facts),
            "</li>\n",
        )
    )


def _svg(made: _Made, place: int, facts: TicketFacts) -> str:
    picture = made.pictures[place]
    left, top, length, width = picture.view
    view = f"{left:.2f} {top:.2f} {length:.2f} {width:.2f}"
    line = max(length, width) / THUMB_DOTS
    shown = said(made.decimals.said(alt_text(facts.layout, made.issue.plan.job)))
    return (
        f'<svg class="picture" viewBox="{view}" width="{length:.0f}" height="{width:.0f}" role="img" '
        f'aria-label="{shown}" stroke-width="{line:.2f}">{picture.inner}</svg>\n'
    )


# What the script reads.


def _values(made: _Made) -> dict[str, Any]:
    job = made.issue.plan.job
    units = job.settings.units
    parts = list(dict.fromkeys(p.part for one in made.facts for p in one.layout.placements))
    numbers = {part: number for number, part in enumerate(parts)}
    wanted = {index for some in made.shares.values() for index in some if index is not None}
    orders = {index: number for number, index in enumerate(sorted(wanted))}
    purposes = {made.colours.of_part.get(part, marks.LOOSE) for part in parts}
    asked = {job.orders[index].item for index in wanted}
    kits = [kit for kit in made.colours.fills if kit in job.kits and (kit in purposes or kit in asked)]
    fills = _fill_numbers(made.colours)
    return {
        "format": FORMAT,
        "plan": made.issue.mark,
        "book": made.book,
        "unit": units.value,
        "mm": units.length_mm,
        "digits": 3 if units.value == "in" else 1,
        "comma": made.decimals.comma,
        "kits": [{"name": kit, "letter": made.colours.letters[kit], "fill": fills[kit]} for kit in kits],
        "parts": [_part(made, part, fills) for part in parts],
        "orders": [
            {"name": order.name, "item": order.item, "due": order.due, "isKit": order.item in job.kits}
            for order in (job.orders[index] for index in orders)
        ],
        "shapes": [[numbers[str(one[0])], *one[1:]] for one in made.drawn.shapes.facts],
        "sheets": [_sheet(made, place, numbers, orders) for place in range(len(made.facts))],
    }  # fmt: skip


def _part(made: _Made, part: str, fills: Mapping[str, int]) -> dict[str, Any]:
    known = next(one for facts in made.facts for one in facts.parts if one.part == part)
    job, say = made.issue.plan.job, made.decimals.said
    purpose = made.colours.of_part.get(part, marks.LOOSE)
    return {
        "name": part,
        "description": known.description,
        "size": say(f"{known.size} {job.settings.units.value}"),
        "weight": say(weight_text(known.weight, job.settings.units)),
        "holes": say(_holes(made, part)),
        "kit": purpose if purpose in job.kits or purpose == marks.SEVERAL_KITS else "",
        "letter": made.colours.letter(part),
        "fill": fills[purpose],
    }


SAME_HOLE = 6
"""Decimals of a millimetre to which holes are of one size: what a drawing rounds makes no second drill."""


def _holes(made: _Made, part: str) -> str:
    """Such as ``4 holes 0.563 in, 1 cut-out``."""
    units = made.issue.plan.job.settings.units
    sizes: dict[str, int] = {}
    for hole in made.issue.plan.job.parts[part].outline.holes:
        circle = as_circle(hole)
        size = length_text(round(2.0 * circle[2], SAME_HOLE), units) if circle else ""
        sizes[size] = sizes.get(size, 0) + 1
    told = [f"{counted(count, 'hole')} {size}" for size, count in sizes.items() if size]
    others = sizes.get("", 0)
    return ", ".join([*told, *([counted(others, "cut-out")] if others else [])]) or "none"


def _sheet(
    made: _Made, place: int, numbers: Mapping[str, int], orders: Mapping[int, int]
) -> dict[str, Any]:
    facts, say = made.facts[place], made.decimals.said
    layout = facts.layout
    work = [[heading, say(text)] for heading, text in facts.work]
    return {
        "tag": layout.tag,
        "ticket": facts.code,
        "gauge": facts.gauge,
        "size": say(facts.sheet),
        "on": facts.sheet_name,
        "from": say(facts.source),
        "times": layout.repeats,
        "remnant": isinstance(layout.sheet, Remnant),
        "day": say(facts.day),
        "weight": say(facts.weight),
        "work": work,
        "drawing": facts.drawing,
        "orders": [list(one) for one in facts.orders],
        "stays": [say(text) for text in facts.kept_texts],
        "squaring": [say(text) for text in facts.squaring],
        "checks": list(facts.checks),
        "cautions": [say(text) for text in facts.cautions],
        "parts": [
            [numbers[one.part], one.on_sheet, one.in_all, _shares(made, layout.tag, one.part, orders)]
            for one in facts.parts
        ],
        "corners": [[round(x, 3), round(y, 3)] for x, y in made.pictures[place].corners],
    }


def _shares(made: _Made, tag: str, part: str, orders: Mapping[int, int]) -> Sequence[tuple[int, int]]:
    """Pieces by order, -1 for spare ones."""
    shares = made.shares[tag, part]
    return [(-1 if index is None else orders[index], pieces) for index, pieces in shares.items()]
