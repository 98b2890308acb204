from __future__ import annotations

from sheetplan.planning.box_problem import BoxProblem, make_problem
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.search.first_plan import rectpack_cuts, size_orders, variants
from sheetplan.planning.solution import made, solution
from tests.planning.books import remnant, seeded_book


def problem() -> BoxProblem:
    book = seeded_book(1, types=6, pieces=25)
    return make_problem(make_groups(book)[0][0], book.parts, book.settings)


def test_every_variant_is_counted() -> None:
    complete = 0
    for variant in variants(problem()):
        cuts = rectpack_cuts(problem(), variant)
        if cuts is not None:
            complete += 1
            assert (made(problem(), cuts) == problem().wanted).all()
            assert solution(problem(), cuts).missing == 0.0
    assert complete > 100


def test_boxes_lie_apart_within_their_sheet() -> None:
    asked = problem()
    cuts = next(cuts for v in variants(asked) if (cuts := rectpack_cuts(asked, v)) is not None)
    for cut in cuts:
        x, y, length, width = asked.choices[cut.supply].free[0]
        placed = []
        for t, left, low, turned in cut.boxes.tolist():
            along, across = int(asked.types.lengths[t]), int(asked.types.widths[t])
            if turned:
                along, across = across, along
            assert x <= left
            assert y <= low
            assert left + along <= x + length
            assert low + across <= y + width
            for px, py, pa, pb in placed:
                assert left >= px + pa or px >= left + along or low >= py + pb or py >= low + across
            placed.append((left, low, along, across))


def test_orders_of_sizes_leave_out_what_is_not_one_rectangle() -> None:
    book = seeded_book(1, types=3, pieces=5)
    odd = remnant("R-1", 1000.0, 500.0, cuts=(remnant("", 200.0, 200.0).edge,), value=1.0)
    group = make_groups(book)[0][0]
    asked = make_problem(type(group)(group.label, group.material, group.thickness, group.rule, group.needs,
                                     group.stock, (odd,)), book.parts, book.settings)  # fmt: skip
    assert len(asked.choices[0].free) > 1
    assert all(0 not in order for order in size_orders(asked))
