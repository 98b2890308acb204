"""What a quote costs: alone, and as what it adds to the month's plan.

Terms
-----
alone
    All metal is bought for it, whole sheets in whole lots of the supplier, as if nothing else were made; no
    spares. What is left of the sheets is shown and not taken off: the customer of a job alone pays for it.
added
    A plan of the month with it, less the same plan without it, amount by amount: metal is what the plans
    take, less what goes back to the rack at its share, so that room on sheets that are cut anyway is free.
cost
    Metal, machine, consumables and hands, less what the scrap fetches. Machine: minutes of the table, those
    in which a sheet is laid on and taken off among them, at the gauge's cost of an hour.

Choices
-------
A plan with a quote may by luck of the search take less metal than the one without it. Then metal is said to
be nothing, never a gift, and the page says so; the other amounts stand as they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from math import fsum

from sheetplan.model import Plan
from sheetplan.model.job import QuoteLine
from sheetplan.model.problem import Unstated
from sheetplan.money.cents import cent, printed_by
from sheetplan.money.figures import PlanFigures
from sheetplan.money.layout_figures import MINUTES_PER_HOUR
from sheetplan.money.order_shares import CostShare, cost_shares

LUCK = 0.005
"""Metal saved by luck of the search, or cutting left out, in money: below half a cent it is dust."""


@dataclass(frozen=True, slots=True)
class QuoteCost:
    """Amounts of money, minutes, and kg of metal used up.

    ``kept`` is what goes back to the rack and is worth: of an added cost it is taken off metal already.
    ``spares`` is what of the cost lies in spare parts; ``to_pay`` the suppliers' bill; ``saved`` the metal
    that the plan with the quote takes less by luck, which is in no amount. ``spare_cutting`` is the cutting
    in ``spares``; ``left_out`` what of it a plan with the quote no longer takes, since the quote's pieces lie
    in the room of spare ones: in no amount either, as somebody else's spare pieces make no piece cheaper.
    """

    metal: float = 0.0
    machine: float = 0.0
    consumables: float = 0.0
    hands: float = 0.0
    scrap: float = 0.0
    kept: float = 0.0
    spares: float = 0.0
    to_pay: float = 0.0
    machine_minutes: float = 0.0
    hand_minutes: float = 0.0
    weight: float = 0.0
    sheets: int = 0
    saved: float = 0.0
    spare_cutting: float = 0.0
    left_out: float = 0.0

    @property
    def cutting(self) -> float:
        """Machine, consumables and hands."""
        return self.machine + self.consumables + self.hands

    @property
    def total(self) -> float:
        """What it costs, the scrap taken off."""
        return self.metal + self.machine + self.consumables + self.hands - self.scrap

    def printed(self) -> dict[str, float]:
        """The parts of the cost as they are printed, ``scrap`` as what is taken off, and their total; the
        bill and what is told beside. Metal has its own cent, as it has on a bill; the others add up to the
        rest of the total."""
        metal, total = cent(self.metal), cent(self.total)
        parts = {name: getattr(self, name) for name in ("machine", "consumables", "hands")}
        beside = ("to_pay", "kept", "spares", "saved", "left_out")
        return {
            "metal": metal, **printed_by({**parts, "scrap": -self.scrap}, total - metal), "total": total,
            **{name: cent(getattr(self, name)) for name in beside},
        }  # fmt: skip


NOTHING = QuoteCost()


def whole_cost(plan: Plan, figures: PlanFigures) -> QuoteCost:
    """What a plan costs, with metal as it is taken and what goes back taken off."""
    money, total = figures.total.money, figures.total
    hands = total.hand_minutes / MINUTES_PER_HOUR * plan.job.settings.hand_hour
    spare = cost_shares(plan, figures).spare if plan.groups else CostShare()
    return QuoteCost(
        metal=money.metal + money.moving - money.kept,
        machine=money.cutting - money.consumables - hands,
        consumables=money.consumables, hands=hands, scrap=money.scrap, kept=money.kept, spares=spare.total,
        to_pay=money.to_pay, machine_minutes=(total.table_hours or 0.0) * MINUTES_PER_HOUR,
        hand_minutes=total.hand_minutes, weight=total.split.used_up,
        sheets=total.sheets_used + total.remnants_used, spare_cutting=spare.cutting,
    )  # fmt: skip


def alone_cost(plan: Plan, figures: PlanFigures) -> QuoteCost:
    """What a plan costs whose metal is all bought for it, in whole lots."""
    cost = whole_cost(plan, figures)
    lots = fsum(
        count.for_stock * count.sheet.price for group_plan in plan.groups for count in group_plan.sheets
    )
    return _with(cost, metal=cost.to_pay, kept=cost.kept + lots)


def added_cost(before: QuoteCost, after: QuoteCost) -> QuoteCost:
    """What one plan costs more than another."""
    differences = {one.name: getattr(after, one.name) - getattr(before, one.name) for one in fields(after)}
    added = _without_credit(before, QuoteCost(**differences))
    if added.metal < -LUCK:
        return _with(added, metal=0.0, saved=-added.metal)
    return added


CUTTING = ("machine", "consumables", "hands", "machine_minutes", "hand_minutes")


def _without_credit(before: QuoteCost, added: QuoteCost) -> QuoteCost:
    """What is added, with the cutting of spare pieces that are no longer made not taken off."""
    left_out = -added.spare_cutting
    if left_out <= LUCK or before.cutting <= 0.0:
        return added
    share = left_out / before.cutting
    back = {name: getattr(added, name) + share * getattr(before, name) for name in CUTTING}
    return _with(added, left_out=left_out, **back)


def _with(cost: QuoteCost, **changes: float) -> QuoteCost:
    return QuoteCost(**{**{one.name: getattr(cost, one.name) for one in fields(cost)}, **changes})


@dataclass(frozen=True, slots=True)
class Priced:
    """The answer for one quantity.

    ``finish`` is the day on which all of it could be cut, ``short`` the pieces that no plan can make, by
    part, alone and this month; ``more`` how many more of the item fit on the sheets of the plan with it, and
    ``at_least`` that no more than that was looked for. ``told`` is the price of one that was told before
    prices were worked out from printed costs.
    """

    quantity: int
    alone: QuoteCost = NOTHING
    added: QuoteCost = NOTHING
    mark_up: float = 0.0
    by_month: bool = False
    finish: str = ""
    short_alone: Mapping[str, int] = field(default_factory=dict)
    short_added: Mapping[str, int] = field(default_factory=dict)
    more: int = 0
    at_least: bool = False
    told: float | None = None

    def each(self, cost: QuoteCost) -> float | None:
        """The price of one at a cost, to the cent; None of a quote of nothing.

        It is worked out from the cost as it is printed, so that whoever has the page comes to the same cent.
        """
        return cent(cent(cost.total) * (1.0 + self.mark_up) / self.quantity) if self.quantity else None

    @property
    def is_lucky(self) -> bool:
        """Whether its price stands on a plan that, by luck of the search, takes less than the month's own."""
        return self.by_month and self.added.saved > 0.0

    @property
    def known_alone(self) -> QuoteCost | None:
        """What it costs alone; None where it cannot be made of what can be bought."""
        return None if self.short_alone else self.alone

    @property
    def known_added(self) -> QuoteCost | None:
        """What it adds to the month; None where not all of it is made, and where luck hides what it adds."""
        return None if self.short_added or self.added.saved > 0.0 else self.added

    @property
    def printed_costs(self) -> tuple[float | None, float | None]:
        """What it costs alone and what it adds, as printed; None where that is not known."""
        alone, added = self.known_alone, self.known_added
        return None if alone is None else cent(alone.total), None if added is None else cent(added.total)

    @property
    def price_each(self) -> float | None:
        """The price of one; None where its cost is not known, or of a quote of nothing."""
        if self.told is not None:
            return self.told
        known = self.known_added if self.by_month else self.known_alone
        return None if known is None else self.each(known)

    @property
    def price(self) -> float | None:
        """The price of all: that of one so many times, so that the customer's sum comes out."""
        return None if self.price_each is None else cent(self.price_each * self.quantity)


