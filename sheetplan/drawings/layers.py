"""The layers of our drawings: a name and a colour for each role, one table for writers and the reader."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Role(StrEnum):
    """What a line or label is there for."""

    SHEET = "sheet edge"
    OLD_CUT = "old cut"
    HOLE = "hole"
    OUTLINE = "outline"
    CROP = "crop cut"
    MARK = "mark"
    LABEL = "label"


class Layer(NamedTuple):
    """A layer's name (plain letters, as R12 asks) and its colour by the DXF's colour numbers."""

    name: str
    colour: int
    rgb: str


LAYERS = {
    Role.SHEET: Layer("SHEET_EDGE", 8, "#808080"),
    Role.OLD_CUT: Layer("OLD_CUTS", 30, "#C06000"),
    Role.HOLE: Layer("PART_HOLES", 5, "#0000FF"),
    Role.OUTLINE: Layer("PART_OUTLINES", 7, "#000000"),
    Role.CROP: Layer("CROP_CUT", 6, "#C000C0"),
    Role.MARK: Layer("PART_MARKS", 3, "#008000"),
    Role.LABEL: Layer("LABELS", 9, "#606060"),
}
