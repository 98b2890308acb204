"""What becomes of a step that was interrupted: the book tells, by its bytes or by its log; by hand."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path

import pytest

from sheetplan.app.rack.folder import JOURNAL, UNFINISHED, Journal, RackUnreadable, interrupted, recover

BEFORE, AFTER, OTHER = b"the book as it was", b"the book as written", b"the book as saved since"
FILES = {"known/R-1.json": "000", "R-2.dxf": None}
"""One file comes and one goes."""


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def rack_with(
    tmp_path: Path, book: bytes, *, adds: bool = True, count: int = 1, after: str = digest(AFTER)
) -> Path:
    """A rack in which steps up to 5 are under way, beside a book with such bytes."""
    rack = tmp_path / "rack"
    (rack / UNFINISHED).mkdir(parents=True)
    (tmp_path / "b.xlsx").write_bytes(book)
    (rack / "R-2.dxf").write_bytes(b"goes")
    (rack / UNFINISHED / "000").write_bytes(b"comes")
    journal = Journal(5, adds, "b.xlsx", digest(BEFORE), after, FILES, count)
    (rack / UNFINISHED / JOURNAL).write_text(json.dumps(asdict(journal)), encoding="utf-8")
    return rack


def never(book: Path, step: int) -> bool:
    raise AssertionError("the bytes of the book tell")


def has_step(book: Path, step: int) -> bool:
    assert (book.name, step) == ("b.xlsx", 5)
    return True


def has_none(book: Path, step: int) -> bool:
    return not has_step(book, step)


def files(rack: Path) -> dict[str, bytes]:
    found = [path for path in rack.rglob("*") if path.is_file()]
    return {path.relative_to(rack).as_posix(): path.read_bytes() for path in found}


WAS, IS = {"R-2.dxf": b"goes"}, {"known/R-1.json": b"comes"}
FINISHED = "was interrupted after the book had been written; it has now been finished."
DROPPED = "was interrupted before the book was written; it was dropped, and no sheet was used up."
FINISHED_ALL = "were interrupted after the book had been written; they have now been finished."
DROPPED_ALL = "were interrupted before the book was written; they were dropped, and no sheet was used up."


def test_bytes_of_the_book_tell_whether_the_step_counts(tmp_path: Path) -> None:
    rack = rack_with(tmp_path / "dropped", BEFORE)
    assert interrupted(rack)
    assert recover(rack, never) == f"Step 5 of b.xlsx {DROPPED}"
    assert files(rack) == WAS
    rack = rack_with(tmp_path / "finished", AFTER)
    assert recover(rack, never) == f"Step 5 of b.xlsx {FINISHED}"
    assert files(rack) == IS
    assert not interrupted(rack)
    assert recover(rack, never) == ""


@pytest.mark.parametrize("after", [digest(AFTER), ""])
@pytest.mark.parametrize("adds", [True, False])
def test_of_a_book_that_was_saved_since_its_log_tells(tmp_path: Path, adds: bool, after: str) -> None:
    """A step that is added counts where the log has it; one that is taken back where it has it no more."""
    who = "Step 5" if adds else "Taking back step 5"
    rack = rack_with(tmp_path / "with", OTHER, adds=adds, after=after)
    assert recover(rack, has_step) == f"{who} of b.xlsx {FINISHED if adds else DROPPED}"
    assert files(rack) == (IS if adds else WAS)
    rack = rack_with(tmp_path / "without", OTHER, adds=adds, after=after)
    assert recover(rack, has_none) == f"{who} of b.xlsx {DROPPED if adds else FINISHED}"
    assert files(rack) == (WAS if adds else IS)


def test_steps_that_go_together_are_told_together(tmp_path: Path) -> None:
    rack = rack_with(tmp_path / "two", BEFORE, count=2)
    assert recover(rack, never) == f"Steps 4 to 5 of b.xlsx {DROPPED_ALL}"
    rack = rack_with(tmp_path / "all", AFTER, count=2)
    assert recover(rack, never) == f"Steps 4 to 5 of b.xlsx {FINISHED_ALL}"
    rack = rack_with(tmp_path / "back", AFTER, count=3, adds=False)
    assert recover(rack, never) == f"Taking back steps 3 to 5 of b.xlsx {FINISHED}"


def test_a_journal_that_is_missing_or_damaged(tmp_path: Path) -> None:
    rack = rack_with(tmp_path / "missing", BEFORE)
    (rack / UNFINISHED / JOURNAL).unlink()
    assert "before it began was dropped" in recover(rack, never)
    assert files(rack) == WAS
    rack = rack_with(tmp_path / "damaged", BEFORE)
    (rack / UNFINISHED / JOURNAL).write_text("{", encoding="utf-8")
    with pytest.raises(RackUnreadable, match="is damaged"):
        recover(rack, never)
    assert interrupted(rack)
    assert "was damaged; all of it lies in" in recover(rack, never, mending=True)
    assert not interrupted(rack)
    rack = rack_with(tmp_path / "alone", BEFORE)
    (tmp_path / "alone" / "b.xlsx").unlink()
    with pytest.raises(RackUnreadable, match="no longer beside the rack"):
        recover(rack, never)
