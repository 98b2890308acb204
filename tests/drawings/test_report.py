import json
import time

import pytest

from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes, report_from_json, report_to_json
from sheetplan.drawings.reading.findings import Finding, Says
from sheetplan.drawings.reading.report import report_text
from sheetplan.trade.units import Units
from tests.nasty.drawings_making import box_lines, dxf, space


def test_the_report_of_a_plate() -> None:
    def draw(msp) -> None:
        box_lines(msp, 10, 10, 4, 2)
        msp.add_circle((12, 11), 0.25)
        msp.add_text("cleat")
        msp.add_line((11, 11), (11.5, 11), dxfattribs={"layer": "ETCH"})

    data = dxf(space(draw), unit=1)
    report = read_bytes("cleat.dxf", data, ReadingChoices(units=Units.INCH), time.monotonic)
    assert report_text(report, Units.INCH).splitlines() == [
        "cleat.dxf: good to cut",
        "  DXF R2000; drawn in inches, as the drawing says ($INSUNITS 1)",
        "  4 x 2 in, 1 hole, 1 mark, area 0.0542 ft2, cut 13.57 in with 2 pierces",
        "  layer 0: 6 pieces, cut",
        "  layer ETCH: 1 piece, mark, by its name",
        "  never cut: 1 text",
    ]


def test_wrong_things_come_first() -> None:
    def draw(msp) -> None:
        box_lines(msp, 0, 0, 100, 50)
        box_lines(msp, 0, 0, 100, 50)
        msp.add_line((20, 20), (60, 30))

    report = read_bytes("x.dxf", dxf(space(draw)), ReadingChoices(units=Units.MM), time.monotonic)
    assert not report.good
    text = report_text(report, Units.MM)
    assert "cannot be cut" in text.splitlines()[0]
    assert text.index("wrong:") < text.index("repaired:")
    assert [finding.at for finding in report.of_weight(Says.WRONG)] == [(20.0, 20.0)]


@pytest.mark.parametrize(
    ("told", "inside", "fold", "corner"),
    [
        (Units.MM, "a line 44.9 mm long ends nowhere at (50.8, 12.7) mm; write mark or leave out",
         "1 edge doubled back and went nowhere, by 0.508 mm at most at (152.4, 0) mm", "at (254, 0)"),
        (Units.INCH, "a line 1.768 long ends nowhere at (2, 0.5); write mark or leave out",
         "1 edge doubled back and went nowhere, by 0.02 at most at (6, 0)", "at (10, 0)"),
        (None, "a line 1.768 long ends nowhere at (2, 0.5); write mark or leave out",
         "1 edge doubled back and went nowhere, by 0.02 at most at (6, 0)", "at (10, 0)"),
    ],
)  # fmt: skip
def test_places_and_lengths_are_told_in_the_unit_asked_for(
    told: Units | None, inside: str, fold: str, corner: str
) -> None:
    """What is wrong with an inch drawing, in a millimetre book and in its own unit, also as kept as JSON."""

    def draw(msp) -> None:
        corners = [(0, 0), (6.02, 0), (6, 0), (8, 0), (8, 4), (0, 4)]
        msp.add_lwpolyline(corners, close=True)
        msp.add_line((2, 0.5), (3.25, 1.75))
        box_lines(msp, 10, 0, 4, 3)

    choices = ReadingChoices(Units.INCH, told=told)
    report = read_bytes("x.dxf", dxf(space(draw), unit=1), choices, time.monotonic)
    report = report_from_json(json.loads(json.dumps(report_to_json(report))), "x.dxf")
    said = report_text(report, told or Units.INCH) + "\n"
    assert f"cannot be cut: {inside}" in said
    assert f"repaired: {fold}\n" in said
    assert corner in said


def test_signs_that_a_terminal_obeys_are_not_passed_on() -> None:
    # ESC begins a control sequence. Source: ECMA-48, "Control Functions for Coded Character Sets", 5.4.
    assert Finding(Says.WRONG, "tag \x1b[2J is invalid").what == "tag ?[2J is invalid"
