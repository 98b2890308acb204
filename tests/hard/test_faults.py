"""Faults of the machine in the middle of a run: nothing is lost, and what is left fits together."""

from __future__ import annotations

import multiprocessing
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.planning.progress import Progress
from sheetplan.workbook.outcomes import BookChanged, BookError, BookInUse
from tests.hard import month_faults
from tests.hard.book_fuzz import TODAY
from tests.hard.command import run
from tests.hard.faults import asking, forget, kills
from tests.hard.looking import link_faults, snapshot
from tests.nasty.books.plain import plain_rows, write_book


def plan(book: Path, report: Callable[[Progress], None] = lambda _: None, workers: int = 1) -> PlanOutcome:
    return plan_book(
        book, PlanAsked(TODAY, seconds=0.1, seed=1), stop=lambda: False, report=report, workers=workers
    )


def half_done(folder: Path) -> list[str]:
    return [name for name in snapshot(folder) if ".part" in name or "sheetplan-" in name]


@pytest.fixture
def mounted(tmp_path: Path) -> Iterator[Callable[[str], Path]]:
    """Mounts a small disk of its own, or mounts it again with other options."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("a small disk can only be made by the administrator of a Unix system")

    def mount(options: str) -> Path:
        command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)]
        if subprocess.run(command, capture_output=True, check=False).returncode != 0:
            pytest.skip("this system does not let the tests mount a small disk")
        return folder

    yield mount
    subprocess.run(["umount", str(folder)], check=False, capture_output=True)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked processes")
def test_runs_killed_at_random_moments(tmp_path: Path) -> None:
    sums = kills(tmp_path, 12, 7, commands=False)
    assert sums["finished"] + sums["before the book"] + sums["after the book"] == 12


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills forked processes")
def test_months_killed_at_random_moments(tmp_path: Path) -> None:
    assert sum(month_faults.kills(tmp_path, 6, 7).values()) == 6


@pytest.mark.slow
def test_a_full_disk_at_every_stage(mounted: Callable[[str], Path]) -> None:
    disk = mounted("size=4m")
    book = write_book(disk / "b.xlsx", plain_rows())
    plan(book)
    needed = sum(path.stat().st_size for path in disk.rglob("*") if path.is_file()) // 1024
    ended = set()
    for share in (0.3, 0.8, 1.0, 1.4, 2.2):
        book.write_bytes(asking(book.read_bytes(), 9 if share > 1.0 else 14))
        before, shown = book.read_bytes(), snapshot(disk)
        filler = disk / "filler"
        room = int(needed * 1024 * share) if share < 2.0 else 3 * 1024**2
        free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_frsize
        filler.write_bytes(bytes(max(0, free - room)))
        refused = ""
        try:
            plan(book)
        except (BookError, OSError) as error:
            refused = str(error)
        ended.add(bool(refused))
        if refused:
            assert "space" in refused or "full" in refused
            assert book.read_bytes() == before
            assert shown.keys() <= snapshot(disk).keys() | {"filler"}
        filler.unlink()
        assert link_faults(book) == []
        assert half_done(disk) == []
    assert ended == {True, False}


def test_a_full_disk_is_said(mounted: Callable[[str], Path]) -> None:
    disk = mounted("size=120k")
    book = write_book(disk / "b.xlsx", plain_rows())
    before = snapshot(disk)
    ran = run("plan", "b.xlsx", "--seconds", "0.1", "--workers", "1", folder=disk)
    assert (ran.code, ran.ugly) == (3, "")
    assert "No space left" in ran.said or "disk is full" in ran.said
    assert snapshot(disk).items() >= before.items()
    assert book.is_file()


def test_a_read_only_disk_can_be_checked_and_is_not_planned(mounted: Callable[[str], Path]) -> None:
    disk = mounted("size=4m")
    write_book(disk / "b.xlsx", plain_rows())
    mounted("remount,ro,size=4m")
    before = snapshot(disk)
    assert run("check", "b.xlsx", folder=disk).code == 0
    ran = run("plan", "b.xlsx", "--seconds", "0.1", folder=disk)
    assert ran.code == 3
    assert "may not be written" in ran.said
    assert ran.seconds < 10.0, "it is said before the search, not after it"
    assert snapshot(disk) == before


def at_the_check(do: Callable[[], object]) -> Callable[[Progress], None]:
    """A report that does something once, between search and writing."""
    done = []

    def report(progress: Progress) -> None:
        if "Checking" in progress.sentence and not done:
            done.append(True)
            do()

    return report


def test_the_folder_goes_in_the_middle_and_is_not_made_anew(tmp_path: Path) -> None:
    place = tmp_path / "stick"
    place.mkdir()
    book = write_book(place / "b.xlsx", plain_rows())
    with pytest.raises((BookError, OSError)):
        plan(book, at_the_check(lambda: shutil.rmtree(place)))
    assert not place.exists()


def test_the_book_is_saved_or_opened_or_renamed_in_the_middle(tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", plain_rows())
    saved = asking(book.read_bytes(), 9)
    with pytest.raises(BookChanged):
        plan(book, at_the_check(lambda: book.write_bytes(saved)))
    assert book.read_bytes() == saved
    lock = tmp_path / "~$b.xlsx"
    with pytest.raises(BookInUse):
        plan(book, at_the_check(lambda: lock.write_bytes(b"\x05owner")))
    lock.unlink()
    assert book.read_bytes() == saved
    with pytest.raises(BookError):
        plan(book, at_the_check(lambda: book.rename(tmp_path / "c.xlsx")))
    assert (tmp_path / "c.xlsx").read_bytes() == saved
    assert not book.exists()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks two runs")
def test_two_runs_at_once_leave_one_whole_plan(tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", plain_rows())
    for turn in range(2):
        book.write_bytes(asking(book.read_bytes(), (5, 9)[turn % 2]))
        children = [os.fork() or _plan_and_exit(book, seed) for seed in (1, 1 + turn % 2)]
        codes = sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children)
        assert codes in ([0, 0], [0, 3]), codes
        assert link_faults(book) == []
        assert half_done(tmp_path) == []


def _plan_and_exit(book: Path, seed: int) -> int:
    code = 9
    try:
        plan_book(
            book, PlanAsked(TODAY, seconds=0.1, seed=seed),
            stop=lambda: False, report=lambda _: None, workers=1,
        )
        code = 0
    except BookError:
        code = 3
    finally:
        os._exit(code)


def test_a_clock_set_back_harms_nothing(tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", plain_rows())
    plan(book)
    for path in [book, *(tmp_path / "layouts").rglob("*")]:
        os.utime(path, (4_000_000_000, 4_000_000_000))
    for quantity in (9, 14, 5, 9, 14):
        book.write_bytes(asking(book.read_bytes(), quantity))
        os.utime(book, (1, 1))
        forget(book)
        plan(book)
        assert link_faults(book) == []
    earlier = list((tmp_path / "layouts" / "earlier").iterdir())
    assert 0 < len(earlier) <= 3


@pytest.mark.slow
def test_a_helper_process_that_dies_costs_time_and_nothing_else(tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", plain_rows())
    said: list[str] = []

    def report(progress: Progress) -> None:
        if not said or "died" in progress.sentence:
            said.append(progress.sentence)
        helpers = multiprocessing.active_children()
        if helpers and len(said) == 1:
            helpers[0].kill()

    outcome = plan(book, report, workers=2)
    assert outcome.plan is not None
    assert any("died" in sentence for sentence in said)
    assert link_faults(book) == []
    assert outcome.mark == plan(write_book(tmp_path / "c.xlsx", plain_rows())).mark
    assert multiprocessing.active_children() == []
