"""Which layers are cut, marked or left alone."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase

from sheetplan.drawings.scene import LAYERS, Role


class Use(StrEnum):
    """What is done with a layer."""

    CUT = "cut"
    MARK = "mark"
    IGNORE = "not cut"


@dataclass(frozen=True, slots=True)
class LayerChoice:
    """Layer names by use, as the planner writes them; ``*`` stands for any letters, case does not matter.

    With names in ``cut``, only those layers are cut. Without, every layer is that is not chosen
    for something else, and is not told apart by its name or line style.
    """

    cut: tuple[str, ...] = ()
    mark: tuple[str, ...] = ()
    ignore: tuple[str, ...] = ()


OWN = {
    LAYERS[Role.MARK].name: Use.MARK,
    **{LAYERS[role].name: Use.IGNORE for role in (Role.SHEET, Role.OLD_CUT, Role.CROP, Role.LABEL)},
    "DEFPOINTS": Use.IGNORE,
}
"""Layers of our own layout drawings, and the one that the DXF reserves for points that never print."""

WORDS = {
    Use.MARK: ("MARK", "MARKS", "MARKING", "ETCH", "SCRIBE", "ENGRAVE", "ENGRAVING", "BEND", "BENDS", "FOLD"),
    Use.IGNORE: (
        "DIM", "DIMS", "DIMENSION", "DIMENSIONS", "TEXT", "NOTES", "TITLE", "BORDER", "FRAME", "CENTER",
        "CENTRE", "CENTERLINE", "CENTRELINE", "HIDDEN", "CONSTRUCTION", "REFERENCE",
    ),
}  # fmt: skip
"""Words in layer names that draughtsmen use for what is not cut through. Common practice, no source."""


def use_of(layer: str, style: str, choice: LayerChoice) -> tuple[Use, str]:
    """What is done with pieces of a layer in a line style, and why in words (empty if by default)."""
    for use, names in ((Use.IGNORE, choice.ignore), (Use.MARK, choice.mark), (Use.CUT, choice.cut)):
        if any(fnmatchcase(layer.upper(), name.upper()) for name in names):
            return use, "as chosen"
    if choice.cut:
        return Use.IGNORE, "other layers are chosen to be cut"
    if layer.upper() in OWN:
        return OWN[layer.upper()], "by its name"
    if style:
        return Use.IGNORE, f"drawn {style}"
    words = set(re.split(r"[^A-Z]+", layer.upper()))
    for use, known in WORDS.items():
        if words & set(known):
            return use, "by its name"
    return Use.CUT, ""
