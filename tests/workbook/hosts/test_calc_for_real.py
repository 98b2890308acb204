"""The extension in a real LibreOffice without a screen: installed, dispatched, drawn, saved."""

import datetime
import functools
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.import_parts import ImportAsked
from sheetplan.app.import_run import import_drawings
from sheetplan.app.making.drawings import known_outlines
from sheetplan.app.new import new_book
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import rack_of, read_steps
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from sheetplan.model import Weight
from sheetplan.pages.values import CUTTING_PAGE
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import IDENTIFIER
from sheetplan.workbook.port import RUN_LABELS
from sheetplan.workbook.writing.grid import MONTH
from tests.app.cut_book import cell, copied, planned_book, record_cut, write
from tests.app.test_import import typed
from tests.hard.hand_back import twin, values_of
from tests.hard.typed_values import COLUMNS, faults
from tests.nasty.drawings_making import box_lines, dxf, space
from tests.workbook.hosts.real_calc import Calc, calc, profile_with_extension, python_with_uno

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        python_with_uno() is None, reason="needs LibreOffice with its Python bridge (python3-uno) installed"
    ),
    pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl"),
]
GONE_SECONDS = 10.0
"""How long a run may outlive its document on a busy machine; on an idle one it is not three."""

TYPED, EVERY = 3, 4
"""Values typed into one column in so many that have a live one beside them.

`tests.hard.typed_values` types 200 into each.
"""


@pytest.fixture(scope="module")
def program() -> Iterator[Calc]:
    """A LibreOffice that writes numbers the German way, for all cases."""
    with profile_with_extension() as profile:
        if profile is None:
            pytest.skip("unopkg refuses the administrator, and setpriv is not there to be somebody else")
        with calc(profile, "de-DE") as made:
            yield made
            made.end()


def asking(folder: Path, seconds: float) -> Path:
    """A book that asks for so many seconds, not planned."""
    book = planned_book(folder, plates=33, plan_it=False)
    write(book, "Settings", "Seconds to spend", "Value", seconds)
    return book


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return asking(tmp_path_factory.mktemp("made"), 0.1)


@pytest.fixture
def opened(program: Calc, made: Path, tmp_path: Path) -> Iterator[tuple[Calc, Path]]:
    """The book in a folder of its own, open."""
    book = copied(made, tmp_path / "shop")
    program.open(str(book))
    yield program, book
    program.close()


@pytest.fixture
def searching(program: Calc, tmp_path: Path) -> Iterator[tuple[Calc, Path]]:
    """The same, but its plans search for a second, in which something can happen."""
    book = asking(tmp_path / "shop", 1)
    program.open(str(book))
    yield program, book
    program.close()


def rows_of_layouts(book: openpyxl.Workbook) -> list[tuple[Any, ...]]:
    rows = book["Layouts"].iter_rows(values_only=True)
    return [row for row in rows if str(row[0]).startswith("L") and row[0][1:].isdigit()]


def leftovers(folder: Path) -> list[str]:
    """What a run may leave only while it works."""
    found = [path.relative_to(folder).as_posix() for path in folder.rglob("*")]
    return [name for name in found if "sheetplan-writing" in name or ".part" in name or ".unfinished" in name]


def until_gone(program: Calc) -> float:
    """Seconds until nothing works for the program any more."""
    start = time.monotonic()
    assert program.wait(20.0)
    return time.monotonic() - start


