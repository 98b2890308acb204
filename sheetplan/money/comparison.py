"""A plan beside others: what it saves against simpler ways, and what each alternative of a gauge costs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum

import rectpack

from sheetplan.model.job import CuttingRule, Job, Part, SheetSize
from sheetplan.model.plan import CHEAPEST, Group, GroupPlan, Layout, Placement, Plan
from sheetplan.model.turns import allowed_turns
from sheetplan.money.figures import GroupFigures, Known, group_figures, key_of
from sheetplan.planning.picking import Alternative, alternatives
from sheetplan.shapes import Box, place, size
from sheetplan.trade.units import SAME_LENGTH_MM, weight_kg

# What a plan saves against simpler ways of laying the same pieces.
#
# Terms
# plain boxes
#     The bounding box of every piece, grown by the gap, the largest first, on full sheets of one size, all
#     bought, by a plain rectangle packer: rectpack's MaxRects with the best short side (Jylänki, "A thousand
#     ways to pack the bin", 2010). Of the sizes the one that costs least. What a planner gets without
#     thinking.
# box floor
#     What the bounding boxes of the pieces would cost if they filled sheets without any loss: no arrangement
#     of boxes is cheaper, so a plan below it has gained from true outlines.
#
# Both count whole sheets as many as are needed, whatever the rack or the supplier holds, and take no
# credit for remnants. Sizes without a price are compared by area.

MOST_PIECES = 2000
"""Pieces of a gauge, at most: the plain packer's time grows with their square, 3,000 take 0.8 s."""

PER_MM = 1_000_000
"""rectpack adds lengths up; in whole nanometres nothing is lost by rounding."""

Boxes = tuple[tuple[float, float], ...]
"""Length and width of a part's box in each of its turns."""


@dataclass(frozen=True, slots=True)
class PlainBoxes:
    """Sheets, kg of metal and cost of the plain boxes; ``left_out`` are parts that fit on no full sheet."""

    sheets: int
    weight: float
    cost: float
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """A gauge's plan beside the simpler ways of laying the same pieces.

    ``plan_cost`` and ``plan_weight`` (kg) are of all metal taken; ``boxes`` is None where there are too many
    pieces to compare, ``box_floor`` without prices.
    """

    plan_cost: float
    plan_weight: float
    boxes: PlainBoxes | None
    box_floor: float | None

    @property
    def cost_saved(self) -> float | None:
        """Against the plain boxes; None where those do not make every part."""
        return self.boxes.cost - self.plan_cost if self.boxes and not self.boxes.left_out else None

    @property
    def weight_saved(self) -> float | None:
        """Against the plain boxes, kg; None where those do not make every part."""
        return self.boxes.weight - self.plan_weight if self.boxes and not self.boxes.left_out else None


def compare(group_plan: GroupPlan, job: Job, plan_weight: float) -> Comparison:
    """Put a gauge's plan beside plain boxes and the box floor; ``plan_weight`` in kg, all metal taken."""
    pieces = Counter[str]()
    for layout in group_plan.layouts:
        for placement in layout.placements:
            pieces[placement.part] += layout.repeats
    boxes = {name: _boxes(job.parts[name]) for name in sorted(pieces)}
    group = group_plan.group
    many = sum(pieces.values()) > MOST_PIECES
    return Comparison(
        group_plan.cost,
        plan_weight,
        None if many else _plain_boxes(group_plan, pieces, boxes),
        _box_floor(pieces, boxes, group.stock, group.rule),
    )


def _boxes(part: Part) -> Boxes:
    return tuple(
        size(place(part.outline, Placement(part.name, 0.0, 0.0, turn))) for turn in allowed_turns(part)
    )


def _plain_boxes(
    group_plan: GroupPlan, pieces: Mapping[str, int], boxes: Mapping[str, Boxes]
) -> PlainBoxes | None:
    group, rule = group_plan.group, group_plan.group.rule
    by_price = any(sheet.price > 0 for sheet in group.stock)
    left_out = tuple(name for name in pieces if not any(_fits(one, boxes[name], rule) for one in group.stock))
    if left_out:
        return PlainBoxes(0, 0.0, 0.0, left_out)
    found = []
    for sheet in group.stock:
        if all(_fits(sheet, boxes[name], rule) for name in pieces):
            needed = sheets_of_boxes(sheet, pieces, boxes, rule)
            area = sheet.length * sheet.width
            weight = weight_kg(needed * area, group.thickness.mm, group.material.density)
            counts = needed * (sheet.price if by_price else area)
            found.append((counts, PlainBoxes(needed, weight, needed * sheet.price)))
    return min(found, key=lambda one: (one[0], one[1].weight))[1] if found else None


def _fits(sheet: SheetSize, boxes: Boxes, rule: CuttingRule) -> bool:
    room = sheet.length - 2 * rule.margin + SAME_LENGTH_MM, sheet.width - 2 * rule.margin + SAME_LENGTH_MM
    return any(length <= room[0] and width <= room[1] for length, width in boxes)


