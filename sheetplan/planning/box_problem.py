"""One gauge as boxes and supplies: what the search works on, and what it makes least of.

Terms
-----
supply
    The sheets of a size that are on hand, or those of it that can be bought, or one remnant.
steering cost
    What the search makes least of, additive over the sheets of a plan. Bought metal counts at its
    price, metal on hand and remnants at a share of theirs (page Settings), and what goes back to the rack
    counts for it at the remnants' share. A gauge without any price is steered by area in its
    place, so that it still gets the least metal.
cut
    One filled sheet as boxes, and how often it is cut.
useful left
    The largest rectangle worth keeping that a cut leaves: what of it goes back to the rack. Pieces count
    with the boxes round them, so what is found is surely free; where true shapes leave more, the rack's own
    measure (`rack/free_space.py`) finds that when the sheet is recorded.

Choices
-------
One objective, additive over sheets. Plan, choices, sizes bought alone and bounds all speak in it
(`GroupPlan.counted` and `bound`); what a plan costs at prices is `GroupPlan.cost`, what is to be paid
`to_pay`. Sheets of a size on hand and those of it to be bought are two supplies that share their layouts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sheetplan.model.job import Part, Remnant, SheetSize
from sheetplan.model.plan import Group, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.packing import Blank, blank_of
from sheetplan.packing.maxrects import FREE_LIMIT, Floats, Ints, Supplies, Types, cut_free
from sheetplan.packing.maxrects import supply_blank as supply_blank
from sheetplan.packing.rectangles import PartBox, box_of, free_rectangles, nm_up, types_of
from sheetplan.shapes import box

UNLIMITED = 1_000_000
"""Sheets that a supplier without a limit sells: more than any order book takes."""

ON_HAND_DISCOUNT = 0.005
"""Metal on hand counts less by this share: of plans within it, the one with less to pay is taken."""


@dataclass(frozen=True, slots=True)
class Supply:
    """One choice of metal: the model's sheet, its blank, how many there are, and whether they are on hand."""

    sheet: SheetSize | Remnant
    blank: Blank
    free: Ints
    limit: int
    on_hand: bool = True

    @property
    def worth(self) -> float:
        """What its metal is worth: the price of a sheet, the value of a remnant."""
        return self.sheet.value if isinstance(self.sheet, Remnant) else self.sheet.price

    @property
    def is_priced(self) -> bool:
        """Whether its metal has a price or a value."""
        return self.worth > 0.0

    @property
    def metal(self) -> float:
        """Area of its box in square nanometres."""
        around = box(self.blank.edge)
        return around.length * around.width * 1e12


@dataclass(frozen=True, slots=True, eq=False)
class BoxProblem:
    """Boxes to make from supplies.

    ``wanted`` are the pieces that must orders ask for, ``extra`` those that are cut if they fit,
    ``spare`` those that the planner allows in empty metal; each of shape (types,). ``least_left``
    has the sides (nm) of the least rectangle that is worth keeping. ``kept_rates``, of shape (supplies,),
    is the steering cost that a square nanometre of the largest such rectangle gives back, where a
    layout leaves one on a sheet of the supply.
    ``unfit`` maps parts that no supply can hold to the reason.
    """

    boxes: tuple[PartBox, ...]
    types: Types
    wanted: Ints
    extra: Ints
    spare: Ints
    choices: tuple[Supply, ...]
    supplies: Supplies
    least_left: Ints
    kept_rates: Floats
    unfit: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Cut:
    """A filled sheet: index of its supply, what lies on it, how often it is cut.

    ``boxes`` has a row (type, x, y, turned) per box in the datum frame. A sheet of true shapes has
    ``placements`` in the sheet frame as well; the rows then tell types alone, and ``around`` has the box of
    each piece with the gap beyond it (left, bottom, length, width; nm) in the sheet frame.
    """

    supply: int
    boxes: Ints
    repeats: int = 1
    placements: tuple[Placement, ...] = ()
    around: Ints | None = None

    def counts(self, types: int) -> Ints:
        """Pieces of each type on one sheet."""
        return np.bincount(self.boxes[:, 0], minlength=types).astype(np.int64)

    @property
    def is_shaped(self) -> bool:
        """Whether true shapes lie on it, so that its boxes may overlap."""
        return bool(self.placements)


