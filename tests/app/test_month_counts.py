"""Counted remnants weigh what stands in the rack: outline less what had been cut out of it by then."""

import datetime
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.month import month_of, records_then
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import known_name, known_text
from sheetplan.money.month import MonthLine
from sheetplan.planning.progress import quiet
from sheetplan.rack.record import PastCut, Record
from sheetplan.rack.step import Step
from tests.app.cut_book import DAY, cell, fill, plan, planned_book, record_cut, ring_book, write
from tests.rack.shapes_of_cuts import TEN_GAUGE, block, past_cut

METAL = {"Material": "mild steel", "Thickness": "10 ga"}
OCTOBER, NOVEMBER, DECEMBER = "2026-10-31", "2026-11-30", "2026-12-31"
GRAM = 1e-3


def counted(month: str, width: object, length: object, sheets: int = 1, tag: str = "") -> dict[str, object]:
    return {"End of": month, **METAL, "Width": width, "Length": length, "Sheets": sheets, "Tag": tag}


def as_on_remnants(book: Path, month: str, tag: str) -> dict[str, object]:
    """A remnant counted at the size that the page Remnants gives it."""
    width, length = (cell(book, "Remnants", tag, heading) for heading in ("Width", "Length"))
    return counted(month, width, length, tag=tag)


def count_rack(book: Path, rows: list[dict[str, object]]) -> None:
    filled = openpyxl.load_workbook(book)
    fill(filled, "Rack count", rows)
    filled.save(book)


def balance(book: Path, month: str) -> MonthLine:
    outcome = month_of(book, month, report=quiet)
    assert outcome.metals is not None
    assert outcome.metals.total.counted
    return outcome.metals.total


def test_a_sheet_kept_with_its_cuts_weighs_what_they_left(tmp_path: Path) -> None:
    book = planned_book(tmp_path, as_it_is=True)
    step = record_cut(book, CutAsked("L1"), today=DAY).step
    [tag] = step.left
    rows = [counted(OCTOBER, 48, 96, 3), counted(NOVEMBER, 48, 96, 3 - step.from_stock)]
    count_rack(book, [*rows, as_on_remnants(book, NOVEMBER, tag)])
    november = balance(book, "2026-11")
    assert november.split.parts > 0.0
    assert november.not_recorded == pytest.approx(0.0, abs=GRAM)
    sheet = november.start / 3
    assert november.end == pytest.approx((3 - step.from_stock) * sheet + step.weights.kept, abs=GRAM)


def test_the_yield_of_a_month_is_the_same_whether_a_sheet_goes_back_cropped_or_with_its_skeleton(
    tmp_path: Path,
) -> None:
    """The skeleton that goes back with the sheet is not good metal: it is waste of this month, no yield."""
    found = []
    for as_it_is in (True, False):
        book = planned_book(tmp_path / str(as_it_is), as_it_is=as_it_is)
        step = record_cut(book, CutAsked("L1"), today=DAY).step
        outcome = month_of(book, "2026-11", report=quiet)
        assert outcome.metals is not None
        found.append((step, outcome.metals.total.split))
    (kept, whole), (_, cropped) = found
    assert whole.along == pytest.approx(kept.weights.along)
    assert whole.along > 1.0, "a pound and more of skeleton hangs on it"
    assert whole.yield_share == pytest.approx(cropped.yield_share, abs=0.02)
    assert whole.parts / whole.used_up > cropped.yield_share + 0.02, "what it was without"


@pytest.mark.parametrize("crop", [False, True])
def test_a_later_cut_changes_no_earlier_count(tmp_path: Path, crop: bool) -> None:
    """What November counted stays what it was when the same sheet is cut again, or cropped, in December."""
    book = planned_book(tmp_path, as_it_is=True)
    first = record_cut(book, CutAsked("L1"), today=DAY).step
    [tag] = first.left
    full = 3 - first.from_stock
    rows = [counted(OCTOBER, 48, 96, 3), counted(NOVEMBER, 48, 96, full), as_on_remnants(book, NOVEMBER, tag)]
    write(book, "Orders", "H-2", "Quantity", 10)
    plan(book)
    second = record_cut(book, CutAsked("L2", crop=crop), today=datetime.date(2026, 12, 5)).step
    assert second.on == tag
    assert second.left == (tag,)
    assert (cell(book, "Remnants", tag, "Length") == 96) is not crop
    rows += [counted(DECEMBER, 48, 96, full), as_on_remnants(book, DECEMBER, tag)]
    count_rack(book, rows)
    november, december = balance(book, "2026-11"), balance(book, "2026-12")
    for line, step in ((november, first), (december, second)):
        assert line.not_recorded == pytest.approx(0.0, abs=GRAM)
        assert line.end == pytest.approx(full * november.start / 3 + step.weights.kept, abs=GRAM)
    assert december.start == november.end


