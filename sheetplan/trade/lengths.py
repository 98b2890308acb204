"""Lengths as planners write them: `12 1/2`, `3/8"`, `4' 6"`, `300 mm`, `.25`, or a bare number."""

from __future__ import annotations

import datetime
import math
import re

from sheetplan.trade.numerals import LONGEST_TEXT, Numeral, plain, read_numeral
from sheetplan.trade.units import MM_PER_INCH, Units

MM_PER_UNIT = {
    '"': MM_PER_INCH, "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH,
    "'": 12 * MM_PER_INCH, "ft": 12 * MM_PER_INCH, "foot": 12 * MM_PER_INCH, "feet": 12 * MM_PER_INCH,
    "mm": 1.0, "millimetre": 1.0, "millimetres": 1.0, "millimeter": 1.0, "millimeters": 1.0,
    "cm": 10.0, "m": 1000.0, "metre": 1000.0, "metres": 1000.0, "meter": 1000.0, "meters": 1000.0,
}  # fmt: skip
"""Millimetres in each unit of length that a cell may name."""

_ONE_UNIT = re.compile(r"""([0-9][0-9.,/ -]*|[.,][0-9]+) ?("|'|[a-z]+)?\.?""")
_FEET_AND_INCHES = re.compile(
    r"""([0-9]+) ?(?:'|ft\.?|feet|foot) ?-? ?([0-9.,][0-9.,/ -]*?) ?(?:"|in\.?|inch|inches)?"""
)


def parse_length(value: object, units: Units) -> float:
    """A length in mm from a cell of a book in ``units``.

    Parameters
    ----------
    value
        What the cell holds. A bare number is in the book's unit; text may name its own.
    units
        The book's units.

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
    feet = _FEET_AND_INCHES.fullmatch(text)
    if feet:
        inches = read_numeral(feet[2].strip())
        if inches is not None:
            return _finite((int(feet[1]) * 12 + inches.value) * MM_PER_INCH, value)
    one = _ONE_UNIT.fullmatch(text)
    numeral = read_numeral(one[1].strip()) if one else None
    if one is None or numeral is None:
        raise ValueError(f"`{shown(value)}` cannot be read as a length; write for example {_examples(units)}")
    return _finite(numeral.value * _unit_mm(one[2], numeral, units), value)


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
        raise ValueError(_date_sentence(value))
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


def _date_sentence(value: datetime.date | datetime.time) -> str:
    if isinstance(value, datetime.date):
        return (
            f"the spreadsheet turned this cell into a date; if {value.month}/{value.day} was meant, "
            f'write {value.month}/{value.day}" with the inch sign or format the cell as text first'
        )
    return "the spreadsheet turned this cell into a time of day; format the cell as text and write it again"


def _finite(length: float, value: object) -> float:
    if not math.isfinite(length):
        raise ValueError(f"`{shown(value)}` is too large to be a length")
    return length


def _examples(units: Units) -> str:
    return '12 1/2, 12.5, 3/8" or 300 mm' if units is Units.INCH else '300, 12.5, 300 mm or 3/8"'
