"""How much work a time allowed buys, and how it is shared out among gauges.

A run is a row of rounds of counted work, the same for every run: more seconds only add rounds at the end, so
that more time never gives a dearer plan with the same seed. Rounds make up epochs, each about as long as all
before it; the box search goes through its whole course in each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

LOOKS_PER_SECOND = 80_000_000
"""Looks that a second of the time allowed buys on each core.

An office machine does about this much in a second, so that as a rule the work is done when the time is up
and the same seed gives the same plan; the clock only ends what would take too long.
"""

SEARCHING = 0.84
"""Share of a plan's seconds that goes into the search, first plans included; the rest is for finishing."""

FIRST_EPOCHS = (0.74, 2.96)
"""Lengths of the first two epochs in seconds of search; each later one is as long as all before it."""

FIRST_ROUNDS, ROUND_SECONDS = (2, 4), 1.85
"""Rounds of each of the first epochs, and how long later ones are; after each, work is shared out anew.

Cores wait for the last gauge of a round, so that rounds are longer than a step that cannot be cut short.
"""

FULL_ENOUGH = 1.02
"""A round that ends beyond the seconds by no more than this factor is still begun."""

BEGINNING = 0.25
"""Share of the first epoch that goes into the first plans."""

SPARE = 0.02
"""Share of the time that is kept for the last step under way, which does not hear the clock."""

LEAST_SHARE = 0.02
"""Every gauge that is not finished gets at least this share of a round."""

UNKNOWN_GAP = 0.05
"""What a gauge without a bound is taken to be able to gain."""

UNTRIED_GAP = 0.15
"""What a gauge whose shapes waste their boxes is taken to be able to gain before they are tried."""


@dataclass(frozen=True, slots=True)
class Round:
    """A round of so many looks on each core, from one share of its epoch to another."""

    looks: int
    start: float
    end: float


def looks_for(seconds: float) -> int:
    """Work that a time allowed buys on one core."""
    return max(1, int(seconds * LOOKS_PER_SECOND))


def rounds_for(seconds: float) -> Iterator[Round]:
    """The rounds of a search of so many seconds: the first ones of a row that has no end.

    >>> [len(list(rounds_for(t))) for t in (0.0, 0.74, 3.7, 7.4, 14.8)]
    [1, 2, 6, 8, 12]
    """
    spent, epoch = 0.0, 0
    while True:
        length = FIRST_EPOCHS[epoch] if epoch < len(FIRST_EPOCHS) else spent
        count = FIRST_ROUNDS[epoch] if epoch < len(FIRST_EPOCHS) else round(length / ROUND_SECONDS)
        each = length / count
        for number in range(count):
            begun = spent + number * each
            if begun > 0.0 and begun + each > seconds * FULL_ENOUGH:
                return
            yield Round(looks_for(each), number / count, (number + 1) / count)
        spent += length
        epoch += 1


def shares(gains: Sequence[float], most: float = 1.0) -> tuple[float, ...]:
    """How a round is divided: by what each gauge can gain, with a least share for each that can gain at all.

    ``most`` is what one gauge can use: it is worked on by one core at a time. The rest goes to the others.

    >>> shares([30.0, 10.0, 0.0])
    (0.75, 0.25, 0.0)
    >>> shares([30.0, 10.0, 0.0], most=0.5)
    (0.5, 0.5, 0.0)
    """
    total = sum(gains)
    if total <= 0.0:
        return tuple(0.0 for _ in gains)
    floored = [max(LEAST_SHARE, gain / total) if gain > 0.0 else 0.0 for gain in gains]
    found = [share / sum(floored) for share in floored]
    for _ in gains:
        over = sum(max(0.0, share - most) for share in found)
        below = sum(share for share in found if share < most)
        if over <= SAME_SHARE or below <= 0.0:
            break
        found = [most if share >= most else min(most, share * (1.0 + over / below)) for share in found]
    return tuple(min(most, share) for share in found)


SAME_SHARE = 1e-9
"""Shares of a round differ by less than this."""
