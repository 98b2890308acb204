"""What quotes leave beside the book: all that were given, by day, in ``NAME.quotes.json`` (and the same as
``--json``), and a plain page for each customer.

A run writes the book, customers' pages and this file. What is to be kept is staged beside the book first
(``.NAME.quotes.json.next``, with the book's digest), then the book is written, then the pages, then the file
takes its place. Stopped before the book was written, the next run drops what was staged, and there are no
pages of it; stopped after, it writes the pages that are missing and keeps what was staged. An order counts
only where the book has its mark.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from sheetplan.model import Job, Problem, Weight
from sheetplan.model.job import QuoteLine
from sheetplan.model.problem import Unstated
from sheetplan.money.cents import cent
from sheetplan.money.quoting import GivenRow, NearlyFree, Priced, QuoteCost, Quoted
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import QUOTES_GIVEN
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.tables import BookTables, CellValue, RawRow

FORMAT = 1

FOLDER = "quotes"
"""Where customers' pages lie, beside the book."""


def quotes_file(book: Path) -> Path:
    """Where the quotes of a book are kept."""
    return book.with_name(f"{book.stem}.quotes.json")


def kept_quotes(book: Path) -> tuple[Quoted, ...]:
    """The quotes given so far, the oldest first. Raises ``NotWritten`` where their file cannot be used:
    it would be lost under a new one."""
    return _read(quotes_file(book)).quotes


def kept_rows(book: Path) -> tuple[GivenRow, ...]:
    """Prices of which only what the page Quoted listed is known, the latest first."""
    return _read(quotes_file(book)).rows


@dataclass(frozen=True, slots=True)
class _Kept:
    """What a file of quotes holds."""

    quotes: tuple[Quoted, ...] = ()
    rows: tuple[GivenRow, ...] = ()


def only_on_page(tables: BookTables, book: Path) -> tuple[GivenRow, ...]:
    """Prices that the page Quoted lists and the file of the quotes does not know, as in a copy of a book."""
    table = tables.tables.get(QUOTES_GIVEN.name)
    kept = _read(quotes_file(book))
    known = {row.key for one in kept.quotes for row in one.rows} | {row.key for row in kept.rows}
    rows = map(_row_of_page, table.rows if table else ())
    return tuple(row for row in rows if row is not None and row.key not in known)


def unread_rows(tables: BookTables) -> int:
    """How many rows of that list on the page say what the tool never wrote there."""
    table = tables.tables.get(QUOTES_GIVEN.name)
    return sum(_row_of_page(row) is None for row in table.rows) if table else 0


def _row_of_page(row: RawRow) -> GivenRow | None:
    """A row of the page as it was written; None where it says anything else."""
    cells = {normal(heading): cell.value for heading, cell in row.cells.items()}
    date, item, quote, quantity, each, price, plan, ordered = (
        cells.get(normal(column.heading)) for column in QUOTES_GIVEN.columns
    )
    if not isinstance(quantity, int | float) or not float(quantity).is_integer():
        return None
    if not all(isinstance(one, int | float | None) for one in (each, price)):
        return None
    if not isinstance(date, str) or not isinstance(item, str) or not isinstance(quote, str):
        return None
    return GivenRow(
        date, item, quote, int(quantity), _amount(each), _amount(price), str(plan or ""), str(ordered or "")
    )


def _amount(value: CellValue) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _read(path: Path) -> _Kept:
    from sheetplan.workbook.outcomes import NotWritten

    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return _Kept()
    try:
        values = json.loads(text)
        if values["format"] != FORMAT:
            raise ValueError(f"format {values['format']}")
        rows = tuple(GivenRow(**one) for one in values.get("rows", ()))
        return _Kept(tuple(_kept_quote(one) for one in values["quotes"]), rows)
    except (ValueError, KeyError, TypeError) as error:
        raise NotWritten(Problem(
            path.name, None, None, f"{path.name}, which keeps the quotes given so far, cannot be used "
            f"({error}).", "Put it back from a copy, or move it away to begin anew.", Weight.STOPS,
        )) from error  # fmt: skip


