"""What is drawn twice is there once afterwards, and what is drawn once stays as it is."""

import math

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sheetplan.drawings.reading.findings import Allowance, Limits, Refused
from sheetplan.drawings.reading.network import DOUBLE_MM, tidy
from sheetplan.shapes.arcs import Piece


def allowance(seconds: float = 1.0, step: float = 0.0) -> Allowance:
    """A clock that goes on by so much whenever it is asked."""
    times = iter(range(1_000_000_000))
    return Allowance(Limits(seconds=seconds), lambda: next(times) * step)


def line(a: float, b: float, y: float = 0.0) -> Piece:
    return Piece(a, y, b, y, 0.0)


def arc(start: float, sweep: float, radius: float = 50.0) -> Piece:
    """An arc about (0, 0), counter-clockwise, angles in radians."""
    a, b = start, start + sweep
    ends = radius * math.cos(a), radius * math.sin(a), radius * math.cos(b), radius * math.sin(b)
    return Piece(*ends, math.tan(sweep / 4.0))


def test_a_line_drawn_twice_and_backwards_is_one() -> None:
    tidied = tidy([line(0, 100), line(100, 0), line(0, 100, DOUBLE_MM / 3)], allowance())
    assert [(p.y0, p.y1) for p in tidied.pieces] == [(0.0, 0.0)]
    assert tidied.pieces[0].length == pytest.approx(100.0)
    assert len(tidied.doubled) == 1


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 100), st.floats(1, 100)), min_size=1, max_size=8), st.floats(0, 6.28))
def test_stretches_of_one_line_cover_what_they_covered(
    stretches: list[tuple[float, float]], turn: float
) -> None:
    """The reference is plain: how much of the line lies in any stretch, counted in steps."""
    c, s = math.cos(turn), math.sin(turn)
    drawn = [Piece(a * c, a * s, (a + n) * c, (a + n) * s, 0.0) for a, n in stretches]
    tidied = tidy(drawn, allowance())
    steps = [0.05 * k for k in range(4001)]
    covered = sum(any(a <= x <= a + n for a, n in stretches) for x in steps) * 0.05
    assert sum(piece.length for piece in tidied.pieces) == pytest.approx(covered, abs=0.5)
    assert all(piece.bulge == 0.0 for piece in tidied.pieces)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 6.28), st.floats(0.2, 4.5)), min_size=1, max_size=6))
@example([(0.0, 3.0), (0.0, 0.5), (1.0, 1.0)])
@example([(6.0, 4.0), (0.5, 0.5), (1.5, 0.5), (4.0, 1.0)])
def test_arcs_of_one_circle_cover_what_they_covered(arcs: list[tuple[float, float]]) -> None:
    tidied = tidy([arc(start, sweep) for start, sweep in arcs], allowance())
    steps = [2 * math.pi * (k + 0.5) / 2000 for k in range(2000)]
    inside = sum(any((x - start) % (2 * math.pi) <= sweep for start, sweep in arcs) for x in steps)
    covered = inside / 2000 * 2 * math.pi * 50.0
    assert sum(piece.length for piece in tidied.pieces) == pytest.approx(covered, abs=1.0)


def test_a_circle_drawn_twice_is_one_circle() -> None:
    halves = [arc(0.0, math.pi), arc(math.pi, math.pi)]
    tidied = tidy(halves + halves, allowance())
    assert sum(piece.length for piece in tidied.pieces) == pytest.approx(2 * math.pi * 50.0)


def test_what_only_touches_or_lies_beside_is_left_alone() -> None:
    drawn = [
        line(0, 100), line(100, 200), line(0, 100, 3 * DOUBLE_MM), Piece(0, 0, 0, 50, 0.0), arc(0.0, 1.0),
        arc(0.0, 1.0, 50.0 + 3 * DOUBLE_MM),
    ]  # fmt: skip
    tidied = tidy(drawn, allowance())
    assert list(tidied.pieces) == drawn
    assert tidied.doubled == ()


def test_specks_are_counted_and_gone() -> None:
    tidied = tidy([line(0, 100), line(5, 5)], allowance())
    assert (len(tidied.pieces), tidied.specks) == (1, 1)


def test_a_thousand_lines_in_one_place_are_one() -> None:
    tidied = tidy([line(k * 1e-6, 100) for k in range(1000)], allowance())
    assert len(tidied.pieces) == 1


def test_a_heap_of_lines_stops_when_the_time_is_up() -> None:
    with pytest.raises(Refused, match="longer than"):
        tidy([line(0, 100 + k) for k in range(200)], allowance(seconds=1.0, step=2.0))
