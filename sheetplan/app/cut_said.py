"""What is said of a cut in the book, as the command `cut` would be told: rows of Record, marks on Layouts."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from sheetplan.app.cut_asked import SAID_BY, CutAsked, Way
from sheetplan.app.rack_open import Refused
from sheetplan.model import Problem, Weight
from sheetplan.pages.wording import counted
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import RECORD
from sheetplan.workbook.rows.cells import (
    CellFault,
    day_of,
    name_of,
    positive_count,
    text_of,
    word_of,
    yes_no,
)
from sheetplan.workbook.rows.reader import RowReader, column_problems, readers
from sheetplan.workbook.tables import BookTables, CellValue
from sheetplan.workbook.words import KeepWord

_PREFILLED = ("Cut on", "Cut by")
"""What a person may have filled down the whole page: alone it says of no cut."""


def cuts_in_rows(tables: BookTables) -> tuple[tuple[CutAsked, ...], tuple[Problem, ...]]:
    """The cuts that the page Record tells of, and what is wrong with its rows."""
    table = tables.tables.get(RECORD.name)
    if table is None:
        return (), ()
    problems = list(column_problems(RECORD, table))
    cuts = []
    for row in readers(RECORD, table, Units.INCH, Weight.STOPS) if not problems else ():
        said = [column.heading for column in RECORD.columns if not row.blank(column.heading)]
        if set(said) <= set(_PREFILLED):
            continue
        cuts.append(_cut_in(row))
        problems += row.problems
    return tuple(cuts), tuple(problems)


def rows_waiting(tables: BookTables, book: Path) -> tuple[Problem, ...]:
    """A finding where the page Record has rows: a plan would make once more what they say is cut."""
    cuts, wrong = cuts_in_rows(tables)
    if wrong or not cuts or cuts[0].row is None:
        return wrong
    are = "is" if len(cuts) == 1 else "are"
    what = f"{counted(len(cuts), 'cut')} on the page Record {are} not recorded yet."
    remedy = f"Record them in the open book, or run: sheetplan cut {book.name}. Or clear the rows."
    return (cuts[0].row.problem("Ticket", what, remedy),)


def _cut_in(row: RowReader) -> CutAsked:
    """What one row says; what is wrong is noted on the row."""
    keep = row.may("What is left", word_of(KeepWord), None)
    return CutAsked(
        layout=row.need("Ticket", name_of, ""),
        times=row.may("Sheets", positive_count, None),
        on=row.may("Cut from", name_of, ""),
        by=row.may("Cut by", text_of, ""),
        heat=row.may("Heat", text_of, ""),
        bad=row.may("Bad pieces", _bad_in, None),
        again=row.may("Beyond plan", yes_no, False),
        crop=None if keep is None else keep is KeepWord.RECTANGLE,
        date=row.may("Cut on", _day_in, None),
        only=row.may("Pieces cut", _pieces_in, ()),
        note=row.may("Note", text_of, ""),
        way=Way.ROW,
        row=row.place,
    )


def _bad_in(value: CellValue) -> dict[str, int]:
    return _bad(text_of(value))


def _pieces_in(value: CellValue) -> tuple[str, ...]:
    return _listed(text_of(value))


def _day_in(value: CellValue) -> datetime.date:
    return datetime.date.fromisoformat(day_of(value))


def refused_at(asked: CutAsked, refused: Refused) -> Problem:
    """A refusal as a finding about the row of Record that asked for it, at the cell that it is about."""
    assert asked.row is not None, "only rows are refused so"
    column = SAID_BY[refused.about or "layout"][Way.ROW.value]
    return asked.row.problem(column, refused.what, refused.remedy)


OTHERWISE = (
    "on SHEET or TAG; ticket KRTM-L5; date 2026-11-24; only PART=4; bad PART=1; by NAME; heat NUMBER; crop; "
    "as it is; again; note TEXT"
)
"""What may stand in the column How of the page Layouts."""


def asked_otherwise(asked: CutAsked, text: str) -> CutAsked:
    """What a cell of the column How says, put into what is asked.

    >>> one = asked_otherwise(CutAsked("L1", 1), "on MS10-5x10; date 2026-11-24; only PLATE=4, BRACE")
    >>> one.on, one.date, one.only
    ('MS10-5x10', datetime.date(2026, 11, 24), ('PLATE=4', 'BRACE'))
    """
    for entry in filter(None, (part.strip() for part in text.split(";"))):
        word, _, rest = entry.partition(" ")
        try:
            changed = _otherwise(asked, word.lower(), rest.strip())
        except CellFault as fault:
            raise Refused(f"How of {asked.layout} says {entry!r}: {fault.what}.", fault.remedy) from fault
        if changed is None:
            what = f"How of {asked.layout} says {entry!r}, which cannot be read."
            raise Refused(what, f"It may say, with semicolons between: {OTHERWISE}.")
        asked = changed
    return asked


def _otherwise(asked: CutAsked, word: str, rest: str) -> CutAsked | None:
    """One entry put into what is asked; None where it says nothing that is known."""
    match word:
        case "ticket" if rest:  # of an earlier plan, whatever row it is written in
            return replace(asked, layout=rest, plan=None)
        case "date" if rest:
            return replace(asked, date=_day_in(rest))
        case "only" if rest:
            return replace(asked, only=(*asked.only, *_listed(rest)))
        case "bad" if rest:
            return replace(asked, bad={**(asked.bad or {}), **_bad(rest)})
        case "on" | "by" | "heat" | "note" if rest:
            text: Mapping[str, Any] = {word: rest}
            return replace(asked, **text)
        case "crop" | "again" if not rest:
            mark: Mapping[str, Any] = {word: True}
            return replace(asked, **mark)
        case "as" if rest.lower() == "it is":
            return replace(asked, crop=False)
    return None


def _listed(text: str) -> tuple[str, ...]:
    """Pieces with commas between; numbers behind a # have commas of their own."""
    found: list[str] = []
    for one in (part.strip() for part in re.split(r"[,;]", text)):
        more_numbers = found and "#" in found[-1] and re.fullmatch(r"[\d\s-]+", one)
        found[-1:] = [f"{found[-1]},{one}"] if more_numbers else [*found[-1:], one]
    return tuple(filter(None, found))


def _bad(text: str) -> dict[str, int]:
    """Pieces by part, from texts such as ``CB-101=2, CB-100=1``."""
    counts = {}
    for one in filter(None, (part.strip() for part in re.split(r"[,;]", text))):
        part, _, number = one.rpartition("=")
        if not part.strip() or not number.strip().isdigit():
            raise CellFault(f"{one!r} is not a part and a number", "Write such as CB-101=2.")
        counts[part.strip()] = int(number)
    return counts
