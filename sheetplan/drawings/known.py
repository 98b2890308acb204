"""An outline known again by its shape, whatever number it has in its file, and told when it changed.

Kept for each part that was planned: what its row names, and the outline that this stood for.

An outline's number in its file is only how it was named first.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.drawings.cache import READER_VERSION
from sheetplan.drawings.findings import counted, plain
from sheetplan.drawings.report import DrawnPart
from sheetplan.drawings.report_json import outline_from_json
from sheetplan.model.outline import Outline
from sheetplan.shapes import apart, area, as_circle, flatten, flatten_stroke, size
from sheetplan.trade.units import Units

FORMAT = 1

SAME_MM = 0.02
"""Outlines nowhere further apart than this are one: what programs round when they save a drawing again."""

OTHER_READER_MM = 0.15
"""The same, where the outline was kept by a version that puts other arcs in the place of curves."""

CURVES_SINCE = 6
"""The first version of the reader that puts the arcs in the place of curves that this one does."""

FLAT_MM = 0.002

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class KnownOutline:
    """What a part's row named as its drawing, the outline it stood for, and by which reader it was read."""

    drawing: str
    outline: Outline
    reader: int = READER_VERSION
    stands: bool = False
    """Whether it is used whatever its drawing shows by now: for what was cut before the drawing changed."""

    def is_still(self, outline: Outline) -> bool:
        """Whether an outline is the one that is known."""
        own = SAME_MM if self.reader >= CURVES_SINCE else OTHER_READER_MM
        if outline == self.outline:
            return True
        sides = zip(size(outline), size(self.outline), strict=True)
        return all(abs(a - b) <= 2.0 * own for a, b in sides) and difference(outline, self.outline) <= own

    def among(self, parts: Sequence[DrawnPart]) -> DrawnPart | None:
        """The outline of a file that is the known one, the first where several are."""
        return next((part for part in parts if self.is_still(part.outline)), None)


KnownOutlines = Mapping[str, KnownOutline]
"""By the name of the part, as names are compared."""


def same_text(first: str, second: str) -> bool:
    """Whether two cells name one drawing."""
    return _plain_text(first) == _plain_text(second)


def _plain_text(text: str) -> str:
    return unicodedata.normalize("NFC", "".join(text.split())).replace("\\", "/")


def difference(first: Outline, second: Outline) -> float:
    """How far two outlines stray from one another at most, mm; infinite where holes or marks differ."""
    if (len(first.holes), bool(first.marks)) != (len(second.holes), bool(second.marks)):
        return float("inf")
    away = apart(_rings(first), _rings(second))
    return max(away, apart(_strokes(first), _strokes(second))) if first.marks else away


def _rings(outline: Outline) -> list[Array]:
    flat = [np.asarray(flatten(loop, FLAT_MM)) for loop in (outline.outer, *outline.holes)]
    return [np.vstack([ring, ring[:1]]) for ring in flat]


def _strokes(outline: Outline) -> list[Array]:
    return [np.asarray(flatten_stroke(mark, FLAT_MM)) for mark in outline.marks]


def outline_words(outline: Outline, units: Units, places: int = 3) -> str:
    """An outline in a few words: `90 x 95 mm with 3 holes`, `a disc of 40 mm`; sizes to so many decimals."""
    unit = units.length_mm
    circle = as_circle(outline.outer)
    length, width = (plain(round(side / unit, places)) for side in size(outline))
    what = f"a disc of {length} {units.value}" if circle else f"{length} x {width} {units.value}"
    holes = f" with {counted(len(outline.holes), 'hole')}" if outline.holes else ""
    return what + holes


def change_words(before: Outline, now: Outline, units: Units) -> str:
    """What became of an outline: `it was 90 x 95 mm with 3 holes and is now a disc of 40 mm`."""
    was, is_now = outline_words(before, units), outline_words(now, units)
    if was != is_now:
        return f"it was {was} and is now {is_now}"
    square = units.length_mm**2
    areas = f"area {area(before) / square:.3f} then, {area(now) / square:.3f} {units.value}2 now"
    return f"it is still {was}, but its lines have moved ({areas})"


def known_text(known: KnownOutlines) -> str:
    """The outlines as the text of the file that is kept beside the book."""
    entries = {
        name: {"drawing": one.drawing, "reader": one.reader, "outline": asdict(one.outline)}
        for name, one in sorted(known.items())
    }
    return json.dumps({"format": FORMAT, "parts": entries}, ensure_ascii=False) + "\n"


def known_of(text: str) -> dict[str, KnownOutline]:
    """The outlines again.

    Raises
    ------
    ValueError
        If this is not such a text, or one of a later form.
    """
    try:
        data = json.loads(text)
        if data["format"] != FORMAT:
            raise ValueError("it is of a later form")
        parts = data["parts"].items()
        return {
            str(name): KnownOutline(one["drawing"], outline_from_json(one["outline"]), int(one["reader"]))
            for name, one in parts
        }
    except (KeyError, TypeError, AttributeError) as reason:
        raise ValueError("it is damaged") from reason
