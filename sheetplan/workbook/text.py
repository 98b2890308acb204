"""Text in cells: letters that only look like others, text that stays text, and what links may point at."""

from __future__ import annotations

import re
import unicodedata
from functools import cache
from urllib.parse import quote

# Letters that only look like others, and those that cannot be seen: names are compared without them.
#
# Source of what looks alike: Unicode Technical Standard 39, its file of confusable characters, as the
# package `confusable-homoglyphs` carries it. Only Latin letters, figures and the signs of a keyboard are
# looked for behind a letter of another script: names of a shop are written in one script, and a single
# letter of another one among them came by a keyboard or a copied text.

INVISIBLE = {
    code: None
    for code in (
        0x00AD, 0x034F, 0x061C, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x180E, *range(0x200B, 0x2010),
        *range(0x202A, 0x202F), *range(0x2060, 0x2070), 0x3164, *range(0xFE00, 0xFE10), 0xFEFF, 0xFFA0,
    )
}  # fmt: skip
"""Characters that show nothing: soft hyphens, joiners, marks of direction, variation selectors. Source:
Unicode, Derived Core Properties, Default_Ignorable_Code_Point, as far as text of a cell can hold them."""


def visible(text: str) -> str:
    """The text without characters that show nothing.

    >>> visible("CB\\u200b-1\\u00ad00")
    'CB-100'
    """
    return text if text.isascii() else text.translate(INVISIBLE)


def skeleton(text: str) -> str:
    """The text with each letter of another script or style as the Latin letter or sign that it looks like.

    >>> skeleton("\\u0421\\u0412\\u2011100")
    'CB-100'
    """
    if text.isascii():
        return text
    plain = unicodedata.normalize("NFKC", visible(text))
    return "".join(letter if letter.isascii() else _latin(letter) for letter in plain)


def only_alike(said: str, name: str) -> bool:
    """Whether two different texts look the same to a person."""
    return said != name and looks(said) == looks(name)


def looks(text: str) -> str:
    """As a person sees it at a glance: a great I is a small l, in most typefaces."""
    return " ".join(skeleton(text).split()).replace("I", "l").casefold()


def strangers(text: str, beside: str = "") -> str:
    """The letters of a text that look like others, each with its own name; empty where there is none.

    ``beside`` is the text that it was taken for: letters that both have are no strangers.

    >>> strangers("\\u0421B-100")
    '`\\u0421` is CYRILLIC CAPITAL LETTER ES, not `C`'
    """
    found = dict.fromkeys(
        letter for letter in unicodedata.normalize("NFC", text)
        if not letter.isascii() and letter not in beside and skeleton(letter) not in (letter, "")
    )  # fmt: skip
    said = [(one, unicodedata.name(one, "a sign without a name"), skeleton(one)) for one in found]
    return "; ".join(f"`{one}` is {name}, not `{like}`" for one, name, like in said)


@cache
def _latin(letter: str) -> str:
    """What the standard's table has for a letter among those of a keyboard; else the letter itself."""
    if unicodedata.category(letter) == "Pd":
        return "-"
    from confusable_homoglyphs.confusables import confusables_data

    alike = [entry["c"] for entry in confusables_data.get(letter, ()) if entry["c"].isascii()]
    if not alike:
        return letter
    same_case = [one for one in alike if one.isupper() == letter.isupper()]
    return str(sorted(same_case or alike)[0])


# Text that stays text: made safe for a spreadsheet cell, in every host alike.

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


# Targets of links on result pages: files beside the book, or cells in it. Nothing else.

_SCHEME = re.compile(r"^[A-Za-z][A-Za-z0-9+.-]*:")
_CELL = re.compile(r"^\$?[A-Z]{1,3}\$?[1-9][0-9]{0,6}(:\$?[A-Z]{1,3}\$?[1-9][0-9]{0,6})?$")
_PLAIN_NAME = re.compile(r"^[A-Za-z_][A-Za-z0-9_]*$")
_LOOKS_LIKE_CELL = re.compile(r"^([A-Za-z]{1,3}[0-9]+|[Rr][0-9]*[Cc]?[0-9]*|[Cc][0-9]*)$")

MAX_TARGET = 2_000
"""Longest target kept as a link; spreadsheet programs stop at 2,079 characters."""


def target_of(target: str) -> str | None:
    """Check a target and spell it so that every program follows it.

    Parameters
    ----------
    target : str
        A path relative to the book with forward slashes, or ``#Page!A1``.

    Returns
    -------
    str or None
        ``#'Page one'!A1`` with the page quoted where needed, or a percent-encoded relative path;
        None where the target is neither, and the text then stands alone.

    Examples
    --------
    >>> target_of("#Cut log!B7")
    "#'Cut log'!B7"
    >>> target_of("layouts/L 1.dxf")
    'layouts/L%201.dxf'
    >>> target_of("https://example.org/") is None
    True
    """
    if target.startswith("#"):
        page, mark, cell = target[1:].rpartition("!")
        if not mark or not page or not _CELL.match(cell):
            return None
        return f"#{quoted_page(page.strip(chr(39)))}!{cell}"
    path = target.replace("\\", "/")
    if not path or path.startswith("/") or _SCHEME.match(path) or len(path) > MAX_TARGET:
        return None
    return quote(path, safe="/._-~()+,=")


def quoted_page(name: str) -> str:
    """Spell a page's name as formulas want it: in quotes unless it is a plain word."""
    if _PLAIN_NAME.match(name) and not _LOOKS_LIKE_CELL.match(name):
        return name
    return "'" + name.replace("'", "''") + "'"
