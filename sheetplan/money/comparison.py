"""What a plan saves against simpler ways of laying the same pieces.

Terms
-----
plain grid
    Every part on sheets of its own, its bounding box in rows and columns, turned one way, on the
    size that costs least for it. What a planner gets without thinking.
box floor
    What the bounding boxes of the pieces would cost if they filled sheets without any loss: no
    arrangement of boxes is cheaper, so a plan below it has gained from true outlines.

Both count whole sheets as many as are needed, whatever the rack or the supplier holds, and take no
credit for remnants. Sizes without a price are compared by area.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum

from sheetplan.model.job import CuttingRule, Job, Part, SheetSize
from sheetplan.model.plan import GroupPlan, Placement
from sheetplan.model.turns import allowed_turns
from sheetplan.shapes import place, size
from sheetplan.trade.units import SAME_LENGTH_MM, weight_kg


@dataclass(frozen=True, slots=True)
class PlainGrid:
    """Sheets, kg of metal and cost of the plain grid; ``left_out`` are parts that fit on no full sheet."""

    sheets: int
    weight: float
    cost: float
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """A gauge's plan beside the simpler ways of laying the same pieces.

    ``plan_cost`` and ``plan_weight`` (kg) are of all metal taken; ``box_floor`` is None without prices.
    """

    plan_cost: float
    plan_weight: float
    grid: PlainGrid
    box_floor: float | None

    @property
    def cost_saved(self) -> float | None:
        """Against the plain grid; None where the grid cannot lay every part."""
        return None if self.grid.left_out else self.grid.cost - self.plan_cost

    @property
    def weight_saved(self) -> float | None:
        """Against the plain grid, kg; None where the grid cannot lay every part."""
        return None if self.grid.left_out else self.grid.weight - self.plan_weight


def compare(group_plan: GroupPlan, job: Job, plan_weight: float) -> Comparison:
    """Put a gauge's plan beside the plain grid and the box floor; ``plan_weight`` in kg, all metal taken."""
    pieces = Counter[str]()
    for layout in group_plan.layouts:
        for placement in layout.placements:
            pieces[placement.part] += layout.repeats
    stock = group_plan.group.stock
    sizes = {name: _boxes(job.parts[name]) for name in sorted(pieces)}
    return Comparison(
        group_plan.cost,
        plan_weight,
        _plain_grid(group_plan, pieces, sizes),
        _box_floor(pieces, sizes, stock, group_plan.group.rule),
    )


def pieces_on_grid(sheet: SheetSize, boxes: tuple[tuple[float, float], ...], rule: CuttingRule) -> int:
    """How many of a part lie on a sheet in rows and columns, the best of its turns."""
    return max(
        (
            _in_line(sheet.length, length, rule) * _in_line(sheet.width, width, rule)
            for length, width in boxes
        ),
        default=0,
    )


def _in_line(sheet: float, part: float, rule: CuttingRule) -> int:
    room = sheet - 2 * rule.margin + rule.gap + SAME_LENGTH_MM
    return max(0, math.floor(room / (part + rule.gap)))


def _boxes(part: Part) -> tuple[tuple[float, float], ...]:
    """Length and width of the part's box in each of its turns."""
    return tuple(
        size(place(part.outline, Placement(part.name, 0.0, 0.0, turn))) for turn in allowed_turns(part)
    )


def _plain_grid(
    group_plan: GroupPlan, pieces: Mapping[str, int], boxes: Mapping[str, tuple[tuple[float, float], ...]]
) -> PlainGrid:
    group = group_plan.group
    by_price = any(sheet.price > 0 for sheet in group.stock)
    sheets, weights, costs, left_out = 0, [], [], []
    for name, count in pieces.items():
        choices = []
        for sheet in group.stock:
            on_one = pieces_on_grid(sheet, boxes[name], group.rule)
            if on_one:
                needed = -(-count // on_one)
                area = sheet.length * sheet.width
                choices.append((needed * (sheet.price if by_price else area), needed * area, needed, sheet))
        if not choices:
            left_out.append(name)
            continue
        _, area, needed, sheet = min(choices, key=lambda choice: choice[:2])
        sheets += needed
        weights.append(weight_kg(area, group.thickness.mm, group.material.density))
        costs.append(needed * sheet.price)
    return PlainGrid(sheets, fsum(weights), fsum(costs), tuple(left_out))


def _box_floor(
    pieces: Mapping[str, int], boxes: Mapping[str, tuple[tuple[float, float], ...]],
    stock: tuple[SheetSize, ...], rule: CuttingRule,
) -> float | None:  # fmt: skip
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
