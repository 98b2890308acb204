"""The one typeface of pictures and printed pages: how wide its words are, and where a line may be broken."""

from __future__ import annotations

import itertools
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from PIL import ImageFont


# The one typeface of pictures and printed pages, and how wide its words are.
#
# DejaVu Sans (free to embed) comes with matplotlib, so that a picture looks the same on every
# machine and holds Latin, Greek and Cyrillic names.
#
# Choices: A letter that it lacks, such as one of Chinese, Japanese or Korean, is set in the first of
# `STAND_INS` that this computer has and that holds it, and so embedded. No package of such a typeface on
# PyPI is well kept. What none of them holds is a box on paper; `unprintable` names it beforehand.

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
    "seguisym.ttf", "NotoSansCJK-Regular.ttc", "NotoSansKR-Regular.otf", "NotoEmoji-Regular.ttf",
)  # fmt: skip
"""Files of faces with many letters, as Linux distributions, Windows and macOS have them; those with TrueType
outlines first, as a document takes them as they are."""

TRUETYPE, CURVES, COLLECTION = (b"\x00\x01\x00\x00", b"true"), b"OTTO", b"ttcf"
"""First bytes of a face's file, with outlines of the one kind or the other. Source: OpenType specification,
font file."""

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
    known = (there[name] for name in STAND_INS if name in there)
    return tuple(path for path in known if _outlines_of(path) in (*TRUETYPE, CURVES))


@cache
def is_truetype(path: str) -> bool:
    """Whether the first face of a file has TrueType outlines, which alone go into a document as they are."""
    return _outlines_of(path) in TRUETYPE


def _outlines_of(path: str) -> bytes:
    """The mark of the first face of a file; empty where it cannot be read."""
    try:
        with Path(path).open("rb") as file:
            head = file.read(16)
            if head[:4] == COLLECTION:
                file.seek(int.from_bytes(head[12:16], "big"))
                head = file.read(4)
    except OSError:
        return b""
    return head[:4]


@cache
def _holds(path: str, letter: str) -> bool:
    return bool(_face(path).get_char_index(ord(letter)))


@cache
def _face(path: str) -> Any:
    from matplotlib.ft2font import FT2Font

    return FT2Font(path)


@cache
def font_path(*, bold: bool = False) -> str:
    """Where the typeface's file is."""
    import matplotlib

    return str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / (BOLD if bold else PLAIN))


def text_width(text: str, size: float, *, bold: bool = False, narrow: bool = False) -> float:
    """Width of a line of text in points at a type size in points.

    >>> text_width("CB-101", 20.0) > text_width("CB-101", 10.0) > 0.0
    True
    """
    return _em_width(text, bold=bold) * size * (NARROW if narrow else 1.0)