@dataclass(frozen=True, slots=True)
class NearlyFree:
    """An item of which so many more fit on sheets that are cut anyway, and for which order or quote.

    ``at_least``: no more than that was looked for.
    """

    order: str
    item: str
    more: int
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class GivenRow:
    """A price that was told, as the page Quoted lists it: all that is known of it where its file is lost."""

    date: str
    item: str
    quote: str
    quantity: int
    price_each: float | None = None
    price: float | None = None
    plan: str = ""
    ordered: str = ""

    @property
    def key(self) -> tuple[object, ...]:
        """What makes it one and the same price, whatever became of it."""
        return self.date, self.item, self.quote, self.quantity, self.price_each, self.price


@dataclass(frozen=True, slots=True)
class Quoted:
    """A quote with its answers, as it was on a day.

    ``plan`` is the mark of the plan that it was laid beside, empty where none stood. ``ordered`` is the day
    on which it became an order, ``ordered_quantity`` of how many (0 is not known), ``described`` what the
    item is, for the customer, and ``holds_until`` the last day of its prices, empty where none is stated.
    ``unstated`` is what its prices leave out, since a cell is empty, and ``counts_from`` the day from which
    the days of its answers count.
    """

    line: QuoteLine
    date: str
    currency: str
    answers: Sequence[Priced]
    plan: str = ""
    ordered: str = ""
    ordered_quantity: int = 0
    described: str = ""
    free: Sequence[NearlyFree] = ()
    holds_until: str = ""
    unstated: Sequence[Unstated] = ()
    counts_from: str = ""

    def was_ordered(self, quantity: int) -> bool:
        """Whether it is this quantity that became an order."""
        return bool(self.ordered) and self.ordered_quantity in (0, quantity)

    @property
    def rows(self) -> tuple[GivenRow, ...]:
        """Its prices as the page Quoted lists them."""
        return tuple(
            GivenRow(self.date, self.line.item, self.line.name, one.quantity, one.price_each, one.price,
                     self.plan, self.ordered if self.was_ordered(one.quantity) else "")
            for one in self.answers
        )  # fmt: skip

    def answer(self, quantity: int) -> Priced | None:
        """The answer for a quantity; None where it was not asked for."""
        return next((one for one in self.answers if one.quantity == quantity), None)

    @property
    def is_lucky(self) -> bool:
        """Whether one of its prices stands on such luck: nothing to tell a customer."""
        return any(one.is_lucky for one in self.answers)

    @property
    def prices(self) -> tuple[tuple[int, float | None], ...]:
        """Each quantity with its price: what a customer was told."""
        return tuple((one.quantity, one.price) for one in self.answers)
