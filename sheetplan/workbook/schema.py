"""What an input page is: the terms that `columns` is written in, the planner's words, and the rows of
Settings.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sheetplan.drawings.shape_table import SAMPLE_SIZES
from sheetplan.model.settings import DrawingFormat
from sheetplan.model.turns import Corner
from sheetplan.trade.units import Units

# The words that the planner picks from, and nothing else.

def choices(words: type[StrEnum]) -> tuple[str, ...]:
    """The words of an enumeration in their order, for a drop-down."""
    return tuple(word.value for word in words)


class Turn(StrEnum):
    """How a part may be turned on the sheet, in the planner's words."""

    ANY_QUARTER = "any quarter turn"
    HALF_ONLY = "half turn only"
    AS_DRAWN = "as drawn"


class GrainWord(StrEnum):
    """Which way of the part must run with the sheet's length."""

    ANY = "any"
    ALONG_LENGTH = "along length"
    ALONG_WIDTH = "along width"


class MustWord(StrEnum):
    """Whether an order has to be made or only fills sheets that are cut anyway."""

    MUST = "must"
    IF_IT_FITS = "if it fits"


class PricePer(StrEnum):
    """What a price on the Stock page is for."""

    SHEET = "sheet"
    WEIGHT = "weight"
    AREA = "area"
    KILOGRAM = "kg"
    POUND = "lb"
    SQUARE_METRE = "m2"
    SQUARE_FOOT = "ft2"


PRICED_AS = {
    "piece": PricePer.SHEET, "each": PricePer.SHEET, "pc": PricePer.SHEET,
    "kilo": PricePer.KILOGRAM, "kilogram": PricePer.KILOGRAM, "kgs": PricePer.KILOGRAM,
    "pound": PricePer.POUND, "pounds": PricePer.POUND, "lbs": PricePer.POUND, "#": PricePer.POUND,
    "m²": PricePer.SQUARE_METRE, "sqm": PricePer.SQUARE_METRE, "sq m": PricePer.SQUARE_METRE,
    "qm": PricePer.SQUARE_METRE, "square metre": PricePer.SQUARE_METRE, "square meter": PricePer.SQUARE_METRE,
    "ft²": PricePer.SQUARE_FOOT, "sq ft": PricePer.SQUARE_FOOT, "sqft": PricePer.SQUARE_FOOT,
    "square foot": PricePer.SQUARE_FOOT,
}  # fmt: skip
"""Other words for the same, as suppliers' lists have them."""


class BilledBy(StrEnum):
    """By which weight a price per weight bills a sheet, where its weight is not written."""

    REAL = "real"
    PUBLISHED = "published"


class PriceBy(StrEnum):
    """Which cost the price of a quote stands on."""

    ALONE = "alone"
    THIS_MONTH = "this month"


class KeepWord(StrEnum):
    """What is done with the rest of a sheet that is worth keeping."""

    RECTANGLE = "crop to a rectangle"
    AS_IT_IS = "keep as it is"


class DecimalWord(StrEnum):
    """What stands before the decimals of a number in a text."""

    POINT = "point"
    COMMA = "comma"


class RemnantState(StrEnum):
    """Whether a remnant may be planned on."""

    IN_RACK = "in rack"
    USED_UP = "used up"
    LEAVE_ALONE = "leave alone"


class MissingPiece(StrEnum):
    """What a sheet lacks at a corner."""

    RECTANGLE = "rectangle"
    TRIANGLE = "triangle"


class ShapeRow(StrEnum):
    """What a row of the page Remnant shapes says."""

    EDGE = "edge"
    CUT_OUT = "cut-out"
    RECTANGLE = "rectangle"
    DISC = "disc"


class ToNext(StrEnum):
    """How an edge runs from a point to the next one: straight along the sheet's length or width, or else."""

    STRAIGHT = "straight"
    SLANTING = "slanting"
    OUTWARDS = "round outwards"
    INWARDS = "round inwards"


