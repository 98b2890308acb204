"""Thickness as planners write it: `10 ga`, `3/16"`, `.25`, `6 mm`, `16 GA galv`."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sheetplan.trade.gauges import (
    ALUMINIUM,
    CARBON_STEEL,
    GALVANISED_STEEL,
    SERIES,
    STAINLESS_STEEL,
    GaugeSeries,
    gauge_text,
)
from sheetplan.trade.lengths import (
    MM_PER_UNIT,
    bare_number,
    cell_text,
    day_sentence,
    kept_of_a_day,
    refuse_bare_fraction,
    shown,
)
from sheetplan.trade.numerals import Numeral, from_float, read_numeral
from sheetplan.trade.units import MM_PER_INCH, Units

SUSPICIOUS_INCHES = 3.0
"""A bare number from here on in an inch book is more likely a gauge or millimetres than inches."""

LEAST_THICKNESS_MM = 0.05
"""Foil; the thinnest gauge of any series is more than twice as thick."""

GREATEST_THICKNESS_MM = 12 * MM_PER_INCH
"""Far thicker than any plate that is cut from sheet stock: a typing mistake beyond."""

SAME_IN_BRACKETS = 0.01
"""`10 ga (.135)`: what the brackets repeat may differ by a hundredth, as rounded decimals do."""

_FERROUS = frozenset({CARBON_STEEL, GALVANISED_STEEL, STAINLESS_STEEL})
_SERIES_OF_WORD = {
    word: series
    for words, series in (
        ("galv galvanised galvanized g90", frozenset({GALVANISED_STEEL})),
        ("ss sst stainless 304 304l 316 316l", frozenset({STAINLESS_STEEL})),
        ("al alu alum aluminium aluminum awg b&s", frozenset({ALUMINIUM})),
        ("hr cr hrs crs ms mild carbon a36 msg", frozenset({CARBON_STEEL})),
        ("steel stl", _FERROUS),
    )
    for word in words.split()
}
"""Which series a word after the thickness can mean; the metal of the row must be among them."""

_EMPTY_WORDS = frozenset({"thick", "sheet", "plate", ""})

_GAUGE_WORDS = ("ga", "gauge", "gage", "gauges")
_HEAD = re.compile(r"(#|no\.? ?|(?:ga|gauge|gage)\.? ?)?([0-9.,/ -]*[0-9.,]) ?(.*)")
_ZEROS = re.compile(r"([1-7])/0|(0{2,7})")


@dataclass(frozen=True, slots=True)
class Thickness:
    """A thickness in mm with the text that it is shown as."""

    mm: float
    text: str


def series_of_word(word: str) -> frozenset[str]:
    """The gauge series that a word for a metal can mean; none for other words."""
    return _SERIES_OF_WORD.get(word, frozenset())


def parse_thickness(value: object, series: str, units: Units) -> Thickness:
    """The thickness that a cell means, for a metal gauged by ``series``, in a book in ``units``.

    Parameters
    ----------
    value
        What the cell holds; a bare number is in the book's unit.
    series
        A name of `sheetplan.trade.gauges.SERIES`; any other name is a metal without gauges.
    units
        The book's units.

    Returns
    -------
    Thickness
        With the text in its tidy form (`10 ga`, `3/16 in`, `0.1875 in`, `6 mm`).

    Raises
    ------
    ValueError
        With one plain sentence, for anything that is not clearly one thickness.

    Examples
    --------
    >>> parse_thickness("10GA", "carbon steel", Units.INCH).text
    '10 ga'
    >>> parse_thickness("2/8", "carbon steel", Units.INCH)
    Thickness(mm=6.35, text='1/4 in')
    """
    number = bare_number(value)
    day = kept_of_a_day(value)
    if day is not None:  # no gauge, and no thickness in inches or millimetres
        raise ValueError(day_sentence(value, day))
    if number is not None:
        return _in_range(_bare(from_float(number), units), value)
    text = cell_text(value)
    if text.startswith("-"):
        raise ValueError(f"`{shown(value)}` is negative")
    outside, bracket, inside = text.partition("(")
    found = _in_range(_read(outside.strip(), series, units), value)
    if bracket:
        repeated = _read(inside.rstrip(" )"), series, units)
        if abs(repeated.mm - found.mm) > SAME_IN_BRACKETS * found.mm:
            raise ValueError(
                f"`{shown(value)}` says two different thicknesses, {found.text} and {repeated.text}"
            )
    return found


def _read(text: str, series: str, units: Units) -> Thickness:
    """One way of writing, already `plain`, without brackets."""
    head = _HEAD.fullmatch(text)
    if head is None:
        raise _unreadable(text, units)
    number, words = head[2].strip(), head[3].replace('"', ' " ').lstrip("- ").split()
    unit = words.pop(0).rstrip(".") if words and _is_unit(words[0].rstrip(".")) else None
    _agree(words, text, series)
    if unit in _GAUGE_WORDS or (head[1] and unit is None):
        return _gauge(number, series, units)
    numeral = read_numeral(number)
    if numeral is None or head[1]:
        raise _unreadable(text, units)
    if unit is None:
        return _bare(numeral, units)
    millimetres = MM_PER_UNIT.get(unit)
    if millimetres == MM_PER_INCH:
        return Thickness(numeral.value * MM_PER_INCH, f"{numeral.text} in")
    if millimetres == 1.0:
        return Thickness(numeral.value, f"{numeral.text} mm")
    ways = "ga, in or mm" if units is Units.INCH else "mm, ga or in"
    raise ValueError(f"`{text}`: `{unit}` is not a unit of thickness; write {ways}")


def _is_unit(word: str) -> bool:
    return word not in _SERIES_OF_WORD and word not in _EMPTY_WORDS


def _bare(numeral: Numeral, units: Units) -> Thickness:
    """A number without a unit is in the book's unit, where that is plausible."""
    refuse_bare_fraction(numeral, units)
    if units is Units.INCH and numeral.value >= SUSPICIOUS_INCHES:
        raise ValueError(
            f"`{numeral.text}` without a unit would be {numeral.text} inches thick; "
            f"write {numeral.text} ga, {numeral.text} mm or {numeral.text} in"
        )
    return Thickness(numeral.value * units.length_mm, f"{numeral.text} {units.value}")


