"""A small generator of random numbers for kernels: its state is passed in, so that a seed repeats exactly.

Source: splitmix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled

Chance = NDArray[np.uint64]
"""The state: one word, changed by every draw."""

GOLDEN = np.uint64(0x9E3779B97F4A7C15)
MIX_A = np.uint64(0xBF58476D1CE4E5B9)
MIX_B = np.uint64(0x94D049BB133111EB)


def new_chance(seed: int) -> Chance:
    """A state from a seed."""
    return np.array([seed & 0xFFFFFFFFFFFFFFFF], dtype=np.uint64)


@compiled
def draw(chance: Chance) -> float:
    """A number from 0 up to, not including, 1."""
    chance[0] += GOLDEN
    word = chance[0]
    word = (word ^ (word >> np.uint64(30))) * MIX_A
    word = (word ^ (word >> np.uint64(27))) * MIX_B
    word = word ^ (word >> np.uint64(31))
    return float(word >> np.uint64(11)) * (1.0 / 9007199254740992.0)


@compiled
def below(chance: Chance, limit: int) -> int:
    """A whole number from 0 up to, not including, ``limit``."""
    return int(draw(chance) * limit)


@compiled
def shuffle(chance: Chance, row: NDArray[np.int64]) -> None:
    """Put a row into a random order."""
    for k in range(row.shape[0] - 1, 0, -1):
        other = below(chance, k + 1)
        row[k], row[other] = row[other], row[k]
