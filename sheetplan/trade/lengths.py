"""Numbers and lengths as people write them: `12 1/2`, `⅜`, `.25`, `6,35`, `4' 6"`, `300 mm`, or a bare
number.
"""

from __future__ import annotations

import datetime
import math
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from sheetplan.trade.units import MM_PER_INCH, Units

# Numbers as people write them: `12 1/2`, `⅜`, `.25`, `6,35`, `1,250.5`.
#
# Only the writing is judged here; units and meaning belong to the callers. Nothing is guessed: a
# sign that could stand for two different things is an error that asks.
#
# The grammar:
# - Decimals stand behind a point or a comma, whatever the country: `6.35`, `6,35`, `.5`, `48.`
# - Thousands are parted by commas or points where the other sign or a second of the same follows (`1,250.5`,
#   `1.250,5`, `1.234.567`), by spaces (`1 250`) or by apostrophes (`1'250`); always in threes.
# - `1,250` can be 1250 or 1.25, and is asked about. `1.250` is 1.25 here; where it could be 1250 as well, the
#   caller asks (`in_thousands`).
# - Fractions: `3/8`, `12 1/2`, `12-1/2`, `12½`; the fraction of a mixed number is below one.
# - A day that a program made of a fraction or a decimal is none of them: `typed_as` says what it may have
#   been.

LONGEST_TEXT = 60
"""Characters in the longest cell that can still be a number with a unit; longer text is a note."""

_MIXED = re.compile(r"(?:([0-9]+)(?: ?- ?| ))?([0-9]+) ?/ ?([0-9]+)")
_PLAIN = re.compile(r"[0-9]+[.,]?[0-9]*|[.,][0-9]+")
_GROUPED = re.compile(
    r"(?P<whole>[1-9][0-9]{0,2}(?P<sign>[,. '])[0-9]{3}(?:(?P=sign)[0-9]{3})*)(?P<rest>[.,][0-9]*)?"
)
_AMBIGUOUS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_IN_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}\.[0-9]{3}")

FIRST_TWO_DIGIT_YEAR, LAST_TWO_DIGIT_YEAR = 1930, 2029
"""Years that a program takes two digits for. Source: Microsoft, "Change the date system, format, or
two-digit year interpretation"."""

OLDEST_TYPED = 2020
"""A day before it was not typed as day and month alone: those get the year in which they are typed."""

FRACTIONS = (2, 4, 8, 16, 32, 64)
"""What inches are divided into; common practice, no source."""

EPOCH = datetime.date(1899, 12, 30)
"""Day 0 of the 1900 date system, as spreadsheet programs count from March 1900 on."""

