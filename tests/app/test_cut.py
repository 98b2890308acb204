"""Cuts recorded, taken back, recorded twice; book and rack change together."""

import io
import zipfile
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import AGAIN, record_marked
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_records, read_steps
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.repair import repair
from sheetplan.app.rack.undo import undo_cut
from sheetplan.checking import check_layout
from sheetplan.rack.kept_plan import EXACT_FILE, kept_plan_of
from sheetplan.rack.record import as_remnant
from sheetplan.rack.record_dxf import read_own
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import REMNANTS
from sheetplan.workbook.outcomes import BookInUse
from tests.app.cut_book import DAY, cell, copied, plan, planned_book, record_cut, state, write
from tests.workbook.books import changed


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"), as_it_is=True)


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def first(book: Path, **asked: object) -> object:
    """A cut of the first layout of the plan that the book shows."""
    return record_cut(book, CutAsked(first_layout(book), **asked), today=DAY)  # type: ignore[arg-type]


def first_layout(book: Path) -> str:
    [folder] = (book.parent / "layouts").glob("plan-*")
    return next(iter(kept_plan_of((folder / EXACT_FILE).read_text()).layouts))


def test_one_cut_changes_count_rows_log_and_rack_together(book: Path) -> None:
    done = first(book, by="Ann", heat="H-77")
    assert done.step.times == 1
    assert cell(book, "Stock", "MS10", "On hand") == 2
    [tag] = done.step.left
    assert cell(book, "Remnants", tag, "State") == "in rack"
    assert (cell(book, "Remnants", tag, "Width"), cell(book, "Remnants", tag, "Length")) == (48, 96)
    assert cell(book, "Layouts", "L1", "Cut so far") == 1
    assert cell(book, "Cut log", 1, "Good pieces") == "9 x BRACE, 10 x PLATE"
    assert cell(book, "Cut log", 1, "Heat") == "H-77"
    record = read_own((book.parent / "rack" / f"{tag}.dxf").read_bytes(), Units.INCH)
    assert record is not None
    assert len(record.cuts) == 19
    assert (record.heat, record.cuts[0].date, record.cuts[0].layout) == ("H-77", "2026-11-25", "L1")


def test_nothing_else_in_the_book_changes(book: Path) -> None:
    before = book.read_bytes()
    first(book)
    old, new = (zipfile.ZipFile(io.BytesIO(data)) for data in (before, book.read_bytes()))
    changed = {n for n in old.namelist() if n not in new.namelist() or old.read(n) != new.read(n)}
    names = openpyxl.load_workbook(io.BytesIO(before)).sheetnames
    counted = "Layouts", "Cutting order"
    own, drawn = (
        {f"xl/worksheets/sheet{names.index(page) + 1}.xml" for page in pages}
        for pages in (("Stock", "Remnants", *counted), ("Cut log", "Finished parts"))
    )
    assert {n for n in changed if n.startswith("xl/worksheets/sheet") and "sheetplan" not in n} == own | drawn
    # And in the planner's pages all cells but the ones meant stay as they are, to the byte.
    for part in own - {f"xl/worksheets/sheet{names.index(page) + 1}.xml" for page in counted}:
        left, right = old.read(part), new.read(part)
        same = len(left) - sum(a != b for a, b in zip(left.split(b"<c "), right.split(b"<c "), strict=True))
        assert same > len(left) - 12


def test_cut_undo_cut_gives_the_same_files_byte_for_byte(book: Path) -> None:
    first(book, by="Ann", heat="H-77")
    once = state(book.parent)
    undo_cut(book)
    assert not list((book.parent / "rack").rglob("*.dxf"))
    assert cell(book, "Stock", "MS10", "On hand") == 3
    first(book, by="Ann", heat="H-77")
    assert state(book.parent) == once


def test_a_tag_that_may_stand_on_a_sheet_is_not_given_to_another(book: Path) -> None:
    assert first(book).step.left == ("R-001",)
    undo_cut(book)
    write(book, "Orders", "H-2", "Quantity", 3)
    mark = plan(book)
    other = first(book, plan=mark)
    assert other.step.left == ("R-002",)
    # From now on the first is no longer the cut last taken back.
    twice = first(book, times=1, again=True, on="", plan=mark)
    assert twice.step.left == ("R-003",)
    undo_cut(book)
    once = state(book.parent)
    assert first(book, times=1, again=True, plan=mark).step.left == ("R-003",)
    undo_cut(book)
    assert state(book.parent) == once


def test_two_cuts_taken_back_and_recorded_again_are_the_same_byte_for_byte(book: Path) -> None:
    first(book)
    first(book, times=1, again=True)
    twice = state(book.parent)
    undo_cut(book)
    undo_cut(book)
    first(book)
    first(book, times=1, again=True)
    assert state(book.parent) == twice


