"""One step on the disk: all of it or nothing, whenever the machine stops.

The order, each thing forced to the disk before the next:

1. the new files of the rack are written to ``.unfinished``, then its journal;
2. the book is replaced: this is the moment at which the step counts;
3. the files of the rack take their places, the records last;
4. ``.unfinished`` goes.

Stopped before 2, the book is the old one and the next command drops ``.unfinished``: no sheet was
used up. Stopped after 2, the next command finishes 3 and 4. Which of the two it was, the book tells:
by its digest, or, where the planner or a program has saved it since, by whether its page Cut log has
the step.

An interrupted step stops `plan` and `check`, which name it; `sheetplan rack BOOK`, and every next step,
finishes or drops it.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from sheetplan.app.rack.folder import RackUnreadable, digest_of, set_aside
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.replacing import put_file, taken_away, uninterrupted

UNFINISHED = ".unfinished"
FINISHED = ".finished"
JOURNAL = "journal.json"


@dataclass(frozen=True, slots=True)
class Journal:
    """A step under way; ``adds`` is False where it takes a step back.

    ``before`` and ``after`` are digests of the book; ``after`` is empty where a program saves it, since
    nobody knows the bytes beforehand. ``files`` holds the name of each staged file by its place in the
    rack, None where one goes. ``count`` is how many steps end with ``step``.
    """

    step: int
    adds: bool
    book: str
    before: str
    after: str
    files: Mapping[str, str | None]
    count: int = 1


def commit(
    rack: Path, book: Path, before: bytes, steps: Sequence[int], adds: bool,
    files: Mapping[str, bytes | None], write_book: Callable[[], object], *,
    after: bytes | None = None, counts: Callable[[], bool] | None = None, told: str = "",
) -> None:  # fmt: skip
    """Do one step, or several together: ``files`` of the rack by their place in it, and the book in between.

    None for a file's content deletes it. ``steps`` are numbers that follow one another.

    ``after`` are the book's bytes once it is written; where they are not known beforehand, ``counts``
    tells of the file whether the step is in it. ``told`` says what then counts, where that is no step.
    Raises what ``write_book`` raises, and then nothing counts.
    """
    with uninterrupted():
        journal = _staged(rack, book, before, steps, adds, files, after)
        try:
            write_book()
        except BaseException:
            digest = digest_of(book.read_bytes()) if book.exists() else journal.before
            if digest == journal.before or not (counts() if counts else digest == journal.after):
                shutil.rmtree(rack / UNFINISHED, ignore_errors=True)
                raise
        told = told or f"{_numbered(journal)} of {book.name} {'is recorded' if adds else 'is taken back'}."
        ledger().done.append(told)
        try:
            _finish(rack, journal)
        except OSError as error:
            ledger().unfinished.append(
                f"{told} But the folder rack is not finished ({error.filename or 'a file'}: "
                f"{error.strerror or error}). The next step finishes it, or: sheetplan rack {book.name}"
            )


def _staged(
    rack: Path, book: Path, before: bytes, steps: Sequence[int], adds: bool,
    files: Mapping[str, bytes | None], after: bytes | None,
) -> Journal:  # fmt: skip
    """Write the new files and the journal aside; where that fails, nothing is left of it."""
    folder = rack / UNFINISHED
    shutil.rmtree(folder, ignore_errors=True)
    try:
        folder.mkdir(parents=True)
        staged: dict[str, str | None] = {}
        for number, (place, content) in enumerate(files.items()):
            staged[place] = None if content is None else f"{number:03d}"
            if content is not None:
                put_file(folder / f"{number:03d}", content)
        told = digest_of(after) if after is not None else ""
        journal = Journal(max(steps), adds, book.name, digest_of(before), told, staged, len(steps))
        put_file(folder / JOURNAL, json.dumps(asdict(journal), indent=1).encode())
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return journal


def _numbered(journal: Journal) -> str:
    if journal.count > 1:
        return f"Steps {journal.step - journal.count + 1} to {journal.step}"
    return f"Step {journal.step}"


def interrupted(rack: Path) -> bool:
    """Whether a step is under way, or was stopped before it was whole."""
    return (rack / UNFINISHED).exists()


def recover(rack: Path, knows: Callable[[Path, int], bool], *, mending: bool = False) -> str:
    """Finish or drop a step that was interrupted; says in a sentence which, empty if there was none.

    ``knows`` tells whether the Cut log of a book has a step. A damaged journal is set aside by one who is
    ``mending``: the book then tells whether the step counts, and it is rebuilt from there.
    """
    _clear_finished(rack)
    folder = rack / UNFINISHED
    if not folder.exists():
        return ""
    if not (folder / JOURNAL).exists():
        shutil.rmtree(folder, ignore_errors=True)
        return "A step that was interrupted before it began was dropped; nothing of it counts."
    try:
        journal = Journal(**json.loads((folder / JOURNAL).read_text(encoding="utf-8")))
    except (ValueError, TypeError) as error:
        if mending:
            place = set_aside(rack, folder)
            return f"The journal of a step under way was damaged; all of it lies in {place.parent.name} now."
        raise RackUnreadable(f"The journal in {folder} is damaged ({error}).") from error
    book = rack.parent / journal.book
    if not book.exists():
        raise RackUnreadable(
            f"A step on {journal.book} was interrupted, and that book is no longer beside the rack. Put it "
            f"back, or delete {folder} to drop the step."
        )
    digest = digest_of(book.read_bytes())
    saved_since = digest not in (journal.before, journal.after)
    counts = knows(book, journal.step) == journal.adds if saved_since else digest == journal.after
    numbers = _numbered(journal)
    what = f"{numbers if journal.adds else f'Taking back {numbers.lower()}'} of {journal.book}"
    if counts:
        _finish(rack, journal)
        return f"{what} was interrupted after the book had been written; it has now been finished."
    shutil.rmtree(folder, ignore_errors=True)
    return f"{what} was interrupted before the book was written; it was dropped, and no sheet was used up."


def _finish(rack: Path, journal: Journal) -> None:
    """Put every file in its place. Doing it twice, or from the middle, gives the same."""
    folder = rack / UNFINISHED
    for place, name in journal.files.items():
        target = rack / place
        if name is None:
            taken_away(target)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        put_file(target, (folder / name).read_bytes())
    _clear_finished(rack)
    folder.rename(rack / FINISHED)  # in one step, so that nobody takes what is left for a step under way
    _clear_finished(rack)


def _clear_finished(rack: Path) -> None:
    shutil.rmtree(rack / FINISHED, ignore_errors=True)
