"""What a drawing's reader has to say about it, and the limits that it keeps while reading."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from sheetplan.trade.sentences import number

# How large a drawing may be, and how long reading it may take.
#
# The limits are generous for parts that are cut from sheet (a busy drawing holds some thousand
# pieces) and tight enough that a hostile file cannot stall a run.


@dataclass(frozen=True, slots=True)
class Limits:
    """Most bytes, pieces after blocks are unpacked, blocks within blocks, and seconds for one file."""

    size: int = 12_000_000
    pieces: int = 100_000
    depth: int = 16
    seconds: float = 30.0


class Refused(Exception):
    """A drawing that is not read, with the reason as a sentence for the planner."""


Clock = Callable[[], float]


class Allowance:
    """What is left of the limits while one drawing is read."""

    def __init__(self, limits: Limits, clock: Clock) -> None:
        self.limits, self._clock = limits, clock
        self._end = clock() + limits.seconds

    def check_time(self) -> None:
        """Stop reading when the time is used up."""
        if self._clock() > self._end:
            raise Refused(f"reading took longer than the {self.limits.seconds:g} s allowed for a drawing")

    def check_pieces(self, count: int) -> None:
        """Stop reading when there is too much in it."""
        self.check_time()
        if count > self.limits.pieces:
            raise Refused(f"it holds more than {self.limits.pieces:,} lines and arcs, the most that is read")


# What a drawing's reader has to say about it, with coordinates as the drawing's author sees them.


class Says(StrEnum):
    """How much a finding matters."""

    TOLD = "note"
    REPAIRED = "repaired"
    ASKED = "question"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed. ``at`` is where, in the drawing's own coordinates and units.

    It is told in other units where ``scale`` turns the drawing's into those; ``unit`` names them then.
    """

    says: Says
    what: str
    at: tuple[float, float] | None = None
    scale: float = 1.0
    unit: str = ""

    def __post_init__(self) -> None:
        # What is quoted of a spoilt file may hold signs that a terminal obeys.
        if not self.what.isprintable():
            object.__setattr__(self, "what", "".join(c if c.isprintable() else "?" for c in self.what))

    def __str__(self) -> str:
        """What and where, before what can be done about it."""
        if self.at is None:
            return self.what
        what, mark, remedy = self.what.partition("; ")
        x, y = (plain(value * self.scale) for value in self.at)
        return f"{what} at ({x}, {y}){self.unit and ' '}{self.unit}{mark}{remedy}"


def plain(value: float) -> str:
    """A coordinate to four decimals, without idle zeros.

    >>> plain(12.50001), plain(-0.00001)
    ('12.5', '0')
    """
    return number(value, 4)