_SAME_SIGN = str.maketrans({
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u2007": " ", "\t": " ", "\n": " ", "\r": " ",
    "\u2032": "'", "\u2019": "'", "\u2018": "'", "\u00b4": "'", "`": "'",
    "\u2033": '"', "\u201d": '"', "\u201c": '"', "\u02ba": '"',
    "\u2044": "/", "\u2215": "/",
    "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Numeral:
    """A number without its sign or unit: its value, and a tidy text (`1 1/4`, `0.1875`, `6`)."""

    value: float
    text: str
    is_fraction: bool = False


def plain(text: str) -> str:
    """Lower case, single spaces, nothing invisible, one sign for each of many primes, dashes and fractions.

    >>> plain("12½ In") == '12 1/2 in' and plain("3/16″") == '3/16"'
    True
    """
    seen = (sign for sign in text.translate(_SAME_SIGN) if unicodedata.category(sign) != "Cf")
    spread = "".join(_spread_fraction(sign) for sign in seen)
    return " ".join(spread.replace("''", '"').lower().split())


def _spread_fraction(sign: str) -> str:
    """`½` as ` 1/2`, so that `12½` does not turn into 121/2; any other sign as it is."""
    decomposed = unicodedata.decomposition(sign)
    if not decomposed.startswith("<fraction>"):
        return sign
    return " " + unicodedata.normalize("NFKC", sign).replace("\u2044", "/") + " "


def read_numeral(text: str) -> Numeral | None:
    """The number that a `plain` text is, or None where it is not a number.

    Raises
    ------
    ValueError
        Where a comma can be read in two ways, or a fraction divides by nothing.
    """
    mixed = _MIXED.fullmatch(text)
    if mixed:
        return _read_fraction(*mixed.groups())
    if _AMBIGUOUS.fullmatch(text):
        whole = text.replace(",", "")
        raise ValueError(
            f"`{text}` can be read as {whole} or as {text.replace(',', '.')}: write it without the comma"
        )
    grouped = None if in_thousands(text) else _GROUPED.fullmatch(text)
    if grouped:
        sign, rest = grouped["sign"], grouped["rest"] or ""
        same = rest.startswith(sign)
        return None if same else _decimal(grouped["whole"].replace(sign, "") + rest.replace(",", "."))
    if _PLAIN.fullmatch(text):
        return _decimal(text.replace(",", "."))
    return None


def in_thousands(text: str) -> bool:
    """Whether a `plain` text can also be a whole number with a point between its thousands: `1.250`."""
    return _IN_THOUSANDS.fullmatch(text) is not None


def typed_as(day: datetime.date) -> tuple[str, ...]:
    """All that may have been typed into a cell that a program took for this day, the likeliest first.

    Month or day first; with a point between; month and year; or a mixed number as day, month and year.

    >>> typed_as(datetime.date(2026, 3, 8)), typed_as(datetime.date(1932, 5, 1))
    (('3/8', '8/3', '3.8', '8.3'), ('5/32', '5.32', '5-1/32', '1-5/32'))
    >>> typed_as(datetime.date(2002, 3, 1))
    ('3-1/2', '3/1', '1/3', '3.1', '1.3')
    """
    month, date, year = day.month, day.day, day.year
    two_digits = FIRST_TWO_DIGIT_YEAR <= year <= LAST_TWO_DIGIT_YEAR
    short = year % 100
    said: list[str] = []
    if two_digits and date == 1 and year < 2000:
        said += [f"{month}/{short}", f"{month}.{short}"]
    if two_digits and short in FRACTIONS:
        said += [f"{whole}-{over}/{short}" for whole, over in ((month, date), (date, month)) if over < short]
    if year >= 2000:
        alone = [f"{month}/{date}", f"{date}/{month}", f"{month}.{date}", f"{date}.{month}"]
        said = alone + said if year >= OLDEST_TYPED else said + alone
    return tuple(dict.fromkeys(said))


def from_float(value: float) -> Numeral:
    """A number from a cell, shown with at most four places (sheet thickness is never finer)."""
    return Numeral(value, f"{value:.4f}".rstrip("0").rstrip(".") or "0")


def _decimal(text: str) -> Numeral | None:
    value = float(text)
    if not math.isfinite(value):
        return None
    whole, _, places = text.partition(".")
    places = places.rstrip("0")
    whole = whole.lstrip("0") or "0"
    return Numeral(value, f"{whole}.{places}" if places else whole)


def _read_fraction(whole_text: str | None, over_text: str, under_text: str) -> Numeral:
    whole, over, under = int(whole_text or 0), int(over_text), int(under_text)
    if under == 0:
        raise ValueError(f"`{over}/{under}` divides by nothing")
    if whole_text and over >= under:
        raise ValueError(f"`{whole} {over}/{under}` is not a mixed number: the fraction is not below one")
    whole, over = whole + over // under, over % under
    common = math.gcd(over, under)
    parts = [str(whole)] if whole or not over else []
    parts += [f"{over // common}/{under // common}"] if over else []
    return Numeral(whole + over / under, " ".join(parts), is_fraction=True)


# Lengths as planners write them: `12 1/2`, `3/8"`, `4' 6"`, `300 mm`, `.25`, or a bare number.
#
# A number (see above), and a unit behind it or the book's; or whole feet and less than twelve inches. A
# text that can be read in two ways that both make a length is refused, and both are said:
#
# - `1.250 mm`, 1250 or 1.25: a point among three figures parts thousands in some countries. In inches it
#   never does: they are written to three places.
# - `1'000`, 1000 or 1 ft 0 in: an apostrophe parts thousands in Switzerland.
#
# Counts and money have questions of their own about the same texts (`workbook.reading.cells`).

MM_PER_UNIT = {
    '"': MM_PER_INCH, "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH,
    "'": 12 * MM_PER_INCH, "ft": 12 * MM_PER_INCH, "foot": 12 * MM_PER_INCH, "feet": 12 * MM_PER_INCH,
    "mm": 1.0, "millimetre": 1.0, "millimetres": 1.0, "millimeter": 1.0, "millimeters": 1.0,
    "cm": 10.0, "m": 1000.0, "metre": 1000.0, "metres": 1000.0, "meter": 1000.0, "meters": 1000.0,
}  # fmt: skip
"""Millimetres in each unit of length that a cell may name."""

LONGEST_MM = 30_000.0
"""Longer than any sheet that is sold cut to length; more is usually a size in the other unit."""

FIRST_DAY, LAST_DAY = 10_959, 80_000
"""Numbers that a program keeps of days from 1930 to 2119: they stay when the cell is formatted as text."""

INCHES_OF_FOOT = 12

_PARTED = re.compile(r"""([1-9][0-9]{0,2}(?:'[0-9]{3})+(?:[.,][0-9]+)?) ?("|[a-z]+)?\.?""")
_ONE_UNIT = re.compile(r"""([0-9][0-9.,/ -]*|[.,][0-9]+) ?("|'|[a-z]+)?\.?""")
_FEET_AND_INCHES = re.compile(
    r"""([0-9]+) ?(?:'|ft\.?|feet|foot) ?-? ?([0-9.,][0-9.,/ -]*?) ?(?:"|in\.?|inch|inches)?"""
)


def parse_length(value: object, units: Units, most_mm: float = LONGEST_MM) -> float:
    """A length in mm from a cell of a book in ``units``.

    Parameters
    ----------
    value
        What the cell holds. A bare number is in the book's unit; text may name its own.
    units
        The book's units.
    most_mm
        More than this cannot be meant, so that a reading beyond it is none. It is not refused here.

    Returns
    -------
    float
        Millimetres, zero or more.

    Raises
    ------
    ValueError
        With one plain sentence, for anything that is not clearly one length.

    Examples
    --------
    >>> parse_length('12 1/2', Units.INCH), parse_length('300 mm', Units.INCH), parse_length(40, Units.MM)
    (317.5, 300.0, 40.0)
    """
    bare = bare_number(value)
    if bare is not None:
        return bare * units.length_mm
    text = cell_text(value)
    if text.startswith("-"):
        raise ValueError(f"`{shown(value)}` is negative; a length starts at 0")
    found = _apostrophes(text, value, units)
    found = _feet_and_inches(text, value) if found is None else found
    found = _one_number(text, value, units, most_mm) if found is None else found
    return _finite(found, value)


def _apostrophes(text: str, value: object, units: Units) -> float | None:
    """A length whose thousands are parted by apostrophes, mm; None where it is none."""
    parted = _PARTED.fullmatch(text)
    numeral = read_numeral(parted[1]) if parted else None
    unit_mm = MM_PER_UNIT.get(parted[2] or units.value) if parted else None
    if parted is None or numeral is None or unit_mm is None:
        return None
    feet = _FEET_AND_INCHES.fullmatch(text)
    inches = read_numeral(feet[2].strip()) if feet else None
    if feet and inches and (inches.value < INCHES_OF_FOOT):
        one, other = f"{numeral.text} {parted[2] or units.value}", f"{feet[1]} ft {inches.text} in"
        raise ValueError(f"`{shown(value)}` can be read as {one} or as {other}; write {one} or {other}")
    return numeral.value * unit_mm if unit_mm < MM_PER_INCH else None


def _feet_and_inches(text: str, value: object) -> float | None:
    """Whole feet and less than twelve inches, mm; None where it is no such text."""
    feet = _FEET_AND_INCHES.fullmatch(text)
    inches = read_numeral(feet[2].strip()) if feet else None
    if feet is None or inches is None:
        return None
    total = int(feet[1]) * INCHES_OF_FOOT + inches.value
    if inches.value >= INCHES_OF_FOOT:
        raise ValueError(
            f"`{shown(value)}` has {inches.text} inches beside the feet, a foot or more; "
            f"write {total:.10g} in if all of them are meant"
        )
    return total * MM_PER_INCH


def _one_number(text: str, value: object, units: Units, most_mm: float) -> float:
    """A number with its unit or the book's, mm."""
    one = _ONE_UNIT.fullmatch(text)
    numeral = read_numeral(one[1].strip()) if one else None
    if one is None or numeral is None:
        raise ValueError(f"`{shown(value)}` cannot be read as a length; write for example {_examples(units)}")
    unit_mm, said = _unit_mm(one[2], numeral, units), one[1].strip()
    if in_thousands(said) and unit_mm < MM_PER_INCH and 1000.0 * numeral.value * unit_mm <= most_mm:
        unit = one[2] or units.value
        whole, point = f"{said.replace('.', '')} {unit}", f"{numeral.value:.4f} {unit}"
        raise ValueError(f"`{shown(value)}` can be read as {whole} or as {point}; write {whole} or {point}")
    return numeral.value * unit_mm


def _unit_mm(name: str | None, numeral: Numeral, units: Units) -> float:
    if name is None:
        refuse_bare_fraction(numeral, units)
        return units.length_mm
    if name not in MM_PER_UNIT:
        raise ValueError(f"`{name}` is not a unit of length known here; write in, ft, mm, cm or m")
    return MM_PER_UNIT[name]


def refuse_bare_fraction(numeral: Numeral, units: Units) -> None:
    """Raise where a fraction without a unit stands in a millimetre book: it was probably meant in inches."""
    if numeral.is_fraction and units is Units.MM:
        raise ValueError(
            f"`{numeral.text}` is a fraction without a unit in a book in millimetres; "
            f'write {numeral.text}" or {numeral.value:g} mm'
        )


def bare_number(value: object) -> float | None:
    """The cell's number, or None where the cell holds text.

    Raises
    ------
    ValueError
        For an empty cell, a yes/no, a date, a negative number and anything else.
    """
    if value is None or (isinstance(value, str) and not value.strip()):
        raise ValueError("the cell is empty")
    if isinstance(value, str):
        return None
    if isinstance(value, (datetime.date, datetime.time)):
        raise ValueError(date_sentence(value))
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise ValueError(f"`{value}` is not a number")
    if value < 0:
        raise ValueError(f"`{value}` is negative; a length starts at 0")
    try:
        return _finite(float(value), value)
    except OverflowError:
        raise ValueError("the number is too large to be a length") from None


def cell_text(value: object) -> str:
    """The cell's text in its `plain` form, refused where it is far too long for a number."""
    text = plain(str(value))
    if len(text) > LONGEST_TEXT:
        raise ValueError("the cell holds a long text where a number is expected")
    return text


def shown(value: object) -> str:
    """The cell's content on one line, for a sentence about it."""
    return " ".join(str(value).split())


def date_sentence(value: datetime.date | datetime.time) -> str:
    """What is wrong with a cell that became a date, and what may have been typed; then what to do."""
    if not isinstance(value, datetime.date):
        return (
            "the spreadsheet turned this cell into a time of day; format the cell as text and write it again"
        )
    typed = typed_as(value)
    if not typed:
        return f"the spreadsheet turned this cell into a date, {value:%Y-%m-%d}; write the number anew"
    fraction = next((one for one in typed if "/" in one), typed[0])
    return (
        f"the spreadsheet turned this cell into a date, {value:%Y-%m-%d}; if {_either(typed)} was typed, "
        f'write it anew with its unit, such as {fraction}", or format the cell as text first'
    )


def kept_of_a_day(value: object) -> datetime.date | None:
    """The day whose number a cell holds, as a number or as text; None for any other number."""
    if isinstance(value, str):
        text = value.strip()
        number = float(text) if text.isascii() and text.isdigit() and len(text) == DIGITS_OF_DAY else 0.0
    elif isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    else:
        number = float(value)
    whole = number == math.floor(number) and FIRST_DAY <= number <= LAST_DAY
    return EPOCH + datetime.timedelta(days=int(number)) if whole else None


DIGITS_OF_DAY = 5


def day_sentence(value: object, day: datetime.date) -> str:
    """What a number is that a program keeps of a day, and what may have been typed; then what to do."""
    typed = typed_as(day)
    meant = f"if {_either(typed)} was typed, write that with its unit" if typed else "write the number anew"
    return f"`{shown(value)}` is the number that a spreadsheet keeps of a date, {day:%Y-%m-%d}; {meant}"


def _either(said: Sequence[str]) -> str:
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} or {said[-1]}"


def _finite(length: float, value: object) -> float:
    if not math.isfinite(length):
        raise ValueError(f"`{shown(value)}` is too large to be a length")
    return length


def _examples(units: Units) -> str:
    return '12 1/2, 12.5, 3/8" or 300 mm' if units is Units.INCH else '300, 12.5, 300 mm or 3/8"'
