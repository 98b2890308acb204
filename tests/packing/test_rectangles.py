import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from sheetplan.model import Corner, Grain, Loop, Outline, Part, Placement, rectangle
from sheetplan.packing import Blank, Item
from sheetplan.packing.rectangles import (
    NM_PER_MM,
    BoxPacker,
    box_of,
    datum_frame,
    free_rectangles,
    maximal_blocks,
    nm_down,
    nm_up,
)
from sheetplan.shapes import Side, box, move, place, to_polygon
from sheetplan.trade.thickness import Thickness

PLATE = Thickness(6.0, "6 mm")
INCH = 25.4


def part(name: str, outline: Outline, **more: object) -> Part:
    return Part(name, "Steel", PLATE, outline, **more)


def test_sixty_fourths_and_hundredths_are_whole() -> None:
    for n in range(1, 6000):
        assert nm_up(n * INCH / 64) == nm_down(n * INCH / 64) == n * 396_875
        assert nm_up(n / 100) == nm_down(n / 100) == n * 10_000


def test_other_lengths_are_rounded_to_the_safe_side() -> None:
    assert nm_up(1 / 3) == 333_334
    assert nm_down(1 / 3) == 333_333


def test_the_box_of_a_slanted_bar_is_that_of_its_best_turn() -> None:
    a, b = 100 / math.sqrt(2), 20 / math.sqrt(2)
    bar = Outline(Loop(((b, 0.0, 0.0), (a + b, a, 0.0), (a, a + b, 0.0), (0.0, b, 0.0))))
    made = box_of(part("Bar", bar, turns=(0.0, 45.0, 135.0)), 5.0)
    assert made is not None
    assert made.base.turn in (45.0, 135.0)
    assert made.mate is not None
    assert sorted((made.length, made.width)) == pytest.approx([25 * NM_PER_MM, 105 * NM_PER_MM], abs=2)


def test_grain_leaves_half_turns_or_nothing() -> None:
    along = box_of(part("P", rectangle(50, 20), grain=Grain.WIDTH), 0.0)
    assert along is not None
    assert along.mate is None
    assert (along.base.turn % 180, along.length) == (90.0, 20 * NM_PER_MM)
    assert box_of(part("P", rectangle(50, 20), turns=(90.0,), grain=Grain.LENGTH), 0.0) is None


@pytest.mark.parametrize("corner", list(Corner))
def test_an_old_cut_takes_its_box_and_the_gap_out(corner: Corner) -> None:
    cut = rectangle(100, 100).outer
    blank = Blank(rectangle(1000, 500).outer, (cut,), 10.0, 5.0, corner)
    packer = BoxPacker([])
    plate = part("Plate", rectangle(885, 480))
    (placed,) = packer.fill(blank, [Item(plate, 3, 1.0)], seed=1)
    around = box(place(plate.outline, placed))
    assert (around.left, around.right) == (pytest.approx(105.0), pytest.approx(990.0))
    assert packer.fill(blank, [Item(part("Wide", rectangle(886, 480)), 3, 1.0)], seed=1) == ()


