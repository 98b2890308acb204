"""Classic one-dimensional cutting stock: strips as wide as the sheet, so that only lengths matter."""

import pytest

from sheetplan.model import Order
from sheetplan.planning import never, plan_job, quiet
from tests.planning.books import job, made, part, rule, sheet

# Source: V. Chvatal, "Linear Programming" (1983), chapter 13: raws 100 in wide into finals; the linear
# relaxation costs 452.25 raws, so 453 are needed, and that many do. From memory; 452.25 is checked here.
CHVATAL = (100, {45: 97, 36: 610, 31: 395, 14: 211}, 453)

# Source: the paper mill example of the article "Cutting stock problem" (Wikipedia): parent rolls of 5600 mm
# into thirteen widths, 73 rolls at least. From memory.
PAPER_MILL = (
    5600,
    {1380: 22, 1520: 25, 1560: 12, 1710: 14, 1820: 18, 1880: 18, 1930: 20, 2000: 10, 2050: 12, 2100: 14,
     2140: 16, 2150: 18, 2200: 20},
    73,
)  # fmt: skip


def test_chvatals_relaxation_is_what_it_is_remembered_to_be() -> None:
    _, demand, _ = CHVATAL
    cuts = {(2, 0, 0, 0): 48.5, (0, 2, 0, 2): 105.5, (0, 2, 0, 0): 100.75, (0, 1, 2, 0): 197.5}
    for i, wanted in enumerate(demand.values()):
        assert sum(pattern[i] * times for pattern, times in cuts.items()) == wanted
    assert sum(cuts.values()) == 452.25


@pytest.mark.parametrize(("raw", "demand", "known"), [CHVATAL, PAPER_MILL], ids=["Chvatal", "paper mill"])
def test_the_known_number_of_stock_lengths(raw: int, demand: dict[int, int], known: int) -> None:
    strips = [part(f"{length}", length, 1000.0, turns=(0.0, 180.0)) for length in demand]
    orders = [Order(p.name, p.name, n) for p, n in zip(strips, demand.values(), strict=True)]
    book = job(strips, orders, [sheet("Raw", raw, 1000.0, price=1.0)], cutting=rule(0.0, 0.0))
    plan = plan_job(book, seconds=2.0, seed=1, stop=never, report=quiet, clock=lambda: 0.0)
    (group,) = plan.groups
    assert made(group) == {f"{length}": n for length, n in demand.items()}
    assert sum(layout.repeats for layout in group.layouts) == known
    assert group.bound is not None
    assert group.bound <= known
