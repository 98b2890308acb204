"""A drawing as values, replayed by one painter for each kind of file, and the colours that all of them
share.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from sheetplan.model import Job

# A drawing as values, replayed by one painter for each kind of file.
#
# Terms
# drawing
#     A list of marks on a white rectangle, in points (1/72 in), x to the right and y up, (0, 0) at
#     the lower left corner.
# area
#     Closed rings: the first is the outline, the others are holes in it.
# words
#     One line of text, upright or turned a quarter to read upwards; its place is the middle of
#     its left edge, its centre, or the middle of its right edge.

Point = tuple[float, float]
Ring = tuple[Point, ...]


class Hold(StrEnum):
    """Which end of the words stands at their point, along the way they read."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True)
class Area:
    """Filled rings with an edge; either may be left out. Colours as ``#RRGGBB``, widths in points."""

    rings: tuple[Ring, ...]
    fill: str | None = None
    edge: str | None = None
    edge_width: float = 0.6
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """An open chain of points."""

    points: Ring
    ink: str
    width: float = 0.6


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text in points; ``upward`` turns it a quarter counter-clockwise."""

    text: str
    x: float
    y: float
    size: float
    ink: str
    hold: Hold = Hold.MIDDLE
    upward: bool = False
    bold: bool = False


Mark = Area | Line | Words


@dataclass(frozen=True, slots=True)
class Drawing:
    """Marks in the order in which they are painted, and what they show in one sentence."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    alt: str


def box(left: float, bottom: float, right: float, top: float) -> Ring:
    """The corners of an upright rectangle."""
    return ((left, bottom), (right, bottom), (right, top), (left, top))


# Colours of pictures and printed pages: light fills, dark edges, the same kit always the same fill.
#
# Fills are chosen so that they stay apart for people with each kind of colour blindness and dark text on
# them stays readable; both are worked out in the tests. No picture says anything by colour alone: every part
# also carries its number or a key, and every kit has a letter, so that a grey print loses nothing.

INK = "#1E2A32"
QUIET_INK = "#51606B"
EDGE = "#26333B"
SHEET = "#FFFFFF"
SHEET_EDGE = "#1E2A32"
OLD_CUT = "#B9C0C4"
OLD_CUT_EDGE = "#6B7780"
KEEP_LINE = "#7C8B93"
DATUM = "#8A1F4B"

KIT_FILLS = (
    "#77D9FA",
    "#FFE08C",
    "#E590C7",
    "#83ACF3",
    "#9DC78C",
    "#C4A958",
    "#BEFDC6",
    "#B5B0A7",
)
"""Found by a search that kept the least CIE 1976 colour difference large under every simulation."""

SEVERAL_KITS_FILL = "#DADFE3"
LOOSE_FILL = "#FCFCFA"

SEVERAL_KITS = "several kits"
LOOSE = "single parts"


SEVERAL_KITS_LETTER = "+"
"""Stands for a letter on parts of several kits."""


@dataclass(frozen=True, slots=True)
class PartColours:
    """Fill and letter of each part, and those of what they are for, in the order of the book."""

    of_part: Mapping[str, str]
    """What each part is for: a kit's name, `SEVERAL_KITS` or `LOOSE`."""
    fills: Mapping[str, str]
    letters: Mapping[str, str]
    """None for single parts."""

    def fill(self, part: str) -> str:
        """The fill of a part."""
        return self.fills[self.of_part.get(part, LOOSE)]

    def letter(self, part: str) -> str:
        """The letter of a part; empty for single parts."""
        return self.letters.get(self.of_part.get(part, LOOSE), "")

    def lettered(self, name: str) -> str:
        """A kit's name behind its letter, as it stands in lists and legends; other names as they are."""
        return f"{self.letters[name]} {name}" if name in self.letters else name


def part_colours(job: Job, cut_for: Mapping[str, Collection[str]] | None = None) -> PartColours:
    """Colours and letters of a job: a kit keeps its own on every sheet, every gauge and every list.

    Ordered kits come first, in the order of the book, whatever was cut of them; with more kits than fills
    the fills come round again, letters do not. ``cut_for`` are the kits that each part is cut for in a plan;
    without it a part counts for every kit that it belongs to.
    """
    orders = [one.order for one in job.progress] or job.orders
    kits = dict.fromkeys((*(order.item for order in orders if order.item in job.kits), *job.kits))
    fills = {kit: KIT_FILLS[place % len(KIT_FILLS)] for place, kit in enumerate(kits)}
    letters = {kit: letter_of(place) for place, kit in enumerate(kits)}
    if cut_for is None:
        cut_for = {part: [kit.name for kit in job.kits.values() if part in kit.parts] for part in job.parts}
    of_part = {part: _named(kits) for part, kits in cut_for.items()}
    return PartColours(
        of_part, {**fills, SEVERAL_KITS: SEVERAL_KITS_FILL, LOOSE: LOOSE_FILL},
        {**letters, SEVERAL_KITS: SEVERAL_KITS_LETTER},
    )  # fmt: skip


ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def letter_of(place: int) -> str:
    """The letter of the kit at a place in the order, from 0: after Z come AA, AB and so on.

    >>> letter_of(0), letter_of(25), letter_of(26), letter_of(27), letter_of(52)
    ('A', 'Z', 'AA', 'AB', 'BA')
    """
    before, last = divmod(place, len(ALPHABET))
    return (letter_of(before - 1) if before else "") + ALPHABET[last]


def _named(kits: Collection[str]) -> str:
    if len(kits) > 1:
        return SEVERAL_KITS
    return next(iter(kits), LOOSE)


@dataclass(frozen=True, slots=True)
class ChartFill:
    """How a series of a chart is filled: plain, or as lines of the colour on white."""

    colour: str
    hatched: bool = False


CHART_FILLS = (ChartFill("#4A5F6B"), ChartFill("#4A5F6B", hatched=True), ChartFill("#CBD5DA"))
"""What is made, what is wasted or worked, and a third: no fill of a kit, and apart in grey too."""

LIGHTEST, DARKEST = 225, 60
"""Greys between which the series of a chart of many lie, the last the darkest."""


def chart_fills(count: int) -> tuple[ChartFill, ...]:
    """The fills of so many series; more than a few are steps of grey, in the order of time."""
    if count <= len(CHART_FILLS):
        return CHART_FILLS[:count]
    greys = [round(LIGHTEST + (DARKEST - LIGHTEST) * place / (count - 1)) for place in range(count)]
    return tuple(ChartFill(f"#{grey:02X}{grey:02X}{grey:02X}") for grey in greys)