def test_the_free_metal_of_an_ell_is_two_rectangles() -> None:
    ell = Loop(((0, 0, 0), (1000, 0, 0), (1000, 300, 0), (400, 300, 0), (400, 800, 0), (0, 800, 0)))
    free = free_rectangles(Blank(ell, (), 0.0, 0.0))
    sizes = {(int(x) // NM_PER_MM, int(y) // NM_PER_MM) for x, y in free[:, 2:]}
    assert {(1000, 300), (400, 800)} <= sizes


EDGES = [
    rectangle(400, 300).outer,
    Loop(((0, 0, 0), (400, 0, 0), (400, 120, 0), (200, 300, 0), (0, 300, 0))),
    Loop(((0.0, 150.0, 1.0), (400.0, 150.0, 1.0))),
]
CUTS = [move(rectangle(60, 50).outer, 150, 90), Loop(((200.0, 200.0, 1.0), (260.0, 200.0, 1.0)))]


@given(
    st.sampled_from(EDGES),
    st.lists(st.sampled_from(CUTS), max_size=2, unique=True),
    st.sampled_from(list(Corner)),
    st.integers(0, 10),
    st.integers(0, 12),
    st.integers(0, 2**20),
)
@settings(max_examples=60, deadline=None)
def test_pieces_keep_gap_and_margin_round_any_blank(
    edge: Loop, cuts: list[Loop], corner: Corner, gap: int, margin: int, seed: int
) -> None:
    chance = np.random.default_rng(seed)
    parts = [part(f"P{i}", rectangle(*chance.integers(15, 90, 2).astype(float))) for i in range(3)]
    blank = Blank(edge, tuple(cuts), float(margin), float(gap), corner)
    packer = BoxPacker(parts)
    items = [Item(p, int(chance.integers(1, 6)), 1.0 + i) for i, p in enumerate(parts)]
    first = packer.fill(blank, items, seed=seed, effort=2)
    second = packer.fill(blank, items, seed=seed, effort=1, keep=first)
    by_name = {p.name: p for p in parts}
    placed = [to_polygon(place(by_name[p.part].outline, p), 0.01) for p in (*first, *second)]
    metal = to_polygon(edge, 0.001, Side.OUT)
    for polygon in placed:
        assert metal.buffer(1e-6).contains(polygon)
        assert metal.exterior.distance(polygon) >= margin - 0.02
        assert all(to_polygon(cut, 0.01).distance(polygon) >= gap - 0.02 for cut in cuts)
    tree = shapely.STRtree(placed)
    for i, polygon in enumerate(placed):
        for j in tree.query(polygon.buffer(gap + 1.0)):
            assert j == i or polygon.distance(placed[j]) >= gap - 1e-6
    for item in items:
        assert sum(p.part == item.part.name for p in first) <= item.available


def test_the_same_call_gives_the_same_answer() -> None:
    plate = part("Plate", rectangle(70, 30))
    blank = Blank(rectangle(500, 300).outer, (), 5.0, 3.0)
    answers = [BoxPacker([plate]).fill(blank, [Item(plate, 40, 1.0)], seed=4, effort=5) for _ in range(2)]
    assert answers[0] == answers[1]
    assert len(answers[0]) == 40


def test_more_valuable_pieces_come_first() -> None:
    small, large = part("Small", rectangle(50, 50)), part("Large", rectangle(100, 100))
    blank = Blank(rectangle(100, 100).outer, (), 0.0, 0.0)
    items = [Item(small, 4, 1.0), Item(large, 1, 10.0)]
    assert BoxPacker([]).fill(blank, items, seed=1, effort=10) == (Placement("Large", 0.0, 0.0, 0.0),)
    items = [Item(small, 4, 3.0), Item(large, 1, 10.0)]
    assert len(BoxPacker([]).fill(blank, items, seed=1, effort=10)) == 4


def test_the_datum_frame_is_seen_from_the_corner() -> None:
    frame = datum_frame(Blank(rectangle(100, 60).outer, (), 0.0, 0.0, Corner.UPPER_RIGHT))
    assert frame.span_x(10.0, 30.0) == (70.0, 90.0)
    assert frame.span_y(0.0, 20.0) == (40.0, 60.0)


@settings(max_examples=60, deadline=None)
@given(arrays(np.bool_, st.tuples(st.integers(1, 7), st.integers(1, 7))))
def test_maximal_blocks_are_those_that_no_larger_one_holds(inside: NDArray[np.bool_]) -> None:
    """Plain enumeration of all blocks of true cells."""
    rows, columns = inside.shape
    true = {
        (i0, i1, j0, j1)
        for i0, i1 in itertools.combinations(range(rows + 1), 2)
        for j0, j1 in itertools.combinations(range(columns + 1), 2)
        if inside[i0:i1, j0:j1].all()
    }
    larger = {
        (a, b, c, d)
        for a, b, c, d in true
        if true & {(a - 1, b, c, d), (a, b + 1, c, d), (a, b, c - 1, d), (a, b, c, d + 1)}
    }
    found = [tuple(row) for row in maximal_blocks(inside).tolist()]
    assert len(found) == len(set(found))
    assert set(found) == true - larger
