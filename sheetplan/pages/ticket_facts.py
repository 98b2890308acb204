"""All that a cut ticket says of one layout, as values, before any page is set."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import NamedTuple

from sheetplan.model import Group, Job, Layout, Plan, Remnant
from sheetplan.money.cutting_order import Turn, in_order
from sheetplan.money.cutting_plan import CutOn, Timetable
from sheetplan.money.figures import PlanFigures, sheets_at_once
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.contents import Uses, kits_by_part, orders_on, parts_on, uses_of, uses_text
from sheetplan.pages.drawing.marks import PartColours, part_colours
from sheetplan.pages.wording import (
    bare_length,
    bare_size,
    day_text,
    left_texts,
    length_text,
    minutes_text,
    sheet_size,
    size_text,
    tenths,
    under_text,
    weight_text,
)
from sheetplan.rack.squaring import SECOND_POINT_SHARE
from sheetplan.shapes import Box, area, size
from sheetplan.trade.sentences import counted
from sheetplan.trade.starter import particular
from sheetplan.trade.units import Units, weight_kg


@dataclass(frozen=True, slots=True)
class TicketPart:
    """One kind of part on the sheet.

    ``size`` without its unit, ``weight`` of one piece in kg, ``wanted_for`` of all in all.
    """

    part: str
    description: str
    size: str
    on_sheet: int
    in_all: int
    weight: float
    wanted_for: str


@dataclass(frozen=True, slots=True)
class TicketFacts:
    """One layout for the person who cuts it.

    ``kept`` is the useful rectangle that is left, ``kept_texts`` say what goes back to the rack.
    """

    code: str
    layout: Layout
    gauge: str
    sheet: str
    sheet_name: str
    source: str
    day: str
    """When it is to be cut, and how late that is; empty where nobody knows."""
    weight: str
    work: tuple[tuple[str, str], ...]
    """Headings with their units, and figures."""
    drawing: str
    """Name of the drawing's file; may be empty."""
    parts: tuple[TicketPart, ...]
    orders: tuple[tuple[str, str], ...]
    """Name and date of the orders that it is cut for, the first due first; a date may be empty."""
    kept: Box | None
    kept_texts: tuple[str, ...]
    squaring: tuple[str, ...]
    checks: tuple[str, ...]
    cautions: tuple[str, ...]
    """What is peculiar to this metal, in full; what holds for all is on the cover."""


@dataclass(frozen=True, slots=True)
class Issue:
    """A plan as it is issued to the floor, on tickets and on the page for tablets.

    ``drawings`` are file names or paths of the layouts' drawings by tag, ``days`` when each layout is cut.
    """

    plan: Plan
    figures: PlanFigures
    day: datetime.date
    mark: str
    drawings: Mapping[str, str]
    days: Timetable


def ticket_facts(issue: Issue) -> list[TicketFacts]:
    """The tickets of a plan in the order of cutting."""
    uses = uses_of(issue.plan, issue.days)
    colours = part_colours(issue.plan.job, kits_by_part(uses))
    found = {tag: layout for group in issue.figures.groups for tag, layout in group.layouts.items()}
    facts = partial(_facts, _OfAll(issue, uses, colours))
    return [facts(turn, found[turn.layout.tag]) for turn in in_order(issue.plan, issue.days)]


class _OfAll(NamedTuple):
    """What all tickets of a plan share."""

    issue: Issue
    uses: Uses
    colours: PartColours


def code_of(tag: str, mark: str) -> str:
    """What the code on a ticket says: the plan's mark and the layout, such as ``KRTM-L1``."""
    return f"{mark}-{tag}" if mark else tag


def _facts(of_all: _OfAll, turn: Turn, figures: LayoutFigures) -> TicketFacts:
    issue, group, layout = of_all.issue, turn.group_plan.group, turn.layout
    job, day = issue.plan.job, issue.days[layout.tag]
    units = job.settings.units
    kept = figures.kept
    return TicketFacts(
        code=code_of(layout.tag, layout.of_plan or issue.mark),
        layout=layout,
        gauge=group.label,
        sheet=size_text(*sheet_size(layout.sheet), units),
        sheet_name=f"remnant {layout.sheet.tag}" if isinstance(layout.sheet, Remnant) else layout.sheet.name,
        source=_source(turn, units),
        day=cut_on_text(day) if day else "",
        weight=weight_text(figures.split.taken, units),
        work=tuple(_work(job, group, layout, figures)),
        drawing=issue.drawings.get(layout.tag, "").rpartition("/")[2],
        parts=tuple(_parts(job, group, layout, of_all.uses, of_all.colours)),
        orders=orders_on(job, of_all.uses, layout.tag),
        kept=kept,
        kept_texts=left_texts(figures.left, units),
        squaring=tuple(_squaring(group, layout, units)),
        checks=tuple(_checks(figures)),
        cautions=(*_lift_caution(job, figures.split.taken), *particular(group.material.gauge_series)),
    )


