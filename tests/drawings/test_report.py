import time

from sheetplan.drawings.findings import Says
from sheetplan.drawings.reading import ReadingChoices, read_bytes
from sheetplan.drawings.report import report_text
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
        "  4 x 2 in, 1 hole, 1 mark, area 7.804 in2, cut 13.57 in with 2 pierces",
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
