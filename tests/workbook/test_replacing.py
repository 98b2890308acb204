import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sheetplan.workbook.outcomes import BookInUse, NotWritten
from sheetplan.workbook.package import saving
from sheetplan.workbook.package.saving import put_backup, put_file, replace_file


def good(_: Path) -> None:
    return None


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 64 kB of its own, where the system lets us make one."""
    folder = tmp_path / "small"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)]
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("a small disk can only be made by the administrator of a Unix system")
    if subprocess.run(command, capture_output=True, check=False).returncode != 0:
        pytest.skip("this system does not let the tests mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_the_file_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"old")
    path.chmod(0o640)
    seen = []
    replace_file(
        path,
        b"new",
        test=lambda written: seen.append((written.read_bytes(), path.read_bytes())),
        before=lambda: seen.append((b"before", path.read_bytes())),
    )
    assert seen == [(b"new", b"old"), (b"before", b"old")]
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert os.listdir(tmp_path) == ["a.xlsx"]


def test_a_new_file_has_the_usual_rights(tmp_path: Path) -> None:
    (tmp_path / "usual").write_bytes(b"")
    replace_file(tmp_path / "a.xlsx", b"new", test=good)
    assert (tmp_path / "a.xlsx").stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_a_failed_test_keeps_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"old")
    with pytest.raises(NotWritten, match="two heads"):
        replace_file(path, b"new", test=lambda _: "it has two heads.")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.xlsx"]


def test_a_last_moment_objection_keeps_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"old")

    def object_() -> None:
        raise RuntimeError("changed meanwhile")

    with pytest.raises(RuntimeError):
        replace_file(path, b"new", test=good, before=object_)
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a.xlsx"]


def test_a_second_run_meanwhile_is_turned_away(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"

    def second(_: Path) -> None:
        replace_file(path, b"second", test=good)

    with pytest.raises(BookInUse):
        replace_file(path, b"first", test=second)  # type: ignore[arg-type]
    assert os.listdir(tmp_path) == []


def test_a_full_disk_leaves_the_old_file_and_no_trace(small_disk: Path) -> None:
    path = small_disk / "a.xlsx"
    path.write_bytes(b"old" * 1000)
    with pytest.raises(NotWritten, match="disk is full"):
        replace_file(path, os.urandom(100_000), test=good)
    assert path.read_bytes() == b"old" * 1000
    assert os.listdir(small_disk) == ["a.xlsx"]


def test_a_disk_too_full_for_the_backup_leaves_the_old_file_too(small_disk: Path) -> None:
    path = small_disk / "a.xlsx"
    old = os.urandom(20_000)
    path.write_bytes(old)
    with pytest.raises(NotWritten, match="disk is full"):
        replace_file(
            path,
            os.urandom(20_000),
            test=good,
            before=lambda: put_file(small_disk / "a.backup.xlsx", os.urandom(30_000)),
        )
    assert path.read_bytes() == old
    assert os.listdir(small_disk) == ["a.xlsx"]


def test_a_read_only_disk(small_disk: Path) -> None:
    path = small_disk / "a.xlsx"
    path.write_bytes(b"old")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(NotWritten, match="read-only"):
        replace_file(path, b"new", test=good)
    assert path.read_bytes() == b"old"


def test_a_folder_that_takes_no_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "folder" / "a.xlsx"
    path.parent.mkdir()
    path.write_bytes(b"old")
    path.parent.chmod(0o555)
    if os.access(path.parent, os.W_OK):  # the administrator may write anywhere, so the refusal is played

        def refuse(*_: object, **__: object) -> int:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(saving.tempfile, "mkstemp", refuse)
    with pytest.raises(NotWritten, match="Nothing may be written"):
        replace_file(path, b"new", test=good)
    path.parent.chmod(0o755)
    assert os.listdir(path.parent) == ["a.xlsx"]


def test_leftovers_of_killed_runs_are_swept_and_other_files_are_not(tmp_path: Path) -> None:
    for name in (".a.xlsx.sheetplan-part-x1.xlsx", ".b.xlsx.sheetplan-part-x2.xlsx", "a.xlsx.txt"):
        (tmp_path / name).write_bytes(b"x")
    replace_file(tmp_path / "a.xlsx", b"new", test=good)
    assert sorted(os.listdir(tmp_path)) == [".b.xlsx.sheetplan-part-x2.xlsx", "a.xlsx", "a.xlsx.txt"]


def test_an_interrupted_write_leaves_no_trace(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(saving.os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        replace_file(tmp_path / "a.xlsx", b"new", test=good)
    assert os.listdir(tmp_path) == []


def test_a_backup_stays_known_however_often_a_run_ends_before_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "jobs.xlsx"
    book.write_bytes(b"first")
    put_backup(book, b"first")
    take_place = saving._take_place
    with monkeypatch.context() as ended:
        for data in (b"second", b"third", b"second", b"second"):
            ended.setattr(
                saving, "_take_place", lambda part, path, *rest: _noted_only(take_place, part, path, *rest)
            )
            with pytest.raises(KeyboardInterrupt):
                put_backup(book, data)
    put_backup(book, b"third")
    assert sorted(one.name for one in tmp_path.iterdir()) == [
        ".jobs.backup.json",
        "jobs.backup.xlsx",
        "jobs.xlsx",
    ]
    assert (tmp_path / "jobs.backup.xlsx").read_bytes() == b"third"


def _noted_only(take_place: Callable[..., None], part: Path, path: Path, *rest: object) -> None:
    if path.suffix == ".xlsx":
        raise KeyboardInterrupt
    take_place(part, path, *rest)
