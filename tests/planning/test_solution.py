from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model import Order
from sheetplan.planning.box_problem import BoxProblem, Cut, make_problem
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.solution import made, trim
from tests.planning.books import job, part, sheet

TYPES = 3


def problem(wanted: list[int]) -> BoxProblem:
    parts = [part(f"P{i}", 100 + i, 50) for i in range(TYPES)]
    orders = [Order(f"O{i}", p.name, max(1, n)) for i, (p, n) in enumerate(zip(parts, wanted, strict=True))]
    book = job(parts, orders, [sheet("S", 3000, 1500, price=1.0)])
    return make_problem(make_groups(book)[0][0], book.parts, book.settings)


counts = st.lists(st.integers(0, 4), min_size=TYPES, max_size=TYPES).filter(any)


@settings(deadline=None)  # kernels may be compiled in the first call
@given(st.lists(st.tuples(counts, st.integers(1, 5)), min_size=1, max_size=5), st.data())
def test_what_remains_is_what_was_asked_for(
    layouts: list[tuple[list[int], int]], data: st.DataObject
) -> None:
    cuts = []
    for held, repeats in layouts:
        rows = [(t, 200 * k, 100 * t, 0) for t, n in enumerate(held) for k in range(n)]
        cuts.append(Cut(0, np.array(rows, np.int64), repeats))
    total = sum(np.array(held) * repeats for held, repeats in layouts)
    wanted = [data.draw(st.integers(min(1, int(n)), max(1, int(n)))) for n in total]
    asked = problem(wanted)
    kept = trim(asked, cuts)
    assert (made(asked, kept) == np.minimum(total, asked.wanted)).all()
    assert sum(cut.repeats for cut in kept) <= sum(cut.repeats for cut in cuts)
