"""The figures of one layout, for one sheet of it: where its metal goes, cutting work, and money.

Yield and waste are defined here, once, and used everywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import fsum

from sheetplan.model.job import CuttingRule, Part, Remnant, SheetSize, edge_of, worth_as_remnant
from sheetplan.model.outline import Loop, Outline
from sheetplan.model.plan import Group, Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.rack.cut import Cutting, LeftOver, left_over
from sheetplan.shapes import Box, area, box, cut_length, perimeter, pierces, place
from sheetplan.trade.units import weight_kg

# Where the metal of a sheet goes: the one definition of yield and waste, used everywhere.
#
# Weights are by size, thickness and the real density of the metal. A gauge sheet weighs about 2.4 per
# cent less than the statutory weight by which it may be sold (see `trade.units.weight_kg`).
#
# Terms (all weights in kg):
# taken
#     The sheet as it comes to the table: a full sheet, or what a remnant still has.
# parts
#     Good finished parts, holes taken off.
# bad
#     Parts cut and then rejected. A plan has none; the cut log knows them.
# kerf
#     Metal burnt or blown away: cut length x kerf x thickness x density, outer loops and holes.
# kept
#     All metal that goes back to the rack: the rectangle of a remnant or, where what is left is kept as it
#     is, that with its old skeleton.
# along
#     What of it hangs on the rectangle, less what hung on the sheet before: skeleton, though it lies in the
#     rack yet. It is waste once, when it is made, and not again when the remnant is used up.
# skeleton
#     All the rest: the web between the parts, edges, and what drops out of holes.
# used up
#     Taken less kept: what the rack lacks afterwards.
# yield
#     Parts over metal used up and what goes along. Waste is the rest of it: the two add up to 1.


@dataclass(frozen=True, slots=True)
class MetalSplit:
    """Weights in kg; see the terms above."""

    taken: float = 0.0
    parts: float = 0.0
    kerf: float = 0.0
    kept: float = 0.0
    bad: float = 0.0
    along: float = 0.0

    @property
    def used_up(self) -> float:
        """Metal that does not return to the rack."""
        return self.taken - self.kept

    @property
    def useful(self) -> float:
        """Of what is kept, all but the skeleton that a cut makes of it."""
        return self.kept - self.along

    @property
    def skeleton(self) -> float:
        """Solid scrap that was never a part."""
        return self.taken - self.parts - self.kerf - self.kept - self.bad

    @property
    def solid_scrap(self) -> float:
        """What the scrap bin's scales should show: skeleton and bad parts."""
        return self.skeleton + self.bad

    @property
    def waste(self) -> float:
        """Skeleton, what of it goes along, kerf and bad parts."""
        return self.used_up + self.along - self.parts

    @property
    def yield_share(self) -> float:
        """Parts over metal used up and what goes along, 0 to 1; 0 where nothing is used up."""
        return _share(self.parts, self.used_up + self.along)

    @property
    def waste_share(self) -> float:
        """Waste over metal used up and what goes along, 0 to 1."""
        return _share(self.waste, self.used_up + self.along)

    def times(self, repeats: float) -> MetalSplit:
        """The same cut so many times."""
        return MetalSplit(
            taken=self.taken * repeats,
            parts=self.parts * repeats,
            kerf=self.kerf * repeats,
            kept=self.kept * repeats,
            bad=self.bad * repeats,
            along=self.along * repeats,
        )

    def rejecting(self, bad: float) -> MetalSplit:
        """The same with so many kg of the parts found bad."""
        return replace(self, parts=self.parts - bad, bad=self.bad + bad)


def total_split(splits: Iterable[MetalSplit]) -> MetalSplit:
    """The sum of many."""
    listed = list(splits)
    return MetalSplit(
        fsum(split.taken for split in listed),
        fsum(split.parts for split in listed),
        fsum(split.kerf for split in listed),
        fsum(split.kept for split in listed),
        fsum(split.bad for split in listed),
        fsum(split.along for split in listed),
    )


def _share(weight: float, whole: float) -> float:
    return weight / whole if whole > 0 else 0.0


# How far the head travels without cutting.
#
# The table's own program decides the order of the cuts; here the head goes from the datum corner to the
# nearest loop that is not cut yet, and so on, straight from start to start. That is an estimate, good
# enough for hours and money, and the same for the same layout.

Point = tuple[float, float]


