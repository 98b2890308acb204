"""Classic one-dimensional cutting stock: strips as wide as the sheet, so that only lengths matter.

That no fewer stock lengths do is proven here too: give each length a worth such that no stock length
can hold more than so much of it; then the worth of all that is asked says how many are needed.
"""

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from sheetplan.model import Order
from sheetplan.planning import RunOptions, plan_job
from tests.planning.books import job, made, part, rule, sheet


@dataclass(frozen=True)
class Published:
    """An example: stock length, lengths asked, stock lengths needed; a worth of lengths that proves it."""

    raw: int
    demand: dict[int, int]
    known: int
    worth: Callable[[int], int]
    most: int
    """Worth that one stock length can hold."""


# Source: V. Chvatal, "Linear Programming" (1983), chapter 13: raws 100 in wide into finals. Data and the
# relaxation's 452.25 raws as in Chiwei Yan, "Cutting Stock Problem Using Julia/JuMP" (CC BY-SA 4.0),
# https://github.com/JuliaOpt/juliaopt-notebooks, notebooks/Chiwei Yan - Cutting Stock.ipynb.
# The worth is the relaxation's dual, in quarters.
CHVATAL = Published(
    100, {45: 97, 36: 610, 31: 395, 14: 211}, 453, lambda length: {45: 2, 36: 2, 31: 1, 14: 0}[length], 4
)

# Source: JuMP documentation, tutorial "Column generation", here in tenths, its five rows of width 75 in one:
# https://jump.dev/JuMP.jl/stable/tutorials/algorithms/cutting_stock_column_generation/
# It reaches 334 rolls, leaving open whether fewer do; they do not: 334 pieces are wider than half a roll.
JUMP = Published(
    1000,
    {750: 189, 538: 33, 530: 36, 510: 41, 502: 35, 322: 37, 308: 44, 298: 49, 201: 37, 162: 36, 145: 42,
     110: 33, 86: 47, 82: 35, 66: 49, 51: 42},
    334, lambda length: int(2 * length > 1000), 1,
)  # fmt: skip

# Source: the paper mill example of https://en.wikipedia.org/wiki/Cutting_stock_problem (data also in
# https://graphsearch.epfl.ch/en/concept/826868): "The optimal answer requires 73 master rolls".
# The worth is the bare length: 407160 mm of 5600 are 72.7.
PAPER_MILL = Published(
    5600,
    {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
     2140: 16, 2150: 18, 2200: 20},
    73, lambda length: length, 5600,
)  # fmt: skip

examples = pytest.mark.parametrize(
    "example", [CHVATAL, JUMP, PAPER_MILL], ids=["Chvatal", "JuMP", "paper mill"]
)


def test_chvatals_relaxation_costs_what_is_published() -> None:
    """The patterns that the notebook prints: 45, 36, 31 and 14 in a raw, and how many raws of it."""
    cuts = {(0, 2, 0, 2): 206.25, (2, 0, 0, 0): 48.5, (0, 1, 2, 0): 197.5}
    for i, wanted in enumerate(CHVATAL.demand.values()):
        assert sum(pattern[i] * times for pattern, times in cuts.items()) >= wanted
    worth = sum(CHVATAL.worth(length) * n for length, n in CHVATAL.demand.items())
    assert worth / CHVATAL.most == pytest.approx(452.25)
    assert sum(cuts.values()) == pytest.approx(452.25)


@examples
def test_fewer_stock_lengths_cannot_do(example: Published) -> None:
    best = [0] * (example.raw + 1)
    for room in range(1, example.raw + 1):
        best[room] = max(
            (example.worth(length) + best[room - length] for length in example.demand if length <= room),
            default=0,
        )
    assert best[example.raw] <= example.most
    worth = sum(example.worth(length) * n for length, n in example.demand.items())
    assert -(-worth // example.most) == example.known


@examples
def test_the_known_number_of_stock_lengths(example: Published) -> None:
    strips = [part(f"{length}", length, 1000.0, turns=(0.0, 180.0)) for length in example.demand]
    orders = [Order(p.name, p.name, n) for p, n in zip(strips, example.demand.values(), strict=True)]
    book = job(strips, orders, [sheet("Raw", example.raw, 1000.0, price=1.0)], cutting=rule(0.0, 0.0))
    plan = plan_job(book, RunOptions(2.0, clock=lambda: 0.0))
    (group,) = plan.groups
    assert made(group) == {f"{length}": n for length, n in example.demand.items()}
    assert sum(layout.repeats for layout in group.layouts) == example.known
    assert group.bound is not None
    assert example.known - 1 < group.bound <= example.known, "the plan knows itself that fewer cannot do"
