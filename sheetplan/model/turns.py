"""Which turns a part may take on a sheet, once grain has had its say."""

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