def moves_length(layout: Layout, parts: Mapping[str, Part], datum: Corner = Corner.LOWER_LEFT) -> float:
    """Length of the moves on one sheet of a layout, mm: from the datum corner to every loop's start.

    The way back is not counted: the head stays where the next sheet is squared from.
    """
    import numpy as np

    points = np.array(_starts(layout, parts))
    at = np.array(_corner(layout, datum))
    left = np.ones(len(points), dtype=bool)
    total = 0.0
    for _ in range(len(points)):
        apart = np.hypot(*(points - at).T)
        nearest = int(np.argmin(np.where(left, apart, np.inf)))
        total += float(apart[nearest])
        at = points[nearest]
        left[nearest] = False
    return total


def _starts(layout: Layout, parts: Mapping[str, Part]) -> list[Point]:
    """Where each loop begins on the sheet: its first vertex."""
    at_origin: dict[tuple[str, float, bool], list[Point]] = {}
    found = []
    for placement in layout.placements:
        key = placement.part, placement.turn, placement.mirrored
        if key not in at_origin:
            at_origin[key] = _loop_starts(placement, parts)
        found += [(x + placement.x, y + placement.y) for x, y in at_origin[key]]
    return found


def _loop_starts(placement: Placement, parts: Mapping[str, Part]) -> list[Point]:
    turned = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
    outline = place(parts[placement.part].outline, turned)
    return [loop.vertices[0][:2] for loop in (outline.outer, *outline.holes)]


def _corner(layout: Layout, datum: Corner) -> Point:
    around = box(edge_of(layout.sheet))
    return (
        around.right if datum.is_right else around.left,
        around.top if datum.is_upper else around.bottom,
    )


# The figures of one layout, for one sheet of it: weights, cutting work, money.

SECONDS_PER_HOUR = 3600.0
MINUTES_PER_HOUR = 60.0


@dataclass(frozen=True, slots=True)
class CuttingWork:
    """What the torch does: mm cut through, pierces (one a loop), and hours or None without a feed.

    ``moves`` is how far the head travels between cuts, mm; it counts in the hours where the rule has
    a speed for it. Marking is not in the hours. ``sets`` are sets of consumables used up, where the rule
    counts them by minutes of arc as well: reckoned part by part, by what of a part wears more.
    """

    cut_length: float
    pierces: int
    hours: float | None
    moves: float = 0.0
    sets: float = 0.0

    def consumables(self, rule: CuttingRule) -> float:
        """Pierces and sets in money."""
        return self.pierces * rule.pierce_cost + self.sets * rule.set_cost

    def cost(self, rule: CuttingRule) -> float:
        """Consumables and hours in money; without a feed the consumables alone."""
        return self.consumables(rule) + (self.hours or 0.0) * rule.hour_cost

    def times(self, repeats: int) -> CuttingWork:
        """The same so many times."""
        hours = None if self.hours is None else self.hours * repeats
        return CuttingWork(
            self.cut_length * repeats, self.pierces * repeats, hours, self.moves * repeats,
            self.sets * repeats,
        )

    def moving(self, length: float, rule: CuttingRule) -> CuttingWork:
        """The same with so many mm of moves; without a feed or a speed for them they take no time."""
        if self.hours is None or not rule.travel:
            return self
        hours = self.hours + length / rule.travel / MINUTES_PER_HOUR
        return CuttingWork(self.cut_length, self.pierces, hours, self.moves + length, self.sets)


@dataclass(frozen=True, slots=True)
class PartFacts:
    """What a part's outline comes to: mm2 of metal, and the work of cutting one."""

    area: float
    work: CuttingWork


@dataclass(frozen=True, slots=True)
class MetalAndWork:
    """Where metal went and the work of cutting it, of one sheet or of many.

    ``work.hours`` is None where no feed is known.
    """

    split: MetalSplit
    work: CuttingWork

    @property
    def yield_share(self) -> float:
        """Part weight over metal used up; see `MetalSplit`."""
        return self.split.yield_share

    @property
    def cut_length(self) -> float:
        """Length cut through, mm."""
        return self.work.cut_length

    @property
    def pierces(self) -> int:
        """One for every loop."""
        return self.work.pierces

    @property
    def hours(self) -> float | None:
        """Cutting, piercing and, where they have a speed, moves; None without a feed."""
        return self.work.hours