def shorten(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """The text, or as much of it as fits ``room`` points with an ellipsis."""
    if text_width(text, size, bold=bold) <= room:
        return text
    kept = text
    while kept and text_width(kept + "…", size, bold=bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + "…"


@cache
def _em_width(text: str, *, bold: bool) -> float:
    # Letter by letter: printed pages set no kerning, so widths must not reckon with it.
    return sum(_advance(letter, bold=bold) for letter in text) / UNITS_TO_EM


@cache
def _advance(letter: str, *, bold: bool) -> float:
    return float(_measure(stand_in(letter) or font_path(bold=bold)).getlength(letter))


@cache
def _measure(path: str) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    return ImageFont.truetype(path, UNITS_TO_EM, layout_engine=ImageFont.Layout.BASIC)


# Where a line of printed text may be broken, and how wide the columns of a list are for that.
#
# Dates, sizes, counts with their unit and file names are never broken. Other text breaks at its spaces; a
# long name breaks after a sign between its words, and anywhere only where even that leaves it too wide.

NO_BREAK = "\u00a0"
"""A space at which no line ends; it is printed as a plain one."""

_NUMBER = r"\d[\d.,/]*"
_TOGETHER = re.compile(
    r"(?<=\d) x (?=\S)|(?<=\d) (?=(?:in|mm|ga|lb|kg|ft|m|min|h|%|pcs|kits?|pieces?)(?!\w))|(?<=\d h) (?=\d)"
)
"""The spaces inside of a size, and between a figure and its unit or what it counts."""

_SIZE = rf"{_NUMBER}(?:{NO_BREAK}x{NO_BREAK}{_NUMBER})?(?:{NO_BREAK}\S+)?"
_FIRM = re.compile(rf"[(]?(?:\d{{4}}-\d\d-\d\d|{_SIZE}|\S+\.[a-z]{{3,4}})[),.;:]*")
"""A date, a size, a figure or a file name."""

_SIGNS = re.compile(r"(?<=[-_/.,+])(?=\w)")

LETTERS_TOGETHER = 8
"""A name without signs is broken, if it must be, into pieces of so many letters at least."""

KEPT = 8192
"""Words whose pieces are remembered."""


def together(said: str) -> str:
    """The text with its dates, sizes and figures held together.

    >>> together("2 of 48 x 96 in, 12 min").replace(NO_BREAK, "~")
    '2 of 48~x~96~in, 12~min'
    """
    return _TOGETHER.sub(lambda found: found[0].replace(" ", NO_BREAK), said)


def wrapped(said: str, room: float, width: Callable[[str], float]) -> list[str]:
    """The lines of a text that is set in ``room`` points; ``width`` says how wide a text is."""
    lines: list[str] = []
    for line in together(said).split("\n"):
        lines.append("")
        for word in line.split(" "):
            longer = f"{lines[-1]} {word}" if lines[-1] else word
            if width(longer) <= room:
                lines[-1] = longer
                continue
            if lines[-1]:
                lines.append("")
            lines[-1:] = list(_cut(word, room, width))
    return lines


def _cut(word: str, room: float, width: Callable[[str], float]) -> Iterator[str]:
    """A word, in pieces where it is wider than the room and may be broken."""
    if width(word) <= room or _FIRM.fullmatch(word):
        yield word
        return
    held = ""
    for piece in _SIGNS.split(word):
        if held and width(held + piece) > room:
            yield held
            held = ""
        held += piece
        while width(held) > room and len(held) > 1:
            fits = max(1, sum(width(held[: end + 1]) <= room for end in range(len(held))))
            yield held[:fits]
            held = held[fits:]
    yield held


class Holds(Enum):
    """What a column of a list holds."""

    TEXT = auto()
    """Words and names."""
    WHOLE = auto()
    """Names, dates and sizes whose words are never broken."""
    NUMBER = auto()
    """The same, ending at the column's right edge."""


Heads = tuple[tuple[str, Holds], ...]
"""Columns of a printed list: heading, and what they hold."""

SIZES = (8.5, 8.0, 7.5)
"""Points: sizes of type that are tried for a list as long as its words can stay whole."""

TIGHT_SIZES = (7.5, 7.0, 6.5, 6.0, 5.5)
"""Points: sizes for a list whose long names must be broken."""

OFF = 3.0
"""Points between text and the edge of its column."""

OFF_NUMBERS = 8.0
"""Points that text keeps to the edge towards a column of numbers, which end there."""


@dataclass(frozen=True, slots=True)
class Columns:
    """How a list is set: size of type, of its heads, and width of each column with its margins, points."""

    size: float
    head_size: float
    widths: tuple[float, ...]
    rooms: tuple[float, ...]
    """Width of the text alone."""


def columns_for(
    heads: Heads, rows: Sequence[Sequence[str]], width: float, head_size: float, *, closing: bool = False
) -> Columns:
    """The largest type, and widths by what the columns hold, at which no word is broken that must not be.

    With ``closing`` the last row is set bold.
    """
    last = len(rows) if closing else 0
    columns = [
        list(dict.fromkeys((row[place], number == last) for number, row in enumerate(rows, start=1)))
        for place in range(len(heads))
    ]
    offs = [OFF + (OFF_NUMBERS if _beside_numbers(heads, place) else OFF) for place in range(len(heads))]
    room = width - sum(offs)
    for size, broken in (*((size, False) for size in SIZES), *((size, True) for size in TIGHT_SIZES)):
        least = [
            max(
                _least_of_head(head, head_size),
                _least(cells, size, broken=broken and holds is Holds.TEXT),
            ) + HAIR
            for (head, holds), cells in zip(heads, columns, strict=True)
        ]
        if sum(least) <= room:
            break
    wanted = [
        max(one, _wide(head, head_size, bold=True) + HAIR, *(
            _wide(line, size, bold=bold) + HAIR for cell, bold in cells for line in together(cell).split("\n")
        ))
        for one, (head, _), cells in zip(least, heads, columns, strict=True)
    ]  # fmt: skip
    rooms = _shared(least, wanted, room)
    return Columns(size, head_size, tuple(a + b for a, b in zip(rooms, offs, strict=True)), tuple(rooms))


def _beside_numbers(heads: Heads, place: int) -> bool:
    """Whether a column of text stands right of one of numbers."""
    return place > 0 and heads[place - 1][1] is Holds.NUMBER and heads[place][1] is not Holds.NUMBER


def _wide(said: str, size: float, *, bold: bool) -> float:
    return text_width(said, size, bold=bold, narrow=True)


def _least_of_head(head: str, size: float) -> float:
    return max(_wide(word, size, bold=True) for word in together(head).split(" "))


def _least(cells: Sequence[tuple[str, bool]], size: float, *, broken: bool) -> float:
    """The widest word of a column, or with ``broken`` the widest piece of one."""
    pieces = [
        (piece, bold)
        for cell, bold in cells
        for word in re.split(r"[ \n]", together(cell))
        for piece in (_pieces(word) if broken else (word,))
    ]
    return max((_wide(piece, size, bold=bold) for piece, bold in pieces), default=0.0)


HAIR = 0.01
"""Points that sums of widths may stray."""


@lru_cache(maxsize=KEPT)
def _pieces(word: str) -> tuple[str, ...]:
    """What a word may be broken into."""
    if _FIRM.fullmatch(word):
        return (word,)
    return tuple(
        piece[at : at + LETTERS_TOGETHER]
        for piece in _SIGNS.split(word)
        for at in range(0, len(piece), LETTERS_TOGETHER)
    )


def _shared(least: list[float], wanted: list[float], room: float) -> list[float]:
    """The room in shares: no column has less than its least, and none runs over lines where all need not."""
    over = room - sum(least)
    lacking = [want - have for want, have in zip(wanted, least, strict=True)]
    if over <= 0.0 or not least:
        return least
    if over < sum(lacking):
        most = _most_each(sorted(lacking), over)
        return [have + min(lack, most) for have, lack in zip(least, lacking, strict=True)]
    return [want * room / sum(wanted) for want in wanted]


def _most_each(lacking: Sequence[float], over: float) -> float:
    """What each may have at most of what is over, those that lack little first; ``lacking`` in order.

    >>> _most_each([1.0, 2.0, 9.0], 8.0)
    5.0
    """
    for place, lack in enumerate(lacking):
        share = over / (len(lacking) - place)
        if lack > share:
            return share
        over -= lack
    return 0.0
