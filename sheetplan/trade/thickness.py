"""Thickness as planners write it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Thickness:
    """A thickness in mm with the text that it is shown as."""

    mm: float
    text: str
