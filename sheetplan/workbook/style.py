"""One look for every page: the template and the results share these.

Dark text on light fills that survive a grey print; contrast of text and fill is checked by a
test against WCAG 2.1 AA (contrast ratio 4.5).
"""

from __future__ import annotations

from sheetplan.pages.values import Kind
from sheetplan.trade.units import MM_PER_INCH, Units

INK = "#1E2A32"
QUIET = "#51606B"
HEAD_FILL = "#D7E5E2"
INPUT_FILL = "#FBF7EC"
HELPER_FILL = "#EEF1F3"
BAND_FILL = "#F1F5F4"
WARN_FILL = "#FBE0CF"
TAB_RESULT, TAB_MONTHLY, TAB_LASTING, TAB_MONTHS_END = "#4A5F6B", "#E3C878", "#F3E7C4", "#A79ABF"
"""Tabs of result pages, of pages filled each month, of those that stay, and of the month's end."""
WARN_INK = "#7A2E0E"
NOTE_FILL = "#FFF3C9"
LINE = "#B8C4C6"
FONT = "Calibri"
TITLE_SIZE = 16
LARGE_SIZE = 18
BODY_SIZE = 10
HOURS_A_DAY = 24.0
"""A spreadsheet program counts times in days."""
MINUTES_AN_HOUR = 60.0
FIGURE_SIZE = 17


def number_format(kind: Kind, units: Units) -> str:
    """The spreadsheet number format of a kind in a book of these units."""
    inch = units is Units.INCH
    return {
        Kind.TEXT: "@",
        Kind.COUNT: "#,##0",
        Kind.LENGTH: "#,##0.000" if inch else "#,##0.0",
        Kind.TRAVEL: "#,##0.0",
        Kind.AREA: "#,##0.00" if inch else "#,##0.000",
        Kind.WEIGHT: "#,##0.0",
        Kind.MONEY: "#,##0.00",
        Kind.MONEY_CHANGE: "+#,##0.00;-#,##0.00;0",
        Kind.COUNT_CHANGE: "+#,##0;-#,##0;0",
        Kind.AREA_CHANGE: "+#,##0.0;-#,##0.0;0" if inch else "+#,##0.00;-#,##0.00;0",
        Kind.SHARE: "0.0%",
        Kind.HOURS: '[h]" h "mm" min"',
        Kind.NUMBER: "#,##0.00",
        Kind.PICTURE: "General",
    }[kind]


def shown(value: float, kind: Kind, units: Units) -> float:
    """An internal value in the book's units."""
    if kind is Kind.LENGTH:
        return value / units.length_mm
    if kind is Kind.TRAVEL:
        return value / (12 * MM_PER_INCH if units is Units.INCH else 1000.0)
    if kind in (Kind.AREA, Kind.AREA_CHANGE):
        return value / units.area_mm2
    if kind is Kind.WEIGHT:
        return value / units.weight_kg
    if kind is Kind.HOURS:
        # The format cuts off what is under a minute, texts round it: both say the same of a whole minute.
        return round(value * MINUTES_AN_HOUR) / MINUTES_AN_HOUR / HOURS_A_DAY
    return value


def heading(text: str, kind: Kind, units: Units) -> str:
    """A heading with its unit, where it has one that the reader needs."""
    unit = {
        Kind.LENGTH: units.value,
        Kind.TRAVEL: "ft" if units is Units.INCH else "m",
        Kind.AREA: units.area,
        Kind.AREA_CHANGE: units.area,
        Kind.WEIGHT: units.weight,
    }.get(kind)
    return f"{text}, {unit}" if unit else text
