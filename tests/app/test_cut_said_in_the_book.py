"""Whatever the command `cut` can be told, a row of the page Layouts can say: closed, and in an open book."""

import datetime
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.cut import record_cut, record_marked, record_marked_live
from sheetplan.app.cut_asked import CutAsked
from sheetplan.rack.step import Step
from sheetplan.workbook.hosts.excel import ExcelBook
from tests.app.cut_book import DAY, copied, fill, plan, planned_book, write
from tests.workbook.hosts.excel_engine import opened

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
EARLIER = "{earlier}"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A book with an earlier plan and another sheet; the earlier plan's mark."""
    book = planned_book(tmp_path_factory.mktemp("made"))
    plain = openpyxl.load_workbook(book)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    fill(plain, "Stock", [
        {"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "On hand": 3, "Price": 140},
        {"Sheet": "WIDE", **metal, "Width": 60, "Length": 120, "On hand": 2, "Price": 900},
    ])  # fmt: skip
    plain.save(book)
    earlier = plan(book)
    write(book, "Orders", "H-2", "Quantity", 6)
    assert plan(book) != earlier
    return book, earlier


OPTIONS = {
    "as planned": (CutAsked("L2", 1), ""),
    "another sheet": (CutAsked("L2", 1, on="WIDE"), "on WIDE"),
    "a day": (CutAsked("L2", 1, date=datetime.date(2026, 11, 20)), "date 2026-11-20"),
    "stopped half way": (CutAsked("L2", 1, only=("BRACE", "PLATE#1,2")), "only BRACE, PLATE#1,2"),
    "bad pieces": (CutAsked("L2", 1, bad={"PLATE": 2, "BRACE": 1}), "bad PLATE=2, BRACE=1"),
    "who": (CutAsked("L2", 1, by="Ann"), "by Ann"),
    "heat": (CutAsked("L2", 1, heat="A 17/3"), "heat A 17/3"),
    "cropped": (CutAsked("L2", 1, crop=True), "crop"),
    "kept": (CutAsked("L2", 1, crop=False), "as it is"),
    "more than planned": (CutAsked("L2", 2, again=True), "again"),
    "an earlier ticket": (CutAsked(f"{EARLIER}-L1", 1), f"ticket {EARLIER}-L1"),
    "several": (CutAsked("L2", 1, on="WIDE", by="Ann", bad={"PLATE": 1}), "by Ann; on WIDE; bad PLATE=1"),
}


@pytest.mark.parametrize("name", OPTIONS)
def test_a_row_says_what_the_command_says(name: str, made: tuple[Path, str], tmp_path: Path) -> None:
    source, earlier = made
    asked, how = OPTIONS[name]
    how = how.replace(EARLIER, earlier)
    exact = replace(asked, layout=asked.layout.replace(EARLIER, earlier))
    if "-" not in exact.layout:  # what stands on the page is of the plan that the page shows
        shown = openpyxl.load_workbook(source)["Plan"]
        mark = next(str(c.value).split()[1].rstrip(",") for row in shown.iter_rows() for c in row
                    if str(c.value).startswith("Plan "))  # fmt: skip
        exact = replace(exact, plan=mark)
    told = record_cut(copied(source, tmp_path / "told"), exact, today=DAY).step
    closed = copied(source, tmp_path / "closed")
    for heading, value in (("Cut now", asked.times), ("How", how or None)):
        write(closed, "Layouts", "L2", heading, value)
    live = copied(closed, tmp_path / "live")
    [marked] = record_marked(closed, today=DAY)
    [typed] = record_marked_live(ExcelBook(opened(live)), today=DAY)
    assert bare(marked.step) == bare(told)
    assert bare(typed.step) == bare(told)


def bare(step: Step) -> Step:
    """The step without the cells that it wrote: a mark is one more to clear."""
    return replace(step, changes=())
