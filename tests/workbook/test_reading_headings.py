"""A heading that is missing, or not the tool's, is told; one that comes near a missing one is asked about."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from sheetplan.model import Problem, Weight
from sheetplan.workbook.columns import ALL_PAGES
from sheetplan.workbook.reading.grid import raw_table
from sheetplan.workbook.reading.job import read_job, read_month
from sheetplan.workbook.tables import BookTables
from tests.hard.headings import UNREAD, full_book, read, removed, renamed
from tests.nasty.books.plain import page as input_page
from tests.nasty.books.plain import plain_rows, tables_of


def spoilt(page: str, old: str, new: str) -> BookTables:
    """A book in which every column says something, with one heading of a page written otherwise."""
    tables = full_book()
    table = renamed(tables.tables[page], old, new)
    return replace(tables, tables={**tables.tables, page: table})


def without(tables: BookTables, page: str, *headings: str) -> BookTables:
    table = tables.tables[page]
    for heading in headings:
        table = removed(table, next(c for p in ALL_PAGES for c in p.columns if c.heading == heading),
                        random.Random(1))  # fmt: skip
    return replace(tables, tables={**tables.tables, page: table})


def said(tables: BookTables, page: str) -> list[Problem]:
    return [problem for problem in read_job(tables)[1] if problem.page == page and problem.cell is None]


@pytest.mark.parametrize(("page", "heading", "new"), [
    ("Stock", "On hand", "Qty on hand"), ("Stock", "On hand", "Bestand"), ("Stock", "Price per", "per"),
    ("Stock", "Price per", "Priced by"), ("Stock", "Price", "Cost"), ("Stock", "Most to buy", "Max to buy"),
    ("Orders", "Must", "Priority"), ("Orders", "State", "Status"), ("Parts", "Grain", "Grain direction"),
    ("Parts", "Grain", "Faserrichtung"), ("Parts", "Turns", "Rotation"),
    ("Cutting", "Least hole", "Min. hole"),
    ("Remnants", "State", "Zustand"), ("Cutting", "Hour cost", "Hourly rate"), ("Parts", "Spare", "Spares"),
])  # fmt: skip
def test_a_heading_that_comes_near_a_missing_one_is_asked_about_and_stops_the_plan(
    page: str, heading: str, new: str
) -> None:
    job, problems = read_job(spoilt(page, heading, new))
    assert job is None
    [asked] = [problem for problem in problems if f"`{new}`" in problem.what]
    assert asked.weight is Weight.STOPS
    assert f"what the tool calls {heading}?" in asked.what
    assert f"write {heading} as its heading" in asked.remedy


def test_a_column_that_is_only_printed_is_asked_about_without_stopping() -> None:
    job, problems = read_job(spoilt("Stock", "Supplier", "Supplier name"))
    assert job is not None
    assert [p.weight for p in problems if "`Supplier name`" in p.what] == [Weight.NOTE]


def test_an_empty_column_of_the_heading_answers_the_question() -> None:
    tables = spoilt("Stock", "On hand", "Bestand")
    table = tables.tables["Stock"]
    table = replace(table, headings=(*table.headings, "On hand"))
    job, problems = read_job(replace(tables, tables={**tables.tables, "Stock": table}))
    assert job is not None
    assert [p.what for p in problems if p.page == "Stock"] == [
        "Not read, since the tool has no such heading on the page Stock: `Bestand`."
    ]


def test_a_column_that_is_missing_is_told_once_with_what_stands_in_for_it() -> None:
    [note] = said(without(full_book(), "Stock", "On hand", "Price per"), "Stock")
    assert note.weight is Weight.NOTE
    assert note.what == (
        "The page Stock has no column On hand (so for every row: 0), no column Price per (so for every row: "
        "sheet)."
    )


def test_what_later_templates_brought_is_not_missed_in_an_older_book() -> None:
    tables = full_book()
    for page in ALL_PAGES:
        later = [column.heading for column in page.columns if column.since]
        if page.name in tables.tables:
            tables = without(tables, page.name, *later)
    assert [p.what for p in read_job(tables)[1] if "has no column" in p.what] == []
    there = without(tables_of(plain_rows()), "Stock", "On order")  # a book of the present template
    assert ["no column On order (so" in problem.what for problem in said(there, "Stock")] == [True]


def test_an_older_book_that_never_had_a_column_is_asked_about_one_that_sounds_like_it() -> None:
    tables = without(spoilt("Orders", "State", "Status"), "Orders", "Since", "Earlier name")
    assert read_job(tables)[0] is None


def test_a_needed_column_under_another_heading_is_asked_about() -> None:
    problems = said(spoilt("Orders", "Quantity", "Qty"), "Orders")
    assert [p.remedy.split("?")[0] for p in problems] == ["Is it `Qty`"]


def test_columns_of_the_planners_own_are_named_once_a_page_and_empty_ones_not_at_all() -> None:
    tables = tables_of(plain_rows())
    table = tables.tables["Stock"]
    table = replace(table, headings=(*table.headings, "Bin", "Column1"))
    assert said(replace(tables, tables={**tables.tables, "Stock": table}), "Stock") == []
    [note] = said(spoilt("Stock", "Supplier", "Colour"), "Stock")[1:]
    assert (note.weight, note.what) == (
        Weight.NOTE, "Not read, since the tool has no such heading on the page Stock: `Colour`."
    )  # fmt: skip


@pytest.mark.parametrize("sign", ["\u200b", "\u00ad", "\ufeff", "\u2060"])
def test_a_heading_with_a_sign_that_nobody_sees_is_the_heading(sign: str) -> None:
    assert read(spoilt("Stock", "On hand", f"On{sign} hand")).got == read(full_book()).got


def test_a_heading_in_letters_that_only_look_alike_is_asked_about() -> None:
    job, problems = read_job(spoilt("Stock", "On hand", "\u041en h\u0430nd"))
    assert job is None
    assert any("what the tool calls On hand?" in problem.what for problem in problems)


def test_a_month_is_not_balanced_on_a_heading_in_doubt() -> None:
    settings, month, problems = read_month(spoilt("Purchases", "Sheets", "Qty"))
    assert settings is None
    assert month is None
    assert any("what the tool calls Sheets?" in problem.what for problem in problems)


def test_each_optional_column_of_the_full_book_says_something() -> None:
    """Else the harness of headings would find nothing where one is lost."""
    tables = full_book()
    sound = read(tables).got
    same = [
        (page.name, column.heading) for page in ALL_PAGES for column in page.columns
        if read(without(tables, page.name, column.heading)).got == sound
    ]  # fmt: skip
    assert set(same) <= UNREAD


def test_cells_under_an_empty_heading_are_told() -> None:
    page = input_page("Stock")
    headings = ["" if c.heading == "Price" else c.heading for c in page.columns]
    line = [{"Sheet": "MS", "Price": 140}.get(c.heading) for c in page.columns]
    table = raw_table(page, "Stock", 1, 4, headings, [(5, line)])
    tables = tables_of(plain_rows())
    found = said(replace(tables, tables={**tables.tables, "Stock": table}), "Stock")
    assert "`column I`" in " ".join(problem.what for problem in found)
