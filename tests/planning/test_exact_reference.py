"""Small orders against an independent method that proves the least cost (see `exact`)."""

import random

from sheetplan.model import Grain, Job, Order, Part
from sheetplan.planning import RunOptions, plan_job
from tests.planning.books import faults, job, made, part, rule, sheet
from tests.planning.exact import least_cost

BOOKS = 30
EQUAL_AT_LEAST = 28


def small_book(seed: int) -> Job:
    """Four to nine pieces of a few types, some with grain, on one to three sheet sizes."""
    chance = random.Random(seed)
    pieces = chance.randint(4, 9)
    grains = (Grain.NONE, Grain.NONE, Grain.LENGTH)
    names = [f"P{i}" for i in range(chance.randint(2, pieces))]
    types = [part(n, chance.randint(10, 70) * 10, chance.randint(10, 45) * 10, grain=chance.choice(grains))
             for n in names]  # fmt: skip
    stock = [
        sheet("A", 1000, 500, price=chance.randint(80, 120)),
        sheet("B", 800, 800, price=chance.randint(100, 150)),
        sheet("C", 1250, 750, price=chance.randint(150, 220)),
    ]
    cutting = rule(10.0, 10.0) if chance.random() < 0.7 else rule(0.0, 0.0)
    return job(types, _orders(types, pieces, chance), stock[: chance.randint(1, 3)], cutting=cutting)


def _orders(types: list[Part], pieces: int, chance: random.Random) -> list[Order]:
    counts = [1] * len(types)
    for _ in range(pieces - len(types)):
        counts[chance.randrange(len(types))] += 1
    return [Order(f"O{i}", p.name, n) for i, (p, n) in enumerate(zip(types, counts, strict=True))]


def test_small_orders_cost_what_is_proven_to_be_least() -> None:
    """Every book is proven: `least_cost` raises where it could not settle one."""
    dearer = {}
    for seed in range(BOOKS):
        book = small_book(seed)
        (group,) = plan_job(book, RunOptions(0.3, clock=lambda: 0.0)).groups
        least = least_cost(book)
        assert made(group) == {order.item: order.quantity for order in book.orders}
        assert [fault for layout in group.layouts for fault in faults(layout, book)] == []
        assert group.cost >= least, f"book {seed}: cheaper than the proven least"
        assert group.bound is not None
        assert group.bound <= least, f"book {seed}: a bound above the proven least"
        if group.cost > least:
            dearer[seed] = (group.cost, least)
    equal = BOOKS - len(dearer)
    assert equal >= EQUAL_AT_LEAST, f"{equal} of {BOOKS} at the least cost; dearer (cost, least): {dearer}"
