"""One cell into one value: numbers, dates, lengths, money, days of the week.

Every function raises `CellFault` with what is wrong and what to do.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from enum import StrEnum
from typing import TypeVar

from sheetplan.drawings.reading.choices import layer_names
from sheetplan.trade.lengths import (
    EPOCH,
    LONGEST_MM,
    Numeral,
    date_sentence,
    day_sentence,
    in_thousands,
    kept_of_a_day,
    parse_length,
    plain,
    read_numeral,
)
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import ALL_PAGES
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.schema import Holds, InputPage
from sheetplan.workbook.tables import BookTables, CellValue, ErrorValue, NotComputed, RawRow, RawTable
from sheetplan.workbook.text import clean_text, visible

LONGEST_NAME = 120
"""Characters in the longest name; longer ones are a note that slipped into the wrong column."""

LARGEST_COUNT = 1_000_000
"""More of anything than this is a typing mistake in a month's work."""

LEAST_LENGTH_MM = 1.0
"""A part or sheet narrower than a cut is wide is a typing mistake."""

FIRST_SERIAL_DAY, LAST_SERIAL_DAY = 30_000, 80_000
"""Day numbers of 1982 to 2119: a bare number in a date column is taken for a date between these."""

LEAST_BARE_PER_CENT = 10.0
"""Numbers from here on are per cent without the sign: nothing counts at ten times its price."""

FIRST_TYPED_DAY, LAST_TYPED_DAY = 43_831, 51_501
"""Day numbers of 2020 to 2040. As a count one of them may be a date that was typed into the wrong column; who
means so many writes them as text with a comma."""

FIRST_YEAR_OF_TWO = 2000
"""A first of a month before it is what a program makes of 5/32 and 7/64; in mm that is 11 m and more."""

NEARLY_WHOLE = 1e-9
"""Share by which a formula's whole number may miss: `=0.07*100` does."""

MOST_DIGITS = 15
"""Digits that spreadsheet programs keep of a number. Source: Microsoft, "Excel specifications and limits"."""

_GROUPED_COUNT = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+")
_ONE_OR_THOUSAND = re.compile(r"[1-9][0-9]{0,2}[.,]000")
_ISO_DAY = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})(?:[T ].*)?")
_CURRENCY = re.compile(r"[a-z]{2}|[$€£¥]")
_PER_CENT = re.compile(r"\s*(?:%|per ?cent)$", re.IGNORECASE)

Word = TypeVar("Word", bound=StrEnum)
Value = TypeVar("Value")


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
        whole = value.is_integer() and abs(value) < 10.0**MOST_DIGITS
        return str(int(value)) if whole else f"{value:.{MOST_DIGITS}g}"
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    return " ".join(clean_text(str(value)).split())


def layers_of(value: CellValue) -> tuple[str, ...]:
    """Names of a drawing's layers."""
    return layer_names(text_of(value))


def name_of(value: CellValue) -> str:
    """A name; numbers are fine, dates are not (a spreadsheet makes them of `10-12`)."""
    value = usable(value)
    if isinstance(value, datetime.date | datetime.time):
        raise CellFault(
            f"has been turned into a date ({text_of(value)}) by the spreadsheet program",
            "Format the cell as text and write the name again.",
        )
    if isinstance(value, int | float) and abs(value) >= 10.0**MOST_DIGITS:
        raise CellFault(
            f"is a number of more than {MOST_DIGITS} digits, of which the spreadsheet program keeps only "
            f"{MOST_DIGITS}",
            "Format the cell as text and write the name again.",
        )
    text = " ".join(visible(text_of(value)).split())
    if not text:
        raise CellFault("holds nothing that can be read", "Write a name.")
    if len(text) > LONGEST_NAME:
        raise CellFault(
            f"is {len(text):,} characters long; a name has at most {LONGEST_NAME}", "Write a shorter name."
        )
    return text


def count_of(value: CellValue) -> int:
    """A whole number, zero or more; text that is one counts."""
    number = whole_of(value)
    day = kept_of_a_day(value) if FIRST_TYPED_DAY <= number <= LAST_TYPED_DAY else None
    if day is not None:
        raise CellFault(
            f"{number} may be a count or what the program keeps of a date, {day:%Y-%m-%d}",
            f"Write how many; if {number:,} are meant, format the cell as text and write {number:,}.",
        )
    return number


