import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sheetplan.packing.exact_fit import FITS, FITS_NOT, UNKNOWN, fits_exactly

Boxes = list[tuple[int, int, bool]]


def asked(boxes: Boxes, length: int, width: int, trials: int = 10**7) -> int:
    lengths, widths, turnable = zip(*boxes, strict=True)
    return fits_exactly(
        np.array(lengths, np.int64), np.array(widths, np.int64), np.array(turnable), length, width, trials
    )


def fits_by_brute_force(boxes: Boxes, length: int, width: int) -> bool:
    """Every box at every whole place, one after the other."""

    def rest_fits(at: int, placed: list[tuple[int, int, int, int]]) -> bool:
        if at == len(boxes):
            return True
        a, b, turnable = boxes[at]
        for along, across in {(a, b), (b, a)} if turnable else {(a, b)}:
            for x in range(length - along + 1):
                for y in range(width - across + 1):
                    free = all(
                        x >= px + pa or px >= x + along or y >= py + pb or py >= y + across
                        for px, py, pa, pb in placed
                    )
                    if free and rest_fits(at + 1, [*placed, (x, y, along, across)]):
                        return True
        return False

    return rest_fits(0, [])


@given(
    st.lists(st.tuples(st.integers(1, 5), st.integers(1, 5), st.booleans()), min_size=1, max_size=5),
    st.integers(3, 6), st.integers(3, 6),
)  # fmt: skip
@settings(max_examples=300, deadline=None)
def test_the_answer_is_that_of_brute_force(boxes: Boxes, length: int, width: int) -> None:
    if sum(a * b for a, b, _ in boxes) <= length * width:
        answer = FITS if fits_by_brute_force(boxes, length, width) else FITS_NOT
        assert asked(boxes, length, width) == answer


def test_a_pinwheel_is_found() -> None:
    """Four boxes round a fifth: no straight cut parts them, so sorting by rows or columns fails."""
    pinwheel: Boxes = [(3, 2, False), (2, 3, False), (3, 2, False), (2, 3, False), (1, 1, False)]
    assert asked(pinwheel, 5, 5) == FITS
    assert asked([*pinwheel[:4], (2, 1, False)], 5, 5) == FITS_NOT


# Source: Z. Moron, "O rozkladach prostokatow na kwadraty", Przeglad Matematyczno-Fizyczny 3 (1925): the
# 33 x 32 rectangle of nine different squares; sides from memory, their area is checked.
def test_the_squared_rectangle_of_nine_squares_fits() -> None:
    squares = (18, 15, 14, 10, 9, 8, 7, 4, 1)
    assert sum(s * s for s in squares) == 33 * 32
    assert asked([(s, s, False) for s in squares], 33, 32) == FITS


@pytest.mark.parametrize("trials", [1, 10])
def test_a_question_that_takes_too_long_stays_open(trials: int) -> None:
    assert asked([(3, 2, True)] * 4, 5, 5, trials) == UNKNOWN