def with_new(before: Sequence[Quoted], new: Sequence[Quoted]) -> tuple[Quoted, ...]:
    """The quotes with new ones; one given again on the same day at the same prices is not kept twice."""
    again = {(one.line.name, one.date, one.prices) for one in new}
    return (*(one for one in before if (one.line.name, one.date, one.prices) not in again), *new)


def stage_quotes(book: Path, quotes: Sequence[Quoted], rows: Sequence[GivenRow] = ()) -> None:
    """Put aside what is to be kept once the book is written."""
    from sheetplan.app.rack.folder import digest_of
    from sheetplan.workbook.package.saving import put_file

    if quotes or rows:
        put_file(_staged_file(book), _bytes(quotes, rows, book=digest_of(book.read_bytes())))


def recover_quotes(
    book: Path, ordered: Collection[str], pages: Callable[[Sequence[Quoted]], object]
) -> None:
    """Finish or drop what a run staged and was stopped before it kept it.

    ``ordered`` are the quotes that the book has as ordered: one that was staged as ordered and is not is
    staged for nothing. ``pages`` writes the customers' pages of quotes that the run gave, before they are
    kept: stopped there, it is called again.
    """
    from sheetplan.app.rack.folder import digest_of
    from sheetplan.workbook.package.saving import taken_away

    staged = _staged_file(book)
    if not staged.exists():
        return
    kept = _read(staged)
    quotes = kept.quotes
    written = json.loads(staged.read_text(encoding="utf-8")).get("book") != digest_of(book.read_bytes())
    if written:
        there = kept_quotes(book)
        true = [one for one in quotes if one in there or not one.ordered or one.line.name in ordered]
        pages([one for one in true if one not in there])
        keep_quotes(book, true, kept.rows)
    taken_away(staged)


def keep_quotes(book: Path, quotes: Sequence[Quoted], rows: Sequence[GivenRow] = ()) -> None:
    """Keep quotes in place of what is there; nothing where there are none."""
    from sheetplan.workbook.package.saving import put_file, taken_away

    if quotes or rows:
        put_file(quotes_file(book), _bytes(quotes, rows))
    if _staged_file(book).exists():
        taken_away(_staged_file(book))


def _staged_file(book: Path) -> Path:
    return book.with_name(f".{quotes_file(book).name}.next")


def _bytes(quotes: Sequence[Quoted], rows: Sequence[GivenRow] = (), **more: str) -> bytes:
    values = {"format": FORMAT, **more, "quotes": [asdict(one) for one in quotes]}
    values |= {"rows": [asdict(one) for one in rows]} if rows else {}
    return (json.dumps(values, indent=1, ensure_ascii=False) + "\n").encode()


def _kept_quote(value: Mapping[str, Any]) -> Quoted:
    line = {**value["line"], "quantities": tuple(value["line"]["quantities"])}
    answers = tuple(
        Priced(**{**one, "alone": QuoteCost(**one["alone"]), "added": QuoteCost(**one["added"])})
        for one in value["answers"]
    )
    if "counts_from" not in value:
        answers = tuple(_as_told(one) for one in answers)
    free = tuple(NearlyFree(**one) for one in value["free"])
    unstated = tuple(Unstated(**one) for one in value.get("unstated", ()))
    whole = {"line": QuoteLine(**line), "answers": answers, "free": free, "unstated": unstated}
    return Quoted(**{**value, **whole})


def _as_told(one: Priced) -> Priced:
    """An answer of a file written when the price each was worked out from the cost before it was rounded."""
    cost, short = (one.added, one.short_added) if one.by_month else (one.alone, one.short_alone)
    known = one.quantity and not short
    return replace(one, told=cent(cost.total * (1.0 + one.mark_up) / one.quantity) if known else None)


