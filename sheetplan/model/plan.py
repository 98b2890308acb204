"""The plan: which layouts on which sheets, how often, and what comes of it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import fsum
from typing import TYPE_CHECKING

from sheetplan.model.job import CuttingRule, Job, Material, Remnant, SheetSize
from sheetplan.model.problem import Problem

if TYPE_CHECKING:
    from sheetplan.trade.thickness import Thickness


@dataclass(frozen=True, slots=True)
class Placement:
    """One part on a sheet.

    The part's outline is mirrored in x about its own origin if ``mirrored``, then turned
    counter-clockwise by ``turn`` degrees about that origin, then moved by ``(x, y)`` mm.
    """

    part: str
    x: float
    y: float
    turn: float = 0.0
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class Layout:
    """One arrangement on one sheet size or one remnant, cut ``repeats`` times (once on a remnant).

    ``locked`` layouts are held by the planner: a new plan is made round them. ``of_plan`` is the mark of the
    plan that a layout was first made in, which its ticket and drawing bear; empty: the plan that it is in.
    """

    tag: str
    sheet: SheetSize | Remnant
    placements: tuple[Placement, ...]
    repeats: int = 1
    locked: bool = False
    of_plan: str = ""

    def __post_init__(self) -> None:
        if self.repeats < 1:
            raise ValueError(f"layout {self.tag} is repeated {self.repeats} times")
        if isinstance(self.sheet, Remnant) and self.repeats != 1:
            raise ValueError(f"layout {self.tag} lies on remnant {self.sheet.tag} and can be cut once only")


def pieces_on(layouts: Iterable[Layout]) -> Counter[str]:
    """Pieces of each part that layouts make when each is cut as often as it says."""
    made = Counter[str]()
    for layout in layouts:
        for placement in layout.placements:
            made[placement.part] += layout.repeats
    return made


@dataclass(frozen=True, slots=True)
class Need:
    """Pieces of one part that one order line asks for (``kit`` is empty for a loose part)."""

    order: int
    """Index into ``Job.orders``."""
    part: str
    kit: str
    pieces: int
    must: bool = True


@dataclass(frozen=True, slots=True)
class Group:
    """The parts, sheets and remnants of one material and thickness: one gauge."""

    label: str
    material: Material
    thickness: Thickness
    rule: CuttingRule
    needs: tuple[Need, ...]
    stock: tuple[SheetSize, ...]
    remnants: tuple[Remnant, ...]


@dataclass(frozen=True, slots=True)
class SheetCount:
    """How many of a sheet size a gauge uses: from the rack first, the rest bought."""

    sheet: SheetSize
    used: int
    from_rack: int
    to_buy: int
    """Sheets to order: at least ``used - from_rack``, rounded up to the order multiple."""

    @property
    def for_stock(self) -> int:
        """Sheets to order that the plan does not use, because the supplier sells in lots."""
        return self.to_buy - (self.used - self.from_rack)

    @property
    def on_order(self) -> int:
        """Sheets that the plan takes from those ordered already: what lies in the rack is used first."""
        in_rack = self.sheet.on_hand - self.sheet.on_order
        return min(self.sheet.on_order, max(0, self.from_rack - in_rack))


@dataclass(frozen=True, slots=True)
class GroupPlan:
    """The plan of one gauge.

    ``short`` maps part names to pieces asked for by must orders and not made, ``why_short`` the
    same names to the reason. ``cost`` is what the chosen sheets cost (rack sheets at their price,
    remnants at their value and what it costs to get at them); ``counted`` is what the plan counts in the
    choice between plans: metal on hand, remnants and what goes back at the shares of `Settings` (areas in m2
    where a gauge has no prices), None where nobody worked it out. ``bound`` is proven: no plan of the same
    pieces counts less; None where nothing was proven. ``picked`` is the name of the choice that the planner
    picked, empty where the plan is the tool's own.
    """

    group: Group
    layouts: tuple[Layout, ...]
    sheets: tuple[SheetCount, ...]
    short: dict[str, int]
    cost: float
    counted: float | None = None
    bound: float | None = None
    note: str = ""
    why_short: Mapping[str, str] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()
    picked: str = ""

    @property
    def to_pay(self) -> float:
        """What is to be paid for the sheets to buy, whole order multiples: the suppliers' bill."""
        return fsum(count.to_buy * count.sheet.price for count in self.sheets)

    @property
    def proven_least(self) -> float | None:
        """What every plan of the same pieces counts at least (see ``counted``); None where that is not known.

        Of a plan that leaves pieces unmade nothing is known: one that makes them costs more. No plan counts
        less than nothing, but where no sheet has a price, a cost of nothing says nothing.
        """
        if self.short:
            return None
        if self.cost <= 0.0 and not self.counted:
            has_prices = any(sheet.price > 0.0 for sheet in self.group.stock)
            return 0.0 if has_prices or not self.layouts else None
        return self.bound if self.bound is not None and self.bound > 0.0 else None

    @property
    def above_least(self) -> float | None:
        """By what share the plan lies above the proven least, at most; None where that is not proven."""
        return above_least(self.measure, self.proven_least)

    @property
    def measure(self) -> float:
        """What is compared with the proven least."""
        return self.cost if self.counted is None else self.counted


