"""Old cuts with warped edges: both packers keep more metal clear of them, and no more than asked."""

import pytest

from sheetplan.model import Loop, Part, Placement, rectangle
from sheetplan.packing import Blank, Item
from sheetplan.packing.outlines import OutlinePacker
from sheetplan.packing.rectangles import BoxPacker
from sheetplan.shapes import place, to_polygon
from sheetplan.trade.thickness import Thickness

GAP, MARGIN = 6.0, 10.0
PLATE = Part("plate", "Steel", Thickness(6.0, "6 mm"), rectangle(200.0, 100.0))
CUT = Loop(((300.0, 300.0, 0.0), (700.0, 300.0, 0.0), (700.0, 500.0, 0.0), (300.0, 500.0, 0.0)))


def filled(packer: type, extra: float, cuts: tuple[Loop, ...] = (CUT,)) -> tuple[Placement, ...]:
    blank = Blank(rectangle(1000.0, 800.0).outer, cuts, MARGIN, GAP, extra_gap=extra)
    return packer([PLATE]).fill(blank, [Item(PLATE, 60, 1.0)], seed=1, effort=2)


@pytest.mark.parametrize("packer", [BoxPacker, OutlinePacker])
@pytest.mark.parametrize("extra", [0.0, 14.0])
def test_parts_keep_the_extra_gap_to_old_cuts_and_the_gap_to_each_other(packer: type, extra: float) -> None:
    placed = [to_polygon(place(PLATE.outline, one), 0.01) for one in filled(packer, extra)]
    assert len(placed) >= 20
    old = to_polygon(CUT, 0.01)
    assert min(one.distance(old) for one in placed) >= GAP + extra - 1e-3
    between = min(a.distance(b) for i, a in enumerate(placed) for b in placed[:i])
    assert GAP - 1e-3 <= between < GAP + 1.0


@pytest.mark.parametrize("packer", [BoxPacker, OutlinePacker])
def test_a_round_cut_is_grown_all_round(packer: type) -> None:
    disc = Loop(((300.0, 400.0, 1.0), (600.0, 400.0, 1.0)))
    old = to_polygon(disc, 0.001)
    for extra in (0.0, 25.0):
        placed = [to_polygon(place(PLATE.outline, one), 0.01) for one in filled(packer, extra, (disc,))]
        assert min(one.distance(old) for one in placed) >= GAP + extra - 5e-3


@pytest.mark.parametrize("packer", [BoxPacker, OutlinePacker])
def test_a_strip_that_the_extra_gap_just_leaves_is_used(packer: type) -> None:
    """By hand: below the cut lie 300 - 10 - 6 = 284 mm, with 84 extra just the 200 of one plate on end."""
    for extra, fits in ((84.0, True), (84.1, False)):
        low = [one for one in filled(packer, extra) if _spans_the_strip(one)]
        assert bool(low) is fits


def _spans_the_strip(placement: Placement) -> bool:
    left, bottom, right, top = to_polygon(place(PLATE.outline, placement), 0.01).bounds
    return left < 650.0 and right > 350.0 and bottom < 20.0 and top - bottom > 150.0