def make_problem(group: Group, parts: Mapping[str, Part], settings: Settings) -> BoxProblem:
    """Sort out what a gauge asks for, on which metal, and which parts cannot be made at all."""
    choices = _choices(group, settings.datum)
    must, may = _asked(group, must=True), _asked(group, must=False)
    boxes = []
    unfit = {}
    for name in sorted({*must, *may}):
        made = box_of(parts[name], group.rule.gap)
        reason = _why_unfit(made, choices)
        if made is not None and not reason:
            boxes.append(made)
        else:
            unfit[name] = reason
    names = [b.part.name for b in boxes]
    types = types_of(boxes)
    return BoxProblem(
        boxes=tuple(boxes),
        types=types,
        wanted=np.array([must.get(name, 0) for name in names], np.int64),
        extra=np.array([may.get(name, 0) for name in names], np.int64),
        spare=np.array([b.part.spare for b in boxes], np.int64),
        choices=choices,
        supplies=supplies_of(choices, settings),
        kept_rates=kept_rates(choices, settings),
        least_left=np.array([nm_up(settings.least_remnant_length), nm_up(settings.least_remnant_width)]),
        unfit=unfit,
    )


def _asked(group: Group, *, must: bool) -> dict[str, int]:
    asked: dict[str, int] = {}
    for need in group.needs:
        if need.must is must:
            asked[need.part] = asked.get(need.part, 0) + need.pieces
    return asked


def _choices(group: Group, datum: Corner) -> tuple[Supply, ...]:
    """Remnants first, so that equal costs fall to them, then sheets as in the book, those on hand first."""
    choices = []
    metal: tuple[SheetSize | Remnant, ...] = (*group.remnants, *group.stock)
    for sheet in metal:
        blank = blank_of(sheet, group.rule.margin, group.rule.gap, datum)
        free = free_rectangles(blank)
        if not len(free):
            continue
        if isinstance(sheet, Remnant):
            choices.append(Supply(sheet, blank, free, 1))
            continue
        if sheet.on_hand:
            choices.append(Supply(sheet, blank, free, sheet.on_hand))
        if _to_be_bought(sheet):
            choices.append(Supply(sheet, blank, free, _to_be_bought(sheet), on_hand=False))
    return tuple(choices)


def _to_be_bought(sheet: SheetSize) -> int:
    """Sheets that can be bought, in whole order multiples."""
    if sheet.buy_limit is None:
        return UNLIMITED
    return sheet.buy_limit // sheet.multiple * sheet.multiple


def _why_unfit(made: PartBox | None, choices: Sequence[Supply]) -> str:
    if made is None:
        return "its grain and its turns leave no way to lay it"
    if not choices:
        return "there is no sheet or remnant of its gauge"
    if any(_fits(made, choice.free) for choice in choices):
        return ""
    return "it is larger than every sheet and remnant, once the margin is taken off"


def _fits(made: PartBox, free: Ints) -> bool:
    upright = (made.length <= free[:, 2]) & (made.width <= free[:, 3])
    across = (made.width <= free[:, 2]) & (made.length <= free[:, 3])
    return bool(upright.any() or (made.mate is not None and across.any()))


def supplies_of(choices: Sequence[Supply], settings: Settings) -> Supplies:
    """Supplies as columns, with their steering costs."""
    empty = np.empty((0, 4), np.int64)
    first = np.cumsum([0, *(len(choice.free) for choice in choices)]).astype(np.int64)
    return Supplies(
        blanks=np.concatenate([empty, *(choice.free for choice in choices)]),
        first=first,
        areas=np.array([_area(choice.free) for choice in choices], np.float64),
        costs=np.array([_counted(choice, worth, settings) for choice, worth in _worths(choices)], np.float64),
        limits=np.array([choice.limit for choice in choices], np.int64),
    )


