"""LibreOffice as the judge: it opens what we wrote and draws the planner's pages as before."""

import io
from pathlib import Path

import openpyxl
import pytest
from PIL import Image

from sheetplan.trade.units import Units
from sheetplan.workbook.package.guard import fingerprint
from sheetplan.workbook.writing.closed import put_pages
from tests.nasty.worst_book import worst_book
from tests.workbook.rendering import converted, needs_libreoffice, pictures
from tests.workbook.sample_pages import all_pages, plan_page

pytestmark = [
    needs_libreoffice,
    pytest.mark.slow,
    pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl"),
]


def ink(png: bytes) -> float:
    """Share of a page that is not white."""
    grey = Image.open(io.BytesIO(png)).convert("L")
    return 1 - grey.histogram()[255] / (grey.width * grey.height)


def test_the_planners_pages_look_the_same_to_the_pixel_after_three_runs(tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(worst_book())
    before = pictures(path, tmp_path / "before")
    for run in range(3):
        put_pages(path, (plan_page(f"Run {run}"), *all_pages()[1:]), Units.INCH, fingerprint(path))
    after = pictures(path, tmp_path / "after")
    assert len(before) >= 10
    assert after[: len(before)] == before
    ours = after[len(before) :]
    assert len(ours) >= 4
    assert all(ink(page) > 0.001 for page in ours)
    assert any(ink(page) > 0.1 for page in ours), "the layout pictures are drawn"


def test_our_pages_are_known_again_after_libreoffice_has_saved_the_book(tmp_path: Path) -> None:
    path = tmp_path / "jobs.xlsx"
    path.write_bytes(worst_book())
    put_pages(path, all_pages(), Units.INCH, fingerprint(path))
    saved = converted(path, "xlsx", tmp_path / "saved")
    written = put_pages(saved, (plan_page("After LibreOffice"),), Units.INCH, fingerprint(saved))
    assert written.refused is None
    book = openpyxl.load_workbook(saved)
    assert book["Plan"]["A1"].value == "After LibreOffice"
    assert book["Layouts"]["A1"].value == "Layouts"
    assert len(book.sheetnames) == len(set(book.sheetnames)) == len(openpyxl.load_workbook(path).sheetnames)
    size = saved.stat().st_size
    put_pages(saved, (plan_page("After LibreOffice again"),), Units.INCH, fingerprint(saved))
    assert abs(saved.stat().st_size - size) < 100
