"""The one typeface of pictures and printed pages, and how wide its words are.

DejaVu Sans (free to embed) comes with matplotlib, so that a picture looks the same on every
machine and holds Latin, Greek and Cyrillic names.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import ImageFont

PLAIN = "DejaVuSans.ttf"
BOLD = "DejaVuSans-Bold.ttf"

NARROW = 0.9
"""Width of the narrow face over that of the plain one; DejaVu's own condensed face is as narrow."""

CAP_SHARE = 0.729
"""Height of a capital over the size of the type (DejaVu Sans: 1493 of 2048 units)."""

UNITS_TO_EM = 2048
"""DejaVu's own grid: read at this size in pixels, advances are exact."""


@cache
def font_path(bold: bool = False) -> str:
    """Where the typeface's file is."""
    import matplotlib

    return str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / (BOLD if bold else PLAIN))


def text_width(text: str, size: float, bold: bool = False, narrow: bool = False) -> float:
    """Width of a line of text in points at a type size in points.

    >>> text_width("CB-101", 20.0) > text_width("CB-101", 10.0) > 0.0
    True
    """
    return _em_width(text, bold) * size * (NARROW if narrow else 1.0)


def shorten(text: str, size: float, room: float, bold: bool = False) -> str:
    """The text, or as much of it as fits ``room`` points with an ellipsis."""
    if text_width(text, size, bold) <= room:
        return text
    kept = text
    while kept and text_width(kept + "…", size, bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"


@cache
def _em_width(text: str, bold: bool) -> float:
    # Letter by letter: printed pages set no kerning, so widths must not reckon with it.
    return sum(_advance(letter, bold) for letter in text) / UNITS_TO_EM


@cache
def _advance(letter: str, bold: bool) -> float:
    return float(_measure(bold).getlength(letter))


@cache
def _measure(bold: bool) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(font_path(bold), UNITS_TO_EM, layout_engine=ImageFont.Layout.BASIC)
