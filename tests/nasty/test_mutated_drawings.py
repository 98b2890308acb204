"""Damaged drawings: each gets a verdict, in time, and never a traceback."""

import time

import pytest

from sheetplan.drawings.reading.drawing import BROKE_DOWN, ReadingChoices, read_bytes
from sheetplan.drawings.reading.findings import Limits
from sheetplan.drawings.reading.report import report_text
from sheetplan.shapes import area, box
from sheetplan.trade.units import Units
from tests.nasty.drawings_dxf import DXF_DRAWINGS
from tests.nasty.drawings_svg import SVG_DRAWINGS
from tests.nasty.mutations import mutated

LIMITS = Limits(seconds=5.0, pieces=20_000)
LARGE = 60_000
"""Samples above this size take long to damage and tell nothing new."""

DXF = [nasty.data for nasty in DXF_DRAWINGS if 0 < len(nasty.data) < LARGE]
SVG = [nasty.data for nasty in SVG_DRAWINGS if len(nasty.data) < LARGE]


FILES = 150
"""Of each kind; `python -m tests.hard.drawing_fuzz` damages any number."""


@pytest.mark.slow
@pytest.mark.parametrize(("samples", "first"), [(DXF, 0), (SVG, 10_000)], ids=["dxf", "svg"])
def test_damaged_files(
    samples: list[bytes], first: int, capfd: pytest.CaptureFixture[str]
) -> None:
    choices = ReadingChoices(units=Units.MM, limits=LIMITS)
    slowest, good = 0.0, 0
    for seed in range(first, first + FILES):
        data = mutated(seed, samples)
        begun = time.process_time()
        report = read_bytes(f"{seed}", data, choices, time.process_time)
        took = time.process_time() - begun
        slowest = max(slowest, took)
        text = report_text(report, Units.MM)
        assert BROKE_DOWN not in text, f"seed {seed}: {text}"
        assert took < LIMITS.seconds + 1.0, f"seed {seed} took {took:.1f} s"
        assert report.good or "wrong:" in text, f"seed {seed}: {text}"
        for part in report.parts if report.good else ():
            assert area(part.outline) > 0.0, f"seed {seed}"
            assert all(abs(value) < 1e12 for value in box(part.outline)), f"seed {seed}"
        good += report.good
    assert FILES / 25 < good < FILES * 0.9, "damage that never or always shows tests nothing"
    assert capfd.readouterr().err == ""


def test_damage_is_the_same_for_a_seed() -> None:
    assert mutated(7, DXF) == mutated(7, DXF)
    assert len({mutated(seed, DXF) for seed in range(50)}) > 40