WEAK_BOUND = 0.15
"""A proven least cost that lies farther below a plan's (share) says nothing to a planner: it is not shown."""

SAME_AS_BOUND = 1e-6
"""A bound is proven in floats and lies a little below the cost that it stands for."""

CHEAPEST, NOT_PROVEN = "cheapest possible", "not proven"


def above_least(cost: float, least: float | None) -> float | None:
    """By what share a cost lies above a proven least, at most; None where nothing or too little is proven.

    >>> above_least(103.0, 100.0)
    0.03
    """
    if least is None:
        return None
    if cost <= least * (1.0 + SAME_AS_BOUND):
        return 0.0
    share = round(cost / least - 1.0, 9) if least > 0.0 else math.inf
    return share if share <= WEAK_BOUND else None


def against_cheapest(above: float | None) -> str:
    """How sure it is that a plan cannot be cheaper, in the words of every page and of the command line.

    ``above`` comes from `above_least`. What is said is never less than what is proven: the share is
    rounded up, and only a proven plan is called the cheapest possible.

    >>> against_cheapest(0.0312), against_cheapest(0.0), against_cheapest(None)
    ('at most 3.2% above', 'cheapest possible', 'not proven')
    """
    if above is None:
        return NOT_PROVEN
    if above <= 0.0:
        return CHEAPEST
    tenths = max(1, math.ceil(above * 1000.0 - SAME_TENTH))
    return f"at most {tenths / 10.0:.1f}% above"


SAME_TENTH = 1e-5
"""Rounding of floats alone (in tenths of a per cent) does not raise what is said by a tenth."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Another way to plan a gauge.

    ``name`` says what it is best at, ``sentence`` what that gains and costs against the plan that
    it stands beside; the plan has no choices of its own.
    """

    name: str
    sentence: str
    plan: GroupPlan


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole answer to a job."""

    job: Job
    groups: tuple[GroupPlan, ...]
    problems: tuple[Problem, ...] = ()
    stopped_early: bool = False

    @property
    def above_least(self) -> float | None:
        """By what share the cost of all gauges lies above the least proven of each; None where not proven."""
        leasts = [group_plan.proven_least for group_plan in self.groups]
        if not leasts:
            return None
        if all(group_plan.above_least == 0.0 for group_plan in self.groups):
            return 0.0
        least = None if None in leasts else fsum(known for known in leasts if known is not None)
        share = above_least(fsum(group_plan.measure for group_plan in self.groups), least)
        return SAME_AS_BOUND if share == 0.0 else share
