"""Text that stays text: made safe for a spreadsheet cell, in every host alike."""

from __future__ import annotations

MAX_CELL_UNITS = 32_767
"""Most UTF-16 code units in one cell. Source: Microsoft, "Excel specifications and limits"."""

FORMULA_STARTS = ("=", "+", "-", "@")
"""What a spreadsheet program takes for the start of a formula when somebody edits the cell."""

_CUT = " ..."


def clean_text(text: str) -> str:
    """Text without what XML or a cell cannot hold, cut to the length of a cell.

    Control characters, half surrogate pairs and the two non-characters go; line ends become
    plain line feeds; tabs stay.

    >>> clean_text("a\\x07b\\r\\nc")
    'ab\\nc'
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = "".join(c for c in text if _may_stand(c))
    if _units(text) <= MAX_CELL_UNITS:
        return text
    keep = text.encode("utf-16-le")[: 2 * (MAX_CELL_UNITS - len(_CUT))]
    return keep.decode("utf-16-le", errors="ignore") + _CUT


def looks_like_formula(text: str) -> bool:
    """Whether the text must be marked as text, so that editing the cell leaves it what it is."""
    return text.startswith(FORMULA_STARTS)


def _may_stand(char: str) -> bool:
    """Whether XML 1.0 allows the character and a person could want it (source: XML 1.0, section 2.2)."""
    code = ord(char)
    if code < 0x20:
        return char in "\t\n"
    return not (0x7F <= code <= 0x9F or 0xD800 <= code <= 0xDFFF or code in (0xFFFE, 0xFFFF))


def _units(text: str) -> int:
    return len(text.encode("utf-16-le")) // 2