@dataclass(frozen=True, slots=True)
class LayoutFigures(MetalAndWork):
    """One sheet of a layout; multiply by ``repeats`` for all of them.

    ``metal_cost`` is the price or value of the sheet, ``left`` what goes back to the rack and
    ``kept_value`` what that is worth. ``work`` holds the crop cut as well. ``moving_cost`` is to move
    what lies on a remnant in its pile. ``sheet_minutes`` are those that a sheet keeps the table busy beside
    its cutting, ``hand_minutes`` all of hands; ``handling_cost`` is what they cost and a part of
    ``cutting_cost``, as are the ``consumables``. ``scrap_value`` is what its solid scrap fetches; no other
    figure holds it.
    """

    tag: str
    repeats: int
    pieces: int
    left: LeftOver
    metal_cost: float
    kept_value: float
    cutting_cost: float
    moving_cost: float
    sheet_minutes: float
    hand_minutes: float
    handling_cost: float
    consumables: float
    scrap_value: float

    @property
    def table_hours(self) -> float | None:
        """How long one sheet keeps the table busy: its cutting, and laying it on and taking it off."""
        return None if self.hours is None else self.hours + self.sheet_minutes / MINUTES_PER_HOUR

    @property
    def kept(self) -> Box | None:
        """The useful rectangle that is left of the sheet, in its frame; None where there is none."""
        return self.left.room


