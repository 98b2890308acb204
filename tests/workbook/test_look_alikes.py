"""Names that look the same and are not are told apart by the letters that differ.

Source of the pairs: Unicode Technical Standard 39, confusables.txt; here typed by hand.
"""

from __future__ import annotations

import pytest

from sheetplan.model import Weight
from sheetplan.workbook.reading.job import read_job
from sheetplan.workbook.text import only_alike, skeleton, visible
from tests.nasty.books.plain import plain_rows, tables_of


@pytest.mark.parametrize(("said", "looks"), [
    ("\u0421\u0412-100", "CB-100"), ("\u039a\u039f\u03a4", "KOT"), ("CB\u2011100", "CB-100"),
    ("\uff23\uff22-100", "CB-100"), ("M\u00fcller", "M\u00fcller"), ("\u90e8\u54c1", "\u90e8\u54c1"),
    ("CB-100", "CB-100"),
])  # fmt: skip
def test_a_name_as_a_person_sees_it(said: str, looks: str) -> None:
    assert skeleton(said) == looks


def test_what_only_looks_the_same_and_what_is_the_same() -> None:
    assert only_alike("\u0421B-100", "CB-100")
    assert only_alike("CBl-1", "CBI-1")
    assert not only_alike("CB-100", "CB-100")
    assert not only_alike("CB-100", "CB-101")
    assert visible("a\u200bb\u00adc") == "abc"


def test_a_name_in_another_script_is_not_asked_about_as_itself() -> None:
    rows = plain_rows()
    rows["Kits"][0]["Part"] = "\u0421\u0412-100"
    _, problems = read_job(tables_of(rows))
    [found] = [problem for problem in problems if problem.page == "Kits"]
    assert "CYRILLIC CAPITAL LETTER ES, not `C`" in found.remedy
    assert "Did you mean" not in found.remedy


def test_a_sign_that_nobody_sees_does_not_make_another_name() -> None:
    rows = plain_rows()
    rows["Kits"][0]["Part"] = "CB\u200b-100"
    rows["Orders"][1]["Item"] = "SP\u00ad-704"
    job, problems = read_job(tables_of(rows))
    assert problems == ()
    assert job is not None
    assert job.kits["cleat set"].parts == {"CB-100": 1, "CB-101": 2}


def test_a_number_that_lost_its_zeros_is_asked_about() -> None:
    rows = plain_rows()
    rows["Parts"][2]["Part"] = "007"
    rows["Orders"][1]["Item"] = 7
    _, problems = read_job(tables_of(rows))
    [found] = [problem for problem in problems if problem.page == "Orders"]
    assert found.remedy.startswith("Did you mean 007? A cell that is not formatted as text drops zeros in")


def test_two_parts_that_nobody_can_tell_apart_are_told() -> None:
    rows = plain_rows()
    rows["Parts"].append({**rows["Parts"][0], "Part": "\u0421B-100", "Width": 7})
    job, problems = read_job(tables_of(rows))
    assert job is not None
    assert [(problem.weight, problem.cell) for problem in problems] == [(Weight.NOTE, "A8")]
    assert "looks like that of row 5, and is another" in problems[0].what
