"""A flaw stops the outlines that it touches and no other; what has no area is taken out and told."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import pytest

from sheetplan.drawings.reading.choices import DoubtfulLines, LetteringUse, OpenLines, doubtful_lines
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes, report_from_json, report_to_json
from sheetplan.drawings.reading.findings import Says
from sheetplan.drawings.reading.report import DrawingReport, report_text
from sheetplan.shapes import area
from sheetplan.trade.units import Units
from tests.nasty.drawings_making import box_lines, dxf, space


def read(draw: Callable, doubtful: DoubtfulLines | None = None) -> DrawingReport:
    choices = ReadingChoices(units=Units.MM, doubtful=doubtful or DoubtfulLines())
    return read_bytes("x.dxf", dxf(space(draw)), choices, time.monotonic)


def stopped(report: DrawingReport) -> list[int]:
    return [part.number for part in report.parts if part.wrong]


def plates(msp) -> None:
    """Three plates with a hole, from left to right."""
    for x in (0, 200, 400):
        box_lines(msp, x, 0, 100, 80)
        msp.add_circle((x + 50, 40), 10)


def test_an_open_line_elsewhere_is_a_question_and_stops_nothing() -> None:
    def draw(msp) -> None:
        plates(msp)
        msp.add_line((600, 0), (700, 20))

    report = read(draw)
    assert report.good
    assert [finding.at for finding in report.of_weight(Says.ASKED)] == [(600.0, 0.0)]


def test_an_open_line_on_a_part_stops_that_part_and_offers_to_mark_it() -> None:
    def draw(msp) -> None:
        plates(msp)
        msp.add_line((210, 10), (290, 10))

    report = read(draw)
    assert stopped(report) == [2]
    assert "2 of 3 outlines good to cut" in report_text(report, Units.MM)
    assert "Doubtful lines" in str(report.parts[1].wrong[0])
    assert report_from_json(report_to_json(report), "x.dxf") == report
    marked = read(draw, DoubtfulLines(OpenLines.MARK))
    assert marked.good
    assert [len(part.outline.marks) for part in marked.parts] == [0, 1, 0]
    left = read(draw, DoubtfulLines(OpenLines.LEAVE_OUT))
    assert left.good
    assert not any(part.outline.marks for part in left.parts)


def test_crossing_lines_stop_both_outlines_and_what_lies_in_them() -> None:
    def draw(msp) -> None:
        plates(msp)
        box_lines(msp, 250, -30, 100, 60)

    report = read(draw)
    whole = [part for part in report.parts if not part.wrong]
    assert [part.corner for part in whole] == [(0.0, 0.0), (400.0, 0.0)]
    assert all(area(part.outline) == pytest.approx(8000 - math.pi * 100) for part in whole)


@pytest.mark.parametrize("gap", [5.0, 12.0, 20.0])
def test_the_holes_of_an_outline_left_open_are_no_parts(gap: float) -> None:
    """An outer line with a gap at two corners, its holes closed: nothing in it may be cut."""

    def draw(msp) -> None:
        plates(msp)
        a, b, c, d = (0, 200), (100, 200), (100, 280), (0, 280)
        msp.add_lwpolyline([(a[0] + gap, a[1]), b, (c[0], c[1] - gap)])
        msp.add_lwpolyline([(c[0] - gap, c[1]), d, (a[0], a[1] + gap)])
        msp.add_circle((30, 240), 8)
        msp.add_circle((70, 240), 8)

    report = read(draw)
    assert len(report.parts) == 5
    assert {part.corner[1] for part in report.parts if part.wrong} == {232.0}
    assert sum(bool(part.wrong) for part in report.parts) == 2


def test_a_missing_block_stops_the_whole_file() -> None:
    """Nobody knows where what is missing would lie."""

    def draw(msp) -> None:
        plates(msp)
        msp.add_blockref("GONE", (0, 0))

    report = read(draw)
    assert report.parts
    assert not report.readable


@pytest.mark.parametrize("fold", [0.0, 0.0004, 0.003, 0.02, 0.1, 0.22, 0.5])
@pytest.mark.parametrize("off", [0.0, 0.004, 0.012])
@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_an_edge_that_doubles_back_has_no_area(fold: float, off: float, turn: float) -> None:
    off = min(off, 0.15 * fold)
    corners = [(0, 0), (60 + fold, 0), (60, off), (60, 0.0), (120, 0), (120, 50), (0, 50)]
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def draw(msp) -> None:
        msp.add_lwpolyline([(x * cos - y * sin, x * sin + y * cos) for x, y in corners], close=True)
        msp.add_circle((60 * cos - 25 * sin, 60 * sin + 25 * cos), 10)

    report = read(draw)
    assert report.good, report_text(report, Units.MM)
    assert [len(part.outline.holes) for part in report.parts] == [1]
    assert area(report.parts[0].outline) == pytest.approx(6000 - math.pi * 100, abs=40 * off + 0.05)
    told = report.of_weight(Says.REPAIRED)
    assert told or fold < 0.001
    assert not report.of_weight(Says.ASKED)


def test_a_fold_between_two_lines_drawn_apart() -> None:
    """The end of one line runs past the corner and comes back: two loose lines and a short one."""

    def draw(msp) -> None:
        for start, end in (((0, 0), (100.22, 0)), ((100.22, 0), (100, 0)), ((100, 0), (100, 50)),
                           ((100, 50), (0, 50)), ((0, 50), (0, 0))):  # fmt: skip
            msp.add_line(start, end)

    report = read(draw)
    assert report.good, report_text(report, Units.MM)
    assert area(report.parts[0].outline) == pytest.approx(5000)
    assert "doubled back" in report.of_weight(Says.REPAIRED)[0].what


def test_a_sliver_beside_an_edge_is_left_out_and_told() -> None:
    def draw(msp) -> None:
        box_lines(msp, 0, 0, 100, 50)
        msp.add_lwpolyline([(0, 0), (50, -0.015), (100, 0)])

    report = read(draw)
    assert report.good
    assert len(report.parts) == 1
    assert area(report.parts[0].outline) == pytest.approx(5000, abs=2)
    assert "sliver" in report.of_weight(Says.REPAIRED)[0].what


def letters(msp, x: float, y: float) -> None:
    """Five shapes like letters, 8 high: an L, a T, a ring, a wedge and a bar."""
    msp.add_lwpolyline([(x, y), (x + 5, y), (x + 5, y + 1), (x + 1, y + 1), (x + 1, y + 8), (x, y + 8)],
                       close=True)  # fmt: skip
    x += 7
    msp.add_lwpolyline([(x + 2, y), (x + 3, y), (x + 3, y + 7), (x + 5, y + 7), (x + 5, y + 8), (x, y + 8),
                        (x, y + 7), (x + 2, y + 7)], close=True)  # fmt: skip
    x += 7
    msp.add_ellipse((x + 2.5, y + 4), (0, 4), 0.6)
    msp.add_ellipse((x + 2.5, y + 4), (0, 3), 0.5)
    x += 7
    msp.add_lwpolyline([(x, y), (x + 5, y), (x + 2.5, y + 8)], close=True)
    x += 7
    msp.add_lwpolyline([(x, y), (x + 1, y), (x + 1, y + 8), (x, y + 8)], close=True)


def test_lettering_is_asked_about_once_and_cut_marked_or_left_out() -> None:
    def draw(msp) -> None:
        box_lines(msp, 0, 0, 100, 50)
        letters(msp, 10, 20)
        letters(msp, 10, -30)

    asked = read(draw)
    assert sum("lettering" in finding.what for finding in asked.of_weight(Says.ASKED)) == 1
    assert len(asked.parts[0].outline.holes) == 5
    cut = read(draw, DoubtfulLines(lettering=LetteringUse.CUT))
    assert len(cut.parts[0].outline.holes) == 5
    assert not any("lettering" in finding.what for finding in cut.findings)
    marked = read(draw, DoubtfulLines(lettering=LetteringUse.MARK))
    assert [len(part.outline.marks) for part in marked.parts] == [6]
    assert not marked.parts[0].outline.holes
    left = read(draw, DoubtfulLines(lettering=LetteringUse.LEAVE_OUT))
    assert [(len(p.outline.holes), len(p.outline.marks)) for p in left.parts] == [(0, 0)]


def test_rows_of_small_parts_and_of_holes_are_no_lettering() -> None:
    def draw(msp) -> None:
        box_lines(msp, 0, 0, 200, 50)
        for x in range(10, 190, 12):
            msp.add_circle((x, 25), 2 + x % 3)
            box_lines(msp, x, 100, 8, 6)

    assert not any("lettering" in finding.what for finding in read(draw).findings)


def test_words_for_doubtful_lines() -> None:
    assert doubtful_lines("Mark") == DoubtfulLines(OpenLines.MARK, LetteringUse.MARK)
    assert doubtful_lines("mark open lines, leave out lettering") == DoubtfulLines(
        OpenLines.MARK, LetteringUse.LEAVE_OUT
    )
    assert doubtful_lines("cut lettering") == DoubtfulLines(OpenLines.REFUSE, LetteringUse.CUT)
    for wrong in ("cut open lines", "burn", "mark,"):
        with pytest.raises(ValueError, match="is not known"):
            doubtful_lines(wrong)