def test_pieces_that_no_order_asks_for_are_told_as_spare(book: Path) -> None:
    assert "spare" not in str(cell(book, "Cut log", first(book).step.number, "Note")).lower()
    done = first(book, times=1, again=True)
    assert "Spare, no order asks for them: 9 x BRACE, 10 x PLATE." in done.sentences
    assert cell(book, "Cut log", 2, "Note") == "spare: 9 x BRACE, 10 x PLATE"


def test_taking_back_what_was_taken_back_is_the_same_again(book: Path) -> None:
    first(book)
    undo_cut(book)
    back = state(book.parent)
    first(book)
    undo_cut(book)
    assert state(book.parent) == back
    with pytest.raises(Refused, match="Nothing is recorded"):
        undo_cut(book)
    assert state(book.parent) == back


def test_running_it_twice_is_noticed(book: Path) -> None:
    first(book)
    once = state(book.parent)
    with pytest.raises(Refused, match="recorded already: 1 of 1 times"):
        first(book)
    with pytest.raises(Refused):
        first(book, times=1)
    assert state(book.parent) == once
    assert first(book, times=1, again=True).step.number == 2


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (CutAsked("L9"), "no layout L9"),
        (CutAsked("L1", times=2), "too many"),
        (CutAsked("L1", times=0), "at least once"),
        (CutAsked("L1", plan="QQQQ"), "was planned as QQQQ"),
        (CutAsked("L1", on="R-001"), "no remnant R-001"),
        (CutAsked("L1", bad={"RING": 1}), "RING is not on L1"),
        (CutAsked("L1", bad={"PLATE": 99}), "99 of PLATE cannot be bad"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(book: Path, asked: CutAsked, says: str) -> None:
    before = state(book.parent)
    with pytest.raises(Refused, match=says):
        record_cut(book, asked, today=DAY)
    assert state(book.parent) == before


def test_pieces_that_are_cut_are_not_planned_again(book: Path) -> None:
    told = first(book, bad={"PLATE": 1}).sentences
    assert f"Came out bad: 1 x PLATE. They count for no order; {AGAIN}." in told
    outcome = check_book(book)
    # By hand: 5 frames ask for 10 plates, of which 9 are good, and 5 braces; H-2 for 4 braces more.
    assert outcome.job is not None
    assert [(o.name, o.item, o.quantity) for o in outcome.job.orders] == [("H-1", "PLATE", 1)]
    plan(book)
    done = first(book)
    assert done.step.pieces == {"PLATE": 1}
    outcome = check_book(book)
    assert outcome.job is not None
    assert outcome.job.orders == ()


def test_the_next_parts_go_in_beside_the_old_cuts_and_nothing_is_cut_twice(book: Path) -> None:
    tag = first(book).step.left[0]
    write(book, "Orders", "H-2", "Quantity", 12)
    mark = plan(book)
    kept = kept_plan_of((book.parent / "layouts" / f"plan-{mark}" / EXACT_FILE).read_text())
    [planned] = kept.layouts.values()
    assert planned.layout.sheet.tag == tag
    assert len(planned.layout.sheet.cuts) == 19
    done = first(book)
    assert done.step.on == tag
    assert cell(book, "Stock", "MS10", "On hand") == 2
    # The record now holds both; every cut keeps its distance to all others on the true outlines.
    held = read_records(book.parent / "rack", Units.INCH)[tag]
    assert len(held.now.cuts) == 19 + 8
    with pytest.raises(Refused, match="overlaps"):
        first(book, on=tag, again=True)


def test_a_layout_that_hits_old_cuts_is_refused_by_the_check_itself(book: Path) -> None:
    tag = first(book).step.left[0]
    held = read_records(book.parent / "rack", Units.INCH)[tag]
    job = check_book(book).job
    row = next(remnant for remnant in job.remnants if remnant.tag == tag)
    [folder] = (book.parent / "layouts").glob("plan-*")
    kept = kept_plan_of((folder / EXACT_FILE).read_text())
    planned = kept.layouts["L1"]
    from dataclasses import replace

    again = replace(planned.layout, sheet=as_remnant(held.now, row), repeats=1)
    faults = check_layout(again, planned.group, kept.parts, Units.INCH)
    assert len([f for f in faults if f.kind.name == "OLD_CUT"]) >= 19


def test_marks_in_the_book_are_recorded_and_cleared(book: Path) -> None:
    write(book, "Layouts", "L1", "Cut now", 1)
    outcome = check_book(book)
    assert outcome.stops
    assert any("marked in Cut now" in problem.what for problem in outcome.problems)
    [done] = record_marked(book, today=DAY)
    assert done.step.layout == "L1"
    assert cell(book, "Layouts", "L1", "Cut now") is None
    assert cell(book, "Layouts", "L1", "Cut so far") == 1
    assert list(record_marked(book, today=DAY)) == []
    assert not check_book(book).stops


def test_a_mark_that_is_no_number_is_told(book: Path) -> None:
    write(book, "Layouts", "L1", "Cut now", "yes")
    with pytest.raises(Refused, match="not a whole number"):
        list(record_marked(book, today=DAY))


def test_a_book_with_too_few_on_hand_is_told_not_refused(tmp_path: Path) -> None:
    book = planned_book(tmp_path, on_hand=0)
    done = first(book)
    assert done.step.from_stock == 0
    [said] = [sentence for sentence in done.sentences if "0 of MS10 on hand and 1 was cut" in sentence]
    # The sheet that came for this cut is gone: raising the count for it would plan on no sheet at all.
    assert "counts as delivered and used up: leave On hand as it is for it" in said
    assert "only by sheets that come beyond those already cut" in said
    assert cell(book, "Stock", "MS10", "On hand") == 0


@pytest.mark.parametrize("crop", [True, False])
def test_a_sheet_of_which_nothing_is_worth_keeping_is_told(tmp_path: Path, crop: bool) -> None:
    done = first(planned_book(tmp_path, least=90), crop=crop)
    assert done.step.left == ()
    assert "Nothing worth keeping is left of the sheet (least useful size 90 x 90 in)." in done.sentences


def test_a_formula_in_the_count_is_left_alone(book: Path) -> None:
    write(book, "Stock", "MS10", "On hand", "=1+2")
    sheet = f"xl/worksheets/sheet{openpyxl.load_workbook(book).sheetnames.index('Stock') + 1}.xml"
    book.write_bytes(changed(book.read_bytes(), sheet, b"<f>1+2</f><v></v>", b"<f>1+2</f><v>3</v>"))
    done = first(book)
    assert cell(book, "Stock", "MS10", "On hand") == "=1+2"
    assert any("Check" in sentence for sentence in done.sentences)


def test_a_count_changed_since_keeps_the_change(book: Path) -> None:
    first(book)
    write(book, "Stock", "MS10", "On hand", 12)
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 13


def test_another_plans_layout_of_that_name_is_not_taken_for_a_change(book: Path) -> None:
    first(book)
    write(book, "Orders", "H-2", "Quantity", 30)
    plan(book)
    tag = first_layout(book)
    before = cell(book, "Layouts", tag, "Cut so far")
    _, said = undo_cut(book)
    assert not [sentence for sentence in said if "Check" in sentence]
    assert cell(book, "Layouts", tag, "Cut so far") == before


def test_a_count_on_the_page_of_the_plan_that_was_cut_is_compared(book: Path) -> None:
    first(book)
    write(book, "Layouts", "L1", "Cut so far", 7)
    _, said = undo_cut(book)
    assert [sentence for sentence in said if "Cut so far of L1" in sentence and "stays" in sentence]
    assert cell(book, "Layouts", "L1", "Cut so far") == 7


def test_a_ticket_of_the_first_of_many_plans_is_recorded(book: Path) -> None:
    [folder] = (book.parent / "layouts").glob("plan-*")
    mark = folder.name.removeprefix("plan-")
    for quantity in range(5, 11):
        write(book, "Orders", "H-2", "Quantity", quantity)
        assert plan(book) != mark
    kept = book.parent / "layouts" / "earlier" / folder.name
    assert not list(kept.glob("*.dxf"))
    assert record_cut(book, CutAsked("L1", plan=mark), today=DAY).step.plan == mark
    with pytest.raises(Refused, match=r"last 24 earlier plans are kept.*by hand"):
        first(book, plan="ZZZZ")


def test_a_remnant_used_up_keeps_its_history(tmp_path: Path) -> None:
    row = {"Tag": "R-007", "Material": "mild steel", "Thickness": "10 ga", "Width": 30, "Length": 50,
           "Rack place": "R3", "Value": 12}  # fmt: skip
    book = planned_book(tmp_path, plates=1, remnants=[row], least=60)
    before = state(tmp_path)
    kept = kept_plan_of(next((tmp_path / "layouts").glob("plan-*/" + EXACT_FILE)).read_text())
    assert [one.layout.sheet.tag for one in kept.layouts.values()] == ["R-007"]
    done = record_cut(book, CutAsked("L1"), today=DAY)
    assert done.step.on == "R-007"
    assert done.step.left == ()
    assert cell(book, "Remnants", "R-007", "State") == "used up"
    assert (tmp_path / "rack" / "used up" / "R-007.dxf").exists()
    assert check_book(book).job.remnants == ()
    undo_cut(book)
    assert cell(book, "Remnants", "R-007", "State") is None
    after = state(tmp_path)
    assert {k: v for k, v in after.items() if "xlsx" not in k} == {
        k: v for k, v in before.items() if "xlsx" not in k
    }


def test_a_book_that_is_open_elsewhere_is_not_touched(book: Path) -> None:
    (book.parent / f"~${book.name}").write_bytes(b"\x03Ann")
    before = state(book.parent)
    with pytest.raises(BookInUse):
        first(book)
    assert {k: v for k, v in state(book.parent).items() if "steps" not in k} == before


def test_drawings_edited_missing_and_broken_are_reported_and_mended(book: Path) -> None:
    tag = first(book).step.left[0]
    drawing = book.parent / "rack" / f"{tag}.dxf"
    good = drawing.read_bytes()

    drawing.unlink()
    assert any("missing" in problem.what for problem in look(book).problems)
    assert not check_book(book).stops
    assert any("written again" in sentence for sentence in repair(book))
    assert drawing.read_bytes() == good
    assert look(book).problems == ()

    drawing.write_bytes(good.replace(b"OLD_CUTS\r\n", b"SCRIBBLE\r\n", 1))
    text = drawing.read_bytes()
    assert check_book(book) is not None
    assert drawing.read_bytes() == text

    drawing.write_bytes(b"nothing of use")
    found = look(book).problems
    assert any("cannot be used" in problem.what for problem in found)
    assert check_book(book).job.remnants == ()
    repair(book)
    assert drawing.read_bytes() == b"nothing of use"


def test_a_cut_drawn_by_hand_is_planned_around_taken_over_and_kept(book: Path) -> None:
    import ezdxf

    tag = first(book).step.left[0]
    drawing = book.parent / "rack" / f"{tag}.dxf"
    document = ezdxf.readfile(drawing)
    document.modelspace().add_circle((80, 40), 3, dxfattribs={"layer": "OLD_CUTS"})
    document.saveas(drawing)
    edited = drawing.read_bytes()
    assert any("changed by hand" in problem.what for problem in check_book(book).problems)
    assert len(check_book(book).job.remnants[0].cuts) == 20
    with pytest.raises(Refused, match="changed since"):
        undo_cut(book)
    assert any("taken over" in sentence for sentence in repair(book))
    assert drawing.read_bytes() == edited
    assert look(book).problems == ()
    with pytest.raises(Refused, match="changed since"):
        undo_cut(book)


def test_a_row_that_was_deleted_is_reported_and_written_again(book: Path) -> None:
    tag = first(book).step.left[0]
    workbook = openpyxl.load_workbook(book)
    sheet = workbook["Remnants"]
    row = next(r[0].row for r in sheet.iter_rows() if r[0].value == tag)
    for column in range(1, len(REMNANTS.columns) + 1):
        sheet.cell(row, column).value = None
    workbook.save(book)
    assert any("no row" in problem.what for problem in look(book).problems)
    assert any(f"{tag}: a row was added" in sentence for sentence in repair(book))
    assert cell(book, "Remnants", tag, "Width") == 48
    assert look(book).problems == ()


def test_a_book_restored_from_a_copy_is_noticed(book: Path) -> None:
    yesterday = book.read_bytes()
    first(book)
    book.write_bytes(yesterday)
    assert any("is older than its folder rack" in problem.what for problem in look(book).problems)
    with pytest.raises(Refused, match="is older than its folder rack"):
        first(book)
    said = repair(book)
    assert any("put back on the page Cut log" in sentence for sentence in said)
    assert look(book).problems == ()
    with pytest.raises(Refused, match="recorded already"):
        first(book)


def test_a_book_moved_without_its_rack_is_noticed(book: Path, tmp_path: Path) -> None:
    first(book)
    alone = tmp_path / "alone" / book.name
    alone.parent.mkdir()
    alone.write_bytes(book.read_bytes())
    (alone.parent / "rack").mkdir()
    assert any("no folder rack that knows" in problem.what for problem in look(alone).problems)
    assert any("rebuilt from the page Cut log" in sentence for sentence in repair(alone))
    assert all("Not known any more" in p.what or "is gone" in p.what for p in look(alone).problems)
    assert cell(alone, "Cut log", 1, "Layout") == "L1"
    assert read_steps(alone.parent / "rack")[1].weights.taken == pytest.approx(
        read_steps(book.parent / "rack")[1].weights.taken, rel=1e-6
    )
