"""Random loops of lines and arcs that are known to be simple."""

import math

from hypothesis import strategies as st

from sheetplan.model.outline import Loop, Outline

nice = st.floats(min_value=-1.0, max_value=1.0, allow_nan=False)


@st.composite
def star_loops(draw: st.DrawFn, centre: tuple[float, float] = (0.0, 0.0), reach: float = 100.0) -> Loop:
    """A star-shaped loop whose arcs stay in their own sectors, so that it never crosses itself.

    Chords span less than 90 degrees of the centre and radii differ by less than 2, so that the
    small bulges allowed here cannot reach another piece.
    """
    count = draw(st.integers(min_value=5, max_value=9))
    shares = [draw(st.floats(min_value=0.8, max_value=1.2)) for _ in range(count)]
    radii = [draw(st.floats(min_value=0.7, max_value=1.0)) * reach for _ in range(count)]
    bulges = [draw(st.one_of(st.just(0.0), st.floats(min_value=-0.12, max_value=0.12))) for _ in range(count)]
    start = draw(st.floats(min_value=0.0, max_value=6.28))
    angle, vertices = start, []
    for share, radius, bulge in zip(shares, radii, bulges, strict=True):
        x, y = centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)
        vertices.append((x, y, bulge))
        angle += share / sum(shares) * 2 * math.pi
    return Loop(tuple(vertices))


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """A star-shaped outline with up to three holes, one of them possibly star-shaped."""
    outer = draw(star_loops())
    holes: list[Loop] = []
    if draw(st.booleans()):
        holes.append(draw(star_loops(reach=15.0)))
    for place in range(draw(st.integers(min_value=0, max_value=2))):
        holes.append(circle(30.0 * (-1) ** place, 0.0, draw(st.floats(min_value=1.0, max_value=8.0))))
    return Outline(outer, tuple(holes))
