"""The check of a whole plan: pieces against orders, sheets against stock, and every layout of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from sheetplan.checking.layouts import Fault, FaultKind, check_layout
from sheetplan.model.job import CuttingRule, Job, Material, Remnant, SheetSize
from sheetplan.model.plan import GroupPlan, Layout, Placement, Plan
from sheetplan.model.problem import Weight
from sheetplan.trade.thickness import Thickness

# The check of a plan's counts: pieces against orders, sheets against stock.


def count_faults(plan: Plan) -> Iterator[Fault]:
    """Everything about the plan's numbers that does not add up."""
    yield from _demand(plan)
    yield from _tags(plan)
    yield from _remnants(plan)
    for group in plan.groups:
        yield from _pieces(group, plan.job)
        yield from _sheets(group)
    yield from _stock(plan)


def made_by(group: GroupPlan) -> Counter[str]:
    """Pieces of each part that a gauge's layouts give."""
    made: Counter[str] = Counter()
    for layout in group.layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    return made


def _demand(plan: Plan) -> Iterator[Fault]:
    """Orders, taken apart here once more, against the needs that the gauges were planned for.

    An order may be missing only where a problem that stops the plan says why.
    """
    job = plan.job
    asked: Counter[tuple[int, str, bool]] = Counter()
    for index, order in enumerate(job.orders):
        kit = job.kits.get(order.item)
        for part, pieces in (kit.parts if kit else {order.item: 1}).items():
            asked[index, part, order.must] += pieces * order.quantity
    needed: Counter[tuple[int, str, bool]] = Counter()
    for group in plan.groups:
        for need in group.group.needs:
            needed[need.order, need.part, need.must] += need.pieces
    excused = any(problem.weight is Weight.STOPS for problem in plan.problems)
    for key in sorted(asked.keys() | needed.keys()):
        if asked[key] != needed[key] and not (excused and needed[key] == 0):
            index, part, _ = key
            order_name = job.orders[index].name if 0 <= index < len(job.orders) else f"number {index}"
            what = f"order {order_name} asks for {asked[key]} of {part}; the plan has taken up {needed[key]}"
            yield Fault(FaultKind.DEMAND, order_name, what)


def _tags(plan: Plan) -> Iterator[Fault]:
    tags = Counter(layout.tag for group in plan.groups for layout in group.layouts)
    for tag, times in tags.items():
        if times > 1:
            yield Fault(FaultKind.TAG, tag, f"{times} layouts have this tag")


def _remnants(plan: Plan) -> Iterator[Fault]:
    used: Counter[str] = Counter()
    for group in plan.groups:
        for layout in group.layouts:
            if not isinstance(layout.sheet, Remnant):
                continue
            used[layout.sheet.tag] += 1
            if layout.sheet not in plan.job.remnants or layout.sheet not in group.group.remnants:
                what = f"remnant {layout.sheet.tag} is not as the book has it for {group.group.label}"
                yield Fault(FaultKind.REMNANT, layout.tag, what)
    for tag, times in used.items():
        if times > 1:
            yield Fault(FaultKind.REMNANT, tag, f"remnant {tag} is cut by {times} layouts")


def _pieces(plan: GroupPlan, job: Job) -> Iterator[Fault]:
    place = plan.group.label
    made = made_by(plan)
    must: Counter[str] = Counter()
    asked: Counter[str] = Counter()
    for need in plan.group.needs:
        asked[need.part] += need.pieces
        must[need.part] += need.pieces if need.must else 0
    for part in sorted(made.keys() | asked.keys() | plan.short.keys()):
        lacking = max(0, must[part] - made[part])
        stated = plan.short.get(part, 0)
        if lacking != stated:
            what = f"{made[part]} of {part} are made, {must[part]} must be; the plan says {stated} are short"
            yield Fault(FaultKind.MISSING, place, what)
        spare = job.parts[part].spare if part in job.parts else 0
        most = asked[part] + spare
        if made[part] > most:
            what = f"{made[part]} of {part} are made; {asked[part]} are asked for and {spare} may be spare"
            yield Fault(FaultKind.SURPLUS, place, what)