# What an input page is: terms and the values that `columns` is written in.
#
# Terms
# input column
#     Filled by the planner and read by the tool.
# helper column
#     A live formula beside the inputs; never read by the tool.
# message column
#     Shows what the tool found wrong with the row at the last check or plan.

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
    blank: str = ""
    choices: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    since: int = 0

    @property
    def required(self) -> bool:
        """Whether it has to be filled."""
        return not self.blank


@dataclass(frozen=True, slots=True)
class HelperColumn:
    """A live column beside the inputs; its formula stands in `template.formulas`."""

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


# The rows of the `Settings` page, named once.

NOT_STATED = ""
"""What the template holds where only the shop can know the value: an empty cell, read as none."""


@dataclass(frozen=True, slots=True)
class SettingRow:
    """One row of the `Settings` table. ``usual`` and ``usual_mm`` are what the template holds.

    ``since`` counts the templates as that of `InputColumn` does.
    """

    name: str
    holds: Holds
    note: str
    usual: str | float
    usual_mm: str | float | None = None
    choices: tuple[str, ...] = ()
    since: int = 0

    def usual_in(self, units: Units) -> str | float:
        """The template's value in a book of these units."""
        return self.usual_mm if units is Units.MM and self.usual_mm is not None else self.usual

    def usual_said(self, units: Units) -> str:
        """That value as a person writes it; in words where the template holds none."""
        usual = self.usual_in(units)
        if usual == NOT_STATED:
            return "as if it were empty"
        if self.holds is Holds.SHARE:
            return f"{usual:.0%}"
        return f"{usual:g} {units.value}" if self.holds is Holds.LENGTH else f"{usual}"


