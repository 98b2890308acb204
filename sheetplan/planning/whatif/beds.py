"""Sheets with what lies on them, and more pieces put there: what is said to fit is laid out.

Terms
-----
bed
    So many sheets of a kind, or one remnant, with the same pieces on each; none on fresh metal.
room
    What is left on the sheets of a plan. Pieces that no order asks for (spares) give way to orders; locked
    layouts stay as they are, so their sheets have no room. Pieces that an order asks for and the plan does
    not make come before any more of another.
spread
    Pieces are added bed after bed, nothing that lies there is moved.
squeeze
    The emptiest beds are laid out anew, each with what it holds and what found no room.

Parts that fill their boxes are laid as boxes, others by their true outlines.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely

from sheetplan.model.job import Part, Remnant, SheetSize
from sheetplan.model.outline import Loop
from sheetplan.model.plan import Group, GroupPlan, Layout, Need, Placement
from sheetplan.model.settings import Settings
from sheetplan.packing import Blank, Item, SheetPacker, blank_of
from sheetplan.packing.maxrects import Floats, Ints, box_areas
from sheetplan.packing.rectangles import BoxPacker
from sheetplan.packing.sheet_packer import Metal
from sheetplan.planning.box_problem import BoxProblem, Cut, Supply, make_problem, supplies_of
from sheetplan.planning.progress import Stop, never
from sheetplan.planning.search.first_plan import fixed_runs, replayed
from sheetplan.planning.search.shape_filling import (
    AREA_BOUND_MM,
    LOOK_CELLS,
    WORTH_A_TRIAL,
    Effort,
    ShapeFiller,
    grown_areas,
)
from sheetplan.planning.search.state import Search, plan_search
from sheetplan.planning.solution import layout_of
from sheetplan.shapes import Side, place, to_polygon

SEED = 1
"""Questions are asked with one seed, so that the same question has the same answer."""

BESIDE, QUICK = 2, 8
"""Passes of the true-shape packer on one sheet: beside other pieces, and alone."""

PRESSING_LOOKS = 150_000
"""Work on pressing pieces in among others, for each pass beyond the quick ones' effort."""

BOX_PASSES = 3
"""Passes of the box packer for one of the true-shape packer: they are that much quicker."""

FIXED_LOOKS = 20_000_000
"""Work after which a question's fixed runs end: hundreds of remnants would take minutes."""

COARSE_MM = 0.25
"""How far the edge of a piece that lies there may be moved outwards, to have fewer corners."""

FEW_PIECES, MANY_PIECES = 200, 1_000
"""On a sheet of more pieces there is little to gain by pressing one in, or by true shapes at all."""

MOST_ADDED = 5_000
"""Answers about pieces beside others that are remembered: lines are served in several ways."""

MEMORY = 8
"""Gauges whose packers a process remembers: the maps of true shapes are dear to prepare."""

EMPTY = 1e-9
"""A share of an area below which nothing is gained but rounding."""


class OutOfTime(Exception):
    """A question was given up; there is no answer, neither yes nor no."""


@dataclass(frozen=True, slots=True)
class Bed:
    """So many sheets of a kind, or a remnant, with the same pieces on each."""

    metal: SheetSize | Remnant
    placements: tuple[Placement, ...] = ()
    count: int = 1

    @property
    def held(self) -> Counter[str]:
        """Pieces on one of the sheets."""
        return _counted(self.placements)


def name_of(metal: SheetSize | Remnant) -> str:
    """What a sheet size or a remnant is called; the two never share a name in one gauge's answers."""
    return f"remnant {metal.tag}" if isinstance(metal, Remnant) else metal.name


def beds_of(layouts: Iterable[Layout]) -> list[Bed]:
    """The sheets of layouts with what lies on them."""
    return [Bed(layout.sheet, layout.placements, layout.repeats) for layout in layouts]


def fresh(metal: Mapping[SheetSize | Remnant, int]) -> list[Bed]:
    """Sheets with nothing on them."""
    return [Bed(sheet, (), count) for sheet, count in metal.items() if count > 0]


def singles(beds: Iterable[Bed]) -> list[Bed]:
    """Every sheet as a bed of its own."""
    return [replace(bed, count=1) for bed in beds for _ in range(bed.count)]