def _sheets(plan: GroupPlan) -> Iterator[Fault]:
    """What the gauge says it uses against what its layouts use."""
    used: Counter[SheetSize] = Counter()
    for layout in plan.layouts:
        if isinstance(layout.sheet, SheetSize):
            used[layout.sheet] += layout.repeats
            if layout.sheet not in plan.group.stock:
                what = f"{layout.sheet.name} is not a sheet of {plan.group.label}"
                yield Fault(FaultKind.STOCK, layout.tag, what)
    stated: Counter[SheetSize] = Counter()
    for count in plan.sheets:
        stated[count.sheet] += count.used
        for what in _count_faults(count.used, count.from_rack, count.to_buy, count.sheet.multiple):
            yield Fault(FaultKind.STOCK, plan.group.label, f"{count.sheet.name}: {what}")
    for sheet in sorted(used.keys() | stated.keys(), key=lambda sheet: sheet.name):
        if used[sheet] != stated[sheet]:
            what = f"{sheet.name}: layouts use {used[sheet]} sheets, the plan says {stated[sheet]}"
            yield Fault(FaultKind.STOCK, plan.group.label, what)


def _count_faults(used: int, from_rack: int, to_buy: int, multiple: int) -> Iterator[str]:
    if min(used, from_rack, to_buy) < 0 or from_rack > used:
        yield f"{used} used, {from_rack} from the rack and {to_buy} to buy cannot be"
    if to_buy < used - from_rack:
        yield f"{used} used, {from_rack} from the rack, yet only {to_buy} to buy"
    if to_buy % max(1, multiple):
        yield f"{to_buy} to buy is not a multiple of {multiple}"
    if to_buy - (used - from_rack) >= max(1, multiple):
        yield f"{to_buy} to buy is a whole order multiple more than needed"


def _stock(plan: Plan) -> Iterator[Fault]:
    """Rack and buying limits over all gauges: a sheet on hand is used once."""
    rack: Counter[SheetSize] = Counter()
    used: Counter[SheetSize] = Counter()
    bought: Counter[SheetSize] = Counter()
    for group in plan.groups:
        for count in group.sheets:
            rack[count.sheet] += count.from_rack
            used[count.sheet] += count.used
            bought[count.sheet] += count.to_buy
    for sheet in used:
        if rack[sheet] != min(used[sheet], sheet.on_hand):
            what = f"{rack[sheet]} of {used[sheet]} come from the rack, which has {sheet.on_hand}"
            yield Fault(FaultKind.STOCK, sheet.name, what)
        if sheet.buy_limit is not None and bought[sheet] > sheet.buy_limit:
            what = f"{bought[sheet]} to buy; at most {sheet.buy_limit} can be bought"
            yield Fault(FaultKind.STOCK, sheet.name, what)


# The check of a whole plan.


def check_plan(plan: Plan, good: Plan | None = None) -> tuple[Fault, ...]:
    """Everything wrong with a plan; empty if it is good.

    True outlines are measured, arcs as arcs. A distance passes if it falls short by no more than
    `sheetplan.trade.units.SAME_LENGTH_MM`, so layouts exactly at the gap pass and a hundredth of
    a millimetre less does not. Layouts of a plan that was found ``good`` are not measured again where this
    one has the same, of the same parts under the same rule; what a plan counts is counted all the same.
    """
    units = plan.job.settings.units
    faults: list[Fault] = []
    known = {_measured(group, layout) for group in (good.groups if good else ()) for layout in group.layouts}
    same = {name for name, part in plan.job.parts.items() if good and good.job.parts.get(name) == part}
    for group in plan.groups:
        for layout in group.layouts:
            stands = {placement.part for placement in layout.placements} <= same
            if not (stands and _measured(group, layout) in known):
                faults += check_layout(layout, group.group, plan.job.parts, units)
    return *faults, *count_faults(plan)


Measured = tuple[CuttingRule, Material, Thickness, SheetSize | Remnant, tuple[Placement, ...]]
"""All that the check of a layout looks at, beside its parts."""


def _measured(plan: GroupPlan, layout: Layout) -> Measured:
    group = plan.group
    return group.rule, group.material, group.thickness, layout.sheet, layout.placements
