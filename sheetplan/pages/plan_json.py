"""A plan as plain values for scripts and checks: what ``sheetplan plan --json FILE`` writes.

Lengths and cut lengths are in the book's length (``in`` or ``mm``), weights in its weight (``lb`` or
``kg``), money in its currency, times in hours, turns in degrees counter-clockwise, shares from 0 to
1. Numbers are finite and rounded to nine decimals. ``null`` stands where a value is not known. The pages
print amounts to the cent so that rows add up to their printed total: a row may lie a cent beside its amount.

format
    2. It grows only when a field changes its meaning or goes; new fields do not change it. Format 1
    called ``to_pay`` of a choice ``money_now``.
units
    ``length``, ``weight`` and ``money``: how they are spelled.
stopped_early
    Whether the run was told to stop, so that a longer one might do better.
totals
    Figures of the whole plan, ``within`` and ``against_cheapest`` as for a group.
parts
    By name: ``material``, ``thickness`` (text as written), ``length`` and ``width`` of the part's box
    before any turn.
groups
    One for each gauge, each with

    - ``gauge``, ``material``, ``thickness`` (length), ``thickness_text``, ``kerf``, ``gap``, ``margin``;
    - ``sheets``: one for each size used, with ``sheet`` (its name in Stock), ``width``, ``length``,
      ``price``, ``used``, ``from_rack`` and ``to_buy`` (whole order multiples);
    - ``layouts`` (below), ``short`` (pieces of must orders not made, by part), ``note``;
    - ``sheet_cost`` (price of the sheets and value of the remnants used);
    - ``counted`` (what the plan counts in the choice between plans: metal on hand, remnants and what goes
      back at the shares of Settings; areas in m2 where nothing has a price; or null) and ``bound`` (no plan
      of the same pieces counts less; or null);
    - ``within`` (by what share ``counted`` lies above ``bound`` at most; null where that is not proven, or
      more than 0.15) and ``against_cheapest`` (the same in the words of the page Plan);
    - ``choices`` (below);
    - figures of the group.
layouts
    ``tag``; ``sheet`` (name in Stock) or ``remnant`` (tag), the other being null; ``width`` and
    ``length`` of the sheet's box; ``repeats`` (how often it is cut); ``parts`` (pieces on one sheet, by
    part); ``placements``; ``kept`` (box of the useful rectangle left, or null), ``kept_value``, ``cropped``
    (whether it is cut out), ``crop_length`` (of that cut, in the cut length) and ``drop_outs`` (``[width,
    length]`` of useful pieces from holes); ``metal_cost``, ``moving_cost`` (of what lies on a remnant),
    ``cutting_cost``, ``table_hours``, ``hand_minutes`` and figures of metal and work, all for one sheet.
placements
    ``part``, ``x``, ``y``, ``turn``, ``mirrored`` and ``box``. The part's own frame has its box at
    (0, 0), length along x. It is mirrored in x about that point if ``mirrored``, then turned about it by
    ``turn``, then moved by ``(x, y)``. ``box`` is ``[left, bottom, right, top]`` of the part as it then
    lies. The sheet's length runs along x, its width along y, its lower left corner is (0, 0).
figures of metal and work
    ``yield`` (part weight over metal used up, which is sheet weight less kept weight), ``waste`` (1
    minus yield), ``sheet_weight``, ``part_weight``, ``kerf_weight``, ``kept_weight`` (remnants that go
    back to the rack, less skeleton that hangs on them), ``cut_length``, ``pierces``,
    ``moves`` (travel between cuts where it is counted) and
    ``hours`` (of cutting, piercing and moves; null where no feed is known).
figures of a group or a plan
    The figures of metal and work over all repeats; ``sheets_used``, ``sheets_from_rack``,
    ``sheets_to_buy``, ``remnants_used`` and ``pieces``; ``table_hours`` (``hours`` with the minutes in which
    sheets are laid on, squared and taken off: what the pages call the time) and ``hand_minutes`` (those and
    cleaning); ``metal_cost`` (sheets and remnants used),
    ``moving_cost``, ``cutting_cost`` and ``cost`` (the three together); ``kept_value`` (worth of the
    remnants kept, not taken off the cost) and ``to_pay`` (the suppliers' bill for whole order multiples).
choices
    Ways to plan the group, the one in use among them: ``choice`` (its tag), ``name`` (what it was sought
    for), ``in_use``, ``picked`` (by the planner), ``best_at`` (in words, among the ways found), ``to_pay``
    (the suppliers' bill), ``metal_cost``, ``cutting_cost``, ``sheets_taken`` (remnants counted),
    ``layout_count``, ``yield``, ``waste``, ``sheet_weight`` and ``largest_kept`` (``[width, length]`` of the
    largest remnant that one sheet leaves, or null).
fits
    What else fits, as far as there was time (``all_ready``, and ``searched`` where there was time to look
    for more everywhere); laid out on sheets, so that it can be cut, while more than ``most`` cannot be:

    - ``on_hand``: for each ``kit``, how many ``whole`` ones the stock on hand makes if nothing else is
      cut, ``by_gauge``, the ``bottleneck`` with the fewest among them, and ``most``;
    - ``round_up``: for an ``order`` (its place in ``orders``, from 0) how many ``extra`` fit without
      another sheet, the gauge that is ``full`` then as far as was found, and ``is_most`` where that is sure;
    - ``one_more``: how many of an ``item`` one more ``sheet`` of a ``gauge`` ``adds``; ``short`` where the
      plan lacks them; of a kit, how many are ``whole`` with the sheets of the other gauges as they are,
      and in which of those no room was found for more (``held_up``);
    - ``per_sheet``: ``kits`` of a ``kit`` from so many ``sheets`` of a size, and ``most``.
cutting_order
    One for each layout, in the order in which they are best cut: ``layout`` (its tag), ``due`` (the first day
    on which an order that must be made waits for it, or null) and ``on_hand`` (sheets of it that lie in the
    rack).
orders
    In the order of the book: ``order``, ``item``, ``due``, ``must``, ``asked``, ``made``, ``short``, and
    ``missing`` (pieces still wanted for the line, by part). Kits count when all their parts are made.
spare
    Pieces made that no order asks for, by part.
problems
    ``page``, ``row``, ``cell``, ``what``, ``remedy`` and ``weight`` (how it matters).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from sheetplan.model import GroupPlan, Job, Layout, Placement, Plan, Problem, Remnant
from sheetplan.model.plan import against_cheapest
from sheetplan.money.comparison import ChoiceFigures, Choices, choice_figures
from sheetplan.money.cutting_order import cutting_order
from sheetplan.money.figures import Figures, GroupFigures, Money, PlanFigures
from sheetplan.money.layout_figures import CuttingWork, LayoutFigures, MetalSplit
from sheetplan.money.order_shares import LineResult, allocate
from sheetplan.pages.contents import parts_on
from sheetplan.pages.wording import sheet_size
from sheetplan.planning.whatif.fits import Fits, fits_values
from sheetplan.shapes import Box, box, perimeter, place, size
from sheetplan.trade.units import Units

# Numbers as a plan's JSON holds them.

DIGITS = 9
"""Decimals kept: a billionth of an inch or of a currency's unit, so that equal plans give equal text."""