def test_check_plan_cut_and_undo_from_the_menu(opened: tuple[Calc, Path], tmp_path: Path) -> None:
    program, book = opened
    assert program.menu() == [f"service:{IDENTIFIER}.Run?{run}" for run in (*RUN_LABELS, "stop")]
    assert "Check the book: No problems found." in program.run("check")
    assert "Plan the month: Plan " in program.run("plan")
    assert program.drawn("Layouts")[0] > 1
    assert "Plan the month: Plan " in program.run("plan")
    program.save_copy(str(book.parent / "out.xlsx"))
    saved = openpyxl.load_workbook(book.parent / "out.xlsx")
    rows = rows_of_layouts(saved)
    assert len(saved["Layouts"]._images) == len(rows) == program.drawn("Layouts")[0]
    assert len(list((book.parent / "layouts").glob("plan-*/*.dxf"))) == len(rows)
    link = next(c.hyperlink for r in saved["Layouts"].iter_rows() for c in r if c.hyperlink)
    assert (book.parent / link.target).is_file()
    for run, words in (("cut", "Step 1: L1"), ("undo", "Step 1 was taken back"), ("cut", "Step 1: L1")):
        said = program.run(run)
        assert words in said
        assert "The workbook was saved." in said
        assert program.steps() == []  # what is saved with its files is not undone cell by cell
    assert program.on_page() == "Start"
    program.save_copy(str(tmp_path / "out.pdf"), "calc_pdf_Export")
    assert (tmp_path / "out.pdf").stat().st_size > 20_000
    # The file that Calc saved, and the rack beside it, say the same to the commands for closed books.
    program.close()
    assert cell(book, "Stock", "MS10", "On hand") == 2
    assert cell(book, "Layouts", "L1", "Cut so far") == 1
    [step] = read_steps(rack_of(book)).values()
    seen_now = look(book)
    assert (seen_now.problems, seen_now.told) == ((), "")
    assert {record.tag for record in seen_now.records} == set(step.left)
    undo_cut(book)
    assert cell(book, "Stock", "MS10", "On hand") == 3
    assert not [problem for problem in check_book(book).problems if problem.weight is Weight.STOPS]


def test_a_book_of_before_gets_the_page_of_days_in_its_place(
    program: Calc, made: Path, tmp_path: Path
) -> None:
    book = copied(made, tmp_path / "shop")
    plain = openpyxl.load_workbook(book)
    names = plain.sheetnames
    del plain[CUTTING_PAGE]
    plain.save(book)
    program.open(str(book))
    assert "Plan the month: Plan " in program.run("plan")
    program.save_copy(str(tmp_path / "out.xlsx"))
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert [name for name in saved.sheetnames if name in names] == names
    said = program.run("cut")
    assert "Step 1: L1" in said
    program.close()
    rows = list(openpyxl.load_workbook(book)[CUTTING_PAGE].iter_rows(values_only=True))
    cut = next(row.index("Cut so far") for row in rows if row[1] == "Layout")
    assert sum(row[cut] for row in rows if row[1] == "L1") == 1


def test_metal_is_ordered_received_and_given_back_from_the_menu(program: Calc, tmp_path: Path) -> None:
    book = planned_book(tmp_path, on_hand=0)
    program.open(str(book))
    told = [program.run(run) for run in ("ordered", "ordered", "receive", "cut", "undo", "undo", "undo")]
    program.close()
    assert "Step 1: 1 size marked as ordered" in told[0]
    assert "is marked as ordered already" in told[1]
    assert "1 of MS10: On hand 0 -> 1, On order down by 1; a row in Purchases." in told[2]
    assert "Step 3: L1" in told[3]
    for number, one in zip((3, 2, 1), told[4:], strict=True):
        assert f"Step {number} was taken back" in one
    assert not cell(book, "Stock", "MS10", "On hand")
    assert not cell(book, "Stock", "MS10", "On order")
    assert read_steps(rack_of(book)) == {}
    assert look(book).problems == ()
    sheet = openpyxl.load_workbook(book)["Purchases"]
    table = sheet.tables["Purchases"]
    assert not [row for row in sheet[table.ref][1:] if row[0].value]


