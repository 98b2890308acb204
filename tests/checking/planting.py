"""Faults planted in good plans, one at a time, each certain to be a fault by construction."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from sheetplan.checking import FaultKind
from sheetplan.model import Grain, Layout, Plan, Remnant
from sheetplan.shapes import box, place

HAIR_MM = 0.01

Planted = tuple[Plan, set[FaultKind]] | None
"""The spoilt plan and the kinds of which at least one must be found; None if it cannot be planted."""


def pick(dice: random.Random, plan: Plan) -> tuple[int, int, int]:
    """A group, one of its layouts, one of its placements."""
    g = dice.randrange(len(plan.groups))
    i = dice.randrange(len(plan.groups[g].layouts))
    return g, i, dice.randrange(len(plan.groups[g].layouts[i].placements))


def with_layout(plan: Plan, g: int, i: int, layout: Layout) -> Plan:
    layouts = plan.groups[g].layouts
    group = replace(plan.groups[g], layouts=(*layouts[:i], layout, *layouts[i + 1 :]))
    return with_group(plan, g, group)


def with_group(plan: Plan, g: int, group) -> Plan:
    return replace(plan, groups=(*plan.groups[:g], group, *plan.groups[g + 1 :]))


def with_placement(plan: Plan, g: int, i: int, k: int, **changes) -> Plan:
    layout = plan.groups[g].layouts[i]
    placed = list(layout.placements)
    placed[k] = replace(placed[k], **changes)
    return with_layout(plan, g, i, replace(layout, placements=tuple(placed)))


def moved_onto_another(dice: random.Random, plan: Plan) -> Planted:
    """A part is moved so that its box has the lower left corner of another's, or a little beside."""
    g, i, k = pick(dice, plan)
    others = [other for other in range(len(plan.groups[g].layouts[i].placements)) if other != k]
    if not others:
        return None
    there, here = bounds(plan, g, i, dice.choice(others)), bounds(plan, g, i, k)
    at = plan.groups[g].layouts[i].placements[k]
    x = at.x + there.left - here.left + dice.uniform(0.0, 5.0)
    y = at.y + there.bottom - here.bottom + dice.uniform(0.0, 5.0)
    return with_placement(plan, g, i, k, x=x, y=y), {FaultKind.OVERLAP}


def gap_short_by_a_hair(dice: random.Random, plan: Plan) -> Planted:
    """The whole row after a gap is moved back by a hair; the boxes that face each other are rectangles."""
    g, i, k = pick(dice, plan)
    placed = plan.groups[g].layouts[i].placements
    if k == 0 or abs(bounds(plan, g, i, k).bottom - bounds(plan, g, i, k - 1).bottom) > 1e-6:
        return None
    if not (reaches_left(plan, placed[k]) and reaches_right(plan, placed[k - 1])):
        return None
    return with_placement(plan, g, i, k, x=placed[k].x - HAIR_MM), {FaultKind.GAP}


def margin_short_by_a_hair(dice: random.Random, plan: Plan) -> Planted:
    """The first part of a full sheet is moved towards the edge that it stands at."""
    g = dice.randrange(len(plan.groups))
    placement = plan.groups[g].layouts[0].placements[0]
    along = dice.choice(("x", "y"))
    moved = with_placement(plan, g, 0, 0, **{along: getattr(placement, along) - HAIR_MM})
    return moved, {FaultKind.MARGIN, FaultKind.OUTSIDE}


