"""Problems: the gravest first, each with a link where there is a place to go to."""

import re

from sheetplan.model import Problem, Weight
from sheetplan.pages.book.problems import NOT_CHECKED, key_of, problem_summary, problems_page, unchecked_page
from sheetplan.pages.book.results import empty_pages
from sheetplan.pages.values import (
    PROBLEM_KEY,
    PROBLEM_PLACE,
    PROBLEM_SAID,
    PROBLEM_TABLE,
    PROBLEM_TURN,
    PROBLEM_WHAT,
    BookSeen,
    Link,
)
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import write_message
from sheetplan.workbook.writing.grid import grid_of
from sheetplan.workbook.writing.page_writer import draw_pages
from sheetplan.workbook.writing.print_setup import print_setup

NOTE = Problem("Stock", None, None, "No price.", "Fill it.", Weight.NOTE)
LEFT_OUT = Problem("Parts", 12, None, "No width.", "Write it.", Weight.LEFT_OUT)
STOPS = Problem("Orders", 7, "C7", "No quantity.", "Write it.", Weight.STOPS)


def test_the_gravest_comes_first_so_that_a_look_up_finds_it() -> None:
    rows = problems_page([NOTE, LEFT_OUT, STOPS]).tables[0].rows
    assert [row[1] for row in rows] == ["No quantity.", "No width.", "No price."]


def test_the_page_keeps_what_a_faulty_cell_says_and_tells_problems_of_one_row_apart() -> None:
    seen = BookSeen(said={("Orders", "C7"): (3, "ten")})
    rows = problems_page([STOPS, STOPS], seen).tables[0].rows
    assert [row[4:] for row in rows] == [
        ("ten", "Orders!7", "Orders!7/1", 3), ("ten", "Orders!7", "Orders!7/2", 3)
    ]  # fmt: skip


def test_a_place_is_a_link_and_a_page_alone_is_text() -> None:
    rows = problems_page([STOPS, LEFT_OUT, NOTE]).tables[0].rows
    assert [row[0] for row in rows] == [
        Link("Orders!C7", "#Orders!C7"), Link("Parts, row 12", "#Parts!A12"), "Stock",
    ]  # fmt: skip
    assert [key_of(problem) for problem in (STOPS, LEFT_OUT, NOTE)] == ["Orders!7", "Parts!12", "Stock"]


def test_the_table_is_the_one_that_the_template_looks_into() -> None:
    table = problems_page([]).tables[0]
    assert table.name == PROBLEM_TABLE
    assert {PROBLEM_KEY, PROBLEM_WHAT} <= {column.heading for column in table.columns}


def test_what_only_formulas_read_is_hidden_and_takes_no_paper() -> None:
    """Key, In turn, Column and It says stay in the table, as names in the book lead to them."""
    page = problems_page([STOPS])
    grid = grid_of(page, Units.INCH)
    hidden = [page.tables[0].columns[place].heading for place in sorted(grid.hidden)]
    assert hidden == [PROBLEM_SAID, PROBLEM_KEY, PROBLEM_TURN, PROBLEM_PLACE]
    shown = [width for place, width in enumerate(grid.widths) if place not in grid.hidden]
    assert grid.paper == print_setup(shown, Units.INCH)
    sheet = draw_pages([page], Units.INCH).read("xl/worksheets/sheet1.xml").decode()
    spans = re.findall(r'<col min="(\d+)" max="(\d+)"[^>]* hidden="1"', sheet)
    assert sum(int(last) - int(first) + 1 for first, last in spans) == 4
    (sent,) = write_message([grid], Units.INCH)["write"]["pages"]
    assert sent["hidden"] == sorted(grid.hidden)


def test_a_book_that_was_never_checked_does_not_say_that_it_is_free_of_problems() -> None:
    page = unchecked_page()
    assert page.lines == (NOT_CHECKED,)
    assert page.tables == problems_page([]).tables
    assert page.tables[0].caption == ""  # there is no link to speak of
    assert empty_pages()[-1] == page
    assert problems_page([]).lines == ("No problems found.",)


def test_the_page_begins_with_the_causes_that_others_wait_for() -> None:
    """A row that waits for another is not where to begin."""
    cause = Problem("Parts", 5, "K5", "There is no base.dxf.", "Put it there.", Weight.LEFT_OUT)
    waits = Problem("Orders", 7, "B7", "A cannot be made.", "Row 5 first.", Weight.STOPS, "Parts!5")
    first, begin = problems_page([cause, waits, NOTE]).lines
    assert first == "1 problem that stops the plan, 1 row left out, 1 note."
    assert begin == "Begin with Parts!K5: There is no base.dxf. 1 row of Orders waits for it."


def test_counts_are_said_in_words() -> None:
    assert problem_summary([]) == "No problems found."
    assert problem_summary([STOPS]) == "1 problem that stops the plan."
    assert problem_summary([STOPS, STOPS, LEFT_OUT, LEFT_OUT, NOTE]) == (
        "2 problems that stop the plan, 2 rows left out, 1 note."
    )
