"""Lengths as planners write them: `12 1/2`, `3/8"`, `4' 6"`, `300 mm`, `.25`, or a bare number.

A number (see `numerals`), and a unit behind it or the book's; or whole feet and less than twelve inches. A
text that can be read in two ways that both make a length is refused, and both are said:

- `1.250 mm`, 1250 or 1.25: a point among three figures parts thousands in some countries. In inches it never
  does: they are written to three places.
- `1'000`, 1000 or 1 ft 0 in: an apostrophe parts thousands in Switzerland.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Sequence

from sheetplan.trade.numerals import (
    EPOCH,
    LONGEST_TEXT,
    Numeral,
    in_thousands,
    plain,
    read_numeral,
    typed_as,
)
from sheetplan.trade.units import MM_PER_INCH, Units

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
