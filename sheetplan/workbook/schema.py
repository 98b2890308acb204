"""What an input page is: terms and the values that `columns` is written in.

Terms
-----
input column
    Filled by the planner and read by the tool.
helper column
    A live formula beside the inputs; never read by the tool.
message column
    Shows what the tool found wrong with the row at the last check or plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sheetplan.drawings.shape_table import SAMPLE_SIZES
from sheetplan.trade.units import Units

MESSAGE = "Message"
"""Heading of the message column, the last of every input table."""


class Holds(StrEnum):
    """What an input column holds, and so how its cells are read, checked and formatted."""

    TEXT = "text"
    CHOICE = "one of a few words"
    REFERENCE = "a name from another page"
    COUNT = "a whole number"
    NUMBER = "a number"
    LENGTH = "a length"
    THICKNESS = "a thickness"
    MONEY = "an amount of money"
    SHARE = "a share in per cent"
    YES_NO = "yes or no"
    DATE = "a date"


@dataclass(frozen=True, slots=True)
class Source:
    """A column of another page whose names may be used here."""

    page: str
    heading: str


@dataclass(frozen=True, slots=True)
class InputColumn:
    """One input column.

    ``note`` and ``example`` may hold ``{length}``, ``{feed}``, ``{density}``, ``{weight}`` and ``{area}``,
    which `note_in` fills with the book's units, and names of sizes that it fills with such sizes. ``blank``
    says in words what an empty cell means, for columns that need not be filled. ``since`` counts the
    templates: 0 for a column that every one had, more for one that books of earlier templates do without.
    """

    heading: str
    holds: Holds
    note: str
    example: str
    width: float = 12.0
    required: bool = False
    blank: str = ""
    choices: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    since: int = 0


@dataclass(frozen=True, slots=True)
class HelperColumn:
    """A live column beside the inputs; its formula stands in `template_formulas`."""

    heading: str
    note: str
    width: float = 11.0


@dataclass(frozen=True, slots=True)
class InputPage:
    """One input page and its table.

    ``keys`` are the columns that name a row in messages; ``prints_live`` says whether the live columns are
    printed.
    """

    name: str
    table: str
    title: str
    line: str
    columns: tuple[InputColumn, ...]
    helpers: tuple[HelperColumn, ...] = ()
    keys: tuple[str, ...] = ()
    prints_live: bool = True

    def column(self, heading: str) -> InputColumn:
        """The input column with this heading; KeyError if there is none."""
        for column in self.columns:
            if column.heading == heading:
                return column
        raise KeyError(f"{self.name} has no column {heading}")

    @property
    def headings(self) -> tuple[str, ...]:
        """All headings in the order of the template: inputs, helpers, message."""
        return (*(c.heading for c in self.columns), *(h.heading for h in self.helpers), MESSAGE)


_SAMPLES = {
    Units.INCH: {"thickness": "10 ga", "thickness_ways": "10 ga, 3/16\", 0.1875 in, .25, 6 mm",
                 "sheet_width": "48", "sheet_length": "96",
                 "part_width": "4 1/2", "part_length": "12 3/8"},
    Units.MM: {"thickness": "3 mm", "thickness_ways": "6 mm, 1.5, 0,8 mm, 10 ga, 3/16\"",
               "sheet_width": "1250", "sheet_length": "2500",
               "part_width": "115 mm", "part_length": "315.5 mm"},
}  # fmt: skip
"""Sizes for an example of a sheet and a part, as they are written in a book of these units."""


def note_in(text: str, units: Units) -> str:
    """A note or an example with the book's units and sizes put in.

    >>> note_in("In {length}.", Units.MM)
    'In millimetres.'
    """
    inch = units is Units.INCH
    return text.format(
        length="inches" if inch else "millimetres",
        feed="inches a minute" if inch else "millimetres a minute",
        density="pounds per cubic inch" if inch else "kilograms per cubic metre",
        weight="pound" if inch else "kilogram",
        area="square foot" if inch else "square metre",
        unit=units.value,
        **_SAMPLES[units],
        **SAMPLE_SIZES[units],
    )
