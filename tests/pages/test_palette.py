"""Colours: text readable, edges visible, fills told apart by every kind of eye, nothing by colour alone."""

from __future__ import annotations

from itertools import combinations

import pytest

from sheetplan.model import Plan
from sheetplan.pages import palette
from tests.pages.seeing import VISIONS, contrast, difference, luminance

AA_TEXT = 4.5
AA_GRAPHICS = 3.0
# Source: WCAG 2.1 AA, success criteria 1.4.3 (text) and 1.4.11 (graphical objects).

TOLD_APART = 16.0
FAINTLY_APART = 10.0
JUST_NOTICEABLE = 2.3
# Source of the last: Mahy, Van Eycken and Oosterlinck, "Evaluation of uniform color spaces developed after
# the adoption of CIELAB and CIELUV", Color Research and Application 19(2), 1994. The others are ours: seven
# and four times that.

FILLS = (*palette.KIT_FILLS, palette.SEVERAL_KITS_FILL, palette.LOOSE_FILL)


def test_the_measure_is_the_published_one() -> None:
    # Source: WCAG 2.1, contrast ranges from 1 to 21; common practice, no source: #767676 is the lightest
    # grey that passes AA on white.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#767676", "#FFFFFF") >= AA_TEXT > contrast("#777777", "#FFFFFF")


@pytest.mark.parametrize("fill", [*FILLS, palette.SHEET])
def test_text_and_edges_stand_out_from_every_fill(fill: str) -> None:
    assert contrast(palette.INK, fill) >= AA_TEXT
    assert contrast(palette.EDGE, fill) >= AA_GRAPHICS


@pytest.mark.parametrize("ink", [palette.INK, palette.QUIET_INK, palette.DATUM])
def test_text_on_paper_is_readable(ink: str) -> None:
    assert contrast(ink, palette.SHEET) >= AA_TEXT


@pytest.mark.parametrize("line", [palette.OLD_CUT_EDGE, palette.KEEP_LINE, palette.DATUM, palette.SHEET_EDGE])
def test_lines_are_visible_on_the_sheet(line: str) -> None:
    assert contrast(line, palette.SHEET) >= AA_GRAPHICS


@pytest.mark.parametrize("vision", list(VISIONS))
def test_kits_are_told_apart_by_every_kind_of_eye(vision: str) -> None:
    for one, other in combinations(palette.KIT_FILLS, 2):
        assert difference(one, other, vision) >= TOLD_APART, (one, other)
    for one, other in combinations(FILLS, 2):
        assert difference(one, other, vision) >= FAINTLY_APART, (one, other)


def test_the_simulation_can_fail() -> None:
    # Source: Ishihara's plates rest on it: red and green of like lightness look alike without one cone.
    assert difference("#D98880", "#9DAA5E") > TOLD_APART
    assert difference("#D98880", "#9DAA5E", "deuteranopia") < TOLD_APART


def test_a_grey_print_keeps_parts_lighter_than_edges_and_text() -> None:
    darkest = min(luminance(fill) for fill in FILLS)
    assert darkest > 10 * max(luminance(palette.EDGE), luminance(palette.INK))
    assert luminance(palette.OLD_CUT) < luminance(palette.SHEET) / 1.5


def test_kits_take_their_colours_in_the_order_of_the_orders(inch_plan: Plan) -> None:
    colours = palette.part_colours(inch_plan.job)
    assert [colours.fills[kit] for kit in ("cleat set", "ladder rail", "fender plate")] == list(
        palette.KIT_FILLS[:3]
    )
    assert colours.of_part["CB-101"] == "cleat set"
    assert colours.of_part["CB-102"] == palette.SEVERAL_KITS
    assert colours.fill("a part of no kit") == palette.LOOSE_FILL


def test_series_of_charts_are_no_kits_and_apart_in_grey() -> None:
    """A hatch counts as what it shows from afar: half of its lines' colour, half of the paper."""
    for count in range(1, 13):
        fills = palette.chart_fills(count)
        assert len(fills) == count
        assert not {fill.colour for fill in fills} & {*FILLS}
        looks = [grey(fill.colour) * (0.5 if fill.hatched else 1.0) + (127.5 if fill.hatched else 0.0)
                 for fill in fills]  # fmt: skip
        apart = 20.0 if count <= 3 else 10.0
        assert all(abs(one - other) >= apart for one, other in combinations(looks, 2))


def grey(colour: str) -> float:
    """0 to 255, by the luma of ITU-R BT.601."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue
