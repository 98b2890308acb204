"""A month of drawn parts, end to end: read, planned, checked, and written as DXF and SVG alike."""

from __future__ import annotations

import datetime
import math
import time
from collections import Counter
from pathlib import Path

import pytest

from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.checking import check_plan
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.shapes import area
from sheetplan.trade.units import MM_PER_INCH, Units
from tests.nasty.books.plain import plain_rows, write_book
from tests.nasty.drawings_making import dxf, space


def bracket(msp) -> None:
    """An L of 6 x 4 with legs of 2, its heel rounded, one hole."""
    corner = math.tan(math.pi / 8)
    msp.add_lwpolyline(
        [(0.5, 0, 0), (6, 0, 0), (6, 2, 0), (2, 2, 0), (2, 4, 0), (0, 4, 0), (0, 0.5, corner)],
        format="xyb",
        close=True,
    )
    msp.add_circle((1, 1), 0.25)


def test_drawn_parts_go_through(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "bracket.dxf").write_bytes(dxf(space(bracket), unit=1))
    rows = plain_rows()
    steel = {"Material": "mild steel", "Thickness": "10 ga"}
    rows["Parts"][0] = {"Part": "CB-100", **steel, "Drawing": "bracket.dxf"}
    rows["Parts"][1] = {"Part": "CB-101", **steel, "Width": 5, "Length": 5, "Shape": "ring", "Inside": 2}
    rows["Settings"].append({"Setting": "Layouts as SVG too", "Value": "yes"})
    book = write_book(tmp_path / "month.xlsx", rows)
    outcome = plan_book(
        book, PlanAsked(datetime.date(2026, 11, 30), seconds=0.5, seed=1),
        stop=lambda: False, report=lambda progress: None, workers=1,
    )
    assert outcome.plan is not None, outcome.problems
    assert outcome.drawings is not None
    assert check_plan(outcome.plan) == ()
    # The L less its rounded heel and its hole; the ring of 5 and 2.
    square = MM_PER_INCH**2
    metal = {
        "CB-100": (16.0 - (1 - math.pi / 4) * 0.25 - math.pi / 16) * square,
        "CB-101": math.pi * (6.25 - 1.0) * square,
    }
    for group in outcome.plan.groups:
        for layout in group.layouts:
            made = Counter(placement.part for placement in layout.placements)
            if not made.keys() <= metal.keys():
                continue
            want = sum(metal[part] * count for part, count in made.items())
            written = sorted(outcome.drawings.glob(f"*-{layout.tag}_*.[ds][xv][fg]"))
            assert [path.suffix for path in written] == [".dxf", ".svg"]
            for path in written:
                choices = ReadingChoices(units=Units.INCH)
                report = read_bytes(path.name, path.read_bytes(), choices, time.monotonic)
                assert report.good, report.findings
                assert sum(area(part.outline) for part in report.parts) == pytest.approx(want, rel=1e-9)
