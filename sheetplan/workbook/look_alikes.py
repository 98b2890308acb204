"""Letters that only look like others, and those that cannot be seen: names are compared without them.

Source of what looks alike: Unicode Technical Standard 39, its file of confusable characters, as the package
`confusable-homoglyphs` carries it. Only Latin letters, figures and the signs of a keyboard are looked for
behind a letter of another script: names of a shop are written in one script, and a single letter of another
one among them came by a keyboard or a copied text.
"""

from __future__ import annotations

import unicodedata
from functools import cache

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
