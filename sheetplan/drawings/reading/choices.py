"""What is cut of a drawing and in which unit: what the planner says, what the file says, and what follows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fnmatch import fnmatchcase

from sheetplan.drawings.layers import LAYERS, Role
from sheetplan.drawings.reading.findings import Finding, Says, plain
from sheetplan.model.outline import Outline
from sheetplan.shapes import as_circle, size
from sheetplan.trade.units import MM_PER_INCH, Units

# The words by which a planner names layers and says what becomes of doubtful lines.


class OpenLines(StrEnum):
    """What is done with open lines that lie inside a part."""

    REFUSE = "refuse"
    MARK = "mark"
    LEAVE_OUT = "leave out"


class LetteringUse(StrEnum):
    """What is done with outlines that look like lettering; without a word they are cut and asked about."""

    ASK = "ask"
    CUT = "cut"
    MARK = "mark"
    LEAVE_OUT = "leave out"


@dataclass(frozen=True, slots=True)
class DoubtfulLines:
    """What is done with lines that may not be meant to be cut."""

    open_lines: OpenLines = OpenLines.REFUSE
    lettering: LetteringUse = LetteringUse.ASK


CLAUSE = re.compile(r"(cut|mark|leave out)(?: (open lines|lettering))?")


def doubtful_lines(text: str) -> DoubtfulLines:
    """The planner's words: an action, and what it is for where it is not for all.

    >>> doubtful_lines("mark open lines, leave out lettering").lettering.value
    'leave out'

    Raises
    ------
    ValueError
        With a sentence, for words that are none of these.
    """
    chosen = DoubtfulLines()
    for clause in re.split(r"\s*[,;]\s*", " ".join(text.lower().split())):
        found = CLAUSE.fullmatch(clause)
        if found is None or (found[1] == "cut" and found[2] == "open lines"):
            raise ValueError(f"`{clause}` is not known")
        if found[2] != "lettering" and found[1] != "cut":
            chosen = replace(chosen, open_lines=OpenLines(found[1]))
        if found[2] != "open lines":
            chosen = replace(chosen, lettering=LetteringUse(found[1]))
    return chosen


def layer_names(text: str) -> tuple[str, ...]:
    """Layer names from a cell: separated by commas or semicolons.

    >>> layer_names("cut, holes ;VISIBLE*")
    ('cut', 'holes', 'VISIBLE*')
    """
    return tuple(name.strip() for name in re.split(r"[,;\n]", text) if name.strip())


# What unit a drawing is in, as far as it says.
#
# Source of the codes: Autodesk DXF reference, HEADER section, $INSUNITS and $MEASUREMENT.

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

UNIT_WORDS = {
    "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH, '"': MM_PER_INCH,
    "mm": 1.0, "millimetre": 1.0, "millimetres": 1.0, "millimeters": 1.0,
    "cm": 10.0, "m": 1000.0, "ft": 12 * MM_PER_INCH,
}  # fmt: skip
"""How a planner may state a drawing's unit."""

NAMES = {MM_PER_INCH: "inches", 1.0: "millimetres", 10.0: "centimetres", 1000.0: "metres",
         12 * MM_PER_INCH: "feet"}  # fmt: skip


UNSTATED, SILENT = "for the drawing states no unit", "for the drawing says nothing"
"""What ends the words for a unit that no drawing's own word and no planner states."""


def stated_unit(text: str) -> float:
    """Millimetres in a unit that the planner states for a drawing.

    Raises
    ------
    ValueError
        With a sentence, for a word that is no unit.
    """
    try:
        return UNIT_WORDS[text.strip().lower()]
    except KeyError:
        raise ValueError(f"`{text.strip()}` is not a unit of drawings; write in, mm, cm, m or ft") from None


def unit_of_dxf(insunits: object, measurement: object) -> tuple[float | None, str]:
    """Millimetres in the drawing's unit and where that is said; None where it is not."""
    if isinstance(insunits, int) and insunits in INSUNITS:
        name, mm = INSUNITS[insunits]
        return mm, f"{name}, as the drawing says ($INSUNITS {insunits})"
    if isinstance(measurement, int) and measurement in MEASUREMENT:
        name, mm = MEASUREMENT[measurement]
        return mm, f"{name}, taken from $MEASUREMENT, {UNSTATED}"
    return None, ""


def of_the_book(units: Units) -> str:
    """Words for a unit that is assumed."""
    return f"{NAMES[units.length_mm]}, the book's unit, {SILENT}"


def is_assumed(said: str) -> bool:
    """Whether a unit is said to be taken from something else than the drawing's own word for it.

    >>> from sheetplan.trade.units import Units
    >>> is_assumed(of_the_book(Units.MM)), is_assumed(unit_of_dxf(4, None)[1])
    (True, False)
    """
    return said.endswith((UNSTATED, SILENT))


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


# Which layers are cut, marked or left alone.


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

LAYER_WORDS = {
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
    for use, known in LAYER_WORDS.items():
        if words & set(known):
            return use, "by its name"
    return Use.CUT, ""
