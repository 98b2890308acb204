import os
import sys
from pathlib import Path

import pytest

from sheetplan.app import new
from sheetplan.app.new import demo_drawings, template_path, write_new
from sheetplan.trade.units import Units
from sheetplan.workbook.ledger import keeping_ledger
from sheetplan.workbook.outcomes import BookError, NotWritten


@pytest.mark.parametrize("demo", [True, False])
@pytest.mark.parametrize("units", Units)
def test_a_new_book_is_the_shipped_one(tmp_path: Path, demo: bool, units: Units) -> None:
    book = tmp_path / "my month – harbour.xlsx"
    write_new(book, demo=demo, units=units)
    assert book.read_bytes() == template_path(demo=demo, units=units).read_bytes()


def test_a_file_that_is_there_is_never_touched(tmp_path: Path) -> None:
    book = tmp_path / "jobs.xlsx"
    book.write_bytes(b"precious")
    with pytest.raises(NotWritten, match="there already"):
        write_new(book, demo=False, units=Units.INCH)
    assert book.read_bytes() == b"precious"


@pytest.mark.parametrize("name", ["jobs.xls", "jobs", "jobs.csv", "jobs.xlsm"])
def test_the_name_must_be_a_workbooks(tmp_path: Path, name: str) -> None:
    with pytest.raises(NotWritten, match=r"\.xlsx"):
        write_new(tmp_path / name, demo=False, units=Units.INCH)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(NotWritten, match="no folder"):
        write_new(tmp_path / "nowhere" / "jobs.xlsx", demo=False, units=Units.INCH)


def test_a_full_disk_leaves_no_half_a_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(file: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(new.os, "fsync", full)
    with pytest.raises(NotWritten, match="No space left"):
        write_new(tmp_path / "jobs.xlsx", demo=False, units=Units.INCH)
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_taken_away_again_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object, **__: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(new.os, "fsync", failing)
    monkeypatch.setattr(Path, "unlink", failing)
    with keeping_ledger() as kept, pytest.raises(NotWritten, match="Input/output error"):
        write_new(tmp_path / "jobs.xlsx", demo=False, units=Units.INCH)
    assert kept.files == [tmp_path / "jobs.xlsx"]


@pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="needs a user whom folders can refuse"
)
def test_a_folder_that_refuses(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(NotWritten, match="could not be written"):
            write_new(tmp_path / "jobs.xlsx", demo=False, units=Units.INCH)
    finally:
        tmp_path.chmod(0o700)


def test_an_installation_without_books_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(new, "FOLDER", "nowhere")
    with pytest.raises(BookError, match="Install sheetplan again"):
        template_path(demo=True, units=Units.INCH)


@pytest.mark.parametrize("units", Units)
def test_the_demo_brings_its_drawings(tmp_path: Path, units: Units) -> None:
    write_new(tmp_path / "harbour.xlsx", demo=True, units=units)
    found = {p.relative_to(tmp_path).as_posix(): p.read_bytes() for p in tmp_path.rglob("*.dxf")}
    assert len(found) > 5
    assert found == demo_drawings(units)


def test_an_empty_book_brings_none(tmp_path: Path) -> None:
    write_new(tmp_path / "jobs.xlsx", demo=False, units=Units.INCH)
    assert [path.name for path in tmp_path.iterdir()] == ["jobs.xlsx"]


def test_both_demos_lie_in_one_folder_and_a_second_one_shares_the_drawings(tmp_path: Path) -> None:
    for name, units in (("a", Units.INCH), ("b", Units.MM), ("c", Units.INCH)):
        write_new(tmp_path / f"{name}.xlsx", demo=True, units=units)
    assert len(list(tmp_path.rglob("*.dxf"))) == sum(len(demo_drawings(units)) for units in Units)


@pytest.mark.parametrize("there", ["another drawing", "a folder", "a file for the folder", "a link"])
def test_nothing_in_the_place_of_the_drawings_is_touched(tmp_path: Path, there: str) -> None:
    """The last of the drawings is in the way, and none of the others is left behind either."""
    name = list(demo_drawings(Units.INCH))[-1]
    place = tmp_path / (Path(name).parent if there == "a file for the folder" else name)
    place.parent.mkdir(exist_ok=True)
    if there == "a folder":
        place.mkdir()
    elif there == "a link":
        place.symlink_to(tmp_path / "elsewhere.dxf")
    else:
        place.write_bytes(b"mine")
    before = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*"))
    with pytest.raises(NotWritten, match="something else is there already") as caught:
        write_new(tmp_path / "harbour.xlsx", demo=True, units=Units.INCH)
    assert caught.value.problem.remedy
    assert sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*")) == before
    assert place.is_symlink() or place.is_dir() or place.read_bytes() == b"mine"
