"""The page `Quoted`: what was asked the price of, what it costs and why, and what was quoted before."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sheetplan.model import Problem, Settings, Weight
from sheetplan.money.quoting import GivenRow, NearlyFree, Priced, QuoteCost, Quoted
from sheetplan.pages.values import (
    QUOTED_PAGE,
    Cell,
    Chart,
    ChartKind,
    Column,
    Kind,
    ResultPage,
    ResultTable,
)
from sheetplan.trade.sentences import counted

PRICES = (
    Column("Quote", width=11, wrap=True),
    Column("Item", width=19, wrap=True),
    Column("Customer", width=14, wrap=True),
    Column("Quantity", Kind.COUNT, 8),
    Column("Price each", Kind.MONEY, 10),
    Column("Price", Kind.MONEY, 10),
    Column("Price by", width=11),
    Column("Mark-up", Kind.SHARE, 11),
    Column("Cost alone", Kind.MONEY, 10),
    Column("Adds this month", Kind.MONEY, 10),
    Column("Wanted", width=11),
    Column("Can be cut by", width=11),
    Column("More fit", Kind.COUNT, 8, wrap=True),
)
COSTS = (
    Column("Quote", width=11, wrap=True),
    Column("Which cost", width=15),
    Column("Quantity", Kind.COUNT, 8),
    Column("Sheets", Kind.COUNT, 8),
    Column("Weight", Kind.WEIGHT, 10),
    Column("Metal", Kind.MONEY, 10),
    Column("Machine", Kind.MONEY, 11),
    Column("Consumables", Kind.MONEY, 11),
    Column("Hands", Kind.MONEY, 10),
    Column("Scrap back", Kind.MONEY, 10),
    Column("Cost", Kind.MONEY, 11),
    Column("Machine minutes", Kind.NUMBER, 11),
    Column("Hand minutes", Kind.NUMBER, 12.5),
    Column("To pay", Kind.MONEY, 9),
    Column("Back to the rack", Kind.MONEY, 9),
    Column("In spare parts", Kind.MONEY, 9),
)
OF_FIRST_ALONE, OF_FIRST_ADDED = "Of the first, alone", "Of the first, this month"
STEPS = (
    Column("Quote and quantity", width=11, wrap=True),
    Column("Item", width=19, wrap=True),
    Column("Price each, alone", Kind.MONEY, 10),
    Column("Price each, this month", Kind.MONEY, 13),
    Column("Sheets, alone", Kind.COUNT, 12),
    Column("Sheets, this month", Kind.COUNT, 11),
    Column(OF_FIRST_ALONE, Kind.SHARE, 12),
    Column(OF_FIRST_ADDED, Kind.SHARE, 12),
)
FREE = (
    Column("Order or quote", width=11, wrap=True),
    Column("Item", width=19, wrap=True),
    Column("More", Kind.COUNT, 8, wrap=True),
)
EARLIER = (
    Column("Date", width=11),
    Column("Item", width=19, wrap=True),
    Column("Quote", width=11, wrap=True),
    Column("Quantity", Kind.COUNT, 8),
    Column("Price each", Kind.MONEY, 10),
    Column("Price", Kind.MONEY, 10),
    Column("Plan", width=11),
    Column("Ordered", width=11),
)
ALONE, ADDED = "alone", "adds this month"

TITLE = "What was quoted"
NO_QUOTES = "Nothing is quoted yet. Fill in the page Quotes, then:  sheetplan quote BOOK.xlsx"
PRICES_SAID = "Prices. Price is Price each times Quantity; Price each is the cost, with the mark-up, of one"
COSTS_SAID = "How the costs come about: metal, machine, consumables and hands, less what the scrap fetches"
STEPS_SAID = (
    "Price each by quantity: it falls or stays, except where another sheet begins or less goes back to the "
    "rack. Of the first: what share that is of the price of the smallest quantity alone"
)
FREE_SAID = "Nearly free: so many more fit on the sheets that are cut anyway, each by itself"
EARLIER_SAID = "All quotes given so far, the latest first"
CHART = Chart(
    "Price each by quantity, as a share of the price alone of the smallest quantity", ChartKind.COLUMNS,
    "Quote and quantity", (OF_FIRST_ALONE, OF_FIRST_ADDED), "Share of the first price",
)  # fmt: skip
NOTES = (
    "alone: all metal is bought for it in whole sheets and whole lots, nothing else is made, no spares. What "
    "goes back to the rack is worth what Back to the rack says and is not taken off.",
    "adds this month: the month's plan with it laid in free room and on further sheets, less the same plan "
    "without it, as if no other quote were ordered: two may count on the same room. Metal is what the plans "
    "take, less what goes back to the rack. No plan is changed by a quote. Every quantity gets the same "
    "counted work, up to eight on the page; more share it.",
    "Machine: minutes of the table, sheets laid on and taken off among them, at the hour cost. Hands: the "
    "minutes of Settings at Hand hour cost. Scrap back: skeleton at the Scrap price of Materials. What is "
    "empty there counts nothing.",
    "In spare parts: what of the cost lies in spare pieces that nobody ordered; it is in the price. "
    "A quote may lie in the room of the month's spare pieces: that they are not cut then makes it no "
    "cheaper as a whole, though Machine, Consumables and Hands may each come out a little less or more than "
    "its own pieces take.",
    "Can be cut by: the day on which the last of it is cut, not a day of delivery, in the month's order of "
    "cutting with the hours and days of Settings, all of it counted from the next day of cutting after the "
    "quote, since the customer has to say yes first. Metal that is to be bought comes after the Lead days of "
    "Stock; without them it is taken to be there at once. More fit: so many more of the item found room "
    "on the sheets that are cut then; at least, where no more were looked for. Bending, welding, coating and "
    "transport come on top.",
)
NOT_ALONE = "Cannot be made from sheets that can be bought: {parts}."
NOT_ADDED = "The month's metal does not make all of it: {parts}."
LATE = "Too late: it can be cut by {finish}, and is wanted on {wanted}."
LUCK = (
    "Metal in the plan with it costs {saved:,.2f} less than in the plan without, so what it adds is not "
    "known. Plan the month anew, with more seconds, and quote again."
)
NO_PLAN = (
    "No plan of the present orders stands, so one was made to lay the quotes beside; it is not kept. Plan "
    "the month first for figures that go with its tickets."
)
NO_ORDERS = (
    "The page Orders has nothing to cut, so that each quote is laid beside an empty month: what it adds is "
    "what it takes there, sheets on hand and remnants among it."
)
NO_PAGE = "There is no page for the customer until then."


@dataclass(frozen=True, slots=True)
class Findings:
    """What is to be put right on the page Quotes, what is to be looked at there, and rows of other pages that
    are left out; ``no_orders``: the month has none to lay a quote beside. ``from_page`` are prices that
    only the page of the book knows."""

    wrong: Sequence[Problem] = ()
    notes: Sequence[Problem] = ()
    elsewhere: Sequence[Problem] = ()
    no_orders: bool = False
    from_page: Sequence[GivenRow] = ()


def quoted_page(
    quotes: Sequence[Quoted], history: Sequence[Quoted], *, today: datetime.date, settings: Settings,
    found: Findings | None = None, ordered: Sequence[str] = (),
) -> ResultPage:  # fmt: skip
    """The page of quotes; ``history`` are all that were given so far, ``found`` is what is wrong, ``ordered``
    are quotes that become orders in the same run."""
    head = (
        (*_elsewhere_lines(found.elsewhere), *_wrong_lines(found), *_from_page_lines(found)) if found else ()
    )
    if not quotes and not history and not (found and found.from_page):
        bare = bare_quoted_page()
        return replace(bare, lines=(*head, *bare.lines))
    answered = [(one, answer) for one in quotes for answer in one.answers]
    steps = tuple(row for one in quotes for row in _step_rows(one))
    tables = [
        ResultTable("QuotePrices", PRICES, tuple(_price_row(*one) for one in answered), PRICES_SAID),
        *([ResultTable("QuoteSteps", STEPS, steps, STEPS_SAID, chart=CHART)] if steps else []),
        ResultTable("QuoteCosts", COSTS, tuple(row for one in answered for row in _cost_rows(*one)),
                    COSTS_SAID),
    ]  # fmt: skip
    free = tuple(dict.fromkeys(_free_rows(quotes)))
    tables += [ResultTable("QuoteFree", FREE, free, FREE_SAID)] if free else []
    earlier = tuple(_earlier_row(row) for one in reversed(history) for row in one.rows)
    earlier += tuple(map(_earlier_row, found.from_page if found else ()))
    tables += [ResultTable("QuotesGiven", EARLIER, earlier, EARLIER_SAID)]
    first, *others = (*_lines(quotes, today, settings, ordered, found), "")
    lines = tuple(line for line in (first, *head, *others) if line)
    return ResultPage(QUOTED_PAGE, TITLE, lines, tuple(tables), notes=NOTES)


def bare_quoted_page() -> ResultPage:
    """The page before the first quote."""
    return ResultPage(QUOTED_PAGE, TITLE, (NO_QUOTES,))


MOST_ROWS = 8
"""Rows of other pages that are named; of more the first few, as the page Problems has them all."""


def left_out_words(rows: int) -> str:
    """That so many rows of other pages are left out."""
    are = "is" if rows == 1 else "are"
    return f"{counted(rows, 'row')} of other pages {are} left out, which may change any price."


def _elsewhere_lines(elsewhere: Sequence[Problem]) -> Iterator[str]:
    """Rows of other pages that are left out, each with where and what."""
    if elsewhere:
        some = f" The first {MOST_ROWS}, of which the page Problems has all:"
        yield f"{left_out_words(len(elsewhere))}{some if len(elsewhere) > MOST_ROWS else ''}"
    for one in elsewhere[:MOST_ROWS]:
        yield f"{one.where}: {one.what} {one.remedy}"


def _wrong_lines(found: Findings) -> Iterator[str]:
    """What is wrong with rows of the page Quotes: where, what, and what to do."""
    for todo, some in (("To put right", found.wrong), ("To look at", found.notes)):
        if some:
            yield f"{todo} on the page Quotes, {counted(len(some), 'place')}:"
        for one in some:
            left_out = "" if one.weight is Weight.NOTE else " Not done until then."
            yield f"{one.where}: {one.what} {one.remedy}{left_out}"


def _from_page_lines(found: Findings) -> Iterator[str]:
    """That of some prices nothing else is known."""
    if found.from_page:
        yield (
            f"Of {counted(len(found.from_page), 'earlier price')} below only what this page said is known. "
            "How they came about stands in the quotes.json file of the book that this one was copied from."
        )


def quote_notes(quotes: Sequence[Quoted]) -> Iterator[str]:
    """What is to be said of single answers beside their prices, as sentences."""
    for one in quotes:
        for answer in one.answers:
            note = _note(one, answer)
            if note:
                yield f"{one.line.name}, {answer.quantity:,} of {one.line.item}: {note}"


def unstated_words(quotes: Sequence[Quoted]) -> Iterator[str]:
    """What prices leave out for an empty cell, each with the quotes that it touches."""
    touched: dict[str, list[str]] = {}
    for one in quotes:
        for empty in () if one.ordered else one.unstated:
            touched.setdefault(empty.said, []).append(one.line.name)
    for said, names in touched.items():
        yield f"Not in the price of {', '.join(dict.fromkeys(names))}: {said}"


def _lines(
    quotes: Sequence[Quoted], today: datetime.date, settings: Settings, ordered: Sequence[str],
    found: Findings | None,
) -> Iterator[str]:
    new = [one for one in quotes if one.date == today.isoformat() and not one.ordered]
    if new:
        yield (
            f"{counted(len(new), 'quote')} of {today.isoformat()}, in {settings.currency}, at the prices of "
            "the page Stock. An offer to a customer is yours to make."
        )
    plans = {one.plan for one in new if one.answers}
    if plans - {""}:
        yield f"Laid beside plan {', '.join(sorted(plans - {''}))}, which stands as it was."
    if "" in plans:
        yield NO_ORDERS if found and found.no_orders else NO_PLAN
    yield from unstated_words(new)
    if ordered:
        yield f"Orders now: {', '.join(ordered)}. Plan again to have them made."
    until = {one.holds_until for one in new}
    if until - {""}:
        yield f"The customers' pages say that the prices hold until {', '.join(sorted(until - {''}))}."
    elif new:
        yield "The customers' pages do not say how long the prices hold: see Days a quote holds in Settings."
    yield from quote_notes(quotes)


def _price_row(one: Quoted, answer: Priced) -> tuple[Cell, ...]:
    return (
        one.line.name, one.line.item, one.line.customer or None, answer.quantity, answer.price_each,
        answer.price, "this month" if answer.by_month else ALONE, answer.mark_up,
        *answer.printed_costs,
        one.line.wanted or None, answer.finish or None, _more(answer),
    )  # fmt: skip


def _more(one: Priced | NearlyFree) -> Cell:
    return f"at least {one.more:,}" if one.at_least else one.more or None


def _note(one: Quoted, answer: Priced) -> str:
    said = [f"Ordered on {one.ordered}."] if one.was_ordered(answer.quantity) else []
    if one.ordered:
        return " ".join(said)
    if answer.finish and one.line.wanted and answer.finish > one.line.wanted:
        said.append(LATE.format(finish=answer.finish, wanted=one.line.wanted))
    for text, short in ((NOT_ALONE, answer.short_alone), (NOT_ADDED, answer.short_added)):
        said += [text.format(parts=_parts(short))] if short else []
    said += [LUCK.format(saved=answer.added.saved)] if answer.added.saved else []
    said += [NO_PAGE] if answer.is_lucky else []
    return " ".join(said)


def _parts(short: Mapping[str, int]) -> str:
    return ", ".join(f"{pieces:,} of {part}" for part, pieces in sorted(short.items()))


def _step_rows(one: Quoted) -> Iterator[tuple[Cell, ...]]:
    """The prices each of a quote of several quantities, beside that of the smallest alone."""
    asked = [answer for answer in one.answers if answer.quantity]
    alone, added = (
        [None if cost is None else answer.each(cost) for answer, cost in zip(asked, costs, strict=True)]
        for costs in ([one.known_alone for one in asked], [one.known_added for one in asked])
    )
    if len(asked) > 1:
        yield from (
            (f"{one.line.name}: {answer.quantity:,}", one.line.item, *prices,
             *(cost.sheets if cost else None for cost in (answer.known_alone, answer.known_added)), *shares)
            for answer, prices, shares in zip(
                asked, zip(alone, added, strict=True),
                zip(*_of_first(alone, added), strict=True), strict=True,
            )
        )  # fmt: skip


def _of_first(*prices: Sequence[float | None]) -> list[list[float | None]]:
    """Prices as shares of the first that there is, the same for all; none where that is nothing."""
    first = next((price for some in prices for price in some if price is not None), None)
    return [[price / first if first and price is not None else None for price in some] for some in prices]


def _cost_rows(one: Quoted, answer: Priced) -> Iterator[tuple[Cell, ...]]:
    for which, cost in ((ALONE, answer.known_alone), (ADDED, answer.known_added)):
        if cost is not None:
            yield (one.line.name, which, answer.quantity, *_cost_cells(cost))


def _cost_cells(cost: QuoteCost) -> tuple[Cell, ...]:
    shown = cost.printed()
    amounts = (shown[name] for name in ("metal", "machine", "consumables", "hands", "scrap", "total"))
    return (
        cost.sheets, cost.weight, *amounts, cost.machine_minutes, cost.hand_minutes, shown["to_pay"],
        shown["kept"], max(0.0, shown["spares"]) or None,
    )  # fmt: skip


def _free_rows(quotes: Sequence[Quoted]) -> Iterator[tuple[Cell, ...]]:
    for one in quotes:
        if not one.ordered:
            yield from ((free.order, free.item, _more(free)) for free in one.free)


def _earlier_row(row: GivenRow) -> tuple[Cell, ...]:
    return (
        row.date, row.item, row.quote, row.quantity, row.price_each, row.price, row.plan or None,
        row.ordered or None,
    )  # fmt: skip
