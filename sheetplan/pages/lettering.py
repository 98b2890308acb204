"""The one typeface of pictures and printed pages, and how wide its words are.

DejaVu Sans (free to embed) comes with matplotlib, so that a picture looks the same on every
machine and holds Latin, Greek and Cyrillic names.

Choices
-------
A letter that it lacks, such as one of Chinese, Japanese or Korean, is set in the first of `STAND_INS` that
this computer has and that holds it, and so embedded. No package of such a typeface on PyPI is well kept and
TrueType, which is all that reportlab embeds. What none of them holds is a box on paper;
`unprintable` names it beforehand.
"""

from __future__ import annotations

import itertools
import unicodedata
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

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


STAND_INS = (
    "DroidSansFallbackFull.ttf", "DroidSansFallback.ttf", "wqy-microhei.ttc", "wqy-zenhei.ttc", "ipaexg.ttf",
    "msyh.ttc", "msgothic.ttc", "malgun.ttf", "simsun.ttc", "arialuni.ttf", "Arial Unicode.ttf",
    "seguisym.ttf",
)  # fmt: skip
"""Files of TrueType faces with many letters, as Linux distributions, Windows and macOS have them."""

TRUETYPE, COLLECTION = (b"\x00\x01\x00\x00", b"true"), b"ttcf"
"""First bytes of a face's file. Source: OpenType specification, font file."""

LAST_LATIN = 0x24F
"""Every letter up to here is in the face itself."""


@cache
def stand_in(letter: str) -> str:
    """The file of the face that stands in for a letter; empty where none is needed or none holds it."""
    if ord(letter) <= LAST_LATIN or _holds(font_path(), letter):
        return ""
    return next((path for path in _stand_ins() if _holds(path, letter)), "")


def runs(text: str) -> Iterator[tuple[str, str]]:
    """Runs of letters by the face that sets them: the file of one that stands in, or none, and the run."""
    if text.isascii():
        yield "", text
        return
    for path, letters in itertools.groupby(text, stand_in):
        yield path, "".join(letters)


def unprintable(text: str) -> str:
    """The letters of a text that no face here holds, each once; they are boxes on paper.

    >>> unprintable("CB-100 \u00e9\u0416")
    ''
    """
    return "".join(dict.fromkeys(
        letter for letter in text
        if ord(letter) > LAST_LATIN and not stand_in(letter) and not _holds(font_path(), letter)
        and unicodedata.category(letter) not in ("Cf", "Mn", "Zs")
    ))  # fmt: skip


@cache
def _stand_ins() -> tuple[str, ...]:
    from matplotlib.font_manager import findSystemFonts

    there = {Path(path).name: path for path in sorted(findSystemFonts())}
    return tuple(there[name] for name in STAND_INS if name in there and _is_truetype(there[name]))


def _is_truetype(path: str) -> bool:
    """Whether the first face of a file has TrueType outlines, which alone can be embedded."""
    try:
        with Path(path).open("rb") as file:
            head = file.read(16)
            if head[:4] == COLLECTION:
                file.seek(int.from_bytes(head[12:16], "big"))
                head = file.read(4)
    except OSError:
        return False
    return head[:4] in TRUETYPE


@cache
def _holds(path: str, letter: str) -> bool:
    return bool(_face(path).get_char_index(ord(letter)))


@cache
def _face(path: str) -> Any:
    from matplotlib.ft2font import FT2Font

    return FT2Font(path)


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
    return float(_measure(stand_in(letter) or font_path(bold)).getlength(letter))


@cache
def _measure(path: str) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(path, UNITS_TO_EM, layout_engine=ImageFont.Layout.BASIC)
