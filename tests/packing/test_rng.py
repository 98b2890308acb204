import numpy as np

from sheetplan.packing.rng import below, chance_of, normal, shift, swap, uniform


# Source: first outputs of SplitMix64 from state 0, as published with the reference implementation by
# Sebastiano Vigna (public domain); values from memory. Ours gives the upper 53 bits as a share of 1.
def test_known_outputs() -> None:
    chance = np.zeros(1, np.uint64)
    for word in (0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4, 0x06C45D188009454F):
        assert uniform(chance) == (word >> 11) * 2.0**-53


def test_the_same_numbers_give_the_same_chance_and_others_another() -> None:
    assert chance_of(1, 2) == chance_of(1, 2)
    assert len({int(chance_of(a, b)[0]) for a in range(5) for b in range(5)}) == 25


def test_spread() -> None:
    chance = chance_of(3)
    draws = [below(chance, 6) for _ in range(6000)]
    assert min(np.bincount(draws, minlength=6)) > 850
    normals = np.array([normal(chance) for _ in range(6000)])
    assert abs(normals.mean()) < 0.05
    assert abs(normals.std() - 1.0) < 0.05


def test_rows_are_shuffled_in_place() -> None:
    row = np.arange(6)
    swap(row, 1, 4)
    assert row.tolist() == [0, 4, 2, 3, 1, 5]
    shift(row, 0, 3)
    assert row.tolist() == [4, 2, 3, 0, 1, 5]
    shift(row, 3, 0)
    assert row.tolist() == [0, 4, 2, 3, 1, 5]
