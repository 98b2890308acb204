"""The words that the planner picks from, and nothing else."""

from __future__ import annotations

from enum import StrEnum


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
