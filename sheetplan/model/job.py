"""The checked order book: what is to be cut, from what, and by which rules.

Frames: a sheet lies with its length along x and its width along y, lower left corner at (0, 0).
A part's own frame is the same, its box starting at (0, 0).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from sheetplan.model.outline import Loop, Outline, rectangle
from sheetplan.model.turns import Corner, Grain

if TYPE_CHECKING:
    from sheetplan.model.settings import Settings
    from sheetplan.trade.thickness import Thickness

AS_WEIGHED = "as weighed"
"""`SheetSize.billed_by` where the row itself says the weight that is billed."""


@dataclass(frozen=True, slots=True)
class Material:
    """One kind of metal. ``density`` in kg/m3; ``gauge_series`` names a table of `trade.thickness`.

    ``scrap_price`` is what the dealer pays for one kg of its scrap. No plan depends on it, and so it is no
    part of the text by which it is known whether one still stands (`repr`).
    """

    name: str
    gauge_series: str
    density: float
    scrap_price: float = field(default=0.0, repr=False)


@dataclass(frozen=True, slots=True)
class CuttingRule:
    """How one material and thickness is cut.

    ``kerf``, ``gap``, ``margin``, ``least_hole``, ``least_web`` in mm; ``gap`` is the clear metal between
    finished parts with the kerf included, ``margin`` the clear metal to the sheet's edge. The least hole
    and web are 0 where there is no limit.
    ``feed`` in mm/min, ``pierce_seconds`` per pierce, costs in the book's currency; ``pierce_cost``
    holds the share of a set of consumables that one pierce wears. ``travel`` is the speed of moves
    between cuts, mm/min; None where moves are not counted.

    Holes whose diameter is below ``hole_times`` the thickness are cut at ``hole_feed`` where that is given.
    ``lead_in`` (mm) is cut beside each loop, ``sensing_seconds`` go by at each pierce until the torch has
    found its height. Where ``set_minutes`` is given, a set of consumables costs ``set_cost`` and lasts so
    many minutes of arc or ``set_starts`` pierces, whichever is used up first. No layout depends on these.
    """

    material: str
    thickness: Thickness
    kerf: float
    gap: float
    margin: float
    least_hole: float = 0.0
    feed: float | None = None
    pierce_seconds: float = 0.0
    pierce_cost: float = 0.0
    hour_cost: float = 0.0
    travel: float | None = None
    least_web: float = 0.0
    hole_feed: float | None = field(default=None, repr=False)
    hole_times: float = field(default=0.0, repr=False)
    lead_in: float = field(default=0.0, repr=False)
    sensing_seconds: float = field(default=0.0, repr=False)
    set_cost: float = field(default=0.0, repr=False)
    set_starts: int | None = field(default=None, repr=False)
    set_minutes: float | None = field(default=None, repr=False)
    process: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Part:
    """One part type.

    ``turns`` are the allowed turns in degrees, counter-clockwise, before grain is applied
    (see `sheetplan.model.turns`); ``spare`` is how many extra may fill empty metal.
    """

    name: str
    material: str
    thickness: Thickness
    outline: Outline
    turns: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)
    grain: Grain = Grain.NONE
    spare: int = 0
    mark: bool = False
    may_mirror: bool = False
    description: str = ""


@dataclass(frozen=True, slots=True)
class Kit:
    """A set of parts: how many of each part makes one kit."""

    name: str
    parts: Mapping[str, int]


class OrderState(StrEnum):
    """Whether an order is to be planned; only open ones are."""

    OPEN = "open"
    ON_HOLD = "on hold"
    CANCELLED = "cancelled"
    DONE = "done"


OrderKey = tuple[str, int, str]

NO_DATE = "9999"
"""Sorts behind every date written as year, month, day: orders without one come last."""


@dataclass(frozen=True, slots=True)
class Order:
    """So many of a kit or of a part. ``line`` is the workbook row, so that results can point back.

    ``earlier_name`` is the name under which pieces were cut for it before it was renamed. ``since`` is the
    first day whose cuts are for it, where an earlier order had the same name; empty: all of them are.
    ``process`` is the process or amperage that it asks for; empty: that of the rule in use.
    """

    name: str
    item: str
    quantity: int
    must: bool = True
    due: str = ""
    line: int = 0
    state: OrderState = OrderState.OPEN
    earlier_name: str = ""
    since: str = ""
    process: str = field(default="", repr=False)

    @property
    def key(self) -> OrderKey:
        """What names its line; where a book has no rows, with its item.

        A kit of which some is cut may stand in a job as several orders of one line.
        """
        return self.name, self.line, "" if self.line else self.item


@dataclass(frozen=True, slots=True)
class OrderProgress:
    """An order as the book has it, with the good and the bad pieces cut for it so far, by part.

    ``offered`` are finished parts that no order holds and that a plan reckons with for this one.
    """

    order: Order
    cut: Mapping[str, int] = field(default_factory=dict)
    bad: Mapping[str, int] = field(default_factory=dict)
    offered: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class FinishedPart:
    """Good pieces of one part that no order of the book holds.

    ``free`` is by where they come from, in words; ``offered`` the orders that a plan reckons to give them
    to, by name. ``unsettled`` are pieces that were cut for orders which the book no longer has, by their
    names: nobody has said yet whether these were shipped or lie there still, so they are offered to none.
    """

    part: str
    free: Mapping[str, int]
    offered: Mapping[str, int] = field(default_factory=dict)
    unsettled: Mapping[str, int] = field(default_factory=dict)

    @property
    def pieces(self) -> int:
        """Pieces that are free."""
        return sum(self.free.values())


@dataclass(frozen=True, slots=True)
class SheetSize:
    """A full sheet that can be taken from the rack or bought.

    ``length`` and ``width`` in mm (as in the book, not sorted), ``price`` for one sheet.
    ``buy_limit`` None means as many as wanted; ``multiple`` is the supplier's order multiple.
    ``on_order`` of those ``on_hand`` are ordered and not there yet: a plan may use them like the others.
    ``lead_days`` are calendar days from ordering to delivery, None where nobody knows. No plan depends on
    them, and so they are no part of the text by which it is known whether one still stands (`repr`).
    ``billed_by`` says in a word by which weight a price per weight bills it, where that is not the weight by
    size and density.
    """

    name: str
    material: str
    thickness: Thickness
    length: float
    width: float
    on_hand: int = 0
    price: float = 0.0
    buy_limit: int | None = None
    multiple: int = 1
    supplier: str = ""
    rack_place: str = ""
    on_order: int = 0
    lead_days: int | None = field(default=None, repr=False)
    billed_by: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Remnant:
    """A partly used sheet: what it was and what has been cut from it so far (outer loops of old cuts).

    ``value`` is what using it up counts for: as the book writes it, else `Settings.remnant_share` of what
    its largest rectangle would cost in the cheapest sheet. The share is in it; nobody applies it again.

    ``extra_gap`` (mm) is kept to old cuts beside the rule's gap, since their edges may be warped.
    ``above`` is how many sheets lie on it, None where the book does not say; ``weight_above`` what
    they weigh (kg), at the most where ``is_most``, and ``moving_cost`` what moving them costs.
    """

    tag: str
    material: str
    thickness: Thickness
    edge: Loop
    cuts: tuple[Loop, ...] = ()
    datum: Corner = Corner.LOWER_LEFT
    rack_place: str = ""
    value: float = 0.0
    extra_gap: float = 0.0
    above: int | None = None
    weight_above: float = 0.0
    moving_cost: float = 0.0
    is_most: bool = False
    hanging: int = field(default=0, repr=False)
    """So many of ``cuts``, the last, are no cuts: metal that hangs on too little to be used."""

    @property
    def old_cuts(self) -> tuple[Loop, ...]:
        """What is cut from it indeed."""
        return self.cuts[: len(self.cuts) - self.hanging]

    @property
    def cost(self) -> float:
        """What taking it costs a plan: its value, and to move what lies on it."""
        return self.value + self.moving_cost


def edge_of(sheet: SheetSize | Remnant) -> Loop:
    """The outer edge of a full sheet or of a remnant."""
    return sheet.edge if isinstance(sheet, Remnant) else rectangle(sheet.length, sheet.width).outer


def worth_as_remnant(sheet: SheetSize | Remnant, settings: Settings) -> float:
    """What a whole sheet counts for as a remnant; what goes back to the rack counts for its share of that.

    The old remnant's value holds the share of its metal's price already, or is the planner's own word.
    """
    return sheet.value if isinstance(sheet, Remnant) else sheet.price * settings.remnant_share


@dataclass(frozen=True, slots=True)
class QuoteLine:
    """A row of the page Quotes.

    ``item`` is a kit or a part of the job; of a drawing, the part that was made of it. ``order`` is the text
    in Order it.
    """

    name: str
    item: str
    quantities: tuple[int, ...]
    wanted: str = ""
    customer: str = ""
    mark_up: float | None = None
    by_month: bool = False
    order: str = ""
    drawing: str = ""
    material: str = ""
    thickness: str = ""
    row: int = 0
    drawn_in: str = ""

    @property
    def what(self) -> tuple[str, ...]:
        """What it asks the price of: told for one thing, a price holds for no other."""
        return self.item, self.drawing, self.material, self.thickness, self.drawn_in

    def marked_up(self, settings: Settings) -> float:
        """The mark-up of the row or, where it says none, of the book."""
        return settings.mark_up if self.mark_up is None else self.mark_up


@dataclass(frozen=True, slots=True)
class Job:
    """Everything a plan needs, checked and in internal units.

    ``orders`` are what is to be planned: of open orders what is not cut yet. ``progress`` are all orders as
    the book has them, empty where nothing was ever recorded. ``finished`` are good pieces that no order
    holds; those of them that are offered are taken off ``orders``.
    """

    settings: Settings
    materials: Mapping[str, Material]
    rules: tuple[CuttingRule, ...]
    parts: Mapping[str, Part]
    kits: Mapping[str, Kit]
    orders: tuple[Order, ...]
    stock: tuple[SheetSize, ...]
    remnants: tuple[Remnant, ...] = field(default=())
    progress: tuple[OrderProgress, ...] = field(default=())
    finished: tuple[FinishedPart, ...] = field(default=())
