"""The pages `Choices` and `What fits`: plans to pick for each gauge, and what can still be promised or
added.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from sheetplan.model import Order, Plan
from sheetplan.model.plan import CHEAPEST
from sheetplan.money.comparison import ChoiceFigures, Choices, choice_figures
from sheetplan.pages.values import (
    CHOICES_PAGE,
    FITS_PAGE,
    Cell,
    Column,
    Kind,
    ResultPage,
    ResultTable,
    without_empty,
)
from sheetplan.pages.wording import money_text, sheets_text, size_text
from sheetplan.planning.picking import left_out
from sheetplan.planning.whatif.fits import Fits, OneMoreSheet, RoundUp
from sheetplan.trade.sentences import counted

# The page `Choices`: for each gauge the plan in use and others beside it, to be picked by a mark.

PICKED = "x"
"""The mark of a choice that was picked; any other text that the planner writes there counts as well."""

YES = "yes"

COLUMNS = (
    Column("Choice", width=8),
    Column("Pick", width=6, asks=True),
    Column("In use", width=7),
    Column("Gauge", width=20, wrap=True),
    Column("Why choose it", width=30, wrap=True),
    Column("± To pay", Kind.MONEY_CHANGE, 10),
    Column("± Metal cost", Kind.MONEY_CHANGE, 8),
    Column("± Sheets", Kind.COUNT_CHANGE, 8),
    Column("± Layouts", Kind.COUNT_CHANGE, 8),
    Column("± Largest remnant", Kind.AREA_CHANGE, 9),
    Column("To pay", Kind.MONEY, 10),
    Column("Metal cost", Kind.MONEY, 10),
    Column("Sheets", Kind.COUNT, 8),
    Column("Layouts", Kind.COUNT, 9),
    Column("Yield", Kind.SHARE, 8),
    Column("Sheets by size", width=20, wrap=True),
    Column("Largest remnant", width=16, wrap=True),
    Column("Plan", width=8),
)

DIFFERENCES = tuple(column.heading for column in COLUMNS if column.heading.startswith("±"))

HOW = (
    "For each gauge the plan in use and up to three others. To take another: write x beside it in Pick and "
    "plan again, in the open book or with it saved and closed. It is used as it stands here, without a new "
    "search."
)
KEEPS = "A mark stays until you clear it; without one, the next plan searches anew."
WORDS_SAID = (
    "Each ± is the difference to the plan in use, which is bold. Why: at what, three things at the most, "
    "none of the gauge's other plans here is better; that no plan at all is cheaper is proven only where "
    "it says cheapest possible. "
    "To pay: the suppliers' bill, whole order multiples. Metal cost: all sheets and remnants taken, those on "
    "hand at their price in Stock. Largest remnant: the largest that one sheet leaves for the rack."
)
MOST_SAID = 3
"""Advantages that are said of a plan; the figures show the others."""

LEAST_DIFFERENCE = 0.005
"""Less than half a cent is no difference."""


def choices_page(plan: Plan | None, *, mark: str = "", choices: Choices | None = None) -> ResultPage:
    """All alternatives of all gauges; without a plan, the same table empty.

    ``choices`` are their figures, worked out here where not given.
    """
    if plan is None:
        return _page((), (), ())
    found = choices or choice_figures(plan)
    rows = tuple(
        _row(plan, one, next(one for one in ways if one.way.in_use), mark, is_picked=bool(group_plan.picked))
        for group_plan, ways in zip(plan.groups, found, strict=True)
        for one in ways
    )
    numbered = list(enumerate((gauge, one) for gauge, ways in enumerate(found) for one in ways))
    page = _page(tuple(_lines(plan)), rows, (KEEPS, WORDS_SAID))
    table = replace(
        page.tables[0],
        strong=frozenset(row for row, (gauge, one) in numbered if one.way.in_use and len(found[gauge]) > 1),
        banded=frozenset(row for row, (gauge, _) in numbered if gauge % 2),
    )
    return replace(page, tables=(without_empty(table, DIFFERENCES),))


def _page(
    lines: tuple[str, ...], rows: tuple[tuple[Cell, ...], ...], notes: tuple[str, ...]
) -> ResultPage:
    table = ResultTable("ChoiceList", COLUMNS, rows)
    return ResultPage(CHOICES_PAGE, "Plans to pick from", lines, (table,), notes=notes)


def _lines(plan: Plan) -> Iterator[str]:
    yield HOW
    alone = [one.group.label for one in plan.groups if not one.choices]
    if alone:
        yield f"No other plan was found that is better at anything that matters for {_listed(alone)}."
    picked = [one.group.label for one in plan.groups if one.picked]
    if picked:
        yield f"Picked by you: {_listed(picked)}."


def _listed(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _row(
    plan: Plan, one: ChoiceFigures, used: ChoiceFigures, mark: str, *, is_picked: bool
) -> tuple[Cell, ...]:
    figures, in_use = one.figures, one.way.in_use
    units = plan.job.settings.units
    return (
        one.way.tag,
        PICKED if in_use and is_picked else None,
        YES if in_use else None,
        one.way.gauge,
        why(one, used, plan.job.orders) or None,
        *(_differences(one, used) if not in_use else [None] * 5),
        figures.money.to_pay,
        figures.money.metal,
        one.sheets,
        one.layouts,
        figures.yield_share,
        sheets_text(one.way.plan, plan),
        size_text(one.kept.length, one.kept.width, units) if one.kept else None,
        mark or None,
    )


def _differences(one: ChoiceFigures, used: ChoiceFigures) -> tuple[Cell, ...]:
    """To pay, metal, sheets, layouts and the largest remnant, each against the plan in use."""
    mine, theirs = one.figures.money, used.figures.money
    money = (mine.to_pay - theirs.to_pay, mine.metal - theirs.metal)
    return (
        *(0.0 if abs(change) < LEAST_DIFFERENCE else change for change in money),
        one.sheets - used.sheets,
        one.layouts - used.layouts,
        one.kept_area - used.kept_area,
    )


def why(one: ChoiceFigures, used: ChoiceFigures, orders: Sequence[Order] = ()) -> str:
    """What speaks for an alternative, in few words, and what is not made with it."""
    missing = left_out(used.way.plan, one.way.plan, orders)
    return "; ".join(part for part in (_for_it(one, used), missing) if part)


def _for_it(one: ChoiceFigures, used: ChoiceFigures) -> str:
    if one.best_at:
        return ", ".join(one.best_at[:MOST_SAID])
    if one.way.plan.above_least == 0.0:
        return CHEAPEST
    if one.way.in_use:
        return one.way.name
    gains = (
        _less(one.figures.money.to_pay - used.figures.money.to_pay, "to pay"),
        _less(one.figures.money.metal - used.figures.money.metal, "in metal"),
        _less(one.figures.money.cutting - used.figures.money.cutting, "in cutting"),
        _fewer(one.sheets - used.sheets, "sheet"),
        _fewer(one.layouts - used.layouts, "layout"),
        "a larger remnant" if one.kept_area > used.kept_area else "",
    )
    return ", ".join(gain for gain in gains if gain)


def _less(difference: float, what: str) -> str:
    return f"{money_text(-difference)} less {what}" if difference <= -LEAST_DIFFERENCE else ""


def _fewer(difference: int, what: str) -> str:
    return f"{counted(-difference, what)} fewer" if difference < 0 else ""


# The page `What fits`: what can still be promised, then what one more sheet adds and what a sheet makes.

ON_HAND = (
    Column("Kit", width=24),
    Column("Whole kits", Kind.COUNT, 24),
    Column("Fewest in", width=22, wrap=True),
    Column("By gauge", width=44, wrap=True),
    Column("At most", Kind.COUNT, 9),
)
ROOM = (
    Column("Order", width=24),
    Column("Item", width=24),
    Column("Asked", Kind.COUNT, 22),
    Column("Then no room found in", width=44, wrap=True),
    Column("More", Kind.COUNT, 9),
    Column("Round up to", Kind.COUNT, 9),
)
ONE_MORE = (
    Column("Gauge", width=24),
    Column("Sheet", width=24),
    Column("Size", width=22),
    Column("Adds one of these", width=44, wrap=True),
    Column("Price", Kind.MONEY, 9),
)
PER_SHEET = (
    Column("Kit", width=24),
    Column("Gauge", width=24),
    Column("Sheet", width=22),
    Column("Size", width=44),
    Column("Kits", Kind.COUNT, 9),
    Column("At most", Kind.COUNT, 9),
    Column("From sheets", Kind.COUNT, 9),
    Column("Kits a sheet", Kind.NUMBER, 9),
)
ROOM_SAID = "Can still be promised: orders that can be rounded up without another sheet, each by itself"
ON_HAND_SAID = "Whole kits from the sheets and remnants on hand, each kit as if nothing else were cut"
ONE_MORE_SAID = "What one more sheet adds in its gauge"
PER_SHEET_SAID = (
    "What sheets of one size make of a kit's parts in that gauge, its parts in others aside: the most kits a "
    "sheet, from as many as three sheets"
)

FITTED = (
    "All counts were laid out on sheets, not reckoned from areas: what is said can be cut. More may be "
    "possible, but no more than the columns At most say: these are reckoned from areas, and seldom reached."
)
SPARES_GIVE_WAY = "Spares give way to orders that are rounded up; layouts that are locked stay as they are."
ADDS_NOTHING = "Sheets that add no whole kit or part, since another gauge has no room for more, are left out:"
NOT_WHOLE = (
    "There was no time for all answers: give the plan more seconds, in Settings or on the command line."
)
NOT_SEARCHED = "There was no time to look for more everywhere: with more seconds some counts may rise."


def fits_page(plan: Plan | None, fits: Fits | None) -> ResultPage:
    """All answers; without a plan or answers, the same tables empty."""
    if plan is None or fits is None:
        return _fits_page((), (), (), (), ())
    return _fits_page(
        tuple(_fits_lines(plan, fits)),
        tuple(_room_rows(plan, fits)),
        tuple(
            (one.kit, one.whole, one.bottleneck, _by_gauge(one.by_gauge), one.most)
            for one in fits.on_hand if one.whole
        ),
        tuple(_more_rows(plan, fits)),
        tuple(
            (
                one.kit, one.gauge, one.sheet.name,
                size_text(one.sheet.length, one.sheet.width, plan.job.settings.units),
                one.kits, one.most, one.sheets, one.each,
            )
            for one in fits.per_sheet
        ),
    )  # fmt: skip


def _fits_page(
    lines: tuple[str, ...],
    room: tuple[tuple[Cell, ...], ...],
    on_hand: tuple[tuple[Cell, ...], ...],
    more: tuple[tuple[Cell, ...], ...],
    per_sheet: tuple[tuple[Cell, ...], ...],
) -> ResultPage:
    tables = (
        ResultTable("RoomList", ROOM, room, ROOM_SAID),
        ResultTable("KitsOnHand", ON_HAND, on_hand, ON_HAND_SAID),
        ResultTable("OneMoreSheet", ONE_MORE, more, ONE_MORE_SAID),
        ResultTable("KitsPerSheet", PER_SHEET, per_sheet, PER_SHEET_SAID),
    )
    return ResultPage(FITS_PAGE, "What fits", lines, tables)


def _fits_lines(plan: Plan, fits: Fits) -> Iterator[str]:
    if not fits.whole:
        yield NOT_WHOLE
    elif not fits.searched:
        yield NOT_SEARCHED
    yield FITTED
    if any(one.extra for one in fits.round_up):
        yield SPARES_GIVE_WAY
    whole = [one for one in fits.round_up if not one.extra and _whole_order(plan, one.order)]
    full = [(_named(plan, one), one.is_most) for one in whole]
    sure, open_ = ([name for name, is_most in full if is_most is wanted] for wanted in (True, False))
    if sure:
        yield f"Not one more can fit on the sheets of this plan for {', '.join(sure)}."
    if open_:
        yield f"No room for one more was found on the sheets of this plan for {', '.join(open_)}."
    none = [one.kit for one in fits.on_hand if not one.whole]
    if none:
        yield f"What is on hand makes no whole kit of {', '.join(none)}."
    idle = [name for (_, name), found in _more(fits).items() if not any(_added(found))]
    if idle:
        yield f"{ADDS_NOTHING} {', '.join(idle)}."


def _named(plan: Plan, one: RoundUp) -> str:
    """An order line by its order, and by its item where the order has other lines too."""
    order = plan.job.orders[one.order]
    lines = sum(other.name == order.name for other in plan.job.orders)
    return f"{order.name} ({order.item})" if lines > 1 else order.name


def _by_gauge(found: Mapping[str, int]) -> str:
    return "\n".join(f"{count:,} by {gauge}" for gauge, count in found.items())


def _room_rows(plan: Plan, fits: Fits) -> Iterator[tuple[Cell, ...]]:
    for one in fits.round_up:
        order = _whole_order(plan, one.order)
        if one.extra and order is not None:
            yield order.name, order.item, order.quantity, one.full, one.extra, order.quantity + one.extra


def _whole_order(plan: Plan, index: int) -> Order | None:
    """The order as the book has it, whatever is cut of it; None for loose parts that are left of a kit."""
    rest = plan.job.orders[index]
    for one in plan.job.progress:
        if (one.order.name, one.order.line) == (rest.name, rest.line):
            return one.order if one.order.item == rest.item else None
    return rest


def _more_rows(plan: Plan, fits: Fits) -> Iterator[tuple[Cell, ...]]:
    """One row a sheet size that adds something: so many of one item or of another."""
    units = plan.job.settings.units
    for (gauge, name), found in _more(fits).items():
        sheet, said = found[0].sheet, "\n".join(_added(found))
        if said:
            yield gauge, name, size_text(sheet.length, sheet.width, units), said, sheet.price or None


def _more(fits: Fits) -> Mapping[tuple[str, str], Sequence[OneMoreSheet]]:
    """What one more sheet adds, by gauge and sheet."""
    rows: dict[tuple[str, str], list[OneMoreSheet]] = {}
    for one in fits.one_more:
        rows.setdefault((one.gauge, one.sheet.name), []).append(one)
    return rows


def _added(found: Sequence[OneMoreSheet]) -> Iterator[str]:
    for one in found:
        if one.short:
            yield f"{one.adds:,} x {one.item}, short in the plan"
        elif not one.held_up:
            yield f"{one.whole:,} x {one.item}"
        elif one.whole:
            yield f"{one.whole:,} x {one.item}, then no room found in {one.held_up}"
