"""One cell into one value. Every function raises `CellFault` with what is wrong and what to do."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Sequence
from enum import StrEnum
from typing import TypeVar

from sheetplan.trade.lengths import parse_length
from sheetplan.trade.numerals import plain, read_numeral
from sheetplan.trade.units import Units
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.safe_text import clean_text
from sheetplan.workbook.tables import CellValue, ErrorValue, NotComputed

LONGEST_NAME = 120
"""Characters in the longest name; longer ones are a note that slipped into the wrong column."""

LARGEST_COUNT = 1_000_000
"""More of anything than this is a typing mistake in a month's work."""

LARGEST_LENGTH_MM = 30_000.0
"""Longer than any sheet that is sold cut to length; more is usually a size in the other unit."""

LEAST_LENGTH_MM = 1.0
"""A part or sheet narrower than a cut is wide is a typing mistake."""

FIRST_SERIAL_DAY, LAST_SERIAL_DAY = 30_000, 80_000
"""Day numbers of 1982 to 2119: a bare number in a date column is taken for a date between these."""

LEAST_BARE_PER_CENT = 10.0
"""Numbers from here on are per cent without the sign: nothing counts at ten times its price."""

_GROUPED_COUNT = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+")
_CURRENCY = re.compile(r"[a-z]{2}|[$€£¥]")
_PER_CENT = re.compile(r"\s*(?:%|per ?cent)$", re.IGNORECASE)
_EPOCH = datetime.date(1899, 12, 30)

Word = TypeVar("Word", bound=StrEnum)


