"""What unit a drawing is in, as far as it says.

Source of the codes: Autodesk DXF reference, HEADER section, $INSUNITS and $MEASUREMENT.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sheetplan.drawings.findings import Finding, Says, plain
from sheetplan.model.outline import Outline
from sheetplan.shapes import as_circle, size
from sheetplan.trade.units import MM_PER_INCH, Units

INSUNITS: dict[int, tuple[str, float]] = {
    1: ("inches", MM_PER_INCH),
    2: ("feet", 12 * MM_PER_INCH),
    4: ("millimetres", 1.0),
    5: ("centimetres", 10.0),
    6: ("metres", 1000.0),
    8: ("microinches", MM_PER_INCH * 1e-6),
    9: ("mils", MM_PER_INCH * 1e-3),
    10: ("yards", 36 * MM_PER_INCH),
    13: ("microns", 1e-3),
    14: ("decimetres", 100.0),
}
"""Units that a part may be drawn in: name and millimetres; miles and light years are not among them."""

MEASUREMENT = {0: ("inches", MM_PER_INCH), 1: ("millimetres", 1.0)}

WORDS = {
    "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH, '"': MM_PER_INCH,
    "mm": 1.0, "millimetre": 1.0, "millimetres": 1.0, "millimeters": 1.0,
    "cm": 10.0, "m": 1000.0, "ft": 12 * MM_PER_INCH,
}  # fmt: skip
"""How a planner may state a drawing's unit."""

NAMES = {MM_PER_INCH: "inches", 1.0: "millimetres", 10.0: "centimetres", 1000.0: "metres",
         12 * MM_PER_INCH: "feet"}  # fmt: skip


def stated_unit(text: str) -> float:
    """Millimetres in a unit that the planner states for a drawing.

    Raises
    ------
    ValueError
        With a sentence, for a word that is no unit.
    """
    try:
        return WORDS[text.strip().lower()]
    except KeyError:
        raise ValueError(f"`{text.strip()}` is not a unit of drawings; write in, mm, cm, m or ft") from None


def unit_of_dxf(insunits: object, measurement: object) -> tuple[float | None, str]:
    """Millimetres in the drawing's unit and where that is said; None where it is not."""
    if isinstance(insunits, int) and insunits in INSUNITS:
        name, mm = INSUNITS[insunits]
        return mm, f"{name}, as the drawing says ($INSUNITS {insunits})"
    if isinstance(measurement, int) and measurement in MEASUREMENT:
        name, mm = MEASUREMENT[measurement]
        return mm, f"{name}, taken from $MEASUREMENT, for the drawing states no unit"
    return None, ""


def of_the_book(units: Units) -> str:
    """Words for a unit that is assumed."""
    return f"{NAMES[units.length_mm]}, the book's unit, for the drawing says nothing"


# Whether a part's size makes sense in that unit.

LARGEST_MM = 6200.0
"""Longer than any common sheet (20 ft): a part this long was drawn in another unit."""

SMALLEST_MM = 8.0
"""Shorter than anything that is cut from sheet by flame or jet."""

INCH_STEP = 1.0 / 32.0
"""Sizes drawn in inches are mostly whole thirty-seconds. Common practice, no source."""

STEP_SLACK = 1e-4
"""How near to a step a size must lie to count as on it, in drawing units."""

FEWEST_SIZES = 2
"""Different sizes that must agree before a unit is doubted: one alone may be chance."""


def unit_questions(outlines: Sequence[Outline], unit_mm: float) -> Iterator[Finding]:
    """Questions about the unit; none where all sizes are as one would expect."""
    unit = NAMES.get(unit_mm, f"units of {unit_mm:g} mm")
    for outline in outlines:
        length, width = size(outline)
        shown = f"{plain(length / unit_mm)} x {plain(width / unit_mm)} {unit}"
        longer = max(length, width)
        if longer > LARGEST_MM or longer < SMALLEST_MM:
            large = "large" if longer > LARGEST_MM else "small"
            yield Finding(Says.ASKED, f"a part of {shown} is very {large}: is the drawing in another unit?")
            return
    if unit_mm == MM_PER_INCH and _millimetres_called_inches(outlines):
        length, width = size(outlines[0])
        was = f"{plain(length / MM_PER_INCH)} x {plain(width / MM_PER_INCH)}"
        inches = f"{plain(length / MM_PER_INCH**2)} x {plain(width / MM_PER_INCH**2)}"
        what = f"a part of {was} inches would be {inches} inches if it was drawn in millimetres: which is it?"
        yield Finding(Says.ASKED, what)


def _millimetres_called_inches(outlines: Sequence[Outline]) -> bool:
    """Whether sizes are round in inches only if the numbers are millimetres (101.6 for 4 in)."""
    numbers = {round(value / MM_PER_INCH, 6) for outline in outlines for value in _sizes(outline)}
    odd = [number for number in numbers if not _on_step(number, INCH_STEP)]
    return len(odd) >= FEWEST_SIZES and all(_on_step(n, INCH_STEP * MM_PER_INCH) for n in numbers)


def _sizes(outline: Outline) -> Iterator[float]:
    yield from size(outline)
    for hole in outline.holes:
        circle = as_circle(hole)
        if circle:
            yield 2.0 * circle[2]


def _on_step(number: float, step: float) -> bool:
    return abs(number - round(number / step) * step) <= STEP_SLACK
