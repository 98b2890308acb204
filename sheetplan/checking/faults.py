"""What the check can find wrong with a plan."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class FaultKind(StrEnum):
    """One kind of fault."""

    OVERLAP = "parts overlap"
    GAP = "gap too small"
    OLD_CUT = "too near an old cut"
    MARGIN = "margin too small"
    OUTSIDE = "outside the sheet"
    TURN = "turn not allowed"
    MIRROR = "mirrored without leave"
    GAUGE = "wrong material or thickness"
    UNKNOWN = "unknown part"
    PLACE = "no place"
    EMPTY = "empty layout"
    TAG = "tag used twice"
    DEMAND = "orders and needs differ"
    MISSING = "pieces missing"
    SURPLUS = "pieces too many"
    STOCK = "sheets do not add up"
    REMNANT = "remnant misused"


@dataclass(frozen=True, slots=True)
class Fault:
    """One finding: what kind, on which layout or gauge, and a sentence with the figures.

    ``amount`` is by how much (mm for lengths, pieces or sheets for counts).
    """

    kind: FaultKind
    place: str
    what: str
    amount: float = 0.0

    def __str__(self) -> str:
        return f"{self.place}: {self.what}"
