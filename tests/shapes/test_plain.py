import pytest

from sheetplan.model.outline import Loop, Outline, rectangle
from sheetplan.shapes import is_rectangle, turn
from tests.shapes.strategies import circle


def loop(*points: tuple[float, float]) -> Loop:
    return Loop(tuple((x, y, 0.0) for x, y in points))


@pytest.mark.parametrize(
    ("shape", "verdict"),
    [
        (rectangle(10.0, 5.0), True),
        (turn(rectangle(10.0, 5.0), 90.0), True),
        (turn(rectangle(10.0, 5.0), 45.0), False),
        (Outline(rectangle(10.0, 5.0).outer, (circle(5.0, 2.5, 1.0),)), True),
        (loop((0, 0), (5, 0), (10, 0), (10, 5), (0, 5), (0, 2)), True),
        (loop((0, 0), (10, 0), (10, 5), (5, 5), (5, 3), (0, 3)), False),
        (loop((0, 0), (10, 0), (10, 5)), False),
        (loop((0, 0), (10, 0), (10, 5), (10, 0)), False),
        (loop((0, 0), (10, 0), (10.0, 5.0005), (0, 5)), True),
        (loop((0, 0), (10, 0), (10.0, 5.01), (0, 5)), False),
        (Loop(((0, 0, 0.1), (10, 0, 0), (10, 5, 0), (0, 5, 0))), False),
        (circle(0.0, 0.0, 5.0), False),
    ],
)
def test_is_rectangle(shape: Outline | Loop, verdict: bool) -> None:
    assert is_rectangle(shape) is verdict
