"""Colours of pictures and printed pages: light fills, dark edges, the same kit always the same fill.

Fills are chosen so that they stay apart for people with each kind of colour blindness and dark text
on them stays readable; both are worked out in the tests. No picture says anything by colour alone:
every part also carries its number or a key, so that a grey print loses nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sheetplan.model import Job

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


@dataclass(frozen=True, slots=True)
class PartColours:
    """Fill of each part, and the fills of what they are for, in the order of the book."""

    of_part: Mapping[str, str]
    """What each part is for: a kit's name, `SEVERAL_KITS` or `LOOSE`."""
    fills: Mapping[str, str]

    def fill(self, part: str) -> str:
        """The fill of a part."""
        return self.fills[self.of_part.get(part, LOOSE)]


def part_colours(job: Job, cut_for: Mapping[str, Collection[str]] | None = None) -> PartColours:
    """Colours of a job: a kit keeps its colour on every sheet and every gauge.

    Ordered kits take the fills first, in the order of the book; with more kits than fills the
    fills come round again. ``cut_for`` are the kits that each part is cut for in a plan; without it a
    part counts for every kit that it belongs to.
    """
    ordered = [order.item for order in job.orders if order.item in job.kits]
    kits = dict.fromkeys((*ordered, *job.kits))
    fills = {kit: KIT_FILLS[place % len(KIT_FILLS)] for place, kit in enumerate(kits)}
    if cut_for is None:
        cut_for = {part: [kit.name for kit in job.kits.values() if part in kit.parts] for part in job.parts}
    of_part = {part: _named(kits) for part, kits in cut_for.items()}
    return PartColours(of_part, {**fills, SEVERAL_KITS: SEVERAL_KITS_FILL, LOOSE: LOOSE_FILL})


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
