"""Plans that are right by construction, made from a seed, for the check to pass and faults to be planted in.

Boxes stand in rows exactly one gap apart and exactly one margin from the edge, so that the least
move in the wrong direction is a fault. Nothing here is shared with the packers.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace

from sheetplan.model import (
    CuttingRule,
    Grain,
    Group,
    GroupPlan,
    Job,
    Kit,
    Layout,
    Loop,
    Material,
    Need,
    Order,
    Outline,
    Part,
    Placement,
    Plan,
    Remnant,
    Settings,
    SheetCount,
    SheetSize,
    rectangle,
)
from sheetplan.shapes import box, place
from sheetplan.trade.thickness import Thickness
from tests.drawings.samples import circle, rounded

METALS = (
    (Material("mild steel", "carbon steel", 7850.0), Thickness(3.416, "10 ga")),
    (Material("aluminium", "aluminium", 2700.0), Thickness(6.35, "1/4 in")),
)


def random_outline(dice: random.Random) -> Outline:
    length, width = dice.uniform(60.0, 300.0), dice.uniform(60.0, 200.0)
    kind = dice.randrange(5)
    if kind == 0:
        return rectangle(length, width)
    if kind == 1:
        radius = dice.uniform(30.0, 120.0)
        return Outline(circle(radius, radius, radius), (circle(radius, radius, radius * 0.6),))
    if kind == 2:
        return Outline(rounded(length, width, dice.uniform(3.0, 25.0)), (circle(length / 2, width / 2, 9.0),))
    if kind == 3:
        return Outline(Loop(((0.0, 0.0, 0.0), (length, 0.0, 0.0), (0.0, width, 0.0))))
    corner = (length * 0.4, width * 0.4)
    return Outline(
        Loop(
            (
                (0.0, 0.0, 0.0),
                (length, 0.0, 0.0),
                (length, corner[1], 0.0),
                (*corner, 0.0),
                (corner[0], width, 0.0),
                (0.0, width, 0.0),
            )
        )
    )


def random_rule(dice: random.Random, material: Material, thickness: Thickness) -> CuttingRule:
    gap, margin = dice.choice((3.0, 6.35, 8.0)), dice.choice((0.0, 10.0, 12.7))
    return CuttingRule(material.name, thickness, 1.5, gap, margin)


def random_part(dice: random.Random, name: str, material: Material, thickness: Thickness) -> Part:
    grain = dice.choice((Grain.NONE, Grain.NONE, Grain.LENGTH, Grain.WIDTH))
    spare = dice.choice((0, 0, 2))
    return Part(name, material.name, thickness, random_outline(dice), grain=grain, spare=spare)


def rows(
    dice: random.Random, parts: list[Part], rule: CuttingRule, length: float, width: float, left: float = 0.0
) -> list[Placement]:
    """Rows from the lower left; the last piece may go into a ring's hole."""
    placements: list[Placement] = []
    x, y, high = left + rule.margin, rule.margin, 0.0
    for _ in range(60):
        part = dice.choice(parts)
        turn = dice.choice(
            {Grain.NONE: (0.0, 90.0, 180.0, 270.0), Grain.LENGTH: (0.0, 180.0), Grain.WIDTH: (90.0, 270.0)}[
                part.grain
            ]
        )
        around = box(place(part.outline, Placement(part.name, 0.0, 0.0, turn)))
        if x + around.length > length - rule.margin:
            x, y, high = left + rule.margin, y + high + rule.gap, 0.0
        if y + around.width > width - rule.margin:
            break
        if x + around.length > length - rule.margin:
            continue
        placements.append(Placement(part.name, x - around.left, y - around.bottom, turn))
        x, high = x + around.length + rule.gap, max(high, around.width)
    return placements


def group_plan(
    dice: random.Random, index: int, first_order: int, tag: int
) -> tuple[GroupPlan, list[Part], list[Order]]:
    material, thickness = METALS[index]
    rule = random_rule(dice, material, thickness)
    parts = [random_part(dice, f"P{index}{i}", material, thickness) for i in range(dice.randint(2, 6))]
    sheet = SheetSize(
        f"sheet {index}",
        material.name,
        thickness,
        2438.4,
        1219.2,
        on_hand=dice.randint(0, 2),
        price=100.0,
        multiple=dice.choice((1, 1, 5)),
    )
    cut = circle(200.0, 200.0, 150.0)
    remnant = Remnant(f"R-{index}", material.name, thickness, rectangle(1500.0, 1000.0).outer, (cut,))
    full = tuple(rows(dice, parts, rule, sheet.length, sheet.width))
    layouts = [Layout(f"L{tag}", sheet, full, dice.randint(1, 3))]
    # Beside the old cut, exactly one gap from it.
    beside = 350.0 + rule.gap - rule.margin
    placed = rows(dice, parts, rule, 1500.0, 1000.0, left=beside)
    if placed:
        layouts.append(Layout(f"L{tag + 1}", remnant, tuple(placed)))
    made: Counter[str] = Counter()
    for layout in layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    orders, needs, short = [], [], {}
    for part in parts:
        lacking = dice.choice((0, 0, 3))
        spare = min(part.spare, made[part.name] - 1) if made[part.name] > 1 and not lacking else 0
        asked = made[part.name] + lacking - spare
        if asked:
            orders.append(Order(f"O{first_order + len(orders)}", part.name, asked))
            needs.append(Need(first_order + len(orders) - 1, part.name, "", asked, True))
        if lacking:
            short[part.name] = lacking
    used = layouts[0].repeats
    from_rack = min(used, sheet.on_hand)
    to_buy = -(-(used - from_rack) // sheet.multiple) * sheet.multiple
    label = f"{material.name} {thickness.text}"
    group = Group(label, material, thickness, rule, tuple(needs), (sheet,), (remnant,))
    counts = (SheetCount(sheet, used, from_rack, to_buy),)
    return GroupPlan(group, tuple(layouts), counts, short, 100.0 * used), parts, orders


def good_plan(seed: int) -> Plan:
    dice = random.Random(seed)
    groups, parts, orders = [], [], []
    for index in range(len(METALS)):
        tag = 1 + sum(len(group.layouts) for group in groups)
        plan, own_parts, own_orders = group_plan(dice, index, len(orders), tag)
        groups.append(plan)
        parts += own_parts
        orders += own_orders
    job = Job(
        Settings(), {m.name: m for m, _ in METALS}, tuple(g.group.rule for g in groups),
        {part.name: part for part in parts}, {}, tuple(orders),
        tuple(sheet for g in groups for sheet in g.group.stock),
        tuple(remnant for g in groups for remnant in g.group.remnants),
    )  # fmt: skip
    return with_a_kit(Plan(job, tuple(groups)))


def with_a_kit(plan: Plan) -> Plan:
    """The first order line asks for a kit of one piece instead of the bare part."""
    first = plan.job.orders[0]
    kit = Kit("kit of one", {first.item: 1})
    orders = (replace(first, item=kit.name), *plan.job.orders[1:])
    job = replace(plan.job, kits={kit.name: kit}, orders=orders)
    group = plan.groups[0].group
    needs = (replace(group.needs[0], kit=kit.name), *group.needs[1:])
    head = replace(plan.groups[0], group=replace(group, needs=needs))
    return replace(plan, job=job, groups=(head, *plan.groups[1:]))


def disc(radius: float) -> Outline:
    return Outline(circle(radius, radius, radius))


def unit(degrees: float) -> tuple[float, float]:
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
