"""How a part may lie on a sheet: the corner measured from, and the turns once grain has had its say."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sheetplan.model.job import Part

SAME_TURN_DEGREES = 1e-6
"""Turns closer than this are one turn: far below what shows on the longest sheet."""


class Grain(StrEnum):
    """Which way of the part must run with the sheet's length (its rolling direction)."""

    NONE = "any"
    LENGTH = "length"
    WIDTH = "width"


class Corner(StrEnum):
    """The corner of the sheet that measurements start from, seen with the sheet's length left to right."""

    LOWER_LEFT = "lower left"
    UPPER_LEFT = "upper left"
    LOWER_RIGHT = "lower right"
    UPPER_RIGHT = "upper right"

    @property
    def is_right(self) -> bool:
        """Whether the corner is at the far end of the length."""
        return self in (Corner.LOWER_RIGHT, Corner.UPPER_RIGHT)

    @property
    def is_upper(self) -> bool:
        """Whether the corner is at the far end of the width."""
        return self in (Corner.UPPER_LEFT, Corner.UPPER_RIGHT)


def allowed_turns(part: Part) -> tuple[float, ...]:
    """Turns in degrees that keep the part's grain along the sheet's length.

    >>> from sheetplan.model.turns import along
    >>> along((0.0, 90.0, 180.0, 270.0), Grain.WIDTH)
    (90.0, 270.0)
    """
    return along(part.turns, part.grain)


def along(turns: tuple[float, ...], grain: Grain) -> tuple[float, ...]:
    """The turns that remain when ``grain`` must lie along the sheet's length."""
    if grain is Grain.NONE:
        return turns
    want = 0.0 if grain is Grain.LENGTH else 90.0
    return tuple(turn for turn in turns if same_turn((turn - want) % 180.0, 0.0, 180.0))


def same_turn(first: float, second: float, period: float = 360.0) -> bool:
    """Whether two turns are the same within tolerance, going round after ``period`` degrees."""
    difference = (first - second) % period
    return min(difference, period - difference) <= SAME_TURN_DEGREES
