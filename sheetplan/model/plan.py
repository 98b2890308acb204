"""The plan: which layouts on which sheets, how often, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from sheetplan.model.job import CuttingRule, Job, Material, Remnant, SheetSize
from sheetplan.model.problem import Problem
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

    ``locked`` layouts are held by the planner: a new plan is made round them.
    """

    tag: str
    sheet: SheetSize | Remnant
    placements: tuple[Placement, ...]
    repeats: int = 1
    locked: bool = False

    def __post_init__(self) -> None:
        if self.repeats < 1:
            raise ValueError(f"layout {self.tag} is repeated {self.repeats} times")
        if isinstance(self.sheet, Remnant) and self.repeats != 1:
            raise ValueError(f"layout {self.tag} lies on remnant {self.sheet.tag} and can be cut once only")


@dataclass(frozen=True, slots=True)
class Need:
    """Pieces of one part that one order line asks for (``kit`` is empty for a loose part)."""

    order: int
    """Index into ``Job.orders``."""
    part: str
    kit: str
    pieces: int
    must: bool


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
    same names to the reason. ``bound`` is a proven least cost of the sheets, or None where none
    was computed; ``cost`` is what the chosen sheets cost (rack sheets at their price, remnants at
    their value and what it costs to get at them). ``above_bound`` is the share by which the plan is
    above the best possible (by area where a gauge has no prices), ``limited_by`` says in words what
    keeps it there. ``picked`` is the name of the choice that the planner picked, empty where the plan
    is the tool's own.
    """

    group: Group
    layouts: tuple[Layout, ...]
    sheets: tuple[SheetCount, ...]
    short: dict[str, int]
    cost: float
    bound: float | None = None
    note: str = ""
    why_short: Mapping[str, str] = field(default_factory=dict)
    above_bound: float | None = None
    limited_by: str = ""
    choices: tuple[Choice, ...] = ()
    picked: str = ""


WEAK_BOUND = 1.0
"""A proven least cost that lies so far below a plan's (share) says nothing to a planner: it is not shown."""


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
