"""The page `What fits`: kits from the stock on hand, kits a sheet, one more sheet, orders rounded up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from sheetplan.model import Order, Plan
from sheetplan.pages.values import FITS_PAGE, Cell, Column, Kind, ResultPage, ResultTable
from sheetplan.pages.wording import size_text
from sheetplan.planning.whatif.fits import Fits, OneMoreSheet, RoundUp

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
    Column("Sheets", Kind.COUNT, 9),
    Column("Kits a sheet", Kind.NUMBER, 9),
    Column("At most", Kind.NUMBER, 9),
)
ON_HAND_SAID = "Whole kits from the sheets and remnants on hand, each kit as if nothing else were cut"
ROOM_SAID = "Orders that can be rounded up without another sheet, each by itself"
ONE_MORE_SAID = "What one more sheet adds in its gauge"
PER_SHEET_SAID = "Kits a sheet, counted over as many as three sheets: 13 from two sheets are 6.50"

FITTED = (
    "All counts were laid out on sheets, not reckoned from areas: what is said can be cut. More may be "
    "possible, but no more than the columns At most say: these are reckoned from areas, and seldom reached."
)
SPARES_GIVE_WAY = "Spares give way to orders that are rounded up; layouts that are locked stay as they are."
NOT_WHOLE = (
    "There was no time for all answers: give the plan more seconds, in Settings or on the command line."
)
NOT_SEARCHED = "There was no time to look for more everywhere: with more seconds some counts may rise."


def fits_page(plan: Plan | None, fits: Fits | None) -> ResultPage:
    """All answers; without a plan or answers, the same tables empty."""
    if plan is None or fits is None:
        return _page((), (), (), (), ())
    return _page(
        tuple(_lines(plan, fits)),
        tuple(
            (one.kit, one.whole, one.bottleneck, _by_gauge(one.by_gauge), one.most) for one in fits.on_hand
        ),
        tuple(_room_rows(plan, fits)),
        tuple(_more_rows(plan, fits)),
        tuple(
            (
                one.kit, one.gauge, one.sheet.name,
                size_text(one.sheet.length, one.sheet.width, plan.job.settings.units),
                one.kits, one.sheets, one.each, one.most / one.sheets,
            )
            for one in fits.per_sheet
        ),
    )  # fmt: skip


def _page(
    lines: tuple[str, ...],
    on_hand: tuple[tuple[Cell, ...], ...],
    room: tuple[tuple[Cell, ...], ...],
    more: tuple[tuple[Cell, ...], ...],
    per_sheet: tuple[tuple[Cell, ...], ...],
) -> ResultPage:
    tables = (
        ResultTable("KitsOnHand", ON_HAND, on_hand, ON_HAND_SAID),
        ResultTable("RoomList", ROOM, room, ROOM_SAID),
        ResultTable("OneMoreSheet", ONE_MORE, more, ONE_MORE_SAID),
        ResultTable("KitsPerSheet", PER_SHEET, per_sheet, PER_SHEET_SAID),
    )
    return ResultPage(FITS_PAGE, "What fits", lines, tables)


def _lines(plan: Plan, fits: Fits) -> Iterator[str]:
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
    """One row a sheet size: what it adds of one item or another, then what another gauge holds up."""
    units = plan.job.settings.units
    rows: dict[tuple[str, str], list[OneMoreSheet]] = {}
    for one in fits.one_more:
        rows.setdefault((one.gauge, one.sheet.name), []).append(one)
    for (gauge, name), found in rows.items():
        sheet = found[0].sheet
        said = "\n".join((*_added(found), *_held_up(found)))
        yield gauge, name, size_text(sheet.length, sheet.width, units), said, sheet.price or None


def _added(found: Sequence[OneMoreSheet]) -> Iterator[str]:
    for one in found:
        if one.short:
            yield f"{one.adds:,} x {one.item}, short in the plan"
        elif not one.held_up:
            yield f"{one.whole:,} x {one.item}"
        elif one.whole:
            yield f"{one.whole:,} x {one.item}, then no room found in {one.held_up}"


def _held_up(found: Sequence[OneMoreSheet]) -> Iterator[str]:
    """The kits that gain nothing, by the gauge without which no more of them are whole."""
    waiting: dict[str, list[str]] = {}
    for one in found:
        if one.held_up and not one.short and not one.whole:
            waiting.setdefault(one.held_up, []).append(one.item)
    for gauge, items in waiting.items():
        yield f"none of {', '.join(items)}: no room found in {gauge}"