def _lift_caution(job: Job, weight: float) -> tuple[str, ...]:
    """A sheet that is heavier than what the book allows to be lifted at once."""
    limit, units = job.settings.lift_limit, job.settings.units
    if limit is None or sheets_at_once(weight, limit):
        return ()
    return (
        f"Too heavy: one sheet weighs {weight_text(weight, units)}, the lift limit is "
        f"{weight_text(limit, units)}. Plan how to move it before it is moved.",
    )


def cut_on_text(day: CutOn) -> str:
    """A day, or the first and the last, and by how much that is late.

    >>> cut_on_text(CutOn(datetime.date(2026, 12, 4), datetime.date(2026, 12, 7), 3))
    '2026-12-04 Fri to 2026-12-07 Mon, 3 days late'
    """
    days = day_text(day.first) if day.first == day.last else f"{day_text(day.first)} to {day_text(day.last)}"
    return f"{days}, {counted(day.late, 'day')} late" if day.late else days


def _source(turn: Turn, units: Units) -> str:
    """Where the sheets of this layout come from: others of their size may go to other layouts."""
    sheet, repeats = turn.layout.sheet, turn.layout.repeats
    place = f"rack place {sheet.rack_place}" if sheet.rack_place else "the rack"
    if isinstance(sheet, Remnant):
        under = under_text(sheet, units)
        return f"from {place}, {under}" if under else f"from {place}"
    if turn.on_hand == repeats:
        return f"from {place}"
    counts = [count for count in turn.group_plan.sheets if count.sheet == sheet]
    on_order, bought = sum(count.on_order for count in counts), sum(count.to_buy for count in counts)
    how = [word for word, some in (("on order", on_order), ("to be bought", bought)) if some]
    waits = " or ".join(how)
    if turn.on_hand:
        return f"{turn.on_hand} from {place}, {repeats - turn.on_hand} still to come ({waits})"
    return f"still to come ({waits})" + (f"; goes to {place}" if sheet.rack_place else "")


def _work(job: Job, group: Group, layout: Layout, figures: LayoutFigures) -> Iterator[tuple[str, str]]:
    """Pairs of a heading and its figure, for one sheet unless it says otherwise."""
    units = job.settings.units
    per_travel, travel = (304.8, "ft") if units.value == "in" else (1000.0, "m")
    yield f"Cut length {travel}", tenths(figures.cut_length / per_travel)
    yield "Pierces", f"{figures.pierces:,}"
    # Without a speed for them in Cutting, moves between cuts are in no time.
    yield "Time a sheet" if group.rule.travel else "Time a sheet, no moves", minutes_text(figures.table_hours)
    if layout.repeats > 1:
        whole = None if figures.table_hours is None else figures.table_hours * layout.repeats
        yield "Time in all", minutes_text(whole)
    for word, mm in (("Gap", group.rule.gap), ("Margin", group.rule.margin), ("Kerf", group.rule.kerf)):
        yield f"{word} {units.value}", bare_length(mm, units)
    yield "Yield", f"{100.0 * figures.yield_share:.1f}%"


def _parts(
    job: Job, group: Group, layout: Layout, uses: Uses, colours: PartColours
) -> Iterator[TicketPart]:
    """Kinds of part, the largest first."""
    counts = parts_on(layout)
    for name in sorted(counts, key=lambda name: (-area(job.parts[name].outline), name)):
        part = job.parts[name]
        yield TicketPart(
            part=name,
            description=part.description,
            size=bare_size(*size(part.outline), job.settings.units),
            on_sheet=counts[name],
            in_all=counts[name] * layout.repeats,
            weight=weight_kg(area(part.outline), group.thickness.mm, group.material.density),
            wanted_for=uses_text(uses[layout.tag, name], colours.lettered),
        )


def _squaring(group: Group, layout: Layout, units: Units) -> Iterator[str]:
    """How to lay a remnant so that the drawing fits what is there; a full sheet needs no words."""
    sheet = layout.sheet
    if not isinstance(sheet, Remnant):
        return
    length, _ = sheet_size(sheet)
    far, gap = length_text(SECOND_POINT_SHARE * length, units), length_text(group.rule.gap, units)
    yield (
        f"Look for tag {sheet.tag}. What is left measures {size_text(*sheet_size(sheet), units)} over all; "
        "the length runs left to right in the picture."
    )
    yield (
        f"Touch the {sheet.datum} corner: it is the datum, 0 and 0 of the drawing. Touch a second point on "
        f"the edge that runs along the length, at least {far} away, and turn the drawing or the sheet until "
        "both agree."
    )
    if sheet.old_cuts:
        yield (
            f"Compare the {counted(len(sheet.old_cuts), 'old cut')} shaded in the picture with the sheet "
            f"before the first pierce. Anything more than {gap} out of place: stop and measure again."
        )


def _checks(figures: LayoutFigures) -> Iterator[str]:
    """Boxes to tick, in the order of the work."""
    yield "sheet squared"
    yield "first part measured"
    yield "all parts out"
    if figures.left:
        yield f"remnant {'cropped, ' if figures.left.crop else ''}marked, put back"
