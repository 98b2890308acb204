"""Lengths, weights and what counts as the same.

The one internal length is the millimetre, as a float; areas are mm2, weights kilograms,
densities kg/m3, feeds mm per minute. Books in inches and pounds are converted where they are
read and where they are written, and nowhere between.

`SAME_LENGTH_MM` is the one tolerance of lengths. Packers count whole nanometres, in which 1/64 in and
0.01 mm are both whole numbers, so that sums of sides are exact.
"""

from __future__ import annotations

from enum import StrEnum

MM_PER_INCH = 25.4
"""Exact. Source: the international yard and pound agreement of 1959 (NIST SP 811, appendix B.6)."""

KG_PER_POUND = 0.45359237
"""Exact, avoirdupois. Source: as above."""

SAME_LENGTH_MM = 0.001
"""Two lengths closer than this are one length.

A micrometre: a thousandth of what a plasma table can hold, and a thousand times the rounding
of sums of converted inches, so it forgives arithmetic and never a wrong cut.
"""

WRITTEN_SHARE = 0.001
"""Sizes are written to three decimals of the book's length at least."""

MM3_PER_M3 = 1e9


class Units(StrEnum):
    """What a book is written in: inches with pounds, or millimetres with kilograms."""

    INCH = "in"
    MM = "mm"

    @property
    def length_mm(self) -> float:
        """Millimetres in one of the book's lengths."""
        return MM_PER_INCH if self is Units.INCH else 1.0

    @property
    def weight_kg(self) -> float:
        """Kilograms in one of the book's weights."""
        return KG_PER_POUND if self is Units.INCH else 1.0

    @property
    def weight(self) -> str:
        """The sign of the book's weight."""
        return "lb" if self is Units.INCH else "kg"

    @property
    def area_mm2(self) -> float:
        """Square millimetres in one of the book's large areas (square feet, square metres)."""
        return (12 * MM_PER_INCH) ** 2 if self is Units.INCH else 1e6

    @property
    def area(self) -> str:
        """The sign of the book's large area."""
        return "ft2" if self is Units.INCH else "m2"


def weight_kg(area_mm2: float, thickness_mm: float, density: float) -> float:
    """Weight in kg of a flat piece from its area (mm2), thickness (mm) and density (kg/m3).

    The real density of the metal, not the statutory weight of its gauge: the Manufacturers' Standard
    Gauge turns statutory weights into thickness at 41.82 lb a square foot and inch, while steel of 490
    lb/ft3 weighs 40.83, so a gauge sheet weighs 2.4 per cent less than its statutory weight.
    """
    return area_mm2 * thickness_mm * density / MM3_PER_M3
