from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.model import Layout, Loop, Placement, Remnant, Settings, rectangle
from sheetplan.money.remnant_left import placed_boxes, remnant_left
from sheetplan.shapes import Box, box, place
from tests.money.bookmaking import INCH, PARTS, QUARTER, RULE, SHEET, circle, grid, parts

LEAST = Settings(least_remnant_length=300.0, least_remnant_width=300.0)


def left(placements: list[Placement], sheet=SHEET, least: Settings = LEAST, book=PARTS) -> Box | None:
    return remnant_left(Layout("L1", sheet, tuple(placements)), book, RULE, least)


def test_the_far_end_of_a_sheet() -> None:
    found = left(grid("plate", 3, 5, (310, 210)))
    assert found == Box(pytest.approx(10 + 3 * 310 - 10 + 10), 0.0, 96 * INCH, 48 * INCH)


def test_the_upper_side_when_it_is_the_larger() -> None:
    found = left(grid("plate", 7, 1, (310, 210)))
    assert found == Box(0.0, pytest.approx(10 + 200 + 10), 96 * INCH, 48 * INCH)


def test_too_small_is_not_kept() -> None:
    assert left(grid("plate", 7, 5, (310, 210))) is None
    narrow = Settings(least_remnant_length=500.0, least_remnant_width=100.0)
    assert left(grid("plate", 7, 5, (310, 210)), least=narrow) is not None


def test_an_empty_sheet_is_left_whole() -> None:
    assert left([]) == Box(0.0, 0.0, 96 * INCH, 48 * INCH)


def test_old_cuts_of_a_remnant_are_kept_clear() -> None:
    edge = rectangle(1000.0, 600.0).outer
    remnant = Remnant("R-1", "mild steel", QUARTER, edge, cuts=(circle(900.0, 300.0, 50.0),))
    found = left([Placement("washer", 10.0, 10.0)], remnant)
    assert found == Box(100.0, 0.0, 840.0, 600.0)


def test_a_remnant_with_an_odd_edge_promises_what_lies_on_its_metal() -> None:
    edge = Loop(((0, 0, 0), (1000, 0, 0), (800, 600, 0), (0, 600, 0)))
    found = left([], Remnant("R-2", "mild steel", QUARTER, edge))
    assert found is not None
    assert (found.left, found.bottom) == (0.0, 0.0)
    # The slanted side runs from (1000, 0) to (800, 600).
    assert found.right <= 1000.0 - found.top / 3.0 + 0.02
    assert found.length * found.width >= 800.0 * 600.0 - 1.0


def test_turned_and_mirrored_boxes() -> None:
    lying = Placement("bar", 700.0, 100.0, 90.0)
    standing = Placement("bar", 700.0, 100.0, 30.0, mirrored=True)
    layout = Layout("L1", SHEET, (lying, standing, lying))
    for found, placement in zip(placed_boxes(layout, PARTS), layout.placements, strict=True):
        assert found == pytest.approx(box(place(PARTS["bar"].outline, placement)))


def test_long_parts_hide_short_ones() -> None:
    bars = [Placement("bar", 10.0, y) for y in (10.0, 600.0, 1100.0)]
    found = left([*bars, Placement("washer", 100.0, 100.0)])
    assert found == Box(pytest.approx(620.0), 0.0, 96 * INCH, 48 * INCH)


def test_gaps_count_when_strips_are_compared() -> None:
    """Between two parts a strip loses the gap twice, at the sheet's end once: the end one is wider."""
    sheet = Remnant("R-4", "mild steel", QUARTER, rectangle(1205.0, 100.0).outer)
    least = Settings(least_remnant_length=90.0, least_remnant_width=90.0)
    book = parts(cell=rectangle(100.0, 100.0))
    found = left([Placement("cell", 500.0, 0.0), Placement("cell", 1105.0, 0.0)], sheet, least, book)
    assert found == Box(0.0, 0.0, 490.0, 100.0)


CELL = 100
LATTICE = parts(cell=rectangle(CELL, CELL))


@settings(max_examples=40, deadline=None)
@given(st.sets(st.tuples(st.integers(0, 9), st.integers(0, 5)), max_size=5))
def test_against_every_rectangle_of_a_lattice(cells: set[tuple[int, int]]) -> None:
    """The largest rectangle has its sides on the sheet's edges or a gap off a part."""
    edge = rectangle(10 * CELL, 6 * CELL).outer
    sheet = Remnant("R-3", "mild steel", QUARTER, edge)
    least = Settings(least_remnant_length=90.0, least_remnant_width=90.0)
    found = left([Placement("cell", i * CELL, j * CELL) for i, j in sorted(cells)], sheet, least, LATTICE)
    grown = [
        Box(i * CELL - RULE.gap, j * CELL - RULE.gap, (i + 1) * CELL + RULE.gap, (j + 1) * CELL + RULE.gap)
        for i, j in cells
    ]
    xs = sides([side for b in grown for side in (b.left, b.right)], 10 * CELL)
    ys = sides([side for b in grown for side in (b.bottom, b.top)], 6 * CELL)
    clear = [
        Box(x, y, x2, y2)
        for x, x2 in combinations(xs, 2)
        for y, y2 in combinations(ys, 2)
        if not any(b.left < x2 and x < b.right and b.bottom < y2 and y < b.top for b in grown)
    ]
    largest = max((b.length * b.width for b in clear), default=0.0)
    useful = [b for b in clear if b.length * b.width == largest and min(b.length, b.width) >= 90.0]
    assert (found is not None) == bool(useful)
    if found is not None:
        assert found.length * found.width == pytest.approx(largest)
        assert not any(
            b.left < found.right and found.left < b.right and b.bottom < found.top and found.bottom < b.top
            for b in grown
        )


def sides(of_parts: list[float], whole: float) -> list[float]:
    return sorted({0.0, whole, *(side for side in of_parts if 0.0 < side < whole)})