def test_a_disc_from_a_hole_weighs_as_a_disc(tmp_path: Path) -> None:
    book = ring_book(tmp_path)
    plan(book)
    step = record_cut(book, CutAsked("L1"), today=DAY).step
    assert len(step.left) == 2
    rows = [counted(OCTOBER, 48, 96, 3), counted(NOVEMBER, 48, 96, 3 - step.from_stock)]
    count_rack(book, [*rows, *(as_on_remnants(book, NOVEMBER, tag) for tag in step.left)])
    # A circle in its square is pi / 4 of it: counted as a square the disc would weigh a quarter more.
    assert balance(book, "2026-11").not_recorded == pytest.approx(0.0, abs=GRAM)


def test_a_count_of_another_size_or_name_is_taken_as_it_is_written(tmp_path: Path) -> None:
    book = planned_book(tmp_path, as_it_is=True)
    step = record_cut(book, CutAsked("L1"), today=DAY).step
    [tag] = step.left
    rows = [counted(OCTOBER, 48, 96, 2), counted(NOVEMBER, 48, 96, tag="R-999")]
    count_rack(book, [*rows, counted(NOVEMBER, 48, 90, tag=tag)])
    november = balance(book, "2026-11")
    sheet = november.start / 2
    assert november.end == pytest.approx(sheet * (1 + 90 / 96), rel=1e-9)


def test_a_damaged_record_is_told_and_its_sheet_weighs_what_its_drawing_says(tmp_path: Path) -> None:
    book = planned_book(tmp_path, as_it_is=True)
    [tag] = record_cut(book, CutAsked("L1"), today=DAY).step.left
    count_rack(book, [counted(OCTOBER, 48, 96), as_on_remnants(book, NOVEMBER, tag)])
    (tmp_path / "rack" / "known" / f"{tag}.json").write_text("{}", encoding="utf-8")
    outcome = month_of(book, "2026-11", report=quiet)
    assert [problem.page for problem in outcome.problems] == ["Rack count"]
    assert outcome.metals is not None
    assert outcome.metals.total.not_recorded == pytest.approx(0.0, abs=GRAM)


def test_steps_of_later_months_are_taken_back_the_last_first() -> None:
    """R-1 was drawn by hand with a cut nobody dated, and cut in October, November and, cropped, December."""
    sheet = Record("R-1", "mild steel", TEN_GAUGE, block(0, 0, 1000, 600), (PastCut(block(0, 0, 50, 50)),))
    october = replace(sheet, cuts=(*sheet.cuts, past_cut(block(100, 0, 200, 100), step=1)))
    november = replace(october, cuts=(*october.cuts, past_cut(block(300, 0, 400, 100), step=2)))
    december = replace(sheet, edge=block(0, 0, 500, 600), cuts=())
    steps = {
        1: step(1, "2026-10-20", None), 2: step(2, "2026-11-05", october), 3: step(3, "2026-12-01", november),
    }  # fmt: skip
    for month, expected in (
        ("2026-12", december), ("2026-11", november), ("2026-10", october),
        # Nothing was known of the sheet before its first step, so its cuts alone are taken back.
        ("2026-09", sheet),
    ):  # fmt: skip
        assert records_then({"R-1": december}, steps, month) == {"R-1": expected}
    undrawn = replace(november, tag="R-2")
    assert records_then({"R-2": undrawn}, steps, "2026-09") == {"R-2": undrawn}


def step(number: int, date: str, before: Record | None) -> Step:
    former = None if before is None else known_text(before, b"").encode().decode("latin-1")
    return Step(
        number=number, date=date, plan="ABCD", layout="L1", times=1, gauge="mild steel 10 ga", on="R-1",
        left=("R-1",), former={known_name("R-1"): former},
    )  # fmt: skip
