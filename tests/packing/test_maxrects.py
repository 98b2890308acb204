import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.packing.maxrects import RULES, Recipe, Types, fill_sheet, least_side, new_desk
from tests.packing import plain_kernel
from tests.packing.plain_kernel import Box

box = st.builds(Box, st.integers(2, 40), st.integers(2, 40), st.booleans())


@st.composite
def tasks(draw: st.DrawFn):
    boxes = draw(st.lists(box, min_size=1, max_size=6))
    available = [draw(st.integers(0, 6)) for _ in boxes]
    if not any(available):
        available[0] = 1
    caps = [draw(st.integers(0, n)) for n in available]
    blank = [(3, 2, draw(st.integers(10, 100)), draw(st.integers(10, 80)))]
    if draw(st.booleans()):
        blank.append((3, 2, blank[0][2] // 2, blank[0][3] + 20))
    order = draw(st.permutations(range(len(boxes))))
    return boxes, available, order, caps, draw(st.integers(0, RULES - 1)), blank


def run(task) -> tuple[list[tuple[int, ...]], list[int]]:
    boxes, available, order, caps, rule, blank = task
    types = Types(
        np.array([b.length for b in boxes], np.int64), np.array([b.width for b in boxes], np.int64),
        np.array([b.turnable for b in boxes]),
    )  # fmt: skip
    pieces = np.array(available, np.int64)
    desk = new_desk(len(boxes), int(pieces.sum()))
    recipe = Recipe(np.array(order, np.int64), np.array(caps, np.int64), rule, least_side(types, pieces))
    placed = fill_sheet(np.array(blank, np.int64), types, pieces, recipe, desk)
    return [tuple(row) for row in desk.boxes[:placed].tolist()], desk.counts.tolist()


@given(tasks())
@settings(max_examples=300, deadline=None)
def test_compiled_and_plain_kernel_place_the_same_boxes(task) -> None:
    boxes, available, order, caps, rule, blank = task
    least = min(min(b.length, b.width) for b, n in zip(boxes, available, strict=True) if n)
    plain = plain_kernel.fill(blank, boxes, available, list(order), caps, rule, least)
    assert run(task)[0] == plain


@given(tasks())
@settings(max_examples=200, deadline=None)
def test_boxes_lie_apart_on_the_blank_and_no_piece_is_made_up(task) -> None:
    boxes, available, _, _, _, blank = task
    rows, counts = run(task)
    assert all(count <= most for count, most in zip(counts, available, strict=True))
    placed = []
    for t, x, y, turned in rows:
        length, width = (boxes[t].width, boxes[t].length) if turned else (boxes[t].length, boxes[t].width)
        assert not turned or boxes[t].turnable
        assert any(plain_kernel.inside((x, y, length, width), free) for free in blank)
        for px, py, pl, pw in placed:
            assert x >= px + pl or px >= x + length or y >= py + pw or py >= y + width
        placed.append((x, y, length, width))


@given(tasks())
@settings(max_examples=100, deadline=None)
def test_a_type_left_over_really_fits_nowhere(task) -> None:
    """What is left and fits into some free rectangle would be a loss that the counts hide."""
    boxes, available, _, _, _, blank = task
    rows, counts = run(task)
    least = min(min(b.length, b.width) for b, n in zip(boxes, available, strict=True) if n)
    free = list(blank)
    for t, x, y, turned in rows:
        length, width = (boxes[t].width, boxes[t].length) if turned else (boxes[t].length, boxes[t].width)
        free = plain_kernel.cut(free, x, y, length, width, least)
    for made, count, most in zip(boxes, counts, available, strict=True):
        assert count == most or plain_kernel.best_spot(free, made, 0) is None


def test_sheets_of_any_size_do_not_overflow() -> None:
    """A sheet of 20 m by 10 m in nanometres has an area beyond 64 bits."""
    types = Types(np.array([2 * 10**10], np.int64), np.array([10**10], np.int64), np.array([True]))
    one, desk = np.ones(1, np.int64), new_desk(1, 1)
    recipe = Recipe(np.zeros(1, np.int64), one, 1, 10**10)
    assert fill_sheet(np.array([[0, 0, 2 * 10**10, 10**10]], np.int64), types, one, recipe, desk) == 1