class CellFault(ValueError):
    """A cell that cannot be used: ``what`` is wrong and the ``remedy``, each a plain sentence."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


def usable(value: CellValue) -> CellValue:
    """The value unless it is an error or a formula without a result."""
    if isinstance(value, ErrorValue):
        raise CellFault(f"shows {value.text}", "Correct the formula, or write the value itself.")
    if isinstance(value, NotComputed):
        raise CellFault(
            "holds a formula whose result is not stored in the file",
            "Open the book in your spreadsheet program, save it there and run again.",
        )
    return value


def text_of(value: CellValue) -> str:
    """Any cell as the text that a person would read."""
    value = usable(value)
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    return " ".join(clean_text(str(value)).split())


def name_of(value: CellValue) -> str:
    """A name; numbers are fine, dates are not (a spreadsheet makes them of `10-12`)."""
    value = usable(value)
    if isinstance(value, datetime.date | datetime.time):
        raise CellFault(
            f"has been turned into a date ({text_of(value)}) by the spreadsheet program",
            "Format the cell as text and write the name again.",
        )
    text = text_of(value)
    if not text:
        raise CellFault("holds nothing that can be read", "Write a name.")
    if len(text) > LONGEST_NAME:
        raise CellFault(
            f"is {len(text):,} characters long; a name has at most {LONGEST_NAME}", "Write a shorter name."
        )
    return text


def count_of(value: CellValue) -> int:
    """A whole number, zero or more; text that is one counts."""
    value = usable(value)
    said = text_of(value)
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellFault(f"`{said}` is not a number", "Write a whole number.")
    number = _count_text(said) if isinstance(value, str) else float(value)
    if not math.isfinite(number) or number != math.floor(number):
        raise CellFault(f"`{said}` is not a whole number", "Write a whole number.")
    if number < 0:
        raise CellFault(f"{said} is negative", "Write 0 or a positive whole number.")
    if number > LARGEST_COUNT:
        raise CellFault(f"{said} is more than {LARGEST_COUNT:,}", "Check the number.")
    return int(number)


def positive_count(value: CellValue) -> int:
    """A whole number of at least 1."""
    number = count_of(value)
    if number == 0:
        raise CellFault("is 0", "Write a whole number of at least 1.")
    return number


def number_of(value: CellValue) -> float:
    """A number, zero or more; text that is one counts."""
    value = usable(value)
    said = text_of(value)
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellFault(f"`{said}` is not a number", "Write a number.")
    number = _number_text(said) if isinstance(value, str) else float(value)
    if not math.isfinite(number):
        raise CellFault(f"`{said}` is not a number", "Write a number.")
    if number < 0:
        raise CellFault(f"{said} is negative", "Write 0 or a positive number.")
    return number


def positive_number(value: CellValue) -> float:
    """A number above 0."""
    number = number_of(value)
    if number <= 0:
        raise CellFault("is 0", "Write a positive number, or leave the cell empty.")
    return number


def share_of(value: CellValue) -> float:
    """A share from 0 to 1, written in per cent: 85, 85 %, or a cell formatted in per cent (which holds 0.85).

    Numbers that could be either are refused: 2 may be 2 per cent or a cell that shows 200%.
    """
    said = text_of(value)
    sign = _PER_CENT.search(said)
    number = number_of(said[: sign.start()].strip() if sign else value)
    if sign is None and 1.0 < number < LEAST_BARE_PER_CENT:
        raise CellFault(
            f"`{said}` can be read as {number:.10g}% or as {100 * number:.10g}%",
            f"Write it with the sign: {number:.10g}%.",
        )
    share = number / 100.0 if sign or number > 1.0 else number
    if share > 1.0:
        raise CellFault(f"`{said}` is more than 100%", "Write 0% to 100%, such as 85%.")
    return share


MOST_MARK_UP = 10.0
"""Ten times the cost on top of it: more is a typing mistake."""


def mark_up_of(value: CellValue) -> float:
    """A mark-up in per cent, which may be more than 100: 150, 150 %, or a cell formatted in per cent.

    Numbers that could be either are refused, as in `share_of`: 2 may be 2 per cent or a cell that shows 200%.
    """
    said = text_of(value)
    sign = _PER_CENT.search(said)
    if sign is None or number_of(said[: sign.start()].strip()) <= 100.0:
        return share_of(value)
    share = number_of(said[: sign.start()].strip()) / 100.0
    if share > MOST_MARK_UP:
        raise CellFault(f"`{said}` is more than {MOST_MARK_UP:.0%}", "Check the mark-up.")
    return share


def money_of(value: CellValue) -> float:
    """An amount of money, without a sign or letters: a book has one currency, stated in Settings.

    An amount in another currency would otherwise be taken for one in the book's.
    """
    if isinstance(value, str) and _CURRENCY.search(value.lower()):
        raise CellFault(
            f"`{text_of(value)}` is not a bare amount",
            "Write the number alone, in the currency that the page Settings names.",
        )
    return number_of(value)


def length_in(units: Units) -> Callable[[CellValue], float]:
    """A reader of lengths, zero or more, for a book in these units; mm come out."""

    def length(value: CellValue) -> float:
        found = traded(lambda: parse_length(usable(value), units))
        if found > LARGEST_LENGTH_MM:
            raise CellFault(
                f"`{text_of(value)}` is {found / 1000:,.1f} metres ({found / 304.8:,.0f} ft)",
                check_number(value, units),
            )
        return found

    return length


def size_in(units: Units) -> Callable[[CellValue], float]:
    """A reader of sizes of parts and sheets: lengths that are more than nothing."""
    length = length_in(units)

    def size(value: CellValue) -> float:
        found = length(value)
        if found <= 0:
            raise CellFault("is 0", "Write the finished size.")
        if found < LEAST_LENGTH_MM:
            raise CellFault(
                f"`{text_of(value)}` is less than {LEAST_LENGTH_MM:g} mm", check_number(value, units)
            )
        return found

    return size


def yes_no(value: CellValue) -> bool:
    """Yes or no, as the planner or a tick box says it."""
    value = usable(value)
    if isinstance(value, bool):
        return value
    said = normal(text_of(value))
    if said in ("yes", "y", "true", "x", "1"):
        return True
    if said in ("no", "n", "false", "0", "-"):
        return False
    raise CellFault(f"`{said}` is neither yes nor no", "Pick yes or no from the list.")


def word_of(words: type[Word]) -> Callable[[CellValue], Word]:
    """A reader of one of a few words."""

    def word(value: CellValue) -> Word:
        said = normal(text_of(value))
        for candidate in words:
            if normal(candidate.value) == said:
                return candidate
        raise CellFault(
            f"`{text_of(value)}` is not one of the words used here",
            f"Write {either([w.value for w in words])}.",
        )

    return word


def date_of(value: CellValue) -> str:
    """A date as ``2026-11-30``; other text stays as written."""
    value = usable(value)
    if isinstance(value, datetime.datetime):
        return value.date().isoformat()
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, int | float) and not isinstance(value, bool):
        if FIRST_SERIAL_DAY <= value <= LAST_SERIAL_DAY:
            return (_EPOCH + datetime.timedelta(days=int(value))).isoformat()
        raise CellFault(f"{text_of(value)} is not a date", "Write a date such as 2026-11-30.")
    return text_of(value)


def day_of(value: CellValue) -> str:
    """A day as ``2026-11-30``; text that is no date is a fault."""
    said = date_of(value)
    try:
        return datetime.date.fromisoformat(said[:10]).isoformat()
    except ValueError:
        raise CellFault(f"`{said}` is not a date", "Write a date such as 2026-11-30.") from None


def traded(read: Callable[[], float]) -> float:
    """Call a reader of `trade` and turn its one sentence into what is wrong and what to do."""
    try:
        return read()
    except CellFault:
        raise
    except ValueError as error:
        raise fault_of(error) from error


def fault_of(error: ValueError) -> CellFault:
    """A sentence of `trade`, such as ``x is wrong; write y``, as a fault."""
    what, _, remedy = str(error).partition("; ")
    remedy = remedy or "Correct the cell."
    return CellFault(what, remedy[0].upper() + remedy[1:].rstrip(".") + ".")


def either(words: Sequence[str]) -> str:
    """Words as a choice: ``a, b or c``."""
    quoted = [f"'{word}'" for word in words]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def check_number(value: CellValue, units: Units) -> str:
    """What to do about a number that is far from any length."""
    unit = "inches" if units is Units.INCH else "millimetres"
    if isinstance(value, int | float) and FIRST_SERIAL_DAY <= value <= LAST_SERIAL_DAY:
        return (
            "Check the number; if a fraction such as 3/8 was typed, the program has made a date of it: "
            'write 3/8" with the inch sign.'
        )
    return f"Check the number; a bare number is in {unit}."


def _count_text(said: str) -> float:
    text = plain(said)
    if _GROUPED_COUNT.fullmatch(text):
        # As a length `1,200` could be two things; as a whole number only one.
        return float(text.replace(",", ""))
    return _number_text(said)


def _number_text(said: str) -> float:
    text = plain(said)
    negative = text.startswith("-")
    try:
        numeral = read_numeral(text.lstrip("-+ "))
    except ValueError as error:
        raise fault_of(error) from error
    if numeral is None:
        raise CellFault(f"`{said}` is not a number", "Write a number, without words beside it.")
    return -numeral.value if negative else numeral.value
