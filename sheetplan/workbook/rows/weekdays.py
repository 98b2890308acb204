"""Days of the week as a person writes them: `Monday to Friday`, `Mon-Thu, Sat`, `every day`."""

from __future__ import annotations

import re

from sheetplan.workbook.rows.cells import CellFault, text_of
from sheetplan.workbook.tables import CellValue

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
