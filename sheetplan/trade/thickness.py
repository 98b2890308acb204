"""Thickness: gauge series, thickness as planners write it, and which thicknesses are one.

Each gauge series is a table with its source. Nothing here guesses: a text that can be read in two ways
is refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from sheetplan.trade.lengths import (
    MM_PER_UNIT,
    Numeral,
    bare_number,
    cell_text,
    day_sentence,
    from_float,
    kept_of_a_day,
    read_numeral,
    refuse_bare_fraction,
    shown,
)
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH, Units

# Sheet gauges: one number, a different thickness for each family of metal.
#
# Terms
# gauge number
#     A whole number; thicker sheets have lower ones. `00` is -1, `000` is -2 and so on, as in the
#     formula of ASTM B258.
# statutory weight
#     Ounces per square foot of a gauge by 15 U.S.C. 206 (the act of 3 March 1893). Three of the four
#     series descend from it.

STATUTORY_OUNCES: Mapping[int, float] = MappingProxyType({
    -6: 320.0, -5: 300.0, -4: 280.0, -3: 260.0, -2: 240.0, -1: 220.0, 0: 200.0, 1: 180.0, 2: 170.0,
    3: 160.0, 4: 150.0, 5: 140.0, 6: 130.0, 7: 120.0, 8: 110.0, 9: 100.0, 10: 90.0, 11: 80.0, 12: 70.0,
    13: 60.0, 14: 50.0, 15: 45.0, 16: 40.0, 17: 36.0, 18: 32.0, 19: 28.0, 20: 24.0, 21: 22.0, 22: 20.0,
    23: 18.0, 24: 16.0, 25: 14.0, 26: 12.0, 27: 11.0, 28: 10.0, 29: 9.0, 30: 8.0, 31: 7.0, 32: 6.5,
    33: 6.0, 34: 5.5, 35: 5.0, 36: 4.5, 37: 4.25, 38: 4.0,
})  # fmt: skip
"""Ounces avoirdupois per square foot. Source: 15 U.S.C. 206."""

SHEET_POUNDS_PER_FT2_INCH = 41.82
"""Weight that turns a statutory weight into the Manufacturers' Standard thickness.

Source: Manufacturers' Standard Gauge for sheet steel (501.84 lb/ft3, which is more than the density
of steel because sheets ran thicker in the middle than at the edges, where they are measured).
"""

IRON_OUNCES_PER_FT2_INCH = 640.0
"""The statute's own ratio: wrought iron of 480 lb/ft3 weighs 40 lb a square foot and inch."""

GALVANISED_EXTRA_OUNCES = 2.5
"""Zinc on both sides in the galvanised sheet gauge: statutory weight plus 2.5 oz/ft2."""

CARBON_STEEL = "carbon steel"
GALVANISED_STEEL = "galvanised steel"
STAINLESS_STEEL = "stainless steel"
ALUMINIUM = "aluminium"


@dataclass(frozen=True, slots=True)
class GaugeSeries:
    """The gauges of one family of metal.

    ``thickness`` maps gauge numbers to mm; ``title`` is the name of the standard and ``source``
    where its values come from.
    """

    name: str
    title: str
    thickness: Mapping[int, float]
    source: str

    @property
    def span(self) -> str:
        """The first and last gauge as a person would say them."""
        return f"{gauge_text(min(self.thickness))} to {gauge_text(max(self.thickness))}"


def gauge_text(number: int) -> str:
    """How a gauge is written.

    >>> gauge_text(10), gauge_text(0), gauge_text(-3)
    ('10 ga', '0 ga', '4/0 ga')
    """
    return f"{number} ga" if number >= 0 else f"{1 - number}/0 ga"


def brown_and_sharpe_inches(number: int) -> float:
    """Thickness in inches of a Brown and Sharpe (American wire) gauge. Source: ASTM B258, formula."""
    return 0.005 * float(92.0 ** ((36 - number) / 39))


def _as_published(inches: float) -> float:
    """Gauge tables give ten-thousandths of an inch; the rounded value is the one that is ordered by."""
    return round(inches, 4) * MM_PER_INCH


