"""What file, folder and layer names say of a part: its thickness, its metal, how many of it.

How people write it in names is common practice, no source: `3_millimeter`, `1p5mm`, `6MM_ENDCAPS`,
`10ga`, `.1345`, `t=6`, `qty 4`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sheetplan.trade.thickness import series_of_word
from sheetplan.trade.units import MM_PER_INCH, Units

_NUMBER = r"([0-9]+(?:[.,p][0-9]+)?|[.,][0-9]+)"
_INCHES = r"([0-9]+/[0-9]+|[0-9]*[.][0-9]+|[0-9]+)"
_BEFORE = r"(?<![0-9.,x×*])(?<![0-9][p])"
_AFTER = r"(?![a-z0-9])(?! ?[x×*] ?[0-9])"
_PATTERNS = (
    (re.compile(_BEFORE + _NUMBER + r"[ _-]?(?:mm|millimeters?|millimetres?)" + _AFTER), "mm"),
    (re.compile(r"(?<![0-9.,])([0-9]{1,2})[ _-]?(?:ga|gauge|gage)" + _AFTER), "ga"),
    (re.compile(r"(?<![a-z0-9])(?:ga|gauge|gage)[ _.-]?([0-9]{1,2})(?![0-9])"), "ga"),
    (re.compile(_BEFORE + _INCHES + r"[ _-]?(?:inch(?:es)?|in|\")" + _AFTER), "in"),
    (re.compile(r"(?<![a-z0-9])(?:t|thk|thickness)[ _-]?=[ _-]?" + _NUMBER + r"(?![a-z0-9.])"), ""),
    (re.compile(r"(?<![0-9a-z])([.][0-9]{3,4})(?![0-9a-z])"), "in"),
)
"""The number, and its unit; none where the name says a bare number."""

_SIZE = re.compile(r"[0-9] ?[x×*] ?$")
"""Before a number that is one of several sizes."""

_COUNT = re.compile(
    r"(?<![a-z0-9])(?:qty|quantity|pcs|pieces)[ _=-]{0,2}([0-9]{1,4})(?![0-9])"
    r"|(?<![0-9.])([0-9]{1,4})[ _-]?(?:off|pcs|pieces)(?![a-z])"
)

THINNEST_MM, THICKEST_MM = 0.3, 60.0
"""Other lengths in names are sizes of the part. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Said:
    """What one name says: thicknesses as a cell has them, words for metals, counts; each once."""

    thicknesses: tuple[str, ...]
    counts: tuple[int, ...]


def said_in(name: str, drawn_in: Units) -> Said:
    """What a name says; a bare number of ``t=`` is in the drawing's unit.

    >>> said_in("1p5mm_covers_qty4", Units.MM)
    Said(thicknesses=('1.5 mm',), counts=(4,))
    >>> said_in("plate 200x100mm 10ga", Units.MM).thicknesses
    ('10 ga',)
    """
    text = unicodedata.normalize("NFKC", name).lower()
    found: dict[str, float] = {}
    for pattern, unit in _PATTERNS:
        for match in pattern.finditer(text):
            if _SIZE.search(text[: match.start()]):
                continue
            number = match[1].replace(",", ".").replace("p", ".")
            thickness = f"{'0' if number.startswith('.') else ''}{number} {unit or drawn_in.value}"
            mm = _mm(thickness)
            if mm is None or THINNEST_MM <= mm <= THICKEST_MM:
                found.setdefault(thickness, 0.0)
    counts = tuple(dict.fromkeys(int(match[1] or match[2]) for match in _COUNT.finditer(text)))
    return Said(tuple(found), tuple(count for count in counts if count))


def _mm(thickness: str) -> float | None:
    """Millimetres of a thickness; None of a gauge, which is a different one for each metal."""
    number, _, unit = thickness.partition(" ")
    if unit == "ga":
        return None
    over, _, under = number.partition("/")
    return float(over) / float(under or 1) * (MM_PER_INCH if unit == "in" else 1.0)


def metal_in(name: str, metals: Mapping[str, str]) -> tuple[str, ...]:
    """The metals of a book, by name and gauge series, that a name speaks of.

    A metal's own name goes before words such as galv or stainless, which count where one metal of the
    book alone can be meant.
    """
    words = _words(name)
    named = [metal for metal in metals if _runs(_words(metal), words)]
    if named:
        longer = list(map(_words, named))
        return tuple(m for m in named if not any(_words(m) != o and _runs(_words(m), o) for o in longer))
    found: list[str] = []
    for word in words:
        series = series_of_word(word)
        may = [metal for metal, own in metals.items() if own in series]
        if len(may) == 1:
            found.append(may[0])
    return tuple(dict.fromkeys(found))


def _words(text: str) -> list[str]:
    return re.findall(r"[a-z]+|[0-9]+", unicodedata.normalize("NFKD", text).lower())


def _runs(wanted: list[str], words: list[str]) -> bool:
    """Whether words stand in a row among others."""
    return any(words[i : i + len(wanted)] == wanted for i in range(len(words) - len(wanted) + 1))


def agreed(said: Iterable[tuple[str, ...]]) -> tuple[str, bool]:
    """What the nearest name that says anything says, and whether no other contradicts it.

    Names come the nearest first: the layer, the file, its folder, the folder above it.
    """
    speaking = [one for one in said if one]
    if not speaking or len(speaking[0]) > 1:
        return "", not speaking
    return speaking[0][0], all(one == speaking[0] for one in speaking[1:])