def sheets_of_boxes(
    sheet: SheetSize, pieces: Mapping[str, int], boxes: Mapping[str, Boxes], rule: CuttingRule
) -> int:
    """How many sheets of a size the plain packer takes for boxes that each fit on one.

    rectpack turns all boxes or none; where some may not be turned, each lies as it fits, upright if it can.
    """
    turnable = all(_is_turnable(boxes[name]) for name in pieces)
    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Offline,
        bin_algo=rectpack.PackingBin.BFF,
        pack_algo=rectpack.MaxRectsBssf,
        sort_algo=rectpack.SORT_AREA,
        rotation=turnable,
    )
    reach = SAME_LENGTH_MM - 2 * rule.margin + rule.gap
    count = sum(pieces.values())
    packer.add_bin(_nm(sheet.length + reach), _nm(sheet.width + reach), count=count)
    for name, wanted in pieces.items():
        length, width = next(one for one in boxes[name] if _fits(sheet, (one,), rule))
        for _ in range(wanted):
            packer.add_rect(_nm(length + rule.gap), _nm(width + rule.gap))
    packer.pack()
    assert len(packer.rect_list()) == count, "rectpack drops what it finds no room for"
    return len(packer)


def _is_turnable(boxes: Sequence[tuple[float, float]]) -> bool:
    return any(
        abs(length - boxes[0][1]) < SAME_LENGTH_MM and abs(width - boxes[0][0]) < SAME_LENGTH_MM
        for length, width in boxes
    )


def _nm(length: float) -> int:
    return round(length * PER_MM)


def _box_floor(
    pieces: Mapping[str, int], boxes: Mapping[str, Boxes], stock: tuple[SheetSize, ...], rule: CuttingRule
) -> float | None:
    roomy = [sheet for sheet in stock if _room(sheet, rule) > 0]
    if not roomy or any(sheet.price <= 0 for sheet in roomy):
        return None
    grown = fsum(
        count * min((length + rule.gap) * (width + rule.gap) for length, width in boxes[name])
        for name, count in pieces.items() if boxes[name]
    )  # fmt: skip
    return grown * min(sheet.price / _room(sheet, rule) for sheet in roomy)


def _room(sheet: SheetSize, rule: CuttingRule) -> float:
    """Area that grown boxes may fill."""
    length, width = (side - 2 * rule.margin + rule.gap for side in (sheet.length, sheet.width))
    return length * width if min(length, width) > 0 else 0.0


# What each alternative of a gauge costs, takes and leaves, and what it is best at.

SAME_SHARE = 1e-9
"""Amounts that differ by less than this share of themselves are one: they come of sums of floats."""


@dataclass(frozen=True, slots=True)
class ChoiceFigures:
    """An alternative with its figures.

    ``kept`` is the largest remnant that one of its sheets leaves for the rack; ``best_at`` says in
    words at what no other alternative found for the gauge is better, and at least one is worse, and
    whether the least metal cost is proven to be the cheapest possible.
    """

    way: Alternative
    figures: GroupFigures
    kept: Box | None
    best_at: tuple[str, ...] = ()

    @property
    def layouts(self) -> int:
        """Different layouts."""
        return len(self.way.plan.layouts)

    @property
    def sheets(self) -> int:
        """Full sheets and remnants taken."""
        return self.figures.sheets_used + self.figures.remnants_used

    @property
    def kept_area(self) -> float:
        """Of the largest remnant left, mm2."""
        return self.kept.area if self.kept else 0.0


METAL_COST = "least metal cost"

MEASURES: Mapping[str, Callable[[ChoiceFigures], float]] = {
    METAL_COST: lambda one: one.figures.money.metal,
    "least to pay": lambda one: one.figures.money.to_pay,
    "fewest sheets": lambda one: float(one.sheets),
    "least metal taken": lambda one: one.figures.sheet_weight,
    "least waste": lambda one: one.figures.waste_share,
    "largest remnant": lambda one: -one.kept_area,
    "fewest layouts": lambda one: float(one.layouts),
}
"""What an alternative can be best at among those found; less is better."""


def every_layout(plan: Plan) -> tuple[tuple[Group, tuple[Layout, ...]], ...]:
    """For each gauge the layouts of the plan and of the alternatives beside it, each once."""
    found = []
    for group_plan in plan.groups:
        ways = (group_plan, *(choice.plan for choice in group_plan.choices))
        layouts = {key_of(layout): layout for way in ways for layout in way.layouts}
        found.append((group_plan.group, tuple(layouts.values())))
    return tuple(found)


Choices = tuple[tuple[ChoiceFigures, ...], ...]
"""The alternatives of every gauge."""


def choice_figures(plan: Plan, known: Known | None = None) -> Choices:
    """The alternatives of every gauge with their figures, in the order of their tags.

    ``known`` holds figures of layouts that were worked out before.
    """
    return tuple(_judged([_measured(way, plan, known) for way in ways]) for ways in alternatives(plan))


def _measured(way: Alternative, plan: Plan, known: Known | None) -> ChoiceFigures:
    figures = group_figures(way.plan, plan.job, known)
    rooms = [layout.left.largest for layout in figures.layouts.values()]
    boxes = [room for room in rooms if room is not None]
    return ChoiceFigures(way, figures, max(boxes, key=lambda box: box.area, default=None))


def _judged(found: Sequence[ChoiceFigures]) -> tuple[ChoiceFigures, ...]:
    best: dict[str, list[str]] = {one.way.tag: [] for one in found}
    for name, measure in MEASURES.items():
        amounts = {one.way.tag: measure(one) for one in found}
        least, most = min(amounts.values()), max(amounts.values())
        allowance = SAME_SHARE * max(abs(least), abs(most))
        if most - least <= allowance:
            continue
        for tag, amount in amounts.items():
            if amount - least <= allowance:
                best[tag].append(name)
    for one in found:
        names = best[one.way.tag]
        if METAL_COST in names and one.way.plan.above_least == 0.0:
            names[names.index(METAL_COST)] = CHEAPEST
    return tuple(
        ChoiceFigures(one.way, one.figures, one.kept, tuple(best[one.way.tag])) for one in found
    )
