"""Parts shows the true net weight of every planned part: holes and corners taken off, drawings measured."""

from pathlib import Path

import ezdxf
import openpyxl
import pytest

from tests.app.choice_book import choice_book, planned, run
from tests.app.cut_book import fill
from tests.workbook.recalculating import recalculated

POUNDS_PER_CUBIC_INCH, QUARTER = 0.2836, 0.25

HOLED = {"Part": "BASE", "Width": 12, "Length": 30, "Holes": "4 x 1 at 2", "Corner": "clip 1"}
DRAWN = {"Part": "RIB", "Width": 7, "Length": 22, "Drawing": "rib.dxf"}


def weights(book: openpyxl.Workbook) -> dict[str, object]:
    """Weight each on the page Parts, by part."""
    rows = [[cell.value for cell in row] for row in book["Parts"].iter_rows()]
    head = next(row for row in rows if row[0] == "Part")
    place = next(j for j, name in enumerate(head) if str(name).startswith("Weight each"))
    return {str(row[0]): row[place] for row in rows if row[0] in ("PLATE", "BASE", "RIB")}


def test_holes_corners_and_drawings_are_weighed_once_a_plan_has_seen_them(tmp_path: Path) -> None:
    path = choice_book(tmp_path)
    drawing = ezdxf.new(units=ezdxf.units.IN)
    drawing.modelspace().add_lwpolyline([(0, 0), (22, 0), (22, 7), (0, 7)], close=True)
    drawing.modelspace().add_lwpolyline([(2, 2), (8, 2), (8, 4), (2, 4)], close=True)
    drawing.saveas(tmp_path / "rib.dxf")
    book = openpyxl.load_workbook(path)
    thick = {"Material": "mild steel", "Thickness": "1/4 in"}
    fill(book, "Parts", [{"Part": "PLATE"}, {**HOLED, **thick}, {**DRAWN, **thick}])
    book.save(path)
    before = weights(recalculated(path, tmp_path / "before"))
    assert not before["BASE"], "not known before a plan has seen it"
    assert not before["RIB"], "not known before a plan has seen it"
    planned(run(path))
    found = weights(recalculated(path, tmp_path / "after"))
    # 12 x 30 in without four corners of 1 in cut at 45 degrees and four holes of 1 in.
    base = 12 * 30 - 4 * 1 / 2 - 4 * 3.14159265 / 4
    assert found["BASE"] == pytest.approx(base * QUARTER * POUNDS_PER_CUBIC_INCH, rel=1e-4)
    assert found["RIB"] == pytest.approx((22 * 7 - 6 * 2) * QUARTER * POUNDS_PER_CUBIC_INCH, rel=1e-4)
    assert found["PLATE"] == pytest.approx(20 * 40 * 0.1345 * POUNDS_PER_CUBIC_INCH, rel=1e-3)