def held_by(beds: Iterable[Bed]) -> Counter[str]:
    """Pieces on all sheets of some beds."""
    total: Counter[str] = Counter()
    for bed in beds:
        for name, pieces in bed.held.items():
            total[name] += pieces * bed.count
    return total


def without_surplus(
    beds: Iterable[Bed], surplus: Mapping[str, int], *, may_split: bool = True
) -> list[Bed]:
    """Beds without so many pieces of each part: out of every sheet of a bed where the numbers allow it.

    Pieces that were laid last go first. What is left over comes out of single sheets, which become beds of
    their own, or stays (``may_split``).
    """
    left = Counter({name: count for name, count in surplus.items() if count > 0})
    after = []
    for bed in beds:
        held = bed.held
        out = Counter({name: min(n, left[name] // bed.count) for name, n in held.items() if left[name]})
        left.subtract({name: n * bed.count for name, n in out.items()})
        rest = Counter({name: min(n - out[name], left[name]) for name, n in held.items() if left[name]})
        if +rest and bed.count > 1 and may_split:
            after.append(_thinned(replace(bed, count=bed.count - 1), out))
            bed = replace(bed, count=1)
        if bed.count == 1:
            left.subtract(rest)
            out += rest
        after.append(_thinned(bed, out))
    return after


def _thinned(bed: Bed, out: Mapping[str, int]) -> Bed:
    """A bed without so many pieces of each part, those laid last first."""
    left, kept = dict(out), []
    for placement in reversed(bed.placements):
        if left.get(placement.part, 0) > 0:
            left[placement.part] -= 1
        else:
            kept.append(placement)
    return replace(bed, placements=tuple(reversed(kept)))


class GaugeFiller:
    """Puts pieces of one gauge on sheets and remnants; what is prepared for it serves all questions.

    An answer depends on the gauge and the question alone, whatever was asked before.
    """

    def __init__(self, group: Group, parts: Mapping[str, Part], settings: Settings) -> None:
        self.group, self.settings = group, settings
        names = sorted({need.part for need in group.needs})
        # Every size may be asked about, also one that is neither on hand nor for sale.
        stock = tuple(replace(sheet, on_hand=0, buy_limit=None) for sheet in group.stock)
        needs = tuple(Need(0, name, "", 1) for name in names)
        self.problem = make_problem(replace(group, needs=needs, stock=stock), parts, settings)
        self.parts = {made.part.name: made.part for made in self.problem.boxes}
        self.types = {name: t for t, name in enumerate(self.parts)}
        self.grown: Floats = grown_areas(self.problem, group.rule.gap)
        self.boxes: Floats = box_areas(self.problem.types)
        self._choices: dict[str, Supply] = {}
        for choice in self.problem.choices:
            self._choices.setdefault(name_of(choice.sheet), choice)
        self._box_packer = BoxPacker(list(self.parts.values()))
        self._shapes: ShapeFiller | None = None
        self._packers: dict[tuple[str, ...], SheetPacker] = {}
        self._outsides: dict[tuple[str, float, bool], list[tuple[float, float]]] = {}
        self._room: dict[str, float] = {}
        self._added: dict[object, tuple[Placement, ...]] = {}

    @property
    def shapes(self) -> ShapeFiller:
        """The filler for true shapes, prepared when it is first asked for."""
        if self._shapes is None:
            self._shapes = ShapeFiller(self.problem, self.group.rule.gap)
        return self._shapes

    def usable(self, metal: SheetSize | Remnant) -> bool:
        """Whether anything at all fits on a sheet or remnant."""
        return name_of(metal) in self._choices

    def waste_boxes(self, names: Iterable[str]) -> bool:
        """Whether one of some parts fills so little of its box that true shapes may pay."""
        types = [self.types[name] for name in names if name in self.types]
        return bool((self.grown[types] < WORTH_A_TRIAL * self.boxes[types]).any()) if types else False

    def area_of(self, pieces: Mapping[str, int]) -> float:
        """Area that pieces take at least, half the gap round each (nm2)."""
        return float(sum(self.grown[self.types[name]] * count for name, count in pieces.items()))

    def room_of(self, metal: SheetSize | Remnant) -> float:
        """Area that grown pieces can lie on at most (nm2): the metal inside the margin, less old cuts."""
        name = name_of(metal)
        if name not in self._room:
            self._room[name] = _free_area(self.blank(metal)) if self.usable(metal) else 0.0
        return self._room[name]

    def blank(self, metal: SheetSize | Remnant) -> Blank:
        """The blank of a sheet or remnant under the gauge's rule."""
        rule = self.group.rule
        return blank_of(metal, rule.margin, rule.gap, self.settings.datum)

    def added(
        self, bed: Bed, wanted: Mapping[str, int], effort: int = QUICK, *, anywhere: bool = False
    ) -> tuple[Placement, ...]:
        """Pieces placed beside what lies on a bed, as many of those wanted as find room.

        True shapes beside pieces that were not laid by this filler's own lattice are dear: where that is not
        asked for (``anywhere``), boxes are placed there.
        """
        wanted = self._most_of(wanted, self.room_of(bed.metal) - self.area_of(bed.held))
        if not wanted:
            return ()
        key = name_of(bed.metal), bed.placements, tuple(sorted(wanted.items())), effort, anywhere
        if key not in self._added:
            if len(self._added) >= MOST_ADDED:
                self._added.clear()
            self._added[key] = self._added_anew(bed, wanted, effort, anywhere=anywhere)
        return self._added[key]

    def _added_anew(
        self, bed: Bed, wanted: Mapping[str, int], effort: int, *, anywhere: bool
    ) -> tuple[Placement, ...]:
        blank = self.blank(bed.metal)
        few = sum(wanted.values()) + len(bed.placements) <= MANY_PIECES
        if few and self.waste_boxes({*wanted, *bed.held}) and self._is_shaped(blank, bed):
            looks = PRESSING_LOOKS * effort if effort > QUICK else 0
            counts = self._counts(wanted)
            return self.shapes.fill(blank, counts, self.grown, SEED, Effort(effort, looks), bed.placements)
        items = [Item(self.parts[name], n, float(self.boxes[self.types[name]])) for name, n in wanted.items()]
        passes = BOX_PASSES * effort
        boxed = self._box_packer.fill(blank, items, seed=SEED, effort=passes, keep=bed.placements)
        everything = len(boxed) == sum(wanted.values())
        if everything or not anywhere or not few or not self.waste_boxes({*wanted, *bed.held}):
            return boxed
        shaped = self._beside_others(blank, bed, items, effort)
        more = self.area_of(_counted(shaped)) > self.area_of(_counted(boxed))
        return shaped if more else boxed

    def _most_of(self, wanted: Mapping[str, int], free: float) -> dict[str, int]:
        """Of the pieces wanted, no more of each part than so much area (nm2) holds; none of others."""
        known = ((name, count) for name, count in wanted.items() if name in self.parts)
        most = {name: min(count, math.floor(free / self.area_of({name: 1}))) for name, count in known}
        return {name: count for name, count in most.items() if count > 0}

    def _beside_others(
        self, blank: Blank, bed: Bed, items: Sequence[Item], effort: int
    ) -> tuple[Placement, ...]:
        """True shapes beside pieces that lie anywhere: these count as cut out, and holes in them as metal."""
        from sheetplan.packing.outlines import OutlinePacker  # compiled kernels that plain boxes never need

        names = tuple(sorted(item.part.name for item in items))
        if names not in self._packers:
            self._packers[names] = OutlinePacker([self.parts[name] for name in names])
        cuts = tuple(self._outside(placement) for placement in bed.placements)
        taken = replace(blank, cuts=(*blank.cuts, *cuts))
        return self._packers[names].fill(taken, items, seed=SEED, effort=effort)

    def _outside(self, placement: Placement) -> Loop:
        """The outer edge of a piece where it lies, made coarse outwards."""
        from sheetplan.packing.outlines.solids import simpler

        key = placement.part, placement.turn, placement.mirrored
        if key not in self._outsides:
            outer = place(self.parts[placement.part].outline.outer, replace(placement, x=0.0, y=0.0))
            pieces = shapely.get_parts(to_polygon(outer, COARSE_MM, Side.OUT))
            solid = max(pieces, key=lambda piece: piece.area)
            self._outsides[key] = [(x, y) for x, y in simpler(solid, COARSE_MM).exterior.coords[:-1]]
        return Loop(tuple((x + placement.x, y + placement.y, 0.0) for x, y in self._outsides[key]))

    def _is_shaped(self, blank: Blank, bed: Bed) -> bool:
        """Whether true shapes can be added quickly: beside those that the packer laid, or on fresh metal."""
        return not bed.placements or self.shapes.packer.stands_on_lattice(blank, bed.placements)

    def packed(
        self, empty: Sequence[Bed], wanted: Mapping[str, int], looks: int, stop: Stop
    ) -> list[Bed] | None:
        """All pieces wanted on empty sheets as true shapes, within so many looks; None where that failed."""
        metal = [Metal(self.blank(bed.metal)) for bed in empty]
        items = [Item(self.parts[name], n, 1.0) for name, n in wanted.items() if n > 0]
        found = self.shapes.packer.fill_all(metal, items, seed=SEED, work=looks * LOOK_CELLS, halt=stop)
        if found.left:
            return None
        return [replace(bed, placements=laid) for bed, laid in zip(empty, found.placements, strict=True)]

    def _counts(self, pieces: Mapping[str, int]) -> Ints:
        counts = np.zeros(len(self.parts), np.int64)
        for name, count in pieces.items():
            counts[self.types[name]] = count
        return counts

    def boxes_on(
        self, wanted: Mapping[str, int], metal: Mapping[SheetSize | Remnant, int], looks: int,
        stop: Stop = never,
    ) -> list[Bed] | None:  # fmt: skip
        """Sheets with all the pieces laid as boxes; None where no way was found.

        ``looks`` is the work beyond the fixed runs. Raises `OutOfTime` once ``stop`` says so.
        """
        counts = self._counts(wanted)
        choices = tuple(
            replace(self._choices[name_of(sheet)], limit=number)
            for sheet, number in metal.items() if number > 0 and self.usable(sheet)
        )  # fmt: skip
        supplies = supplies_of(choices, self.settings)
        there = float((supplies.areas * supplies.limits).sum())
        if float((counts * self.boxes).sum()) > there:
            return None
        none_kept = np.zeros(len(choices))
        problem = replace(
            self.problem, choices=choices, supplies=supplies, wanted=counts, kept_rates=none_kept
        )
        cuts = _box_cuts(problem, looks, stop)
        own = {name_of(sheet): sheet for sheet in metal}
        return None if cuts is None else [
            Bed(own[name_of(choices[cut.supply].sheet)], layout_of(problem, cut, "").placements, cut.repeats)
            for cut in cuts
        ]  # fmt: skip


def _box_cuts(problem: BoxProblem, looks: int, stop: Stop) -> list[Cut] | None:
    """Sheets that hold all boxes wanted, or None."""
    for trial in fixed_runs(problem):
        if trial.run.missing == 0.0:
            return replayed(problem, trial.recipe, trial.used)
        if stop():
            raise OutOfTime
        if trial.looks > FIXED_LOOKS:
            break
    if not looks:
        return None
    search = Search(problem, SEED)
    plan_search(search, looks)
    return list(search.cuts()) if search.score.missing == 0.0 else None


def _free_area(blank: Blank) -> float:
    """Area (nm2) that holds all pieces grown by half the gap: never less than there is.

    The edge is taken on the outside and moved in by the margin less half the gap; old cuts are taken on
    the inside, half the gap round them.
    """
    half = blank.gap / 2.0
    metal = to_polygon(blank.edge, AREA_BOUND_MM, Side.OUT).buffer(half - blank.margin, join_style="mitre")
    cuts = [to_polygon(cut, AREA_BOUND_MM, Side.IN).buffer(half) for cut in blank.cuts]
    return float(shapely.area(metal.difference(shapely.union_all(cuts)) if cuts else metal)) * 1e12


def spread(
    filler: GaugeFiller, beds: Sequence[Bed], wanted: Mapping[str, int], effort: int = QUICK,
    stop: Stop = never, *, anywhere: bool = False,
) -> tuple[list[Bed], Counter[str]]:  # fmt: skip
    """Beds with more pieces, nothing moved, and the pieces that found no room.

    An arrangement is repeated as often as there are pieces for it. Raises `OutOfTime` once ``stop`` says so.
    """
    left = Counter({name: count for name, count in wanted.items() if count > 0})
    after: list[Bed] = []
    for bed in beds:
        number = bed.count
        while number and left:
            if stop():
                raise OutOfTime
            more = filler.added(bed, left, effort, anywhere=anywhere)
            if not more:
                break
            each = _counted(more)
            times = max(1, min(number, *(left[name] // count for name, count in each.items())))
            for name, count in each.items():
                left[name] -= count * times
            left = +left
            after.append(Bed(bed.metal, (*bed.placements, *more), times))
            number -= times
        if number:
            after.append(replace(bed, count=number))
    return after, left


def squeeze(
    filler: GaugeFiller, beds: Sequence[Bed], left: Mapping[str, int], tries: int, passes: int,
    stop: Stop = never,
) -> tuple[list[Bed], Counter[str]]:  # fmt: skip
    """Beds with missing pieces pressed in, and what is still missing after so many sheets laid out anew.

    Every sheet laid out anew holds more metal than before; what it had and lost is missing then.
    Raises `OutOfTime` once ``stop`` says so.
    """
    after, rest = list(beds), Counter(dict(left))
    seen: set[int] = set()
    for _ in range(tries):
        free = [filler.room_of(bed.metal) - filler.area_of(bed.held) for bed in after]
        order = [k for k in sorted(range(len(after)), key=lambda k: (-free[k], k)) if k not in seen]
        if not rest or not order:
            break
        if stop():
            raise OutOfTime
        place = order[0]
        seen.add(place)
        bed = after[place]
        if free[place] < min(filler.area_of({name: 1}) for name in rest):
            break
        if bed.held.total() + rest.total() > FEW_PIECES:
            continue
        anew = _anew(filler, bed.metal, bed.held + rest, passes)
        more = _counted(anew)
        if filler.area_of(more) > filler.area_of(bed.held) * (1.0 + EMPTY):
            rest = +Counter(_difference(bed.held + rest, more))
            others = [replace(bed, count=bed.count - 1)] if bed.count > 1 else []
            after[place] = Bed(bed.metal, anew)
            after += others
    return after, rest


def _counted(placements: Iterable[Placement]) -> Counter[str]:
    return Counter(placement.part for placement in placements)


def _anew(
    filler: GaugeFiller, metal: SheetSize | Remnant, wanted: Mapping[str, int], passes: int
) -> tuple[Placement, ...]:
    """One sheet laid out with as much of what is wanted as so many passes find room for."""
    if not filler.waste_boxes(wanted):
        return filler.added(Bed(metal), wanted)
    counts = filler._counts(wanted)
    return filler.shapes.fill(filler.blank(metal), counts, filler.grown, SEED, Effort(passes))


def _difference(first: Counter[str], second: Counter[str]) -> dict[str, int]:
    return {name: first[name] - second[name] for name in first}


def filler_of(group: Group, parts: Mapping[str, Part], settings: Settings) -> GaugeFiller:
    """The filler of a gauge; a process remembers those of the last gauges that it was asked about.

    It serves whatever number of its parts is asked for.
    """
    names = sorted({need.part for need in group.needs})
    needs = tuple(Need(0, name, "", 1) for name in names)
    return _remembered(replace(group, needs=needs), tuple(parts[name] for name in names), settings)


@lru_cache(maxsize=MEMORY)
def _remembered(group: Group, parts: tuple[Part, ...], settings: Settings) -> GaugeFiller:
    return GaugeFiller(group, {part.name: part for part in parts}, settings)


@dataclass(frozen=True, slots=True)
class Room:
    """Sheets with what stays on them, and the pieces that are asked for and lie on none."""

    beds: tuple[Bed, ...]
    missing: Counter[str]

    def owed(self, parts: Iterable[str]) -> dict[str, int]:
        """Missing pieces of some parts."""
        return {name: self.missing[name] for name in parts if self.missing[name]}


def room_of(plan: GroupPlan) -> Room:
    """The sheets of a gauge's plan as more orders would find them."""
    made = held_by(beds_of(plan.layouts))
    asked = pieces_asked(plan.group)
    free = beds_of(layout for layout in plan.layouts if not layout.locked)
    missing = Counter({name: n - made[name] for name, n in asked.items() if n > made[name]})
    return Room(tuple(without_surplus(free, made - asked)), missing)


def pieces_asked(group: Group, *, must: bool | None = None) -> Counter[str]:
    """Pieces that orders ask for: all, or those that must be made, or those that are cut if they fit."""
    asked: Counter[str] = Counter()
    for need in group.needs:
        if must is None or need.must is must:
            asked[need.part] += need.pieces
    return asked
