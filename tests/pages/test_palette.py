"""Colours: text readable, edges visible, fills told apart by every kind of eye, nothing by colour alone."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest

from sheetplan.model import Kit, OrderProgress, Plan
from sheetplan.pages.drawing import marks
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

FILLS = (*marks.KIT_FILLS, marks.SEVERAL_KITS_FILL, marks.LOOSE_FILL)


def test_the_measure_is_the_published_one() -> None:
    # Source: WCAG 2.1, contrast ranges from 1 to 21; common practice, no source: #767676 is the lightest
    # grey that passes AA on white.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert contrast("#767676", "#FFFFFF") >= AA_TEXT > contrast("#777777", "#FFFFFF")


@pytest.mark.parametrize("fill", [*FILLS, marks.SHEET])
def test_text_and_edges_stand_out_from_every_fill(fill: str) -> None:
    assert contrast(marks.INK, fill) >= AA_TEXT
    assert contrast(marks.EDGE, fill) >= AA_GRAPHICS


@pytest.mark.parametrize("ink", [marks.INK, marks.QUIET_INK, marks.DATUM])
def test_text_on_paper_is_readable(ink: str) -> None:
    assert contrast(ink, marks.SHEET) >= AA_TEXT


@pytest.mark.parametrize("line", [marks.OLD_CUT_EDGE, marks.KEEP_LINE, marks.DATUM, marks.SHEET_EDGE])
def test_lines_are_visible_on_the_sheet(line: str) -> None:
    assert contrast(line, marks.SHEET) >= AA_GRAPHICS


@pytest.mark.parametrize("vision", list(VISIONS))
def test_kits_are_told_apart_by_every_kind_of_eye(vision: str) -> None:
    for one, other in combinations(marks.KIT_FILLS, 2):
        assert difference(one, other, vision) >= TOLD_APART, (one, other)
    for one, other in combinations(FILLS, 2):
        assert difference(one, other, vision) >= FAINTLY_APART, (one, other)


def test_the_simulation_can_fail() -> None:
    # Source: Ishihara's plates rest on it: red and green of like lightness look alike without one cone.
    assert difference("#D98880", "#9DAA5E") > TOLD_APART
    assert difference("#D98880", "#9DAA5E", "deuteranopia") < TOLD_APART


def test_a_grey_print_keeps_parts_lighter_than_edges_and_text() -> None:
    darkest = min(luminance(fill) for fill in FILLS)
    assert darkest > 10 * max(luminance(marks.EDGE), luminance(marks.INK))
    assert luminance(marks.OLD_CUT) < luminance(marks.SHEET) / 1.5


def test_several_kits_and_single_parts_which_have_no_letter_are_told_apart_in_grey() -> None:
    # Source: ITU-R BT.601, luma of an 8-bit grey picture.
    several, loose = (
        sum(share * int(fill[at : at + 2], 16) for share, at in ((0.299, 1), (0.587, 3), (0.114, 5)))
        for fill in (marks.SEVERAL_KITS_FILL, marks.LOOSE_FILL)
    )
    assert abs(several - loose) >= 20


def test_every_kit_has_a_letter_of_its_own(inch_plan: Plan) -> None:
    """With more kits than fills, the letter alone tells two of one fill apart, in colour and in grey."""
    parts = inch_plan.job.parts
    many = {f"kit {number:02}": Kit(f"kit {number:02}", {"CB-101": 1}) for number in range(60)}
    colours = marks.part_colours(replace(inch_plan.job, kits=many, orders=()), dict.fromkeys(parts, ()))
    letters = [colours.letters[kit] for kit in many]
    assert letters[:3] == ["A", "B", "C"]
    assert letters[25:28] == ["Z", "AA", "AB"]
    assert len(set(letters)) == 60 > len({colours.fills[kit] for kit in many}) == len(marks.KIT_FILLS)
    assert colours.lettered("kit 27") == "AB kit 27"


def test_kits_keep_their_letters_when_one_is_cut_and_gone(inch_plan: Plan) -> None:
    job = inch_plan.job
    left = replace(job, orders=job.orders[1:], progress=tuple(map(OrderProgress, job.orders)))
    assert marks.part_colours(left).letters == marks.part_colours(job).letters
    assert marks.part_colours(replace(left, progress=())).letters != marks.part_colours(job).letters


def test_kits_take_their_colours_in_the_order_of_the_orders(inch_plan: Plan) -> None:
    colours = marks.part_colours(inch_plan.job)
    assert [colours.fills[kit] for kit in ("cleat set", "ladder rail", "fender plate")] == list(
        marks.KIT_FILLS[:3]
    )
    assert colours.of_part["CB-101"] == "cleat set"
    assert colours.of_part["CB-102"] == marks.SEVERAL_KITS
    assert colours.fill("a part of no kit") == marks.LOOSE_FILL
    assert [colours.letter(part) for part in ("CB-101", "LR-210", "CB-102", "a part of no kit")] == [
        "A", "B", marks.SEVERAL_KITS_LETTER, "",
    ]  # fmt: skip
    assert colours.lettered(marks.LOOSE) == marks.LOOSE


def test_series_of_charts_are_no_kits_and_apart_in_grey() -> None:
    """A hatch counts as what it shows from afar: half of its lines' colour, half of the paper."""
    for count in range(1, 13):
        fills = marks.chart_fills(count)
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