class Weighing:
    """Works out the figures of one gauge's layouts; what parts come to, and what falls out of them, once.

    Parameters
    ----------
    group : Group
        The gauge.
    parts : mapping
        Parts by name, those of its layouts at the least.
    settings : Settings
        Datum corner, and what is worth keeping.
    """

    def __init__(self, group: Group, parts: Mapping[str, Part], settings: Settings) -> None:
        self._group, self._parts, self._settings = group, parts, settings
        self._cutting = Cutting(group.rule, parts, settings)
        self._facts: dict[str, PartFacts] = {}

    def facts(self, part: str) -> PartFacts:
        """What a part's outline comes to."""
        known = self._facts.get(part)
        if known is None:
            known = self._facts[part] = part_facts(self._parts[part].outline, self._group.rule)
        return known

    def of(self, layout: Layout) -> LayoutFigures:
        """The figures of one sheet of a layout."""
        group, rule, settings = self._group, self._group.rule, self._settings
        here = [self.facts(placement.part) for placement in layout.placements]
        work = total_work(fact.work for fact in here)
        if rule.travel and here:
            work = work.moving(moves_length(layout, self._parts, settings.datum), rule)
        left = left_over(layout, group, self._parts, settings, self._cutting)
        work = total_work((work, crop_work(left, rule)))
        split = _split(layout, group, sum(fact.area for fact in here), work, left)
        cost = layout.sheet.value if isinstance(layout.sheet, Remnant) else layout.sheet.price
        hands = handling(len(layout.placements), rule, settings)
        return LayoutFigures(
            tag=layout.tag, repeats=layout.repeats, pieces=len(layout.placements), split=split, work=work,
            left=left, metal_cost=cost, kept_value=worth_as_remnant(layout.sheet, settings) * left.share,
            cutting_cost=work.cost(rule) + hands.cost,
            moving_cost=layout.sheet.moving_cost if isinstance(layout.sheet, Remnant) else 0.0,
            sheet_minutes=settings.sheet_minutes, hand_minutes=hands.minutes, handling_cost=hands.cost,
            consumables=work.consumables(rule), scrap_value=split.solid_scrap * group.material.scrap_price,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Handling:
    """Handling one sheet and its parts: minutes of hands, and what the sheet and one part cost in that."""

    minutes: float
    sheet: float
    part: float
    parts: int

    @property
    def cost(self) -> float:
        """The sheet and all of its parts."""
        return self.sheet + self.part * self.parts


def handling(parts: int, rule: CuttingRule, settings: Settings) -> Handling:
    """Laying a sheet on, squaring it, taking it off and cleaning its parts, as Settings says.

    The table stands still while a sheet is laid on, squared and taken off, and costs its hour all the same.
    """
    minutes, each = settings.sheet_minutes, settings.clean_minutes
    sheet = minutes / MINUTES_PER_HOUR * (rule.hour_cost + settings.hand_hour)
    part = each / MINUTES_PER_HOUR * settings.hand_hour
    return Handling(minutes + each * parts, sheet, part, parts)


def layout_figures(
    layout: Layout, group: Group, parts: Mapping[str, Part], settings: Settings
) -> LayoutFigures:
    """The figures of one sheet of a layout."""
    return Weighing(group, parts, settings).of(layout)


def metal_area(sheet: SheetSize | Remnant, kerf: float) -> float:
    """Metal of a full sheet, or what old cuts and their kerf have left of a remnant, mm2.

    The old cuts of a remnant are taken to lie inside its edge, apart from one another.
    """
    whole = area(edge_of(sheet))
    if isinstance(sheet, Remnant):
        whole -= sum(area(cut) + perimeter(cut) * kerf for cut in sheet.old_cuts)
    return max(whole, 0.0)


def part_facts(outline: Outline, rule: CuttingRule) -> PartFacts:
    """Area and cutting work of one part under a rule."""
    slow = small_holes(outline, rule)
    work = cutting_work(cut_length(outline), pierces(outline), rule, sum(map(perimeter, slow)), len(slow))
    return PartFacts(area(outline), work)


def small_holes(outline: Outline, rule: CuttingRule) -> list[Loop]:
    """The holes that are cut at the feed of small holes.

    A hole's diameter is four times its area over its perimeter: exact for a disc and a square, and the
    width, nearly, of a long slot.
    """
    if not rule.hole_feed or not rule.hole_times:
        return []
    least = rule.hole_times * rule.thickness.mm
    return [hole for hole in outline.holes if 4.0 * abs(area(hole)) / perimeter(hole) < least]


def cutting_work(
    length: float, starts: int, rule: CuttingRule, slow: float = 0.0, slow_starts: int = 0
) -> CuttingWork:
    """Work from cut length (mm) and pierces: cut length over feed, plus the pierces' seconds.

    ``slow`` of the length, in ``slow_starts`` loops, is cut at the feed of small holes; the lead-in of each
    loop goes at the loop's feed. The arc burns while it cuts and pierces, not while the torch finds its
    height.
    """
    if not rule.feed:
        return CuttingWork(length, starts, None)
    fast = length - slow + (starts - slow_starts) * rule.lead_in
    cutting = fast / rule.feed + (slow + slow_starts * rule.lead_in) / (rule.hole_feed or rule.feed)
    seconds = starts * (rule.pierce_seconds + rule.sensing_seconds)
    hours = cutting / MINUTES_PER_HOUR + seconds / SECONDS_PER_HOUR
    sets = 0.0
    if rule.set_minutes:
        arc = cutting + starts * rule.pierce_seconds / MINUTES_PER_HOUR
        sets = max(arc / rule.set_minutes, starts / rule.set_starts if rule.set_starts else 0.0)
    return CuttingWork(length, starts, hours, sets=sets)


def crop_work(left: LeftOver, rule: CuttingRule) -> CuttingWork:
    """The crop cut: its length, and a pierce for each line that it is begun with."""
    return cutting_work(sum(map(perimeter, left.crop)), len(left.crop), rule)


def total_work(works: Iterable[CuttingWork]) -> CuttingWork:
    """The sum of many; hours are None where any of them is unknown."""
    listed = list(works)
    hours = [work.hours for work in listed if work.hours is not None]
    return CuttingWork(
        sum(work.cut_length for work in listed),
        sum(work.pierces for work in listed),
        sum(hours) if len(hours) == len(listed) else None,
        sum(work.moves for work in listed),
        sum(work.sets for work in listed),
    )


def _split(layout: Layout, group: Group, parts_area: float, work: CuttingWork, left: LeftOver) -> MetalSplit:
    """Weights of one sheet. Neighbours may share a kerf, so kerf never exceeds the metal there is for it."""

    def weigh(mm2: float) -> float:
        return weight_kg(mm2, group.thickness.mm, group.material.density)

    taken = metal_area(layout.sheet, group.rule.kerf)
    kerf_area = min(work.cut_length * group.rule.kerf, max(taken - parts_area - left.metal, 0.0))
    # Parts may come from metal that hung on the room before: no more than parts and kerf is then used up.
    along = max(left.along, parts_area + kerf_area + left.metal - taken)
    return MetalSplit(
        weigh(taken), weigh(parts_area), weigh(kerf_area), weigh(left.metal), along=weigh(along)
    )