def _sheet_steel(extra_ounces: float, first: int, last: int) -> Mapping[int, float]:
    return MappingProxyType({
        number: _as_published((ounces + extra_ounces) / 16 / SHEET_POUNDS_PER_FT2_INCH)
        for number, ounces in STATUTORY_OUNCES.items() if first <= number <= last
    })  # fmt: skip


SERIES: Mapping[str, GaugeSeries] = MappingProxyType({
    series.name: series
    for series in (
        GaugeSeries(
            CARBON_STEEL, "Manufacturers' Standard Gauge", _sheet_steel(0.0, 3, 38),
            "statutory weights (15 U.S.C. 206) over 41.82 lb/ft2 per inch",
        ),
        GaugeSeries(
            GALVANISED_STEEL, "Galvanised Sheet Gauge", _sheet_steel(GALVANISED_EXTRA_OUNCES, 8, 30),
            "statutory weights plus 2.5 oz/ft2 of zinc over 41.82 lb/ft2 per inch "
            "(which gives the published table from 8 to 30)",
        ),
        GaugeSeries(
            STAINLESS_STEEL, "U.S. Standard Gauge",
            MappingProxyType({n: ounces / IRON_OUNCES_PER_FT2_INCH * MM_PER_INCH
                              for n, ounces in STATUTORY_OUNCES.items()}),
            "approximate thickness of 15 U.S.C. 206; that stainless is sold by it is common practice",
        ),
        GaugeSeries(
            ALUMINIUM, "Brown and Sharpe (American wire) gauge",
            MappingProxyType({n: _as_published(brown_and_sharpe_inches(n)) for n in range(-3, 37)}),
            "ASTM B258: 0.005 in x 92^((36 - n)/39)",
        ),
    )
})  # fmt: skip
"""The series by name; the names are those of the gauge column of the materials page."""

_OTHER_NAMES = {
    "steel": CARBON_STEEL, "mild steel": CARBON_STEEL, "manufacturers' standard": CARBON_STEEL,
    "galvanised": GALVANISED_STEEL, "galvanized": GALVANISED_STEEL, "galvanized steel": GALVANISED_STEEL,
    "stainless": STAINLESS_STEEL, "aluminum": ALUMINIUM, "brown & sharpe": ALUMINIUM, "awg": ALUMINIUM,
}  # fmt: skip


def published_ounces(series: str, number: int) -> float | None:
    """The weight that a gauge is published with, ounces per square foot; None where there is none.

    Carbon steel: the statutory weight (15 U.S.C. 206), of which the Manufacturers' Standard makes its
    thickness. Galvanised: the same and 2.5 oz/ft2 of zinc. Stainless, by the U.S. Standard Gauge: the
    statutory weight. The Brown and Sharpe gauge of aluminium is one of thickness and publishes no weight.

    >>> published_ounces(CARBON_STEEL, 10), published_ounces(GALVANISED_STEEL, 16)
    (90.0, 42.5)
    """
    if series == ALUMINIUM or series not in SERIES or number not in SERIES[series].thickness:
        return None
    return STATUTORY_OUNCES[number] + (GALVANISED_EXTRA_OUNCES if series == GALVANISED_STEEL else 0.0)


def published_kg(series: str, text: str, area_mm2: float) -> float | None:
    """What a sheet weighs by the published weight of its gauge, kg; ``text`` is its thickness as shown."""
    named = {gauge_text(number): number for number in STATUTORY_OUNCES}
    ounces = published_ounces(series, named[text]) if text in named else None
    return None if ounces is None else ounces / 16.0 * KG_PER_POUND * area_mm2 / Units.INCH.area_mm2


def series_named(text: str) -> GaugeSeries | None:
    """The series that a planner's text names, American spelling included; None where there is none.

    >>> series_named(" Galvanized Steel ").name
    'galvanised steel'
    """
    name = " ".join(text.lower().split())
    return SERIES.get(_OTHER_NAMES.get(name, name))


# Thickness as planners write it: `10 ga`, `3/16"`, `.25`, `6 mm`, `16 GA galv`.

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
        A name of `sheetplan.trade.thickness.SERIES`; any other name is a metal without gauges.
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


# Thicknesses that are the same though written differently, and those that only look it.
#
# Terms
# rounded
#     A decimal: it stands for a span of half a unit in its last place (`0.135 in` may mean 10 ga,
#     0.1345 in). Places that a spreadsheet drops count, so `0.06 in` is 0.060 in and `6 mm` 6.00 mm.
# exact
#     A gauge or a fraction.