def test_drawings_are_brought_in_from_the_menu(program: Calc, tmp_path: Path) -> None:
    """Rows as the command writes them into a closed book."""
    (tmp_path / "drawings" / "mild steel").mkdir(parents=True)
    for name, side in (("cap 3mm", 40.0), ("plain", 50.0)):
        drawing = dxf(space(functools.partial(box_lines, x=0.0, y=0.0, length=90.0, width=side)), unit=4)
        (tmp_path / "drawings" / "mild steel" / f"{name}.dxf").write_bytes(drawing)
    books = [new_book(tmp_path / f"{name}.xlsx", demo=False, units=Units.MM) for name in ("open", "closed")]
    program.open(str(books[0]))
    said = program.run("import")
    program.save_copy(str(tmp_path / "out.xlsx"))
    program.close()
    assert "2 new parts, 1 of them to confirm" in said
    assert "2 rows added to Kits." in said
    assert (tmp_path / "open.drawings.pdf").read_bytes().startswith(b"%PDF")
    import_drawings(books[1], ImportAsked((tmp_path / "drawings",)))
    saved, closed = openpyxl.load_workbook(tmp_path / "out.xlsx"), openpyxl.load_workbook(books[1])
    for page in ("Parts", "Kits"):
        assert typed(saved, page) == typed(closed, page)
    assert known_outlines(books[0])[0] == known_outlines(books[1])[0]


def test_finished_parts_are_taken_over_and_a_month_is_closed_from_the_menu(
    program: Calc, tmp_path: Path
) -> None:
    """An order is cancelled and another wants its braces; what is done goes into the archive."""
    today = datetime.date.today()  # steps from the menu are of the day on which the test is run
    month = f"{today:%Y-%m}"
    book = planned_book(tmp_path)
    record_cut(book, CutAsked("L1"), today=today)
    plain = openpyxl.load_workbook(book)
    orders = plain["Orders"]
    row = next(cells[0].row for cells in orders.iter_rows() if cells[0].value == "H-2")
    heads = {cell.value: cell.column for cell in orders[row - 2]}
    orders.cell(row - 1, heads["State"], "done")
    orders.cell(row, heads["State"], "cancelled")
    for heading, value in (("Order", "H-3"), ("Item", "BRACE"), ("Quantity", 3)):
        orders.cell(row + 1, heads[heading], value)
    sheet, _, address = plain.defined_names[MONTH].attr_text.rpartition("!")
    plain[sheet.strip("'")][address.replace("$", "")].value = month
    plain.save(book)
    program.open(str(book))
    taken, back, again, closed = (program.run(run) for run in ("parts", "undo", "parts", "close"))
    program.close()
    assert "Step 2: taken over from finished parts: 3 BRACE for H-3" in taken
    assert "Step 2 was taken back" in back
    assert "3 BRACE for H-3" in again
    assert f"Step 3: {month} closed. 2 steps and 2 order lines" in closed
    assert (tmp_path / f"yard {month}.zip").exists()
    assert list(read_steps(rack_of(book))) == [3]
    assert look(book).problems == ()
    job = check_book(book).job
    assert job is not None
    assert [(one.order.name, one.cut) for one in job.progress] == [("H-3", {"BRACE": 3})]
    assert [(one.part, one.pieces) for one in job.finished] == [("BRACE", 1)]


def test_a_month_twice_has_its_charts_once_and_stays_when_undone(program: Calc, tmp_path: Path) -> None:
    book = new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH)
    plain = openpyxl.load_workbook(book)
    sheet, _, address = plain.defined_names[MONTH].attr_text.rpartition("!")
    plain[sheet.strip("'")][address.replace("$", "")].value = "2026-11"
    plain.save(book)
    program.open(str(book))
    for _ in range(2):
        assert "2026-11 was balanced; read the page Month." in program.run("month")
        assert program.drawn("Month") == [2, 2]
    program.undo(5)
    program.redo(5)
    assert program.drawn("Month") == [2, 2]
    program.save_copy(str(tmp_path / "out.xlsx"))
    program.close()
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")["Month"]
    assert len(saved._charts) == 2
    assert [len(chart.ser) for chart in saved._charts] == [3, 3]


