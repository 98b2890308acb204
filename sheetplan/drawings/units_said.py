"""What unit a drawing is in, as far as it says.

Source of the codes: Autodesk DXF reference, HEADER section, $INSUNITS and $MEASUREMENT.
"""

from __future__ import annotations

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
