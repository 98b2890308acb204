"""Whether a part fits on some sheet, against the plainest possible reckoning."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sheetplan.model import Grain, Part, Problem, SheetSize, Weight, rectangle
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.checks import too_large
from sheetplan.workbook.reading.parts import TURNS
from sheetplan.workbook.reading.rows import Place, Read
from sheetplan.workbook.schema import Turn

THREE = Thickness(3.0, "3 mm")
side = st.integers(1, 12).map(lambda n: 100.0 * n)
sheets = st.lists(st.tuples(side, side), min_size=1, max_size=3)


def found(
    width: float, length: float, sizes: list[tuple[float, float]], turn: Turn, grain: Grain, margin: float
) -> Problem | None:
    part = Part("P", "steel", THREE, rectangle(length, width), TURNS[turn], grain)
    stock = [SheetSize(f"S{n}", "steel", THREE, length=b, width=a) for n, (a, b) in enumerate(sizes)]
    read = Read(part, Place("Parts", 5, {"Length": "F5"}))
    return too_large(read, stock, margin, "steel 3 mm", Weight.STOPS, Units.MM)


grains = st.sampled_from([Grain.NONE, Grain.LENGTH])
margins = st.sampled_from([0, 10])


@given(side, side, sheets, st.sampled_from(Turn), grains, margins)
def test_it_fits_where_one_of_its_turns_does(
    width: float, length: float, sizes: list[tuple[float, float]], turn: Turn, grain: Grain, margin: float
) -> None:
    straight = any(width <= a - 2 * margin and length <= b - 2 * margin for a, b in sizes)
    turned = any(length <= a - 2 * margin and width <= b - 2 * margin for a, b in sizes)
    may_turn = turn is Turn.ANY_QUARTER and grain is Grain.NONE
    problem = found(width, length, sizes, turn, grain, margin)
    assert (problem is None) == (straight or (turned and may_turn))
    if problem is not None:
        assert ("quarter" in problem.remedy) == turned


def test_a_part_as_large_as_the_sheet_within_its_margin_fits() -> None:
    # Common practice, no source: a full cover is cut to the trimmed sheet.
    assert found(1230, 2480, [(1250, 2500)], Turn.AS_DRAWN, Grain.LENGTH, 10) is None


def test_the_margin_is_named_where_it_alone_is_in_the_way() -> None:
    problem = found(1250, 2500, [(1250, 2500)], Turn.AS_DRAWN, Grain.NONE, 10)
    assert problem is not None
    assert problem.cell == "F5"
    assert "1230 x 2480 mm" in problem.what
    assert "without the margin" in problem.remedy