def test_a_check_shows_a_planted_mistake_and_a_stop_is_a_sentence(
    program: Calc, made: Path, tmp_path: Path
) -> None:
    book = copied(made, tmp_path / "shop")
    plain = openpyxl.load_workbook(book)
    plain["Parts"]["E6"] = "ten"
    plain["Parts"].row_dimensions[7].hidden = True
    plain["Kits"].merge_cells("A8:B9")
    plain["Stock"].merge_cells("K5:L5")
    plain["Stock"].merge_cells("K6:L6")
    plain.save(book)
    program.open(str(book))
    checked, planned, cut, undone = (program.run(run) for run in ("check", "plan", "cut", "undo"))
    program.save_copy(str(tmp_path / "out.xlsx"))
    program.close()
    assert "that stop the plan" in checked or "that stops the plan" in checked
    assert "No plan was made" in planned
    assert "They stand on the page Problems." in cut
    assert "They stand on the page Problems." in undone
    saved = openpyxl.load_workbook(tmp_path / "out.xlsx")
    said = [str(c.value) for row in saved["Problems"].iter_rows() for c in row if c.value]
    assert any("E6" in text for text in said)
    assert "Row 7 is hidden and read all the same." in said
    facts = saved["Problems"].column_dimensions
    hidden = {n for one in facts.values() if one.hidden for n in range(one.min, one.max + 1)}
    assert {n for n in hidden if n <= 8} == {5, 6, 7, 8}  # It says, Key, In turn, Column
    merged = sorted(text.split()[2] for text in said if " are merged: " in text)
    assert merged == ["A8:B9", "K5:L5", "K6:L6"]
    assert not (book.parent / "layouts").exists()
    assert not list((book.parent / "rack").rglob("*.json"))


def test_undo_after_a_plan_takes_back_typing_alone(opened: tuple[Calc, Path]) -> None:
    program, _ = opened
    program.typed("Parts", "B6", "first")
    assert program.steps()
    said = program.run("plan")
    assert "what was typed before can no longer be undone" in said
    assert program.steps() == []
    page, pictures = program.texts("Plan"), program.drawn("Layouts")
    program.typed("Parts", "B7", "second")
    program.undo(20)
    program.redo(20)
    program.undo(20)
    assert program.alive()
    assert (program.texts("Plan"), program.drawn("Layouts")) == (page, pictures)
    assert program.shown("Parts", "B6").lower() == "first"  # Calc may begin it with a capital
    assert program.shown("Parts", "B7") == ""


def test_a_document_closed_in_a_run_takes_it_along_and_can_be_planned_again(
    searching: tuple[Calc, Path],
) -> None:
    program, book = searching
    program.ask("plan")
    program.pause(1.0)
    assert program.working()
    assert program.close()
    assert until_gone(program) < GONE_SECONDS
    assert leftovers(book.parent) == []
    program.open(str(book))
    assert "Plan the month: Plan " in program.run("plan")


def test_a_document_saved_under_another_name_in_a_run_goes_on(searching: tuple[Calc, Path]) -> None:
    program, book = searching
    program.ask("plan")
    program.pause(0.8)
    (book.parent / "autumn").mkdir()
    program.save_as(str(book.parent / "autumn" / "other.xlsx"))
    program.wait()
    assert "Plan the month: Plan " in program.said()
    [note] = (book.parent / "autumn" / "layouts").glob("plan-*/workbook.txt")
    assert note.read_text().strip() == "other.xlsx"
    assert not (book.parent / "layouts").exists()
    assert "Plan the month: Plan " in program.run("plan")
    program.close()
    program.open(str(book))
    assert "Check the book: No problems found." in program.run("check")