def _length(mm: float, units: Units) -> float:
    """A length in the book's units."""
    return _number(mm / units.length_mm)


def _number(value: float) -> float:
    """A finite number without the dust of conversions; a number that is not finite is a bug of ours."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    return round(value, DIGITS) + 0.0


# The choices of a plan as plain values; `plan_json` describes every field.

def choices_values(plan: Plan, choices: Choices | None = None) -> list[list[dict[str, Any]]]:
    """For each gauge the ways to plan it, with their figures: ``choices``, where those are known."""
    units = plan.job.settings.units
    return [
        [_choice(one, is_picked=one.way.in_use and bool(group_plan.picked), units=units) for one in ways]
        for group_plan, ways in zip(plan.groups, choices or choice_figures(plan), strict=True)
    ]


def _choice(one: ChoiceFigures, *, is_picked: bool, units: Units) -> dict[str, Any]:
    figures, kept = one.figures, one.kept
    return {
        "choice": one.way.tag,
        "name": one.way.name,
        "in_use": one.way.in_use,
        "picked": is_picked,
        "best_at": list(one.best_at),
        "to_pay": _number(figures.money.to_pay),
        "metal_cost": _number(figures.money.metal),
        "cutting_cost": _number(figures.money.cutting),
        "sheets_taken": one.sheets,
        "layout_count": one.layouts,
        "yield": _number(figures.yield_share),
        "waste": _number(figures.waste_share),
        "sheet_weight": _number(figures.sheet_weight / units.weight_kg),
        "largest_kept": [_length(kept.width, units), _length(kept.length, units)] if kept else None,
    }


FORMAT = 2

def plan_json(
    plan: Plan, figures: PlanFigures, choices: Choices | None = None
) -> dict[str, Any]:
    """The plan as dictionaries, lists, text and finite numbers; the module describes every field.

    ``choices`` are the figures of the choices, worked out here where not given.
    """
    units = plan.job.settings.units
    shared = allocate(plan)
    return {
        "format": FORMAT,
        "units": {"length": units.value, "weight": units.weight, "money": plan.job.settings.currency},
        "stopped_early": plan.stopped_early,
        "totals": {**_sure(plan.above_least), **_whole(figures.total, units)},
        "parts": _parts(plan, units),
        "groups": [
            _group(plan.job, group_plan, group, choices)
            for group_plan, group, choices in zip(
                plan.groups, figures.groups, choices_values(plan, choices), strict=True
            )
        ],
        "cutting_order": [
            {"layout": turn.layout.tag, "due": turn.due or None, "on_hand": turn.on_hand}
            for turn in cutting_order(plan)
        ],
        "orders": [_order(plan.job, line) for line in shared.lines],
        "spare": dict(sorted(shared.spare.items())),
        "problems": [_problem(problem) for problem in plan.problems],
    }


def with_fits(record: Mapping[str, Any], fits: Fits | None) -> dict[str, Any]:
    """The plan with what else fits, where that is known."""
    return {**record, "fits": fits_values(fits)} if fits else dict(record)


def _maybe(value: float | None) -> float | None:
    return None if value is None else _number(value)


def _sure(above: float | None) -> dict[str, Any]:
    """How far above the proven least at most, as a number and in words."""
    return {"within": _maybe(above), "against_cheapest": against_cheapest(above)}


def _parts(plan: Plan, units: Units) -> dict[str, Any]:
    """Sizes of all parts that are needed or made."""
    needed = {need.part for group_plan in plan.groups for need in group_plan.group.needs}
    made = {p.part for group_plan in plan.groups for layout in group_plan.layouts for p in layout.placements}
    found = {}
    for name in sorted(needed | made):
        part = plan.job.parts[name]
        length, width = size(part.outline)
        found[name] = {
            "material": part.material,
            "thickness": part.thickness.text,
            "length": _length(length, units),
            "width": _length(width, units),
        }
    return found


def _group(
    job: Job, group_plan: GroupPlan, figures: GroupFigures, choices: list[dict[str, Any]]
) -> dict[str, Any]:
    units = job.settings.units
    group = group_plan.group
    return {
        "gauge": group.label,
        "material": group.material.name,
        "thickness": _length(group.thickness.mm, units),
        "thickness_text": group.thickness.text,
        "kerf": _length(group.rule.kerf, units),
        "gap": _length(group.rule.gap, units),
        "margin": _length(group.rule.margin, units),
        "sheets": [
            {
                "sheet": count.sheet.name,
                "width": _length(count.sheet.width, units),
                "length": _length(count.sheet.length, units),
                "price": _number(count.sheet.price),
                "used": count.used,
                "from_rack": count.from_rack,
                "to_buy": count.to_buy,
            }
            for count in group_plan.sheets
        ],
        "layouts": [_layout(job, layout, figures.layouts[layout.tag]) for layout in group_plan.layouts],
        "short": dict(sorted(group_plan.short.items())),
        "sheet_cost": _number(group_plan.cost),
        "counted": _maybe(group_plan.counted),
        "bound": _maybe(group_plan.bound),
        **_sure(group_plan.above_least),
        "note": group_plan.note,
        "choices": choices,
        **_whole(figures, units),
    }


def _layout(job: Job, layout: Layout, figures: LayoutFigures) -> dict[str, Any]:
    units = job.settings.units
    length, width = sheet_size(layout.sheet)
    return {
        "tag": layout.tag,
        **({"of_plan": layout.of_plan} if layout.of_plan else {}),
        "sheet": None if isinstance(layout.sheet, Remnant) else layout.sheet.name,
        "remnant": layout.sheet.tag if isinstance(layout.sheet, Remnant) else None,
        "width": _length(width, units),
        "length": _length(length, units),
        "repeats": layout.repeats,
        "parts": dict(sorted(parts_on(layout).items())),
        "placements": [_placement(job, placement) for placement in layout.placements],
        "kept": None if figures.kept is None else _box(figures.kept, units),
        "kept_value": _number(figures.kept_value),
        "cropped": figures.left.cropped,
        "crop_length": _length(sum(map(perimeter, figures.left.crop)), units),
        "drop_outs": [
            [_length(room.width, units), _length(room.length, units)] for room in figures.left.drop_outs
        ],
        **_metal(figures.split, figures.work, units),
        "table_hours": _maybe(figures.table_hours),
        "hand_minutes": _number(figures.hand_minutes),
        "metal_cost": _number(figures.metal_cost),
        "moving_cost": _number(figures.moving_cost),
        "cutting_cost": _number(figures.cutting_cost),
    }


def _placement(job: Job, placement: Placement) -> dict[str, Any]:
    units = job.settings.units
    around = box(place(job.parts[placement.part].outline, placement))
    return {
        "part": placement.part,
        "x": _length(placement.x, units),
        "y": _length(placement.y, units),
        "turn": _number(placement.turn),
        "mirrored": placement.mirrored,
        "box": _box(around, units),
    }


def _box(around: Box, units: Units) -> list[float]:
    return [_length(side, units) for side in around]


def _whole(figures: Figures, units: Units) -> dict[str, Any]:
    return {
        "sheets_used": figures.sheets_used,
        "sheets_from_rack": figures.sheets_from_rack,
        "sheets_to_buy": figures.sheets_to_buy,
        "remnants_used": figures.remnants_used,
        "pieces": figures.pieces,
        **_metal(figures.split, figures.work, units),
        "table_hours": _maybe(figures.table_hours),
        "hand_minutes": _number(figures.hand_minutes),
        **_money(figures.money),
    }


def _metal(split: MetalSplit, work: CuttingWork, units: Units) -> dict[str, Any]:
    return {
        "yield": _number(split.yield_share) if split.taken else None,
        "waste": _number(split.waste_share) if split.taken else None,
        "sheet_weight": _number(split.taken / units.weight_kg),
        "part_weight": _number(split.parts / units.weight_kg),
        "kerf_weight": _number(split.kerf / units.weight_kg),
        "kept_weight": _number(split.useful / units.weight_kg),
        "cut_length": _length(work.cut_length, units),
        "pierces": work.pierces,
        "moves": _length(work.moves, units),
        "hours": _maybe(work.hours),
    }


def _money(money: Money) -> dict[str, Any]:
    return {
        "cost": _number(money.total),
        "metal_cost": _number(money.metal),
        "moving_cost": _number(money.moving),
        "cutting_cost": _number(money.cutting),
        "kept_value": _number(money.kept),
        "to_pay": _number(money.to_pay),
    }


def _order(job: Job, line: LineResult) -> dict[str, Any]:
    order = job.orders[line.order]
    return {
        "order": order.name,
        "item": order.item,
        "due": order.due or None,
        "must": order.must,
        "asked": line.asked,
        "made": line.made,
        "short": line.short,
        "missing": dict(line.missing),
    }


def _problem(problem: Problem) -> dict[str, Any]:
    return {
        "page": problem.page,
        "row": problem.row,
        "cell": problem.cell,
        "what": problem.what,
        "remedy": problem.remedy,
        "weight": str(problem.weight),
    }