TABLE_ROUNDING_MM = 0.0001 * MM_PER_INCH
"""Gauge tables are rounded to 0.0001 in; neighbouring gauges are at least three times as far apart."""

ARITHMETIC_MM = 1e-9
"""Slack for binary decimals, so that 0.1345 in still counts as half a unit from 0.135 in."""

GREATEST_ROUNDING_SHARE = 0.02
"""Rounding joins nothing further apart than this: the closest gauges lie 4.5 per cent apart."""

CONFUSING_SHARE = 0.06
"""Different thicknesses less than this apart are confused in shops: 1/4 in with 6 mm (5.5 per cent),
1/8 in with 11 ga (4.3), 3/16 in with 5 mm (4.8). Common practice, no source."""

_DECIMAL = re.compile(r"[0-9]+(?:\.([0-9]+))? (in|mm)")
_LEAST_PLACES = {"in": 3, "mm": 2}
"""Places to which shops write sheet thickness; common practice, no source."""


def same(first: Thickness, second: Thickness) -> bool:
    """Whether both texts mean one thickness.

    >>> from sheetplan.trade.thickness import parse_thickness
    >>> from sheetplan.trade.units import Units
    >>> ten, eleven, decimal, eighth = (
    ...     parse_thickness(t, "carbon steel", Units.INCH) for t in ("10 ga", "11 ga", ".135", "1/8"))
    >>> same(ten, decimal), same(eleven, eighth), confusing(eleven, eighth)
    (True, False, True)
    """
    tolerance = max(TABLE_ROUNDING_MM, rounding_mm(first) + rounding_mm(second)) + ARITHMETIC_MM
    return _apart(first, second) <= min(tolerance, _greater(first, second) * GREATEST_ROUNDING_SHARE)


def confusing(first: Thickness, second: Thickness) -> bool:
    """Whether two different thicknesses are so close that one may have been meant for the other.

    Two gauges of one metal are never confusing: their numbers tell them apart.
    """
    if _is_gauge(first) and _is_gauge(second):
        return False
    close = _apart(first, second) < _greater(first, second) * CONFUSING_SHARE
    return close and not same(first, second)


def families(thicknesses: Iterable[Thickness]) -> tuple[tuple[Thickness, ...], ...]:
    """Sort the thicknesses of one metal into families that mean the same, thinnest first.

    Exact thicknesses found families, and rounded ones join the nearest family that they are the
    same as, the more exactly written first; so no decimal ever joins two sizes into one (`.063`
    lies between 1/16 in and 1.6 mm). The first of each family is the text to show: a gauge before
    a fraction before a decimal.
    """
    found: list[list[Thickness]] = []
    for thickness in sorted(set(thicknesses), key=_rank):
        near = [family for family in found if same(family[0], thickness)]
        if near:
            min(near, key=lambda family: _apart(family[0], thickness)).append(thickness)
        else:
            found.append([thickness])
    return tuple(tuple(family) for family in sorted(found, key=lambda family: (family[0].mm, family[0].text)))


def rounding_mm(thickness: Thickness) -> float:
    """Half a unit in the last place of a rounded decimal, in mm; 0 for an exact thickness."""
    decimal = _DECIMAL.fullmatch(thickness.text)
    if decimal is None:
        return 0.0
    places = max(len(decimal[1] or ""), _LEAST_PLACES[decimal[2]])
    unit = MM_PER_INCH if decimal[2] == "in" else 1.0
    return float(unit * 0.5 * 10.0**-places)


def _rank(thickness: Thickness) -> tuple[float, int, float, str]:
    """Exact before rounded, gauge before fraction before decimal, thin before thick."""
    kind = 0 if _is_gauge(thickness) else 1 if "/" in thickness.text else 2
    return rounding_mm(thickness), kind, thickness.mm, thickness.text


def _is_gauge(thickness: Thickness) -> bool:
    return thickness.text.endswith(" ga")


def _apart(first: Thickness, second: Thickness) -> float:
    return abs(first.mm - second.mm)


def _greater(first: Thickness, second: Thickness) -> float:
    return max(first.mm, second.mm)
