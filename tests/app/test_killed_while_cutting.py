"""A step that is killed anywhere leaves book and rack as before it or as after it."""

import contextlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

from sheetplan.app.rack import folder as journal
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from tests.app.cut_book import DAY, copied, planned_book, record_cut, state, write
from tests.app.killing_cuts import ANEW, KINDS, wider_book

KILLS = 4
"""Of each kind; `python -m tests.app.killing_cuts FOLDER COUNT SEED KIND` tries any number."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return planned_book(tmp_path_factory.mktemp("made"))


@pytest.fixture(scope="module")
def wider(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return wider_book(tmp_path_factory.mktemp("wider"))


@pytest.mark.skipif(sys.platform == "win32", reason="forks and kills processes")
@pytest.mark.parametrize("kind", [*KINDS, "ordered", "received", "moved", *ANEW])
def test_killed_at_random_moments(wider: Path, tmp_path: Path, kind: str) -> None:
    folder = copied(wider, tmp_path / "shop").parent
    command = [sys.executable, "-m", "tests.app.killing_cuts", str(folder), str(KILLS), "3", kind]
    run = subprocess.run(command, capture_output=True, text=True, timeout=280)
    assert run.returncode == 0, run.stderr[-2000:]
    told = json.loads(run.stdout)
    assert told["as before"] + told["as after"] + told["finished"] == KILLS


class Stopped(BaseException):
    """Stands for the machine going off."""


@pytest.fixture
def puts(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Lets so many writes of the journal's files through, then stops; -1 for no end."""
    left = [-1]
    put = journal.put_file

    def put_or_stop(path: Path, data: bytes) -> None:
        if left[0] == 0:
            raise Stopped
        left[0] -= 1
        put(path, data)

    monkeypatch.setattr(journal, "put_file", put_or_stop)
    return left


def test_stopped_before_and_after_every_single_write(made: Path, tmp_path: Path, puts: list[int]) -> None:
    """Each write of a cut and of its undoing in turn is the last one that happens."""
    book = copied(made, tmp_path / "shop")
    record_cut(book, CutAsked("L1"), today=DAY)
    after = state(book.parent)
    undo_cut(book)
    before = state(book.parent)
    seen = set()
    for cuts, most in ((True, 8), (False, 4)):  # a cut writes seven files, undoing it three
        for writes in range(most):
            puts[0] = writes
            with contextlib.suppress(Stopped):
                record_cut(book, CutAsked("L1"), today=DAY) if cuts else undo_cut(book)
            puts[0] = -1
            told = look(book).told
            now = state(book.parent)
            assert now in (before, after)
            seen.add((cuts, now == after, bool(told)))
            if (now == after) is cuts:
                undo_cut(book) if cuts else record_cut(book, CutAsked("L1"), today=DAY)
        if cuts:
            record_cut(book, CutAsked("L1"), today=DAY)
    # Stopped before the book was written, after it, and not at all: all three happened, both ways.
    assert seen >= {(True, False, True), (True, True, True), (True, True, False)}
    assert seen >= {(False, True, True), (False, False, False)}


def test_two_cuts_of_one_command_are_done_or_dropped_together(
    made: Path, tmp_path: Path, puts: list[int]
) -> None:
    book = copied(made, tmp_path / "shop")
    both = (CutAsked("L1"), CutAsked("L1x1", again=True))
    record_cuts(book, both, today=DAY)
    after = state(book.parent)
    undo_cut(book)
    before, told = state(book.parent), set()
    # Twice three files and the file of tags, the journal, and again in place: 14, of which every third.
    for writes in range(0, 14, 3):
        puts[0] = writes
        with contextlib.suppress(Stopped):
            record_cuts(book, both, today=DAY)
        puts[0] = -1
        told.add(look(book).told)
        now = state(book.parent)
        assert now in (before, after)
        if now == after:
            undo_cut(book)
    assert any("Steps 1 to 2 of yard.xlsx were interrupted after" in one for one in told)


@pytest.mark.parametrize("written", [True, False])
def test_a_planner_who_saves_the_book_meanwhile_loses_nothing(
    made: Path, tmp_path: Path, puts: list[int], written: bool
) -> None:
    """The book was saved again after the stop, so its digest is unknown: its Cut log tells."""
    book = copied(made, tmp_path / "shop")
    old = book.read_bytes()
    puts[0] = STAGED
    with pytest.raises(Stopped):
        record_cut(book, CutAsked("L1"), today=DAY)
    puts[0] = -1
    if not written:
        book.write_bytes(old)
    write(book, "Stock", "MS10", "Supplier", "Quay Metals")
    seen = look(book)
    assert ("finished" in seen.told) is written
    assert seen.problems == ()
    assert bool(seen.records) is written


STAGED = 4
"""Three files of the rack and the journal are written before the book."""


def test_a_damaged_journal_is_told(made: Path, tmp_path: Path) -> None:
    from sheetplan.app.rack import Refused

    book = copied(made, tmp_path / "shop")
    folder = book.parent / "rack" / ".unfinished"
    folder.mkdir(parents=True)
    (folder / "journal.json").write_text("{")
    with pytest.raises(Refused, match="damaged"):
        look(book)