def _said_number(value: CellValue, read: Callable[[str], float], remedy: str) -> tuple[str, float]:
    """The cell as text and as a number, which may be any; a text is read by ``read``."""
    value = usable(value)
    said = text_of(value)
    if isinstance(value, datetime.date | datetime.time):
        raise fault_of(ValueError(date_sentence(value).replace("with its unit", "as a number")))
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise CellFault(f"`{said}` is not a number", remedy)
    return said, read(said) if isinstance(value, str) else float(value)


def whole_of(value: CellValue) -> int:
    """A whole number, zero or more, whatever it stands for."""
    said, number = _said_number(value, _count_text, "Write a whole number.")
    if math.isfinite(number) and abs(number - round(number)) <= NEARLY_WHOLE * max(1.0, abs(number)):
        number = float(round(number))
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
    said, number = _said_number(value, _number_text, "Write a number.")
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
    if isinstance(value, str) and in_thousands(plain(value)):
        whole, point = plain(value).replace(".", ""), plain(value)
        raise CellFault(
            f"`{text_of(value)}` can be read as {whole} or as {float(point):.10g}",
            f"Write {whole} or {float(point):.4f}.",
        )
    return number_of(value)


def length_in(units: Units, most_mm: float = LONGEST_MM) -> Callable[[CellValue], float]:
    """A reader of lengths, zero or more, for a book in these units; mm come out.

    More than ``most_mm`` is no reading of a text that has another.
    """

    def length(value: CellValue) -> float:
        found = traded(lambda: parse_length(usable(value), units, most_mm))
        day = kept_of_a_day(value)
        typed_without_a_day = day is not None and day.day == 1 and day.year < FIRST_YEAR_OF_TWO
        if day is not None and (found > LONGEST_MM or typed_without_a_day):
            raise fault_of(ValueError(day_sentence(value, day)))
        if found > LONGEST_MM:
            raise CellFault(
                f"`{text_of(value)}` is {found / 1000:,.1f} metres ({found / 304.8:,.0f} ft)",
                check_number(units),
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
                f"`{text_of(value)}` is less than {LEAST_LENGTH_MM:g} mm", check_number(units)
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
            return (EPOCH + datetime.timedelta(days=int(value))).isoformat()
        raise CellFault(f"{text_of(value)} is not a date", "Write a date such as 2026-11-30.")
    return text_of(value)


def day_of(value: CellValue) -> str:
    """A day as ``2026-11-30``; text that is no date is a fault."""
    said = date_of(value)
    day = _ISO_DAY.fullmatch(said)
    try:
        return datetime.date.fromisoformat(day[1] if day else "").isoformat()
    except ValueError:
        raise CellFault(f"`{said}` is not a date", "Write a date such as 2026-11-30.") from None


def traded(read: Callable[[], Value]) -> Value:
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


def check_number(units: Units) -> str:
    """What to do about a number that is far from any length."""
    unit = "inches" if units is Units.INCH else "millimetres"
    return f"Check the number; a bare number is in {unit}."


def _count_text(said: str) -> float:
    text = plain(said)
    if _ONE_OR_THOUSAND.fullmatch(text):
        whole = text[:-4]
        raise CellFault(f"`{said}` can be read as {whole} or as {whole}000", f"Write {whole} or {whole}000.")
    if _GROUPED_COUNT.fullmatch(text):
        # As a length `1,200` could be two things; as a whole number only one.
        return float(text.replace(",", ""))
    numeral = _numeral(text, said)
    if numeral.is_fraction:
        raise CellFault(f"`{said}` is a fraction", "Write a whole number.")
    return _signed(text, numeral)


def _number_text(said: str) -> float:
    text = plain(said)
    return _signed(text, _numeral(text, said))


def _numeral(text: str, said: str) -> Numeral:
    """The number behind one sign at most."""
    numeral = traded(lambda: read_numeral(text[1:].lstrip() if text.startswith(("-", "+")) else text))
    if numeral is None:
        raise CellFault(f"`{said}` is not a number", "Write a number, without words beside it.")
    return numeral


def _signed(text: str, numeral: Numeral) -> float:
    return -numeral.value if text.startswith("-") else numeral.value


# Amounts with the book's own currency beside them, as people write them: `1,15 EUR`, `€ 78.50`.

SIGNS = {
    "€": ("eur", "euro", "euros"), "$": ("usd", "us$", "cad", "c$", "aud", "a$", "nzd"),
    "£": ("gbp",), "¥": ("jpy", "cny", "yen"),
}  # fmt: skip
"""A sign and the letters that it may stand for."""


def words_for(currency: str) -> tuple[str, ...]:
    """All ways of writing a currency, the longest first.

    >>> words_for("EUR")
    ('euros', 'euro', 'eur', '€')
    """
    said = currency.strip().casefold()
    known = {said}
    for sign, letters in SIGNS.items():
        if said == sign:
            known |= {*letters}
        elif said in letters:
            known |= {sign, *(letters if sign == "€" else ())}
    return tuple(sorted(filter(None, known), key=len, reverse=True))


def without_currency(text: str, words: tuple[str, ...]) -> str:
    """The amount alone, where one of the words stands before or behind it; else the text as it is.

    >>> without_currency("1,15 EUR", ("eur", "€")), without_currency("12 USD", ("eur", "€"))
    ('1,15', '12 USD')
    """
    bare = text.strip()
    for word in words:
        if bare.casefold().endswith(word):
            return bare[: -len(word)].strip()
        if bare.casefold().startswith(word):
            return bare[len(word) :].strip()
    return text


def in_own_currency(tables: BookTables, currency: str) -> BookTables:
    """The tables with the book's own currency taken off its amounts; any other is left to be asked about."""
    words = words_for(currency)
    bare = {page.name: _bare(page, tables.tables[page.name], words)
            for page in ALL_PAGES if page.name in tables.tables}  # fmt: skip
    return replace(tables, tables={**tables.tables, **bare})


def _bare(page: InputPage, table: RawTable, words: tuple[str, ...]) -> RawTable:
    amounts = {normal(column.heading) for column in page.columns if column.holds is Holds.MONEY}
    if not amounts:
        return table
    return replace(table, rows=tuple(_bare_row(row, amounts, words) for row in table.rows))


def _bare_row(row: RawRow, amounts: set[str], words: tuple[str, ...]) -> RawRow:
    changed = {
        heading: replace(cell, value=_bare_value(cell.value, words))
        for heading, cell in row.cells.items() if isinstance(cell.value, str) and normal(heading) in amounts
    }  # fmt: skip
    return replace(row, cells={**row.cells, **changed}) if changed else row


def _bare_value(value: CellValue, words: tuple[str, ...]) -> CellValue:
    return without_currency(value, words) if isinstance(value, str) else value


# Days of the week as a person writes them: `Monday to Friday`, `Mon-Thu, Sat`, `every day`.

NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

SHORTEST = 2
"""Letters that tell the days apart."""

_ALL = re.compile(r"every ?day|daily|all days", re.IGNORECASE)
_BETWEEN = re.compile(r"[,;/+&]|\band\b", re.IGNORECASE)
_UP_TO = re.compile(r"\s*(?:\bto\b|[-\u2013\u2014])\s*", re.IGNORECASE)
_REMEDY = "Write days of the week, such as Monday to Friday, or Mon, Wed, Sat."


def weekdays_of(value: CellValue) -> tuple[int, ...]:
    """The days that a cell names, Monday 0, in their order, each once.

    >>> weekdays_of("Monday to Thursday, Sat"), weekdays_of("Sat-Mon")
    ((0, 1, 2, 3, 5), (0, 5, 6))
    """
    said = text_of(value)
    if _ALL.fullmatch(said.strip()):
        return tuple(range(len(NAMES)))
    found: set[int] = set()
    for some in filter(str.strip, _BETWEEN.split(said)):
        ends = [_day(word) for word in _UP_TO.split(some.strip())]
        if len(ends) > 2:
            raise CellFault(f"`{some.strip()}` is no day of the week", _REMEDY)
        first, last = ends[0], ends[-1]
        found |= {(first + ahead) % len(NAMES) for ahead in range((last - first) % len(NAMES) + 1)}
    if not found:
        raise CellFault("names no day of the week", _REMEDY)
    return tuple(sorted(found))


def _day(word: str) -> int:
    said = word.strip().rstrip(".").casefold()
    for day, name in enumerate(NAMES):
        if len(said) >= SHORTEST and (name.startswith(said) or said == f"{name}s"):
            return day
    raise CellFault(f"`{word.strip()}` is no day of the week", _REMEDY)
