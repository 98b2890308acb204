"""A quote as one plain page for the customer: prices by quantity, and nothing of how they come about."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import PurePosixPath
from typing import Any

from reportlab.platypus import Spacer

from sheetplan.drawings.reading.files import drawing_name
from sheetplan.model import Settings
from sheetplan.money.quoting import Quoted
from sheetplan.pages.drawing.lettering import Heads, Holds, columns_for
from sheetplan.pages.paper.paper import (
    BODY,
    LARGE,
    MARGIN,
    Section,
    build_pdf,
    heading,
    list_table,
    paper_for,
    text,
)
from sheetplan.pages.wording import date_text, money_text

PRICES_SAID = "Prices are net of taxes and transport, at the metal prices of the day of this quote."
FINISH_SAID = (
    "Cut by: the day on which the last piece is cut, as the work lies today, if it is ordered {until}. It is "
    "not a day of delivery: cleaning, bending, welding, coating and transport come after it."
)
PAST = "Wanted by {wanted}: that day is past."
LATE = "Wanted by {wanted}: {what} cannot be cut by then."


def quote_pdf(one: Quoted, settings: Settings, *, said: Callable[[str], str] = str) -> bytes:
    """The page of one quote; the same quote gives the same bytes."""
    paper = paper_for(settings.units)
    width = paper.width - 2 * MARGIN
    section = Section(one.line.name, partial(_content, one, settings, width))
    foot = settings.shop_name or date_text(_day(one.date))
    return build_pdf([section], paper, f"Quote {one.line.name}", foot, said=said)


def file_name(one: Quoted) -> str:
    """The file's name: quote and day.

    >>> from sheetplan.model.job import QuoteLine
    >>> file_name(Quoted(QuoteLine("Q 7/b", "cleat", (1,)), "2026-11-29", "USD", ()))
    'Q-7-b 2026-11-29.pdf'
    """
    return f"{re.sub(r'[^A-Za-z0-9._-]+', '-', one.line.name).strip('.-') or 'quote'} {one.date}.pdf"


def item_name(one: Quoted) -> str:
    """What the customer calls it: the item or, of a drawing, its file's name without folder and ending.

    >>> from sheetplan.model.job import QuoteLine
    >>> line = QuoteLine("Q-1", "Q-1 drawing", (1,), drawing="plates/winch_guard.dxf#2")
    >>> item_name(Quoted(line, "2026-11-29", "USD", ()))
    'winch_guard 2'
    """
    if not one.line.drawing:
        return one.line.item
    drawing = drawing_name(one.line.drawing)
    name = PurePosixPath(drawing.path.replace("\\", "/")).stem
    return name if drawing.number is None else f"{name} {drawing.number}"


def _content(one: Quoted, settings: Settings, width: float) -> list[Any]:
    answers = [answer for answer in one.answers if answer.price is not None]
    has_day = any(answer.finish for answer in answers)
    heads: Heads = (
        ("Quantity", Holds.NUMBER), (f"Price each {one.currency}", Holds.NUMBER),
        (f"Price {one.currency}", Holds.NUMBER),
        *((("Cut by (not delivery)", Holds.WHOLE),) if has_day else ()),
    )  # fmt: skip
    rows = [
        (f"{answer.quantity:,}", money_text(answer.price_each or 0.0), money_text(answer.price or 0.0),
         *((answer.finish,) if has_day else ()))
        for answer in answers
    ]  # fmt: skip
    facts = [
        ("Date", date_text(_day(one.date))), ("For", one.line.customer),
        ("Item", ", ".join(filter(None, (item_name(one), one.described)))), ("Wanted", one.line.wanted),
        ("Prices hold until", one.holds_until),
    ]  # fmt: skip
    # Four short columns: what the customer looks for is set as large as the facts above it.
    columns = replace(columns_for(heads, rows, width, BODY), size=LARGE, head_size=BODY + 1.5)
    return [
        *([heading(settings.shop_name, width, LARGE + 4)] if settings.shop_name else []),
        Spacer(0, 18),
        heading(f"Quote {one.line.name}", width, LARGE + 8),
        Spacer(0, 12),
        *(text(f"{name}: {fact}", LARGE) for name, fact in facts if fact),
        Spacer(0, 16),
        list_table(heads, rows, width, columns=columns),
        Spacer(0, 16),
        *(part for sentence in _late_words(one) for part in (text(sentence, LARGE), Spacer(0, 10))),
        text(PRICES_SAID, BODY + 1.5),
        *([text(FINISH_SAID.format(until=_until(one)), BODY + 1.5)] if has_day else []),
    ]


def _until(one: Quoted) -> str:
    """Until when it has to be ordered for its days to hold."""
    return f"before cutting begins on {one.counts_from}" if one.counts_from else "today"


def _late_words(one: Quoted) -> Iterator[str]:
    """That the day on which it is wanted is past or cannot be met."""
    wanted, told = one.line.wanted, [answer for answer in one.answers if answer.price is not None]
    late = [answer for answer in told if answer.finish and wanted and answer.finish > wanted]
    if wanted and wanted < one.date:
        yield PAST.format(wanted=wanted)
    elif late:
        many = " and ".join(f"{answer.quantity:,}" for answer in late)
        yield LATE.format(wanted=wanted, what=many if len(late) < len(told) else "it")


def _day(date: str) -> datetime.date:
    return datetime.date.fromisoformat(date)