def test_a_document_loaded_anew_in_a_run_is_free(searching: tuple[Calc, Path]) -> None:
    program, book = searching
    program.ask("plan")
    program.pause(0.5)
    program.reload()
    assert until_gone(program) < GONE_SECONDS
    assert leftovers(book.parent) == []
    assert "Check the book: No problems found." in program.run("check")


def test_a_second_run_is_told_and_the_first_goes_on(searching: tuple[Calc, Path]) -> None:
    program, _ = searching
    program.ask("plan")
    program.pause(0.3)
    program.ask("check")
    program.wait()
    assert "Plan the month: Plan " in program.said()


def test_typing_goes_on_in_a_run_and_what_a_plan_does_not_need_keeps_it(searching: tuple[Calc, Path]) -> None:
    program, _ = searching
    program.ask("plan")
    program.pause(0.8)
    program.typed("Parts", "B6", "Mooring plate")
    program.typed("Parts", "B7", "half a wo", False)
    program.wait()
    program.keys("rd\n")
    assert "Plan the month: Plan " in program.said()
    assert program.shown("Parts", "B6") == "Mooring plate"
    assert program.shown("Parts", "B7") == "half a word"


def test_an_order_changed_in_a_run_is_said_at_once_and_planned(opened: tuple[Calc, Path]) -> None:
    program, _ = opened
    program.setting("Seconds to spend", 4)
    program.ask("plan")
    program.pause(1.5)
    program.typed("Orders", "C5", "2")
    said = ""
    for _ in range(40):
        program.pause(0.1)
        said = program.said()
        if "Orders C5" in said:
            break
    assert "Orders C5 changed: the plan is made anew" in said
    program.ask("stop")
    program.wait()
    assert "Plan the month: Plan " in program.said()
    assert " 10 pieces" in program.texts("Plan")[1][0]  # two frames of three, four braces


def test_start_shows_the_run_that_is_under_way_and_that_it_was_stopped(opened: tuple[Calc, Path]) -> None:
    program, _ = opened
    program.run("check")
    program.setting("Seconds to spend", 20)
    program.ask("plan")
    program.pause(1.5)
    assert "Plan the month: under way." in program.said()
    program.ask("stop")
    program.wait()
    assert "It was stopped early" in program.said()
    assert "The workbook is not saved yet" in program.said()
    assert program.modified()


def test_a_book_for_reading_only_is_refused_before_the_search(
    program: Calc, made: Path, tmp_path: Path
) -> None:
    book = copied(made, tmp_path / "shop")
    program.open(str(book), [["ReadOnly", True]])
    start = time.monotonic()
    program.ask("plan")
    program.wait()
    assert time.monotonic() - start < 10  # starting takes most of it
    assert not (book.parent / "layouts").exists()
    assert program.close()


def test_a_protected_page_is_refused_before_the_search(opened: tuple[Calc, Path]) -> None:
    program, book = opened
    program.protect("Layouts")
    assert "The page Layouts is protected" in program.run("plan")
    assert not (book.parent / "layouts").exists()


def test_another_kind_of_file_is_told_by_the_check_and_refused_by_the_others(
    opened: tuple[Calc, Path], tmp_path: Path
) -> None:
    program, book = opened
    other = book.with_suffix(".ods")
    program.save_copy(str(other), "calc8")
    program.close()
    program.open(str(other))
    checked = program.run("check")
    assert "file of the kind .ods" in checked
    assert "Save it as an Excel workbook" in checked
    assert any("kind .ods" in text for row in program.texts("Problems") for text in row)
    for run in ("plan", "cut"):
        assert "file of the kind .ods" in program.run(run)
    assert not (book.parent / "layouts").exists()


