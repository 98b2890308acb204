"""How large a drawing may be, and how long reading it may take.

The limits are generous for parts that are cut from sheet (a busy drawing holds some thousand
pieces) and tight enough that a hostile file cannot stall a run.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


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
