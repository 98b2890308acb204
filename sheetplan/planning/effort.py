"""How much work a time allowed buys, and how it is shared out among gauges."""

from __future__ import annotations

from collections.abc import Sequence

LOOKS_PER_SECOND = 80_000_000
"""Looks that a second of the time allowed buys.

A slow office machine does more than this in a second, so that as a rule the work is done before
the time is up and the same seed gives the same plan; the clock only ends what would take too long.
"""

ROUNDS = 10
"""Rounds in which a run is shared out: after each, gauges that can still gain get more."""

BEGINNING = 0.1
"""Share of the work that goes into the first plans."""

FINISHING = 0.16
"""Share of the work that goes into fewer layouts at the same cost and into choices."""

SPARE = 0.02
"""Share of the time that is kept for the last step under way, which does not hear the clock."""

LEAST_SHARE = 0.02
"""Every gauge that is not finished gets at least this share of a round."""

UNKNOWN_GAP = 0.05
"""What a gauge without a bound is taken to be able to gain."""

UNTRIED_GAP = 0.15
"""What a gauge whose shapes waste their boxes is taken to be able to gain before they are tried."""


def looks_for(seconds: float) -> int:
    """Work that a time allowed buys."""
    return max(1, int(seconds * LOOKS_PER_SECOND))


def shares(gains: Sequence[float]) -> tuple[float, ...]:
    """How a round is divided: by what each gauge can gain, with a least share for each that can gain at all.

    >>> shares([30.0, 10.0, 0.0])
    (0.75, 0.25, 0.0)
    """
    total = sum(gains)
    if total <= 0.0:
        return tuple(0.0 for _ in gains)
    floored = [max(LEAST_SHARE, gain / total) if gain > 0.0 else 0.0 for gain in gains]
    return tuple(share / sum(floored) for share in floored)