SETTING_ROWS = (
    SettingRow("Units", Holds.CHOICE, "in: inches, pounds, square feet. mm: millimetres, kilograms, "
               "square metres.", "in", "mm", choices(Units)),
    SettingRow("Output folder", Holds.TEXT, "Folder beside the book for drawings and tickets.", "layouts"),
    SettingRow("Datum corner", Holds.CHOICE, "Corner of the sheet that layouts are measured from.",
               Corner.LOWER_LEFT, None, choices(Corner)),
    SettingRow("Seconds to spend", Holds.NUMBER, "How long a plan may search. More seconds, less waste.", 20),
    SettingRow("Seed", Holds.COUNT, "Same book, same seed and same seconds: same plan.", 1),
    SettingRow("Least remnant length", Holds.LENGTH, "What is left of a sheet is kept if it is at least "
               "this long, in {length}.", 12, 300),
    SettingRow("Least remnant width", Holds.LENGTH, "And at least this wide, in {length}.", 12, 300),
    SettingRow("What is left", Holds.CHOICE, "crop to a rectangle: a straight cut parts the largest useful "
               "rectangle from the rest. keep as it is: the whole sheet goes back with its old cuts.",
               KeepWord.RECTANGLE, None, choices(KeepWord)),
    SettingRow("On hand counts at", Holds.SHARE, "What sheets on hand count of their price when plans "
               "are compared. Below 100%, what is paid for is used unless that wastes clearly more.",
               0.85, since=4),
    SettingRow("Remnants count at", Holds.SHARE, "What a remnant counts of its metal's price, by its largest "
               "rectangle: one that is used, unless its Value is written, and one that goes back.",
               0.6, since=4),
    SettingRow("Extra gap to old cuts", Holds.LENGTH, "More clear metal to a remnant's old cuts than the "
               "gap, for edges that may be warped, in {length}.", 0, 0),
    SettingRow("Cost of moving", Holds.MONEY, "What it costs to move 100 {weight}s of sheets off a remnant "
               "and back on the pile; 0: not counted.", 0),
    SettingRow("Drawing format", Holds.CHOICE, "The kind of DXF that your table's program takes.",
               DrawingFormat.R2000, None, choices(DrawingFormat)),
    SettingRow("Page for tablets", Holds.YES_NO, "yes: plan.html beside the drawings, for a tablet or "
               "telephone at the table: pictures, search, ticks of what is cut.", "yes", None, ("yes", "no"),
               since=11),
    SettingRow("Layouts as SVG too", Holds.YES_NO, "yes: each layout is written as SVG beside its DXF.",
               "no", None, ("yes", "no")),
    SettingRow("Kerf offset", Holds.YES_NO, "yes: cut half a kerf beside the edges, if the table's "
               "program does not.", "no", None, ("yes", "no")),
    SettingRow("Mark small holes", Holds.YES_NO, "yes: holes below the least of the page Cutting are marked "
               "at their middle, to be drilled, and not cut.", "no", None, ("yes", "no")),
    SettingRow("Curve tolerance", Holds.LENGTH, "How far splines and ellipses of a drawing may stray from "
               "the arcs that replace them, in {length}.", 0.002, 0.05),
    SettingRow("Drawing folders", Holds.TEXT, "More folders with part drawings beside the book's own; "
               "semicolons between.", NOT_STATED),
    SettingRow("Layers to cut", Holds.TEXT, "Layers of drawings that are cut; empty: told apart by name "
               "and line style.", NOT_STATED),
    SettingRow("Layers to mark", Holds.TEXT, "Layers of drawings that are marked on the part.", NOT_STATED),
    SettingRow("Layers to leave out", Holds.TEXT, "Layers of drawings that are neither cut nor marked.",
               NOT_STATED),
    SettingRow("Currency", Holds.TEXT, "Sign or letters shown with amounts of money.", "USD", "EUR"),
    SettingRow("Decimal sign", Holds.CHOICE, "point or comma: how numbers are written in texts and on paper; "
               "empty: as the program or the computer does. A number alone in its cell is shown as the "
               "program does. You may type either.", NOT_STATED, None, choices(DecimalWord), since=10),
    SettingRow("Save with the plan", Holds.YES_NO, "yes: an open book is saved once it holds a new plan, "
               "since drawings and tickets are new then too.", "no", None, ("yes", "no"), since=10),
    SettingRow("Cutting hours", Holds.NUMBER, "How many hours a day the table cuts, for the page Cutting "
               "order: the shop's own figure, put in yours (6 is common practice, no source).", 6, since=10),
    SettingRow("Cutting days", Holds.TEXT, "On which days of the week it cuts, such as Mon to Thu, Sat. No "
               "layout depends on hours or days.", "Mon to Fri", since=10),
    SettingRow("Minutes to load", Holds.NUMBER, "Laying one sheet on the table (3 is common practice, no "
               "source); empty: not counted. In the times of tickets and days, and in costs.", NOT_STATED,
               since=11),
    SettingRow("Minutes to square", Holds.NUMBER, "Squaring it (1 is common practice, no source).",
               NOT_STATED, since=11),
    SettingRow("Minutes to unload", Holds.NUMBER, "Taking its parts and its skeleton off (6 is common "
               "practice, no source).", NOT_STATED, since=11),
    SettingRow("Minutes to clean", Holds.NUMBER, "Taking the dross off one part, beside the table (1 is "
               "common practice, no source).", NOT_STATED, since=11),
    SettingRow("Machine hour cost", Holds.MONEY, "Cost of one hour of the table, where the page Cutting "
               "states no Hour cost.", NOT_STATED, since=11),
    SettingRow("Hand hour cost", Holds.MONEY, "Cost of one hour of hands at loading, unloading and cleaning.",
               NOT_STATED, since=11),
    SettingRow("Shop name", Holds.TEXT, "How your shop calls itself on a customer's page.", NOT_STATED,
               since=11),
    SettingRow("Mark-up", Holds.SHARE, "What a quote adds to its cost where its row does not say.",
               NOT_STATED, since=11),
    SettingRow("Days a quote holds", Holds.COUNT, "How long its prices hold: the customer's page says until "
               "which day (30 is common practice, no source); empty: not said.", NOT_STATED, since=12),
    SettingRow("Lift limit", Holds.NUMBER, "The most that your gear, crew and local rules let you lift at "
               "once, in {weight}s; empty: not stated.", NOT_STATED),
)
