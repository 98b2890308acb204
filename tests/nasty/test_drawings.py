"""Nasty drawings: each is read without a traceback and comes to its verdict."""

import time

import pytest

from sheetplan.drawings.reading.drawing import read_bytes
from sheetplan.drawings.reading.findings import Says
from sheetplan.drawings.reading.report import report_text
from sheetplan.shapes import area
from sheetplan.trade.units import Units
from tests.nasty.drawings_dxf import DXF_DRAWINGS
from tests.nasty.drawings_making import Nasty
from tests.nasty.drawings_svg import SVG_DRAWINGS

ALL = (*DXF_DRAWINGS, *SVG_DRAWINGS)


@pytest.mark.parametrize("nasty", ALL, ids=lambda nasty: nasty.name)
def test_verdict(nasty: Nasty, capfd: pytest.CaptureFixture[str]) -> None:
    begun = time.process_time()
    report = read_bytes(f"{nasty.name}.dxf", nasty.data, nasty.choices, time.process_time)
    assert time.process_time() - begun < nasty.choices.limits.seconds
    text = report_text(report, Units.MM)
    if nasty.good is not None:
        assert report.good is nasty.good, text
    if nasty.holes is not None:
        assert tuple(len(part.outline.holes) for part in report.parts) == nasty.holes, text
    if nasty.area is not None:
        assert sum(area(part.outline) for part in report.parts) == pytest.approx(
            nasty.area, rel=nasty.close
        ), text
    for snatch in nasty.says:
        assert snatch in text
    if not report.good:
        assert report.of_weight(Says.WRONG)
    assert capfd.readouterr().err == ""
    assert "Error" not in text


def test_the_family_is_large_and_its_names_are_its_own() -> None:
    assert len(ALL) >= 40
    assert len({nasty.name for nasty in DXF_DRAWINGS}) == len(DXF_DRAWINGS)
    assert len({nasty.name for nasty in SVG_DRAWINGS}) == len(SVG_DRAWINGS)