def off_the_sheet(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    x = plan.groups[g].layouts[i].placements[k].x + dice.choice((-1.0, 1.0)) * 5000.0
    return with_placement(plan, g, i, k, x=x), {FaultKind.OUTSIDE}


def into_the_old_cut(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    layout = plan.groups[g].layouts[i]
    if not isinstance(layout.sheet, Remnant):
        return None
    around = bounds(plan, g, i, k)
    at = layout.placements[k]
    x, y = at.x + 150.0 - around.left, at.y + 150.0 - around.bottom
    return with_placement(plan, g, i, k, x=x, y=y), {FaultKind.OLD_CUT}


def turned_askew(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    turn = plan.groups[g].layouts[i].placements[k].turn + dice.choice((0.01, 3.0, 45.0))
    return with_placement(plan, g, i, k, turn=turn), {FaultKind.TURN}


def turned_across_the_grain(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    at = plan.groups[g].layouts[i].placements[k]
    if plan.job.parts[at.part].grain is Grain.NONE:
        return None
    return with_placement(plan, g, i, k, turn=at.turn + 90.0), {FaultKind.TURN}


def mirrored(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    return with_placement(plan, g, i, k, mirrored=True), {FaultKind.MIRROR}


def another_part_instead(dice: random.Random, plan: Plan) -> Planted:
    """Counts of two parts go wrong, whatever the room."""
    g, i, k = pick(dice, plan)
    names = [name for name in plan.job.parts if name[1] == str(g)]
    old = plan.groups[g].layouts[i].placements[k].part
    new = dice.choice([name for name in names if name != old])
    return with_placement(plan, g, i, k, part=new), {FaultKind.MISSING, FaultKind.SURPLUS}


def a_part_of_another_gauge(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    alien = next(name for name in plan.job.parts if name[1] != str(g))
    return with_placement(plan, g, i, k, part=alien), {FaultKind.GAUGE}


def an_unknown_part(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    return with_placement(plan, g, i, k, part="nobody"), {FaultKind.UNKNOWN}


def no_place(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    return with_placement(plan, g, i, k, x=float("nan")), {FaultKind.PLACE}


def doubled(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    layout = plan.groups[g].layouts[i]
    twice = replace(layout, placements=(*layout.placements, layout.placements[k]))
    return with_layout(plan, g, i, twice), {FaultKind.OVERLAP}


def missing(dice: random.Random, plan: Plan) -> Planted:
    g, i, k = pick(dice, plan)
    layout = plan.groups[g].layouts[i]
    name = layout.placements[k].part
    if plan.job.parts[name].spare:
        return None
    fewer = (*layout.placements[:k], *layout.placements[k + 1 :])
    return with_layout(plan, g, i, replace(layout, placements=fewer)), {FaultKind.MISSING}


def repeated_once_more(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    layout = plan.groups[g].layouts[0]
    return with_layout(plan, g, 0, replace(layout, repeats=layout.repeats + 1)), {FaultKind.STOCK}


def wrong_sheet(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    layout = plan.groups[g].layouts[0]
    other = plan.groups[1 - g].layouts[0].sheet
    return with_layout(plan, g, 0, replace(layout, sheet=other)), {FaultKind.GAUGE}


def short_untrue(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    name = dice.choice([n for n in plan.job.parts if n[1] == str(g)])
    short = dict(plan.groups[g].short)
    short[name] = short.get(name, 0) + 1
    return with_group(plan, g, replace(plan.groups[g], short=short)), {FaultKind.MISSING}


def rack_overdrawn(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    (count,) = plan.groups[g].sheets
    if count.from_rack == count.used:
        return None
    drawn = replace(count, from_rack=count.from_rack + 1)
    return with_group(plan, g, replace(plan.groups[g], sheets=(drawn,))), {FaultKind.STOCK}


def bought_too_few(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    (count,) = plan.groups[g].sheets
    if not count.to_buy:
        return None
    few = replace(count, to_buy=count.to_buy - count.sheet.multiple)
    return with_group(plan, g, replace(plan.groups[g], sheets=(few,))), {FaultKind.STOCK}


def remnant_twice(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    if len(plan.groups[g].layouts) < 2:
        return None
    again = replace(plan.groups[g].layouts[1], tag="L99")
    group = replace(plan.groups[g], layouts=(*plan.groups[g].layouts, again))
    return with_group(plan, g, group), {FaultKind.REMNANT}


def an_order_forgotten(dice: random.Random, plan: Plan) -> Planted:
    g = dice.randrange(len(plan.groups))
    group = plan.groups[g].group
    k = dice.randrange(len(group.needs))
    fewer = replace(group, needs=(*group.needs[:k], *group.needs[k + 1 :]))
    return with_group(plan, g, replace(plan.groups[g], group=fewer)), {FaultKind.DEMAND}


def same_tag(dice: random.Random, plan: Plan) -> Planted:
    first = plan.groups[0].layouts[0]
    other = replace(plan.groups[1].layouts[0], tag=first.tag)
    return with_layout(plan, 1, 0, other), {FaultKind.TAG}


def bounds(plan: Plan, g: int, i: int, k: int):
    placement = plan.groups[g].layouts[i].placements[k]
    return box(place(plan.job.parts[placement.part].outline, placement))


def reaches_left(plan: Plan, placement) -> bool:
    """Whether the placed part has its lower left corner at that of its box."""
    return corner_of(plan, placement, right=False)


def reaches_right(plan: Plan, placement) -> bool:
    return corner_of(plan, placement, right=True)


def corner_of(plan: Plan, placement, right: bool) -> bool:
    placed = place(plan.job.parts[placement.part].outline, placement)
    around = box(placed)
    at = around.right if right else around.left
    return any(abs(x - at) < 1e-6 and abs(y - around.bottom) < 1e-6 for x, y, _ in placed.outer.vertices)


PLANTERS: tuple[Callable[[random.Random, Plan], Planted], ...] = (
    moved_onto_another,
    gap_short_by_a_hair,
    gap_short_by_a_hair,
    margin_short_by_a_hair,
    off_the_sheet,
    into_the_old_cut,
    turned_askew,
    turned_across_the_grain,
    mirrored,
    another_part_instead,
    a_part_of_another_gauge,
    an_unknown_part,
    no_place,
    doubled,
    missing,
    repeated_once_more,
    wrong_sheet,
    short_untrue,
    rack_overdrawn,
    bought_too_few,
    remnant_twice,
    an_order_forgotten,
    same_tag,
)


def plant(seed: int, plan: Plan) -> tuple[str, Plan, set[FaultKind]]:
    """One fault, chosen and placed by the seed."""
    dice = random.Random(seed)
    while True:
        planter = dice.choice(PLANTERS)
        planted = planter(dice, plan)
        if planted:
            return planter.__name__, *planted
