"""Book and rack know one another: what is copied, moved or put back is told by all commands alike."""

import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.table import Table

from sheetplan.app.check import CheckOutcome, check_book
from sheetplan.app.month import month_of
from sheetplan.app.parts import look_at_parts
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_records, read_steps
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.repair import TWO_RACKS, repair
from sheetplan.app.rack.square import Measured, square
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, receive
from sheetplan.model import Weight
from sheetplan.planning.progress import quiet
from sheetplan.trade.units import Units
from tests.app.cut_book import DAY, cell, copied, planned_book, record_cut, state, write


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned book, and L1 of it cut in a copy: what leaves R-001 and lowers On hand by one."""
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture(scope="module")
def cut_once(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    book = copied(made, tmp_path_factory.mktemp("cut"))
    record_cut(book, CutAsked("L1"), today=DAY)
    return book


def planned(book: Path) -> PlanOutcome:
    return plan_book(book, PlanAsked(DAY, seconds=0.1, seed=1), stop=lambda: False, report=quiet, workers=1)


def stops_of(outcome: CheckOutcome) -> list[str]:
    return [problem.what for problem in outcome.problems if problem.weight is Weight.STOPS]


def told_by_all(book: Path, *, plan_too: bool = False) -> str:
    """The sentence by which every command stops; they all have to say the same one."""
    [said] = stops_of(check_book(book))
    commands: dict[str, Callable[[], object]] = {
        "cut": lambda: record_cut(book, CutAsked("L1", again=True), today=DAY),
        "undo": lambda: undo_cut(book),
        "receive": lambda: receive(book, SheetsAsked({"MS10": 1}), today=DAY),
        "parts": lambda: look_at_parts(book),
        "square": lambda: square(book, "L1", Measured((0.0, 0.0), angle=0.0)),
    }
    before = state(book.parent)
    for name, command in commands.items():
        with pytest.raises(Refused) as refused:
            command()
        assert refused.value.what == said, name
    assert [problem.what for problem in look(book).problems] == [said]
    assert state(book.parent) == before, "what is refused changes nothing"
    month = month_of(book, "2026-11", report=quiet)
    assert month.metals is None
    assert said in [problem.what for problem in month.problems]
    if plan_too:
        outcome = planned(book)
        assert outcome.plan is None
        assert said in [problem.what for problem in outcome.problems]
    return said


def test_a_rack_that_is_gone(cut_once: Path, tmp_path: Path) -> None:
    book = copied(cut_once, tmp_path / "shop")
    shutil.rmtree(book.parent / "rack")
    said = told_by_all(book, plan_too=True)
    assert said.startswith(f"The logs of {book.name} list step 1, and beside it is no folder rack")


def test_a_book_whose_steps_were_all_taken_back_still_asks_for_its_rack(
    cut_once: Path, tmp_path: Path
) -> None:
    """A copy of it elsewhere would not know of what is cut at home next; once mended it is on its own."""
    home, alone = copied(cut_once, tmp_path / "shop"), tmp_path / "alone"
    undo_cut(home)
    assert stops_of(check_book(home)) == []
    alone.mkdir()
    book = Path(shutil.copy(home, alone / home.name))
    assert "say that it has a folder rack, and beside it is no folder rack" in told_by_all(book)
    assert TWO_RACKS in repair(book)
    assert stops_of(check_book(book)) == []


def test_a_book_moved_alone_and_beside_the_rack_of_another(cut_once: Path, tmp_path: Path) -> None:
    alone, theirs = tmp_path / "alone", tmp_path / "theirs"
    alone.mkdir()
    theirs.mkdir()
    book = Path(shutil.copy(cut_once, alone / cut_once.name))
    assert "no folder rack" in told_by_all(book)
    other = planned_book(theirs, plates=4, name="crane.xlsx")
    record_cut(other, CutAsked("L1", by="Ben"), today=DAY)
    guest = Path(shutil.copy(cut_once, theirs / "yard.xlsx"))
    assert "is not its own: it holds steps of crane.xlsx" in told_by_all(guest)
    with pytest.raises(Refused, match="not its own"):
        repair(guest)
    assert stops_of(check_book(other)) == []


def test_an_older_copy_under_any_name(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    shutil.copy(book, tmp_path / "yesterday.xlsx")
    record_cut(book, CutAsked("L1", by="Ann"), today=DAY)
    for name in ("yard copy.xlsx", "yard.xlsx"):
        shutil.copy(tmp_path / "yesterday.xlsx", book.with_name(name))
        assert "is older than its folder rack: step 1" in told_by_all(book.with_name(name))


def test_a_copy_from_before_another_plan_is_known_by_the_mark(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    shutil.copy(book, book.with_name("old.xlsx"))
    write(book, "Orders", "H-2", "Quantity", 6)
    outcome = planned(book)
    assert outcome.plan is not None
    tag = outcome.plan.groups[0].layouts[0].tag
    record_cut(book, CutAsked(f"{outcome.mark}-{tag}"), today=DAY)
    assert "older than its folder rack" in told_by_all(book.with_name("old.xlsx"))


def test_an_older_rack(cut_once: Path, tmp_path: Path) -> None:
    book = copied(cut_once, tmp_path / "shop")
    shutil.copytree(book.parent / "rack", tmp_path / "rack of before")
    receive(book, SheetsAsked({"MS10": 2}), today=DAY)
    shutil.rmtree(book.parent / "rack")
    shutil.copytree(tmp_path / "rack of before", book.parent / "rack")
    assert "is older than the book: it does not know step 2" in told_by_all(book)


def test_one_number_two_histories(made: Path, tmp_path: Path) -> None:
    """Step 1 was taken back and given again; a copy of the book still lists the first one."""
    book = copied(made, tmp_path / "shop")
    record_cut(book, CutAsked("L1", only=("BRACE",)), today=DAY)
    shutil.copy(book, tmp_path / "kept.xlsx")
    undo_cut(book)
    record_cut(book, CutAsked("L1"), today=DAY)
    shutil.copy(tmp_path / "kept.xlsx", book)
    assert "went separate ways" in told_by_all(book)
    with pytest.raises(Refused, match="went separate ways"):
        repair(book)


def test_what_is_harmless_is_no_matter(cut_once: Path, tmp_path: Path) -> None:
    """Book and rack copied together, the book renamed, a second book of the same rack."""
    book = copied(cut_once, tmp_path / "shop")
    assert stops_of(check_book(book)) == []
    renamed = book.rename(book.with_name("yard of November.xlsx"))
    assert stops_of(check_book(renamed)) == []
    undo_cut(renamed)
    assert stops_of(check_book(renamed)) == []


def test_a_book_of_its_own_may_begin_as_a_copy(cut_once: Path, tmp_path: Path) -> None:
    """What the sentence tells to do makes another book of it, with the same rack and a mark of its own."""
    book = copied(cut_once, tmp_path / "shop")
    receive(book, SheetsAsked({"MS10": 1}), today=DAY)
    december = book.with_name("december.xlsx")
    december.write_bytes(cut_once.read_bytes())
    assert "older than its folder rack" in stops_of(check_book(december))[0]
    opened = openpyxl.load_workbook(december)
    for page in ("Plan", "Layouts", "Cut log", "Stock log"):
        if page in opened.sheetnames:
            del opened[page]
    opened.save(december)
    checked = check_book(december)
    assert stops_of(checked) == []
    assert any("yard.xlsx, which has the same rack, has cuts for H-" in p.what for p in checked.problems)


def test_a_link_to_the_book_is_the_book(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    desk = tmp_path / "desk"
    desk.mkdir()
    link = desk / "today.xlsx"
    link.symlink_to(book)
    record_cut(link, CutAsked("L1"), today=DAY)
    assert [p.what for p in check_book(link).problems] == [p.what for p in check_book(book).problems]
    outcome = planned(link)
    assert outcome.book == book
    assert os.listdir(desk) == ["today.xlsx"]


def test_two_pages_that_could_be_orders(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    opened = openpyxl.load_workbook(book)
    last = opened["Orders"]
    [table] = last.tables.values()
    copy = opened.copy_worksheet(last)
    last.title = "Orders Oct"
    copy.title = "Orders"
    copy.add_table(Table(displayName="Orders_1", ref=table.ref))
    opened.save(book)
    assert any("Two pages could be the page Orders" in said for said in stops_of(check_book(book)))
    with pytest.raises(Refused):
        record_cut(book, CutAsked("L1"), today=DAY)
    opened = openpyxl.load_workbook(book)
    del opened["Orders"]
    opened.save(book)
    assert stops_of(check_book(book)) == [], "a page that was renamed, and no other, is the page"


def test_a_rack_that_is_lost_is_rebuilt(cut_once: Path, tmp_path: Path) -> None:
    """Pieces, orders, the record and its drawing as before; taken back, the count is as before the cut."""
    book = copied(cut_once, tmp_path / "shop")
    [before] = read_steps(book.parent / "rack").values()
    record = read_records(book.parent / "rack", Units.INCH)["R-001"].known
    shutil.rmtree(book.parent / "rack")
    said = " ".join(repair(book))
    assert "rebuilt" in said
    assert TWO_RACKS in said
    assert stops_of(check_book(book)) == []
    [after] = read_steps(book.parent / "rack").values()
    assert (after.pieces, after.credits, after.left, after.from_stock, after.new_rows) == (
        before.pieces, before.credits, before.left, before.from_stock, before.new_rows,
    )  # fmt: skip
    assert read_records(book.parent / "rack", Units.INCH)["R-001"].known == record
    assert len(check_book(book).job.orders) == 0, "what is cut is not planned again"  # type: ignore[union-attr]
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert "R-001" not in read_records(book.parent / "rack", Units.INCH)
    assert not any(remnant.tag == "R-001" for remnant in check_book(book).job.remnants)  # type: ignore[union-attr]


def test_what_cannot_be_rebuilt_is_said_and_left_out(cut_once: Path, tmp_path: Path) -> None:
    book = copied(cut_once, tmp_path / "shop")
    shutil.rmtree(book.parent / "rack")
    shutil.rmtree(book.parent / "layouts")
    said = " ".join(repair(book))
    assert "not known any more" in said
    assert "R-001" in said
    outcome = check_book(book)
    assert outcome.job is not None
    assert [remnant.tag for remnant in outcome.job.remnants] == []
    assert any("record of R-001" in p.what and p.weight is Weight.LEFT_OUT for p in outcome.problems)
    _, undone = undo_cut(book)
    assert any("What has been cut from R-001" in one for one in undone)
    assert cell(book, "Stock", "MS10", "On hand") == 3


def test_steps_that_the_book_has_lost_come_back_with_their_counts(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    old = book.read_bytes()
    record_cut(book, CutAsked("L1"), today=DAY)
    book.write_bytes(old)
    said = " ".join(repair(book))
    assert "Step 1 was put back on the page Cut log." in said
    assert "On hand of MS10 is 2 now" in said
    assert f"take it back again: sheetplan undo {book.name}" in said, "it may have been taken back on purpose"
    assert cell(book, "Stock", "MS10", "On hand") == 2
    assert stops_of(check_book(book)) == []
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 3


def test_a_lost_row_before_a_later_step_leaves_the_count(made: Path, tmp_path: Path) -> None:
    """One cut and one sheet come in: what the book says is again what it said before the cut."""
    book = copied(made, tmp_path / "shop")
    record_cut(book, CutAsked("L1"), today=DAY)
    receive(book, SheetsAsked({"MS10": 1}), today=DAY)
    opened = openpyxl.load_workbook(book)
    for row in opened["Cut log"].iter_rows(min_row=4):
        if isinstance(row[0].value, int):
            for one in row:
                one.value = None
    opened.save(book)
    said = " ".join(repair(book))
    assert "Step 1 was put back" in said
    assert "On hand" not in said
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert stops_of(check_book(book)) == []


def test_repair_of_an_older_copy_under_another_name_enters_what_it_lacks(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    copy = Path(shutil.copy(book, book.with_name("yard copy.xlsx")))
    record_cut(book, CutAsked("L1"), today=DAY)
    assert "On hand of MS10 is 2 now" in " ".join(repair(copy))
    checked = check_book(copy)
    assert stops_of(checked) == []
    assert len(checked.job.orders) == 0, "what is cut is not planned again"  # type: ignore[union-attr]
    assert stops_of(check_book(book)) == []


DAMAGED = ("known/R-001.json", "steps/000001.json", "taken back.json", ".unfinished/journal.json")


@pytest.mark.parametrize("name", DAMAGED)
@pytest.mark.parametrize("text", ["{", "[]", "\udcff"])
def test_a_damaged_file_is_no_dead_end(cut_once: Path, tmp_path: Path, name: str, text: str) -> None:
    book = copied(cut_once, tmp_path / "shop")
    path = book.parent / "rack" / name
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    repair(book)
    assert stops_of(check_book(book)) == []
    assert look(book).problems == ()
    assert read_records(book.parent / "rack", Units.INCH)["R-001"].now is not None
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 3


def test_a_record_that_is_gone_is_rebuilt(cut_once: Path, tmp_path: Path) -> None:
    book = copied(cut_once, tmp_path / "shop")
    rack = book.parent / "rack"
    record = read_records(rack, Units.INCH)["R-001"].known
    (rack / "known" / "R-001.json").unlink()
    (rack / "R-001.dxf").unlink()
    assert any("The record of R-001" in problem.what for problem in check_book(book).problems)
    repair(book)
    assert read_records(rack, Units.INCH)["R-001"].known == record


def test_a_record_of_a_sheet_that_was_cut_twice_is_rebuilt_from_what_it_was_before(tmp_path: Path) -> None:
    row = {"Tag": "R-9", "Material": "mild steel", "Thickness": "10 ga", "Width": 40, "Length": 80}
    book = planned_book(tmp_path, plates=1, remnants=[row], as_it_is=True)
    record_cut(book, CutAsked("L1"), today=DAY)
    write(book, "Orders", "H-1", "Quantity", 2)
    assert planned(book).plan is not None
    step = record_cut(book, CutAsked("L2"), today=DAY).step
    assert (step.on, step.left) == ("R-9", ("R-9",))
    rack = book.parent / "rack"
    record = read_records(rack, Units.INCH)["R-9"].known
    assert record is not None
    (rack / "known" / "R-9.json").unlink()
    (rack / "R-9.dxf").unlink()
    repair(book)
    assert read_records(rack, Units.INCH)["R-9"].known == record


def test_a_row_of_stock_that_was_renamed_is_asked_about(made: Path, tmp_path: Path) -> None:
    book = copied(made, tmp_path / "shop")
    write(book, "Stock", "MS10", "Sheet", "MS10-yard")
    before = state(book.parent)
    with pytest.raises(Refused, match="no longer has a sheet MS10"):
        record_cut(book, CutAsked("L1"), today=DAY)
    assert state(book.parent) == before
    record_cut(book, CutAsked("L1", on="MS10-yard"), today=DAY)
    assert cell(book, "Stock", "MS10-yard", "On hand") == 2


def test_steps_say_whose_they_are(cut_once: Path) -> None:
    [path] = (cut_once.parent / "rack" / "steps").glob("*.json")
    mark = json.loads(path.read_text())["of"]
    assert len(mark) == 8
    for page in ("Plan", "Cut log"):
        lines = [str(row[0].value) for row in openpyxl.load_workbook(cut_once)[page].iter_rows()]
        assert sum(line.startswith(f"Book {mark}") for line in lines) == 1, page
