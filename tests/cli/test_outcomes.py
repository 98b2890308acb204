"""What a command changed, and what it did not: sentence, exit code and bytes say the same."""

import builtins
import contextlib
import json
import os
import signal
import subprocess
import sys
import time
import warnings
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook.protection import WorkbookProtection

from sheetplan.__main__ import start
from sheetplan.app.making import folders
from sheetplan.app.new import new_book
from sheetplan.app.rack import folder as journal
from sheetplan.cli import main
from sheetplan.trade.units import Units
from sheetplan.workbook.package.saving import is_our_png, is_results, signed_png
from tests.app.cut_book import copied, planned_book, state, write
from tests.cli.test_commands import COMMAND


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def here(*arguments: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> int:
    """A command in this process: its exit code."""
    monkeypatch.chdir(folder)
    monkeypatch.setattr(sys, "argv", ["sheetplan", *arguments])
    with pytest.raises(SystemExit) as ended:
        main()
    assert isinstance(ended.value.code, int)
    return ended.value.code


def test_an_output_takes_no_place_of_what_is_not_ours(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book.parent
    (folder / "mine.json").write_text('{"mine": 1}')
    (folder / "mine.png").write_bytes(b"\x89PNG\r\n\x1a\n mine")
    [drawing] = (folder / "layouts").rglob("*.dxf")
    before = state(folder)
    for target in ("yard.xlsx", "mine.json", "layouts", "no/said.json"):
        assert here("check", "yard.xlsx", "--json", target, folder=folder, monkeypatch=monkeypatch) == 3
        assert "Nothing was changed." in capsys.readouterr().out
        assert here("plan", "yard.xlsx", "--json", target, folder=folder, monkeypatch=monkeypatch) == 3
        assert (
            here("month", "yard.xlsx", "2026-11", "--json", target, folder=folder, monkeypatch=monkeypatch)
            == 3
        )
        assert here("rack", "yard.xlsx", "--labels", target, folder=folder, monkeypatch=monkeypatch) == 3
    for target in ("yard.xlsx", "mine.png", str(drawing)):
        assert here("show", str(drawing), "--picture", target, folder=folder, monkeypatch=monkeypatch) == 3
    assert state(folder) == before
    for _ in range(2):  # what we wrote is written over
        assert here("check", "yard.xlsx", "--json", "said.json", folder=folder, monkeypatch=monkeypatch) == 0
    assert json.loads((folder / "said.json").read_text())["stops"] is False


def test_our_pictures_are_known_and_stay_pictures() -> None:
    from PIL import Image

    small = Path(__file__).with_name("small.png")
    Image.new("RGB", (3, 2)).save(small)
    try:
        signed = signed_png(small.read_bytes())
        assert not is_our_png(small.read_bytes())
        assert is_our_png(signed)
        small.write_bytes(signed)
        with Image.open(small) as shown:
            shown.load()
            assert (shown.size, shown.info["Software"]) == ((3, 2), "sheetplan")
    finally:
        small.unlink()


def test_the_planners_own_backup_and_results_stay(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, before = book.parent, book.read_bytes()
    (folder / ".yard.backup.json").unlink()
    mine = folder / "yard.backup.xlsx"
    mine.write_bytes(b"my own copy")
    assert here("cut", "yard.xlsx", "L1", folder=folder, monkeypatch=monkeypatch) == 0
    assert "yard.backup.xlsx may be your own" in capsys.readouterr().out
    assert mine.read_bytes() == b"my own copy"
    assert (folder / "yard 2.backup.xlsx").read_bytes() == before
    cut = book.read_bytes()
    assert here("undo", "yard.xlsx", folder=folder, monkeypatch=monkeypatch) == 0
    assert (folder / "yard 2.backup.xlsx").read_bytes() == cut, "our own is written over"
    assert not (folder / "yard 3.backup.xlsx").exists()


def locked(book: Path) -> Path:
    opened = openpyxl.load_workbook(book)
    opened.security = WorkbookProtection(lockStructure=True)
    opened.save(book)
    return book


def test_a_locked_book_has_all_its_results_beside_it(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = locked(book).parent
    mine = folder / "yard results.xlsx"
    mine.write_bytes(b"mine")
    plan = ("plan", "yard.xlsx", "--seconds", "0.1", "--workers", "1")
    assert here(*plan, folder=folder, monkeypatch=monkeypatch) == 0
    results = folder / "yard 2 results.xlsx"
    assert mine.read_bytes() == b"mine"
    assert is_results(results.read_bytes())
    pages = openpyxl.load_workbook(results).sheetnames
    assert here("month", "yard.xlsx", "2026-11", folder=folder, monkeypatch=monkeypatch) == 0
    after = openpyxl.load_workbook(results)
    assert set(pages) < {*after.sheetnames, "Month"} == set(after.sheetnames)
    capsys.readouterr()
    before = state(folder)
    for command in (("cut", "yard.xlsx", "L1"), ("undo", "yard.xlsx"), ("receive", "yard.xlsx", "MS10=1")):
        assert here(*command, folder=folder, monkeypatch=monkeypatch) == 1
        said = capsys.readouterr().out
        assert "structure is locked" in said
        assert "results book" not in said
    assert state(folder) == before


def test_a_locked_book_that_stops_a_plan_keeps_the_last_plan_beside_it(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, plan = locked(book).parent, ("plan", "yard.xlsx", "--seconds", "0.1", "--workers", "1")
    assert here(*plan, folder=folder, monkeypatch=monkeypatch) == 0
    results = folder / "yard results.xlsx"
    before = openpyxl.load_workbook(results)
    write(book, "Orders", "H-2", "Quantity", "two")
    assert here(*plan, folder=folder, monkeypatch=monkeypatch) == 1
    assert "yard results.xlsx" in capsys.readouterr().out
    after = openpyxl.load_workbook(results)
    assert after.sheetnames == before.sheetnames
    assert len(after.sheetnames) > 5
    marks = [str(one["Plan"]["A2"].value) for one in (before, after)]
    assert marks[0] == marks[1]
    cells = [str(cell.value) for row in after["Problems"].iter_rows() for cell in row]
    assert any("`two` is not a number" in cell for cell in cells)


def test_a_plan_whose_forerunner_cannot_step_aside_is_made_and_says_so(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, plan = book.parent, ("plan", "yard.xlsx", "--seconds", "0.1", "--workers", "1")
    [first] = (folder / "layouts").glob("plan-*")
    write(book, "Orders", "H-2", "Quantity", 7)
    put = folders.moved

    def refusing(path: Path, target: Path) -> None:
        if target.parent.name == "earlier":
            raise PermissionError(13, "Permission denied", str(path))
        put(path, target)

    monkeypatch.setattr(folders, "moved", refusing)
    assert here(*plan, folder=folder, monkeypatch=monkeypatch) == 5
    said = capsys.readouterr().out
    assert "is made and written. But files of earlier plans could not be put into layouts/earlier" in said
    assert "othing was" not in said
    assert first.is_dir()
    monkeypatch.setattr(folders, "moved", put)
    write(book, "Orders", "H-2", "Quantity", 6)
    assert here(*plan, folder=folder, monkeypatch=monkeypatch) == 0
    assert not first.exists()
    assert (folder / "layouts" / "earlier" / first.name).is_dir()


def test_a_cut_log_of_the_planners_is_said_and_kept(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    opened = openpyxl.load_workbook(book)
    if "Cut log" in opened.sheetnames:
        del opened["Cut log"]
    opened.create_sheet("Cut log")["A1"] = "my own list"
    opened.save(book)
    before = state(book.parent)
    assert here("cut", "yard.xlsx", "L1", folder=book.parent, monkeypatch=monkeypatch) == 1
    assert "The page Cut log is your own" in capsys.readouterr().out
    assert state(book.parent) == before


@pytest.mark.skipif(os.name == "nt", reason="rights of Unix")
def test_what_is_private_stays_private(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book.parent
    book.chmod(0o600)
    for path in folder.glob("*backup*"):
        path.chmod(0o644)
    os.link(book, folder / "second name.xlsx")
    with contextlib.suppress(OSError):
        os.setxattr(book, "user.shop", b"quay")
    kept = os.listxattr(book)
    old = {path for path in folder.rglob("*") if path.is_file() and "backup" not in path.name}
    assert here("cut", "yard.xlsx", "L1", folder=folder, monkeypatch=monkeypatch) == 0
    assert "a hard link" in capsys.readouterr().out
    assert os.listxattr(book) == kept
    new = [path for path in folder.rglob("*") if path.is_file() and path not in old]
    assert len(new) > 3
    assert [path.name for path in new if path.stat().st_mode & 0o077] == []
    assert here("check", "yard.xlsx", "--json", "said.json", folder=folder, monkeypatch=monkeypatch) == 0
    assert (folder / "said.json").stat().st_mode & 0o077 == 0


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root gives files away")
def test_the_owner_stays_or_is_said_to_be_another(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    nobody = 65534  # user and group, as Linux distributions number them
    os.chown(book, nobody, nobody)
    assert here("cut", "yard.xlsx", "L1", folder=book.parent, monkeypatch=monkeypatch) == 0
    for path in (book, book.with_name("yard.backup.xlsx")):
        assert (path.stat().st_uid, path.stat().st_gid) == (nobody, nobody), path.name

    def refusing(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    capsys.readouterr()
    monkeypatch.setattr(os, "chown", refusing)
    assert here("undo", "yard.xlsx", folder=book.parent, monkeypatch=monkeypatch) == 0
    assert "yard.xlsx belongs to you now" in capsys.readouterr().out
    assert book.stat().st_uid == os.geteuid()


def test_a_step_that_counts_and_is_not_finished(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A place in the rack refuses after the book was replaced: it is recorded, the next run ends it."""
    put = journal.put_file

    def refusing(path: Path, data: bytes) -> None:
        if path.parent.name == "steps":
            raise PermissionError(13, "Permission denied", str(path))
        put(path, data)

    monkeypatch.setattr(journal, "put_file", refusing)
    assert here("cut", "yard.xlsx", "L1", folder=book.parent, monkeypatch=monkeypatch) == 5
    said = capsys.readouterr().out
    assert "Step 1 of yard.xlsx is recorded. But the folder rack is not finished" in said
    assert "othing was" not in said
    monkeypatch.setattr(journal, "put_file", put)
    assert here("cut", "yard.xlsx", "L1", folder=book.parent, monkeypatch=monkeypatch) == 1, "not twice"
    assert here("rack", "yard.xlsx", folder=book.parent, monkeypatch=monkeypatch) == 0
    assert (book.parent / "rack" / "steps" / "000001.json").is_file()


@pytest.mark.skipif(os.name == "nt", reason="signals of Unix")
def test_ctrl_c_once_the_book_is_replaced_says_what_counts(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    put = journal.put_file

    def pressing(path: Path, data: bytes) -> None:
        if path.parent.name == "steps":
            os.kill(os.getpid(), signal.SIGINT)
        put(path, data)

    monkeypatch.setattr(journal, "put_file", pressing)
    before = book.read_bytes()
    assert here("cut", "yard.xlsx", "L1", folder=book.parent, monkeypatch=monkeypatch) == 130
    assert "Stopped. Step 1 of yard.xlsx is recorded." in capsys.readouterr().out
    assert book.read_bytes() != before
    assert (book.parent / "rack" / "steps" / "000001.json").is_file()
    assert not (book.parent / "rack" / ".unfinished").exists()


def test_ctrl_c_while_the_program_is_fetched_is_a_sentence_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    fetch = builtins.__import__

    def pressing(name: str, *more: Any, **named: Any) -> Any:
        if name == "sheetplan.cli":
            raise KeyboardInterrupt
        return fetch(name, *more, **named)

    monkeypatch.setattr(builtins, "__import__", pressing)
    with pytest.raises(SystemExit) as ended:
        start()
    assert (ended.value.code, capsys.readouterr().out) == (130, "Stopped. Nothing was changed.\n")


@pytest.mark.skipif(os.name == "nt", reason="signals of Unix")
def test_ctrl_c_always_ends_in_a_sentence_that_is_so(book: Path) -> None:
    for wait in (0.15, 0.6, 1.2):
        before = state(book.parent)
        child = subprocess.Popen(
            [*COMMAND, "cut", "yard.xlsx", "L1", "--again"], cwd=book.parent, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        time.sleep(wait)
        child.send_signal(signal.SIGINT)
        said = child.communicate(timeout=120)[0]
        if child.returncode not in (0, 130) and "/sheetplan/" not in said:
            continue  # the interpreter had not come to us yet
        assert child.returncode in (0, 130), said
        assert "Traceback" not in said
        if child.returncode == 130:
            assert "Stopped." in said
            assert ("Nothing was changed" in said) == (state(book.parent) == before), said


def test_no_warning_of_a_library_comes_on_the_screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book has print areas of whole columns, of which openpyxl warns whoever opens it."""
    book = tmp_path / "yard.xlsx"
    new_book(book, demo=True, units=Units.INCH)
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("always")
        openpyxl.load_workbook(book)
        assert any("Print area" in str(one.message) for one in seen), "else nothing is proven"
        seen.clear()
        for command in (("check", "yard.xlsx"), ("month", "yard.xlsx", "2026-11")):
            assert here(*command, folder=tmp_path, monkeypatch=monkeypatch) == 0
    assert [str(one.message) for one in seen if one.category is UserWarning] == []


@pytest.mark.skipif(os.name == "nt", reason="pipes of Unix")
def test_a_reader_that_has_gone_changes_no_exit_code(book: Path) -> None:
    read, written = os.pipe()
    os.close(read)
    done = subprocess.run(
        [*COMMAND, "cut", "yard.xlsx", "L1"], cwd=book.parent, stdout=written, stderr=subprocess.PIPE,
        check=False,
    )  # fmt: skip
    os.close(written)
    assert (done.returncode, done.stderr) == (0, b"")
    assert (book.parent / "rack" / "steps" / "000001.json").is_file()


@pytest.mark.skipif(sys.platform != "linux", reason="names of any bytes are Linux's")
def test_a_name_that_is_no_text_is_said_at_once(book: Path) -> None:
    odd = os.fsencode(book.parent) + b"/y\xff.xlsx"
    os.rename(book, odd)
    begun = time.monotonic()
    done = subprocess.run(
        [*COMMAND, "plan", b"y\xff.xlsx"], cwd=book.parent, capture_output=True, check=False
    )
    assert done.returncode == 3
    assert b"stand for no letter" in done.stdout
    assert time.monotonic() - begun < 60.0


def test_kernels_have_a_place_without_a_home(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from sheetplan.app.making import workers

    for name in ("NUMBA_CACHE_DIR", "MPLCONFIGDIR", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    said: list[str] = []
    workers.place_for_kernels(lambda progress: said.append(progress.sentence))
    assert said == [], "where the modules can be written, nothing is done"
    monkeypatch.setattr(workers, "_can_keep", lambda folder: False)
    numba = sys.modules.get("numba")
    kept = numba.config.CACHE_DIR if numba else ""
    try:
        workers.place_for_kernels(lambda progress: said.append(progress.sentence))
        assert "compiled for this run alone" in said[0]
        assert Path(os.environ["NUMBA_CACHE_DIR"]).is_dir()
        assert Path(os.environ["MPLCONFIGDIR"]).is_dir()
    finally:
        for name in ("NUMBA_CACHE_DIR", "MPLCONFIGDIR", "XDG_CACHE_HOME"):
            os.environ.pop(name, None)
        if numba:
            numba.config.CACHE_DIR = kept
