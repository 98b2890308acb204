"""All that a cut ticket says of one layout, as values, before any page is set."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sheetplan.model import Group, GroupPlan, Job, Layout, Plan, Remnant
from sheetplan.money.figures import PlanFigures
from sheetplan.money.handling import sheets_at_once
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.pages.cut_for import Uses, kits_by_part, orders_on, uses_of, uses_text
from sheetplan.pages.palette import PartColours, part_colours
from sheetplan.pages.parts_on import parts_on
from sheetplan.pages.wording import (
    bare_length,
    bare_size,
    counted,
    left_texts,
    length_text,
    sheet_size,
    size_text,
    tenths,
    under_text,
    weight_text,
)
from sheetplan.shapes import Box, area, size
from sheetplan.trade.cautions import particular
from sheetplan.trade.units import Units, weight_kg

SECOND_POINT_SHARE = 0.75
"""How far along the edge the second point is touched at least: the farther, the truer the angle."""


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


def ticket_facts(
    plan: Plan, figures: PlanFigures, mark: str, drawings: Mapping[str, str]
) -> list[TicketFacts]:
    """The tickets of a plan in its order; ``drawings`` are file names or paths by layout tag."""
    uses = uses_of(plan)
    colours = part_colours(plan.job, kits_by_part(uses))
    return [
        _facts(
            plan, group_plan, layout, group.layouts[layout.tag], mark, drawings.get(layout.tag, ""), uses,
            colours,
        )
        for group_plan, group in zip(plan.groups, figures.groups, strict=True)
        for layout in group_plan.layouts
    ]  # fmt: skip


def code_of(tag: str, mark: str) -> str:
    """What the code on a ticket says: the plan's mark and the layout, such as ``KRTM-L1``."""
    return f"{mark}-{tag}" if mark else tag


def minutes_text(hours: float | None) -> str:
    """A time as ``1 h 05 min`` or ``12 min``; ``not known`` without a feed."""
    if hours is None:
        return "not known: no feed"
    minutes = round(hours * 60.0)
    if minutes < 1:
        return "under 1 min"
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"


def _facts(
    plan: Plan, group_plan: GroupPlan, layout: Layout, figures: LayoutFigures, mark: str, drawing: str,
    uses: Uses, colours: PartColours,
) -> TicketFacts:  # fmt: skip
    job, group = plan.job, group_plan.group
    units = job.settings.units
    kept = figures.kept
    return TicketFacts(
        code=code_of(layout.tag, layout.of_plan or mark),
        layout=layout,
        gauge=group.label,
        sheet=size_text(*sheet_size(layout.sheet), units),
        sheet_name=f"remnant {layout.sheet.tag}" if isinstance(layout.sheet, Remnant) else layout.sheet.name,
        source=_source(group_plan, layout, units),
        weight=weight_text(figures.split.taken, units),
        work=tuple(_work(job, group, layout, figures)),
        drawing=drawing.rpartition("/")[2],
        parts=tuple(_parts(job, group, layout, uses, colours)),
        orders=orders_on(job, uses, layout.tag),
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


def _source(group_plan: GroupPlan, layout: Layout, units: Units) -> str:
    """Where the sheets come from."""
    sheet = layout.sheet
    place = f"rack place {sheet.rack_place}" if sheet.rack_place else "the rack"
    if isinstance(sheet, Remnant):
        under = under_text(sheet, units)
        return f"from {place}, {under}" if under else f"from {place}"
    counts = [count for count in group_plan.sheets if count.sheet == sheet]
    coming = sum(count.on_order for count in counts)
    on_hand = sum(count.from_rack for count in counts) - coming
    bought = sum(count.to_buy for count in counts)
    if coming:
        there = [f"{on_hand} on hand"] if on_hand else []
        told = ", ".join([*there, f"{coming} on order", *([f"{bought} to be bought"] if bought else [])])
        return f"from {place}; of this size {told}"
    spare = sum(count.for_stock for count in counts)
    if not bought:
        return f"from {place}"
    for_stock = f", {spare} of them for stock" if spare else ""
    if not on_hand:
        new = f"new, {bought} of this size to be bought{for_stock}" if spare else "new, to be bought"
        return new + (f"; goes to {place}" if sheet.rack_place else "")
    return f"from {place}; of this size {on_hand} on hand and {bought} to be bought{for_stock}"


def _work(job: Job, group: Group, layout: Layout, figures: LayoutFigures) -> Iterator[tuple[str, str]]:
    """Pairs of a heading and its figure, for one sheet unless it says otherwise."""
    units = job.settings.units
    per_travel, travel = (304.8, "ft") if units.value == "in" else (1000.0, "m")
    yield f"Cut length {travel}", tenths(figures.cut_length / per_travel)
    yield "Pierces", f"{figures.pierces:,}"
    # Without a speed for them in Cutting, moves between cuts are in no time.
    yield "Time a sheet" if group.rule.travel else "Time a sheet, no moves", minutes_text(figures.hours)
    if layout.repeats > 1:
        whole = None if figures.hours is None else figures.hours * layout.repeats
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
    if sheet.cuts:
        yield (
            f"Compare the {counted(len(sheet.cuts), 'old cut')} shaded in the picture with the sheet before "
            f"the first pierce. Anything more than {gap} out of place: stop and measure again."
        )


def _checks(figures: LayoutFigures) -> Iterator[str]:
    """Boxes to tick, in the order of the work."""
    yield "sheet squared"
    yield "first part measured"
    yield "all parts out"
    if figures.left:
        yield f"remnant {'cropped, ' if figures.left.crop else ''}marked, put back"
