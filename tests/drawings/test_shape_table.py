"""Everything that the page Shapes says can be written is understood, in both units."""

import pytest

from sheetplan.drawings.quick import QuickRow, quick_outline
from sheetplan.drawings.shape_table import ShapeLine, ShapeWord, shape_table
from sheetplan.trade.units import Units

SIDE = 300.0


def row(line: ShapeLine, corner: str = "", holes: str = "") -> QuickRow:
    """A part of this shape that has room for the examples; a strap needs its slots."""
    holes = holes or (cell(line.holes[0]) if line.shape is ShapeWord.STRAP else "")
    return QuickRow(line.shape, SIDE, SIDE, SIDE / 6 if line.inside else None, corner, holes)


def cell(example: str) -> str:
    """What goes into the cell."""
    return example.partition(":")[0]


@pytest.mark.parametrize("units", list(Units))
def test_every_shape_has_a_line_and_every_example_is_understood(units: Units) -> None:
    lines = shape_table(units)
    assert [line.shape for line in lines] == list(ShapeWord)
    for line in lines:
        plain = quick_outline(row(line), units)
        for example in line.corner:
            assert quick_outline(row(line, corner=cell(example)), units).outer != plain.outer
        for example in line.holes:
            assert len(quick_outline(row(line, holes=cell(example)), units).holes) > len(plain.holes) or (
                line.shape is ShapeWord.STRAP
            )


@pytest.mark.parametrize("units", list(Units))
def test_what_a_line_leaves_empty_is_refused(units: Units) -> None:
    for line in shape_table(units):
        if not line.holes:
            with pytest.raises(ValueError, match="takes nothing in the column Holes"):
                quick_outline(row(line, holes="1 x 1"), units)
        if not line.corner:
            with pytest.raises(ValueError, match="takes nothing in the column Corner"):
                quick_outline(row(line, corner="r 1"), units)
