from pathlib import Path

import pytest

from sheetplan.workbook.port import BookState, barred, wrong_kind

PAGES = frozenset(("Start", "Parts", "Stock", "Plan"))


@pytest.mark.parametrize(
    ("state", "words"),
    [
        (BookState(pages=PAGES), None),
        (BookState(read_only=True, pages=PAGES), "open for reading only"),
        (BookState(pages=PAGES, planners=frozenset({"Plan", "Mine"})), "The page Plan is your own"),
        (BookState(pages=PAGES, planners=frozenset({"Mine"})), None),
        (BookState(pages=PAGES, structure_locked=True), None),
        (BookState(pages=PAGES - {"Plan"}, structure_locked=True), "the page Plan cannot be added"),
        (BookState(pages=PAGES, locked=frozenset({"Stock", "Parts"})), "The page Stock is protected"),
        (BookState(pages=PAGES, locked=frozenset({"Stock", "Plan"})), "The pages Plan, Stock are protected"),
    ],
)
def test_what_stands_in_the_way_is_one_sentence(tmp_path: Path, state: BookState, words: str | None) -> None:
    found = barred(tmp_path / "jobs.xlsx", state, ("Plan",), ("Stock",))
    assert (found is None) == (words is None)
    if found is not None and words is not None:
        assert words in found.what
        assert found.remedy.endswith("then run it again.")


@pytest.mark.parametrize("name", ["jobs.xlsx", "jobs.XLSM"])
def test_excel_workbooks_are_of_the_right_kind(name: str) -> None:
    assert wrong_kind(Path(name)) is None


@pytest.mark.parametrize("name", ["jobs.ods", "jobs.xls", "jobs"])
def test_another_kind_is_told_with_the_way_out(name: str) -> None:
    found = wrong_kind(Path(name))
    assert found is not None
    assert "ending .xlsx" in found.remedy