def quotes_json(quotes: Sequence[Quoted], units: Units) -> dict[str, Any]:
    """Quotes as plain values in the book's units: what ``--json`` writes, beside ``problems``.

    Each has ``quote``, ``item``, ``customer``, ``date``, ``wanted``, ``holds_until`` (null where Settings
    state no days), ``plan`` (the mark of the plan that it was laid beside, null where none stood),
    ``ordered``, ``ordered_quantity``, ``unstated`` (empty cells, each with what the prices leave out for it)
    and ``answers``: ``quantity``, ``price_each``, ``price``, ``price_by``, ``mark_up``, ``finish``, ``more``
    (that fit too; with ``more_at_least`` no more were looked for), ``short`` and the costs ``alone`` and
    ``added``, whose amounts are to the cent and add up; ``added`` is no price where it says that it
    ``is_known`` not, as the plan with the quote came out cheaper by luck.
    """
    return {"format": FORMAT, "units": units.value, "quotes": [_plain(one, units) for one in quotes]}


def _plain(one: Quoted, units: Units) -> dict[str, Any]:
    return {
        "quote": one.line.name, "item": one.line.item, "customer": one.line.customer, "date": one.date,
        "wanted": one.line.wanted or None, "holds_until": one.holds_until or None,
        "currency": one.currency, "plan": one.plan or None,
        "ordered": one.ordered or None, "ordered_quantity": one.ordered_quantity or None,
        "answers": [_kept_answer(answer, units) for answer in one.answers],
        "nearly_free": [asdict(free) for free in one.free],
        "unstated": [asdict(empty) for empty in one.unstated],
    }  # fmt: skip


def _kept_answer(one: Priced, units: Units) -> dict[str, Any]:
    return {
        "quantity": one.quantity, "price_each": one.price_each, "price": one.price,
        "price_by": "this month" if one.by_month else "alone", "mark_up": one.mark_up,
        "finish": one.finish or None, "more": one.more, "more_at_least": one.at_least,
        "short": dict(one.short_added if one.by_month else one.short_alone),
        "alone": _cost(one.alone, units),
        "added": _cost(one.added, units) | {"is_known": not one.added.saved},
    }  # fmt: skip


def _cost(cost: QuoteCost, units: Units) -> dict[str, Any]:
    shown = cost.printed()
    return {
        **{name: shown[amount] for name, amount in IN_JSON.items()},
        "machine_minutes": round(cost.machine_minutes, 3),
        "hand_minutes": round(cost.hand_minutes, 3), "weight": round(cost.weight / units.weight_kg, 4),
        "sheets": cost.sheets,
    }  # fmt: skip


IN_JSON = {
    **{name: name for name in ("metal", "machine", "consumables", "hands", "scrap", "total")},
    "kept": "kept", "to_pay": "to_pay",
    "in_spares": "spares", "saved_by_luck": "saved", "spares_left_out": "left_out",
}  # fmt: skip
"""Amounts of a cost by what they are called in JSON, with their names where they are printed."""


# Customers' pages: one plain sheet of paper for each quote that has a price to tell.


def customers_pages(
    book: Path, job: Job, quotes: Sequence[Quoted], *, missing: bool = False
) -> tuple[Path, ...]:
    """A page for each customer, beside the book; none for a quote without a price that can be told.

    A page that was written the same day and says something else stays, and the new one gets a number.
    ``missing``: only what is not there yet is written and given.
    """
    from sheetplan.pages.paper.quote import file_name, quote_pdf
    from sheetplan.pages.wording import decimals_of
    from sheetplan.workbook.package.saving import put_file

    files = []
    for one in quotes:
        if any(answer.price is not None for answer in one.answers) and not one.ordered and not one.is_lucky:
            page = quote_pdf(one, job.settings, said=decimals_of(job).said)
            path = place_for(book.parent / FOLDER / file_name(one), page)
            if missing and path.exists():
                continue
            path.parent.mkdir(exist_ok=True)
            put_file(path, page)
            files.append(path)
    return tuple(files)


def place_for(path: Path, page: bytes) -> Path:
    """Where a customer's page goes: to its name, or beside another page that has it."""
    place, number = path, 1
    while place.exists() and place.read_bytes() != page:
        number += 1
        place = path.with_stem(f"{path.stem} {number}")
    return place
