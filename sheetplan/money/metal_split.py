"""Where the metal of a sheet goes: the one definition of yield and waste, used everywhere.

Weights are by size, thickness and the real density of the metal. A gauge sheet weighs about 2.4 per
cent less than the statutory weight by which it may be sold (see `trade.units.weight_kg`).

Terms (all weights in kg)
-------------------------
taken
    The sheet as it comes to the table: a full sheet, or what a remnant still has.
parts
    Good finished parts, holes taken off.
bad
    Parts cut and then rejected. A plan has none; the cut log knows them.
kerf
    Metal burnt or blown away: cut length x kerf x thickness x density, outer loops and holes.
kept
    All metal that goes back to the rack: the rectangle of a remnant or, where what is left is kept as it is,
    that with its old skeleton.
along
    What of it hangs on the rectangle, less what hung on the sheet before: skeleton, though it lies in the
    rack yet. It is waste once, when it is made, and not again when the remnant is used up.
skeleton
    All the rest: the web between the parts, edges, and what drops out of holes.
used up
    Taken less kept: what the rack lacks afterwards.
yield
    Parts over metal used up and what goes along. Waste is the rest of it: the two add up to 1.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import fsum


@dataclass(frozen=True, slots=True)
class MetalSplit:
    """Weights in kg; see the terms above."""

    taken: float = 0.0
    parts: float = 0.0
    kerf: float = 0.0
    kept: float = 0.0
    bad: float = 0.0
    along: float = 0.0

    @property
    def used_up(self) -> float:
        """Metal that does not return to the rack."""
        return self.taken - self.kept

    @property
    def useful(self) -> float:
        """Of what is kept, all but the skeleton that a cut makes of it."""
        return self.kept - self.along

    @property
    def skeleton(self) -> float:
        """Solid scrap that was never a part."""
        return self.taken - self.parts - self.kerf - self.kept - self.bad

    @property
    def solid_scrap(self) -> float:
        """What the scrap bin's scales should show: skeleton and bad parts."""
        return self.skeleton + self.bad

    @property
    def waste(self) -> float:
        """Skeleton, what of it goes along, kerf and bad parts."""
        return self.used_up + self.along - self.parts

    @property
    def yield_share(self) -> float:
        """Parts over metal used up and what goes along, 0 to 1; 0 where nothing is used up."""
        return _share(self.parts, self.used_up + self.along)

    @property
    def waste_share(self) -> float:
        """Waste over metal used up and what goes along, 0 to 1."""
        return _share(self.waste, self.used_up + self.along)

    def times(self, repeats: float) -> MetalSplit:
        """The same cut so many times."""
        return MetalSplit(
            taken=self.taken * repeats,
            parts=self.parts * repeats,
            kerf=self.kerf * repeats,
            kept=self.kept * repeats,
            bad=self.bad * repeats,
            along=self.along * repeats,
        )

    def rejecting(self, bad: float) -> MetalSplit:
        """The same with so many kg of the parts found bad."""
        return replace(self, parts=self.parts - bad, bad=self.bad + bad)


def total_split(splits: Iterable[MetalSplit]) -> MetalSplit:
    """The sum of many."""
    listed = list(splits)
    return MetalSplit(
        fsum(split.taken for split in listed),
        fsum(split.parts for split in listed),
        fsum(split.kerf for split in listed),
        fsum(split.kept for split in listed),
        fsum(split.bad for split in listed),
        fsum(split.along for split in listed),
    )


def _share(weight: float, whole: float) -> float:
    return weight / whole if whole > 0 else 0.0
