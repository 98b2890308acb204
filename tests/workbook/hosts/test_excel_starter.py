from pathlib import Path

import pytest

from sheetplan.workbook.hosts.excel_setup import STARTER, name_fault, starter_of, write_starter


@pytest.mark.parametrize("name", ["november", "jobs_2026", "Ladeliste"])
def test_a_good_name_gets_a_starter_that_python_can_run(tmp_path: Path, name: str) -> None:
    book = tmp_path / f"{name}.xlsx"
    starter = write_starter(book)
    assert starter == starter_of(book) == tmp_path / f"{name}.py"
    found: dict[str, object] = {}
    exec(compile(starter.read_text(), str(starter), "exec"), found)
    assert callable(found["main"])


@pytest.mark.parametrize(
    ("name", "words"),
    [("jobs of May", "signs"), ("2026", "signs"), ("jobs-1", "signs"), ("class", "word of Python"),
     ("json", "taken"), ("sheetplan", "taken"), ("numpy", "taken")],
)  # fmt: skip
def test_a_name_that_cannot_be_used_is_told(tmp_path: Path, name: str, words: str) -> None:
    book = tmp_path / f"{name}.xlsx"
    assert words in str(name_fault(book))
    assert write_starter(book) is None
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "november.py").write_text("# my own\n")
    write_starter(tmp_path / "november.xlsx")
    assert (tmp_path / "november.py").read_text() == "# my own\n"
    assert STARTER.count("\n") == 1
