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


def test_a_remnant_with_an_odd_edge_promises_nothing() -> None:
    edge = Loop(((0, 0, 0), (1000, 0, 0), (800, 600, 0), (0, 600, 0)))
    assert left([], Remnant("R-2", "mild steel", QUARTER, edge)) is None


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


@settings(max_examples=60)
@given(st.sets(st.tuples(st.integers(0, 9), st.integers(0, 5)), max_size=14))
def test_against_every_strip_of_a_lattice(cells: set[tuple[int, int]]) -> None:
    """Parts on a lattice of cells: the free strips can be counted by hand."""
    edge = rectangle(10 * CELL, 6 * CELL).outer
    sheet = Remnant("R-3", "mild steel", QUARTER, edge)
    least = Settings(least_remnant_length=90.0, least_remnant_width=90.0)
    found = left([Placement("cell", i * CELL, j * CELL) for i, j in sorted(cells)], sheet, least, LATTICE)
    sizes = [
        extent * other * CELL
        for axis, count, other in ((0, 10, 6), (1, 6, 10))
        for extent in strips({cell[axis] for cell in cells}, count)
        if extent >= 90.0
    ]
    if not sizes:
        assert found is None
        return
    assert found is not None
    assert found.length * found.width == pytest.approx(max(sizes))
    for i, j in cells:
        clear_x = i * CELL >= found.right + RULE.gap or (i + 1) * CELL <= found.left - RULE.gap
        clear_y = j * CELL >= found.top + RULE.gap or (j + 1) * CELL <= found.bottom - RULE.gap
        assert clear_x or clear_y


def strips(taken: set[int], count: int) -> list[float]:
    """Widths of the free runs of cells, a gap taken off on each side where a part stands."""
    widths = []
    for first in range(count):
        for last in range(first + 1, count + 1):
            if not taken & set(range(first, last)):
                sides = (first - 1 in taken) + (last in taken)
                widths.append((last - first) * CELL - sides * RULE.gap)
    return widths
