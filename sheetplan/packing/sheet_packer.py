"""What planning asks of anything that fills one sheet.

Terms
-----
blank
    The metal to fill: a sheet's edge and what has been cut from it before, as loops in the sheet
    frame (length along x, width along y).
item
    One part type that may be placed, how many there are, and what a placed piece is worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from sheetplan.model.job import Part, Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.plan import Placement
from sheetplan.model.turns import Corner


@dataclass(frozen=True, slots=True)
class Blank:
    """Metal to fill, in mm, with the rules that hold on it.

    ``margin`` is the clear metal to the edge, ``gap`` the clear metal between finished parts and
    to old cuts, to which ``extra_gap`` is added; ``datum`` is the corner that parts are pushed to.
    """

    edge: Loop
    cuts: tuple[Loop, ...]
    margin: float
    gap: float
    datum: Corner = Corner.LOWER_LEFT
    extra_gap: float = 0.0


@dataclass(frozen=True, slots=True)
class Metal:
    """A blank of which a strip of ``reserved`` mm across its far end, seen from the datum, stays free."""

    blank: Blank
    reserved: float = 0.0


@dataclass(frozen=True, slots=True)
class Item:
    """Up to ``available`` pieces of a part; ``value`` is what one placed piece is worth to the caller.

    A packer seeks the greatest total value; values only matter relative to each other.
    """

    part: Part
    available: int
    value: float


class SheetPacker(Protocol):
    """Fills one sheet.

    A packer may remember what it prepared for a part, a gap or a blank between calls, but the
    placements depend on nothing except the arguments: the same call gives the same answer.
    """

    def fill(
        self,
        blank: Blank,
        items: Sequence[Item],
        *,
        seed: int,
        effort: int = 1,
        keep: Sequence[Placement] = (),
    ) -> tuple[Placement, ...]:
        """Place pieces on a blank.

        Parameters
        ----------
        blank
            The metal and its rules.
        items
            What may be placed; parts have different names.
        seed
            Any choice left to chance comes from it alone.
        effort
            How much work to spend, in passes: 1 is a single quick construction, 100 some hundred
            constructions or a search of about that length. Never a clock.
        keep
            Placements that already lie on the blank and stay where they are.

        Returns
        -------
        tuple of Placement
            The new placements in the sheet frame, without ``keep``; empty when nothing fits.
            They hold gap, margin, turns and counts on the true outlines.
        """
        ...


def blank_of(sheet: SheetSize | Remnant, margin: float, gap: float, datum: Corner) -> Blank:
    """The blank that a full sheet or a remnant offers.

    A remnant is measured from its own datum corner, whatever the book's is.
    """
    if isinstance(sheet, Remnant):
        return Blank(sheet.edge, sheet.cuts, margin, gap, sheet.datum, sheet.extra_gap)
    return Blank(rectangle(sheet.length, sheet.width).outer, (), margin, gap, datum)
