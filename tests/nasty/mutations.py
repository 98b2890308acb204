"""Damage done to files from a seed: bytes flipped, cut short, sections swapped, counts made huge."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

Damage = Callable[[random.Random, bytes], bytes]

HUGE = (b"999999999", b"-1", b"1e308", b"nan", b"0", b"2147483648", b"1e-320", b"inf", b"32767")


def flip_bytes(dice: random.Random, data: bytes) -> bytes:
    damaged = bytearray(data)
    for _ in range(dice.choice((1, 3, 30))):
        damaged[dice.randrange(len(damaged))] ^= 1 << dice.randrange(8)
    return bytes(damaged)


def cut_short(dice: random.Random, data: bytes) -> bytes:
    return data[: dice.randrange(len(data))]


def beginning_lost(dice: random.Random, data: bytes) -> bytes:
    return data[dice.randrange(len(data)) :]


def stretch_lost(dice: random.Random, data: bytes) -> bytes:
    start = dice.randrange(len(data))
    return data[:start] + data[start + dice.randrange(1, 2000) :]


def stretch_doubled(dice: random.Random, data: bytes) -> bytes:
    start = dice.randrange(len(data))
    stop = start + dice.randrange(1, 2000)
    return data[:stop] + data[start:]


def lines_swapped(dice: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    for _ in range(dice.choice((1, 5, 50))):
        i, j = dice.randrange(len(lines)), dice.randrange(len(lines))
        lines[i], lines[j] = lines[j], lines[i]
    return b"\n".join(lines)


def blocks_swapped(dice: random.Random, data: bytes) -> bytes:
    """Two stretches change places, as sections do in files put together by hand."""
    a, b, c = sorted(dice.randrange(len(data)) for _ in range(3))
    return data[:a] + data[b:c] + data[a:b] + data[c:]


def numbers_made_huge(dice: random.Random, data: bytes) -> bytes:
    numbers = list(re.finditer(rb"-?[0-9]+(?:\.[0-9]+)?", data))
    chosen = dice.sample(numbers, min(len(numbers), dice.choice((1, 2, 8))))
    for number in sorted(chosen, key=lambda found: -found.start()):
        data = data[: number.start()] + dice.choice(HUGE) + data[number.end() :]
    return data


def words_changed(dice: random.Random, data: bytes) -> bytes:
    words = list(re.finditer(rb"[A-Za-z]{2,}", data))
    chosen = dice.sample(words, min(len(words), dice.choice((1, 3))))
    for word in sorted(chosen, key=lambda found: -found.start()):
        data = data[: word.start()] + dice.choice(words)[0] + data[word.end() :]
    return data


def noise_put_in(dice: random.Random, data: bytes) -> bytes:
    at = dice.randrange(len(data))
    return data[:at] + dice.randbytes(dice.randrange(1, 300)) + data[at:]


DAMAGES: tuple[Damage, ...] = (
    flip_bytes, cut_short, beginning_lost, stretch_lost, stretch_doubled, lines_swapped, blocks_swapped,
    numbers_made_huge, words_changed, noise_put_in,
)  # fmt: skip


def mutated(seed: int, samples: list[bytes]) -> bytes:
    """One sample, damaged once or several times."""
    dice = random.Random(seed)
    data = dice.choice(samples)
    for _ in range(dice.choice((1, 1, 2, 4))):
        data = dice.choice(DAMAGES)(dice, data) or b"0"
    return data