def _gauge(number: str, series: str, units: Units) -> Thickness:
    table = SERIES.get(series)
    if table is None:
        raise ValueError(
            f"this metal has no gauge system, so {number} ga means nothing; write "
            f"{'inches or mm' if units is Units.INCH else 'mm or inches'}"
        )
    return Thickness(*_look_up(number, table))


def _look_up(number: str, table: GaugeSeries) -> tuple[float, str]:
    """Thickness in mm and tidy text of a gauge as written (`10`, `00`, `4/0`)."""
    gauge: int | None = None
    zeros = _ZEROS.fullmatch(number)
    if zeros:
        gauge = 1 - (int(zeros[1]) if zeros[1] else len(zeros[2]))
    elif number.isdecimal() and len(number) < 4:
        gauge = int(number)
    if gauge is None or gauge not in table.thickness:
        raise ValueError(
            f"{number} ga is not in the {table.title} ({table.name}), which has {table.span} in whole numbers"
        )
    return table.thickness[gauge], gauge_text(gauge)


def _agree(words: list[str], text: str, series: str) -> None:
    """Raise where a word after the thickness is unknown or names another metal than the row's."""
    for word in (word.strip(".,;:") for word in words):
        if word in _EMPTY_WORDS:
            continue
        if word not in _SERIES_OF_WORD:
            raise ValueError(f"`{text}`: the word `{word}` is not understood in a thickness")
        if series not in _SERIES_OF_WORD[word]:
            raise ValueError(
                f"`{text}`: `{word}` does not go with this row's material, which is gauged as "
                f"{series or 'nothing'}; correct the material or take the word out"
            )


def _in_range(thickness: Thickness, value: object) -> Thickness:
    if thickness.mm < LEAST_THICKNESS_MM:
        raise ValueError(f"`{shown(value)}` is no thickness; the least is 0.002 in (0.05 mm)")
    if thickness.mm > GREATEST_THICKNESS_MM:
        raise ValueError(f"`{shown(value)}` is thicker than 12 in (305 mm), which is no sheet")
    return thickness


def _unreadable(text: str, units: Units) -> ValueError:
    ways = '10 ga, 3/16", 0.25 in or 6 mm' if units is Units.INCH else '6 mm, 1.5 mm, 10 ga or 3/16"'
    return ValueError(f"`{text}` cannot be read as a thickness; write {ways}, say")
