"""What a run says about itself while it works."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Stop = Callable[[], bool]
"""Asked between steps: True ends the run with the best plan so far."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far one group (or, with an empty label, the whole job) has come; ``done`` runs from 0 to 1."""

    group: str
    done: float
    sentence: str


Report = Callable[[Progress], None]
"""Takes each piece of progress; it may print, draw or ignore it."""


def never() -> bool:
    """A `Stop` that never ends the run."""
    return False


def quiet(progress: Progress) -> None:
    """A `Report` that ignores what it hears."""
