"""Random numbers inside compiled code: the state of a generator is passed in, so that a seed repeats exactly.

Source: Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014 (SplitMix64;
constants from memory of the published algorithm, checked in the tests against known outputs).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sheetplan.packing.kernel_compiled import compiled
from sheetplan.packing.maxrects import Ints

Chance = NDArray[np.uint64]
"""State of a generator, shape (1,)."""

GOLDEN = np.uint64(0x9E3779B97F4A7C15)
FIRST_MIX = np.uint64(0xBF58476D1CE4E5B9)
SECOND_MIX = np.uint64(0x94D049BB133111EB)
SHIFT_30, SHIFT_27, SHIFT_31, SHIFT_11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)
UNIT = 2.0**-53


def chance_of(*numbers: int) -> Chance:
    """A generator seeded by some numbers, each of which changes it."""
    mixed = np.random.SeedSequence([number % 2**63 for number in numbers])
    return mixed.generate_state(1, np.uint64).astype(np.uint64)


@compiled
def uniform(chance: Chance) -> float:
    """Uniform from 0 up to and without 1."""
    chance[0] += GOLDEN
    z = chance[0]
    z = (z ^ (z >> SHIFT_30)) * FIRST_MIX
    z = (z ^ (z >> SHIFT_27)) * SECOND_MIX
    z = z ^ (z >> SHIFT_31)
    return float(z >> SHIFT_11) * UNIT


@compiled
def below(chance: Chance, limit: int) -> int:
    """A whole number from 0 up to and without ``limit``."""
    return int(uniform(chance) * limit)


@compiled
def normal(chance: Chance) -> float:
    """Standard normal (Box and Muller 1958)."""
    return math.sqrt(-2.0 * math.log(1.0 - uniform(chance))) * math.cos(2.0 * math.pi * uniform(chance))


@compiled
def swap(row: Ints, i: int, j: int) -> None:
    """Exchange two entries."""
    row[i], row[j] = row[j], row[i]


@compiled
def shift(row: Ints, i: int, j: int) -> None:
    """Take entry ``i`` out and put it in at ``j``."""
    moved = row[i]
    step = 1 if i < j else -1
    for k in range(i, j, step):
        row[k] = row[k + step]
    row[j] = moved


def new_chance(seed: int) -> Chance:
    """A state from a seed."""
    return np.array([seed & 0xFFFFFFFFFFFFFFFF], dtype=np.uint64)


@compiled
def shuffle(chance: Chance, row: NDArray[np.int64]) -> None:
    """Put a row into a random order."""
    for k in range(row.shape[0] - 1, 0, -1):
        other = below(chance, k + 1)
        row[k], row[other] = row[other], row[k]
