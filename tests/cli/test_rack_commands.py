"""The rack's commands as a person meets them."""

import re
from pathlib import Path

import pytest

from tests.app.cut_book import cell, copied, planned_book
from tests.cli.test_commands import run


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def test_a_cut_is_recorded_looked_at_and_taken_back(book: Path) -> None:
    done = run("cut", book, "l1", "--by", "Ann", "--bad", "PLATE=1", folder=book.parent)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 of 1 recorded" in done.stdout
    assert "Write the tag on the sheet" in done.stdout
    assert cell(book, "Cut log", 1, "Bad pieces") == "1 x PLATE"
    seen = run("rack", book, folder=book.parent)
    assert seen.returncode == 0
    assert "R-001" in seen.stdout
    twice = run("cut", book, "L1", folder=book.parent)
    assert twice.returncode == 1
    assert "recorded already" in twice.stdout
    assert "Nothing was recorded." in twice.stdout
    back = run("undo", book, folder=book.parent)
    assert back.returncode == 0
    assert "taken back" in back.stdout
    assert cell(book, "Stock", "MS10", "On hand") == 3


def test_several_cuts_in_one_command_by_code_and_day(book: Path) -> None:
    [folder] = (book.parent / "layouts").glob("plan-*")
    mark = folder.name.removeprefix("plan-")
    done = run("cut", book, f"{mark}-L1", "l1x1", "--again", "--date", "2026-01-05", folder=book.parent)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Step 2" in done.stdout
    assert str(cell(book, "Cut log", 2, "Date"))[:10] == "2026-01-05"
    assert cell(book, "Stock", "MS10", "On hand") == 1
    back = run("undo", book, folder=book.parent)
    assert back.stdout.count("taken back") == 2
    assert cell(book, "Stock", "MS10", "On hand") == 3
    half = run("cut", book, "L1", "--only", "PLATE=3", folder=book.parent)
    assert half.returncode == 1
    assert "which 3 were cut?" in half.stdout


def test_the_rack_says_what_one_walks_to_it_with(tmp_path: Path) -> None:
    row = {"Tag": "R-050", "Material": "mild steel", "Thickness": "10 ga", "Width": 30, "Length": 50,
           "Missing width": 6, "Missing length": 10,
           "Missing corner": "upper right", "Rack place": "R3", "Value": 12}  # fmt: skip
    book = planned_book(tmp_path, remnants=[row], plan_it=False)
    seen = run("rack", book, folder=tmp_path).stdout.splitlines()
    assert seen[0].split() == ["Tag", "Metal", "Size", "Place", "State", "Weight", "Value", "Cuts", "Left"]
    # By hand: 30 x 50 in less 6 x 10 in of 10 ga (0.1345 in) at 7850 kg/m3, 0.2836 lb/in3: 54.9 lb.
    assert re.split(r"  +", seen[1]) == [
        "R-050", "mild steel 10 ga", "L 30 x 50 in", "R3", "in rack", "54.9 lb", "12.00", "0", "100%",
    ]  # fmt: skip
    assert seen[2] == "Entered in the book, never cut by sheetplan: R-050"


def test_squaring_says_where_the_drawings_are(book: Path) -> None:
    done = run("square", book, "L1", "--corner", "10,20", "--far", "86.8,77.6", folder=book.parent)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "36.8699 degrees" in done.stdout
    assert "the points fit within 0.000 in." in done.stdout
    assert "-L1_compare_first.dxf" in done.stdout
    assert done.stdout.splitlines()[-1].startswith("Nothing was recorded")
    wrong = run("square", book, "L1", "--corner", "10,20", "--far", "50,20", folder=book.parent)
    assert wrong.returncode == 1
    assert "points are off by" in wrong.stdout


@pytest.mark.parametrize(
    "arguments",
    [("cut", "L1", "--bad", "PLATE"), ("square", "L1", "--corner", "1"), ("cut", "L1", "--repeats", "0"),
     ("cut", "L1", "L2", "--on", "R-1"), ("cut", "L1", "--date", "soon"), ("cut", "--heat", "7")],
)  # fmt: skip
def test_a_wrong_command_line_is_told_as_such(book: Path, arguments: tuple[str, ...]) -> None:
    command, *rest = arguments
    done = run(command, book, *rest, folder=book.parent)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_nothing_marked_and_nothing_named(book: Path) -> None:
    done = run("cut", book, folder=book.parent)
    assert done.returncode == 1
    assert "Cut now" in done.stdout
    assert run("rack", book, "--repair", folder=book.parent).stdout.startswith("Rack and book fit together")


def test_words_after_rack_are_commands_and_a_book_is_looked_at(tmp_path: Path) -> None:
    rows = [{"Tag": "R-1", "Material": "mild steel", "Thickness": "10 ga", "Width": 20, "Length": 40}]
    book = planned_book(tmp_path, remnants=rows, plan_it=False)
    done = run("rack", book, "--list", tmp_path / "rack.pdf", folder=tmp_path)
    assert "R-1" in done.stdout
    assert "A list of 1 sheet written" in done.stdout
    assert (tmp_path / "rack.pdf").read_bytes().startswith(b"%PDF")
    assert "Seen on 2026-11-27: 1 of 1 sheets" in run(
        "rack", "seen", book, "--all", "--date", "2026-11-27", folder=tmp_path
    ).stdout
    refused = run("rack", "add", book, "R-1", "--drawing", "none.dxf", folder=tmp_path)
    assert refused.returncode == 1
    assert "none.dxf cannot be read" in refused.stdout
