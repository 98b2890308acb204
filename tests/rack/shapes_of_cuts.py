"""Records made up for tests: sheets with random cuts of lines and arcs."""

from __future__ import annotations

from hypothesis import strategies as st

from sheetplan.model import Corner, Loop, rectangle
from sheetplan.rack.record import PastCut, Record
from sheetplan.rack.record_dxf import settled
from sheetplan.shapes import area, move
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from tests.shapes.strategies import star_loops

TEN_GAUGE = Thickness(3.416, "10 ga")
TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zl", "Zp")), max_size=12).map(
    lambda text: " ".join(text.split())
)


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def block(left: float, bottom: float, right: float, top: float) -> Loop:
    return Loop(((left, bottom, 0.0), (right, bottom, 0.0), (right, top, 0.0), (left, top, 0.0)))


def past_cut(loop: Loop, step: int = 1, part: str = "P") -> PastCut:
    return PastCut(loop, step, "2026-11-25", "ABCD", "L1", part, area(loop))


@st.composite
def records(draw: st.DrawFn) -> tuple[Record, Units]:
    units = draw(st.sampled_from(Units))
    length, width = draw(st.floats(200.0, 4000.0)), draw(st.floats(200.0, 2000.0))
    cuts = []
    for number in range(draw(st.integers(0, 5))):
        loop = move(draw(star_loops()), draw(st.floats(0.0, 3000.0)), draw(st.floats(0.0, 2000.0)))
        metal = draw(st.floats(0, 1e6))
        cuts.append(PastCut(loop, number, "2026-01-31", draw(TEXTS), "L7", draw(TEXTS), metal))
    record = Record(
        draw(TEXTS), "mild steel", TEN_GAUGE, rectangle(length, width).outer, tuple(cuts),
        draw(st.sampled_from(Corner)), draw(TEXTS), draw(TEXTS), draw(TEXTS), draw(st.booleans()),
    )  # fmt: skip
    return settled(record, units), units