def test_numbers_on_live_pages_are_written_as_the_document_writes_them(
    opened: tuple[Calc, Path], tmp_path: Path
) -> None:
    program, _ = opened
    program.run("plan")
    texts = " ".join(text for row in program.texts("Layouts") for text in row if not text.startswith("L"))
    assert re.search(r"\d,\d", texts)  # the book does not say which sign: as the program has it
    assert not re.search(r"\d\.\d", texts)
    heads = next(row for row in program.texts("Plan") if "Sheet weight, lb" in row)
    number = program.texts("Plan").index(heads)
    shown = program.texts("Plan")[number + 1][heads.index("Sheet weight, lb")]
    assert shown.rpartition(",")[2].isdigit()  # a comma before the decimals
    assert program.formats("Plan", f"H{number + 2}") == ["#.##0,0", ""]
    program.save_copy(str(tmp_path / "out.xlsx"))
    kept = openpyxl.load_workbook(tmp_path / "out.xlsx")["Plan"].cell(number + 2, 8).number_format
    assert kept == "#,##0.0"  # no language of its own, so that each program shows it in its own way


def test_what_is_typed_is_never_read_as_another_number_by_the_live_columns(
    program: Calc, tmp_path: Path
) -> None:
    program.open(str(new_book(tmp_path / "harbour.xlsx", demo=True, units=Units.MM)))
    seen, found = faults(program, TYPED, 5, COLUMNS[::EVERY])
    program.close()
    assert found == []
    assert seen >= TYPED


def test_rows_of_record_are_recorded_as_the_command_would(program: Calc, tmp_path: Path) -> None:
    (tmp_path / "live").mkdir()
    book = planned_book(tmp_path / "live")
    other = copied(book, tmp_path / "told")
    asked = CutAsked(
        "L1", 1, by="Ann", heat="A 17/3", bad={"PLATE": 1}, crop=False, date=datetime.date(2026, 11, 20),
        only=("PLATE",), note="bevelled torch",
    )  # fmt: skip
    told = record_cut(other, asked, today=datetime.date.today()).step
    program.open(str(book))
    row = {
        "Ticket": "L1", "Sheets": "9", "Pieces cut": "PLATE", "Bad pieces": "PLATE=1", "Cut on": "20.11.2026",
        "What is left": "keep as it is", "Cut by": "Ann", "Heat": "A 17/3", "Note": "bevelled torch",
    }  # fmt: skip
    for heading, text in row.items():
        program.entered("Record", heading, "Message", [text])
    assert "1 row of the page Record cannot be recorded" in program.run("record")
    message = program.texts("Record")[4][-1]
    assert "recorded 9 times" in message or "9 more would be too many" in message
    program.entered("Record", "Sheets", "Message", ["1"])
    assert program.texts("Record")[4][-1] == ""  # the cell was put right
    assert "Step 1: L1" in program.run("record")
    assert not any(program.texts("Record")[4])
    program.close()
    [step] = read_steps(rack_of(book)).values()
    assert replace(step, changes=()) == replace(told, changes=())


def test_a_file_from_the_table_is_recorded_where_its_name_stands_in_ticket(
    program: Calc, tmp_path: Path
) -> None:
    (tmp_path / "live").mkdir()
    book = planned_book(tmp_path / "live")
    values = values_of(book)
    tick = {
        "id": "a1", "sheet": "L1", "times": 1, "bad": [[0, 1]], "heat": "7741", "by": "Ann",
        "day": datetime.date.today().isoformat(), "note": "", "told": "2026-11-27T10:12:05",
    }  # fmt: skip
    data = twin(values, [tick])
    program.open(str(book))
    program.entered("Record", "Ticket", "Message", ["cut.json"])
    assert "1 row of the page Record cannot be recorded" in program.run("record")
    assert "cut.json cannot be read" in program.texts("Record")[4][-1]
    (book.parent / "cut.json").write_bytes(data)
    assert "Step 1: L1" in program.run("record")
    assert not any(program.texts("Record")[4])
    program.close()
    [step] = read_steps(rack_of(book)).values()
    assert (step.handed, step.by, step.heat) == ("a1", "Ann", "7741")
    assert sum(step.bad.values()) == 1