def kept_rates(choices: Sequence[Supply], settings: Settings) -> Floats:
    """Steering cost of a square nanometre that goes back to the rack, one a supply.

    Never more than the metal itself counts, or taking more of it would pay.
    """
    rates = []
    for choice, worth in _worths(choices):
        share = 1.0 if isinstance(choice.sheet, Remnant) else settings.remnant_share
        rates.append(min(share * worth, _counted(choice, worth, settings)) / choice.metal)
    return np.array(rates, np.float64)


def _area(free: Ints) -> float:
    """Free area of a blank; of overlapping rectangles, that of the box around them at most."""
    sizes = free[:, 2].astype(float) * free[:, 3].astype(float)
    far = (free[:, :2] + free[:, 2:]).max(axis=0) - free[:, :2].min(axis=0)
    return float(min(sizes.sum(), float(far[0]) * float(far[1])))


def _worths(choices: Sequence[Supply]) -> list[tuple[Supply, float]]:
    """Each supply with what its metal is worth: its price or value, or its area in m2 where none has any."""
    priced = any(choice.is_priced for choice in choices)
    return [(choice, choice.worth if priced else choice.metal / 1e18) for choice in choices]


def _counted(choice: Supply, worth: float, settings: Settings) -> float:
    """What a sheet of a supply counts, its metal being worth so much (a remnant's holds its share)."""
    if isinstance(choice.sheet, Remnant):
        return worth + choice.sheet.moving_cost
    return worth * settings.on_hand_share * (1.0 - ON_HAND_DISCOUNT) if choice.on_hand else worth


def useful_left(problem: BoxProblem, cut: Cut) -> float:
    """Area (nm2) of the largest free rectangle beside a cut's pieces; 0 where none is worth keeping.

    Only on metal that is one free rectangle; a remnant of an odd shape counts as used up.
    """
    blank = supply_blank(problem.supplies, cut.supply)
    if len(blank) != 1:
        return 0.0
    around = around_of(problem, cut)
    short, long = (int(side) for side in np.sort(problem.least_left))
    if float(blank[0, 2]) * float(blank[0, 3]) < float(short) * float(long):
        return 0.0
    free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
    free[:1] = blank
    count = 1
    for x, y, length, width in around:
        count = cut_free(free, count, fresh, x, y, length, width, max(1, short))
    sides = np.sort(free[:count, 2:], axis=1)
    kept = (sides[:, 0] >= short) & (sides[:, 1] >= long)
    return float(np.prod(sides[kept].astype(np.float64), axis=1).max(initial=0.0))


def counted_of(problem: BoxProblem, cut: Cut) -> float:
    """What one sheet of a cut counts, what goes back to the rack taken off."""
    cost, rate = float(problem.supplies.costs[cut.supply]), float(problem.kept_rates[cut.supply])
    return cost - rate * useful_left(problem, cut) if rate else cost


def around_of(problem: BoxProblem, cut: Cut) -> Ints:
    """Boxes (left, bottom, length, width; nm) of the pieces of a cut, the gap at their far sides."""
    if cut.around is not None:
        return cut.around
    types, _, _, turned = cut.boxes.T
    lengths, widths = problem.types.lengths[types], problem.types.widths[types]
    return np.column_stack(
        (
            cut.boxes[:, 1],
            cut.boxes[:, 2],
            np.where(turned > 0, widths, lengths),
            np.where(turned > 0, lengths, widths),
        )
    )


def farthest(types: Types, boxes: Ints) -> tuple[float, float]:
    """How far boxes (rows of `Cut.boxes`) reach along x and along y."""
    turned = boxes[:, 3] > 0
    lengths, widths = types.lengths[boxes[:, 0]], types.widths[boxes[:, 0]]
    far_x = boxes[:, 1] + np.where(turned, widths, lengths)
    far_y = boxes[:, 2] + np.where(turned, lengths, widths)
    return float(far_x.max()), float(far_y.max())
