"""The page `What fits`: what can still be promised, then what one more sheet adds and what a sheet makes."""

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
        return _page((), (), (), (), ())
    return _page(
        tuple(_lines(plan, fits)),
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


def _page(
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

