"""The folder of records beside the book, as found; and one step on the disk, all of it or nothing."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from sheetplan.model import Job
from sheetplan.rack.record import Record, record_json, record_of
from sheetplan.rack.step import NotAStep, Step, step_of
from sheetplan.rack.usable import Count, counts_of
from sheetplan.trade.units import Units
from sheetplan.workbook.ledger import ledger
from sheetplan.workbook.package.saving import moved, put_file, taken_away, uninterrupted

# The folder of records beside the book, as found: what the tool knew, and what the drawings now show.
#
#     rack/R-018.dxf          the record of one sheet, for people and drawing programs
#     rack/used up/R-017.dxf  sheets that are gone, with all that was cut from them
#     rack/known/R-018.json   the record as the tool last wrote it, and its drawing's digest
#     rack/steps/000041.json  one recorded cut
#     rack/counts.json        counts of the rack: which sheets were seen on which day
#     rack/taken back.json    tags of cuts that were taken back, and of which; the last at the end
#     rack/.unfinished/       a step under way and its journal (see `commit`)
#
# A tag may stand on a sheet already, so it is not given to another. A cut that is recorded again directly
# after it was taken back is on the same sheet and gets the same tags; the files are then as they were
# before. As soon as another cut is given tags, no earlier one gets its own again, and only the highest
# number is remembered.
#
# A record is kept twice. Its drawing is for people. The JSON beside it holds the drawing's digest, so that
# hundreds are read in a moment and a change by hand is noticed. A changed drawing is planned on as it now is
# and told loop by loop; only `sheetplan rack --repair` takes it over.

RACK, USED_UP, KNOWN, STEPS = "rack", "used up", "known", "steps"

_SAFE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_. ")


class RackUnreadable(Exception):
    """Something in the folder cannot be used; the text is a sentence for the planner, as is ``remedy``."""

    def __init__(self, what: str, remedy: str = "") -> None:
        super().__init__(what)
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class Held:
    """One record as found.

    ``known`` is what the tool last wrote, None for a drawing that a person put there. ``now`` is what
    the drawing shows. ``changes`` say how the two differ, ``trouble`` why the drawing cannot be used.
    ``drawing`` is its path, None where it is missing; ``damaged`` is of the file of what the tool knew.
    """

    tag: str
    known: Record | None
    now: Record | None
    changes: tuple[str, ...] = ()
    trouble: str = ""
    drawing: Path | None = None
    damaged: bool = False


def rack_of(book: Path) -> Path:
    """The rack's folder of a book."""
    return book.parent / RACK


def digest_of(data: bytes) -> str:
    """SHA-256 of some bytes."""
    return hashlib.sha256(data).hexdigest()


DEVICES = frozenset(
    {"CON", "PRN", "AUX", "NUL"} | {f"{port}{n}" for port in ("COM", "LPT") for n in range(10)}
)
"""Names that Windows keeps for devices, whatever ending follows. Source: Microsoft, "Naming Files, Paths,
and Namespaces"."""


def file_stem(tag: str) -> str:
    """A tag as a file's name that every system takes; other letters as ``%`` and their code.

    >>> file_stem("R-018"), file_stem("R/1"), file_stem("con")
    ('R-018', 'R%2F1', '%63on')
    """
    plain = "".join(c if c in _SAFE else "".join(f"%{b:02X}" for b in c.encode()) for c in tag)
    odd = plain.strip(". ") != plain or plain.partition(".")[0].upper() in DEVICES
    return f"%{ord(plain[0]):02X}{plain[1:]}" if odd else plain or "%00"


def drawing_name(record: Record) -> str:
    """Path of a record's drawing within the rack."""
    name = f"{file_stem(record.tag)}.dxf"
    return f"{USED_UP}/{name}" if record.used_up else name


def known_name(tag: str) -> str:
    """Path within the rack of what the tool knows of a sheet."""
    return f"{KNOWN}/{file_stem(tag)}.json"


def step_name(number: int) -> str:
    """Path of a step within the rack."""
    return f"{STEPS}/{number:06d}.json"


def recorded_beside(book: Path) -> Callable[[str], bool]:
    """Whether the rack beside a book has a record or a drawing of a tag."""
    rack = rack_of(book)
    stems = {path.stem for path in (*(rack / KNOWN).glob("*.json"), *rack.glob("*.dxf"))}
    return lambda tag: file_stem(tag) in stems


def known_text(record: Record, drawing: bytes) -> str:
    """What the tool knows of a sheet, as a file's text."""
    value = {"format": 1, "digest": digest_of(drawing), "record": record_json(record)}
    return json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def known_of(text: str) -> tuple[Record, str]:
    """The record and the drawing's digest in a text of `known_text`; ValueError where it is damaged."""
    try:
        value: Mapping[str, Any] = json.loads(text)
        return record_of(value["record"]), str(value["digest"])
    except (KeyError, TypeError) as error:
        raise ValueError(str(error)) from error


def read_steps(rack: Path) -> dict[int, Step]:
    """All recorded steps by number.

    Raises
    ------
    RackUnreadable
        One of them is damaged.
    """
    steps = {}
    for path in sorted((rack / STEPS).glob("*.json")):
        try:
            step = step_of(path.read_text(encoding="utf-8"))
        except (NotAStep, UnicodeDecodeError) as error:
            raise RackUnreadable(f"{path.name} in {path.parent} cannot be used: {error}.") from error
        steps[step.number] = step
    return steps


SET_ASIDE = "set aside"
"""The folder of the rack that holds files which were damaged, as they were."""


def set_aside(rack: Path, path: Path) -> Path:
    """Move a damaged file or folder out of the way, and lose nothing of it."""
    folder = rack / SET_ASIDE
    folder.mkdir(exist_ok=True)
    target, count = folder / path.name, 1
    while target.exists():
        count += 1
        target = folder / f"{path.stem} {count}{path.suffix}"
    moved(path, target)
    return target


def set_damaged_aside(rack: Path, listed: Collection[int]) -> Iterator[str]:
    """Move damaged steps and the damaged file of tags out of the way; says so of each.

    Raises ``RackUnreadable`` where the book does not list a step that is damaged: nothing would tell of it.
    """
    for path in sorted((rack / STEPS).glob("*.json")):
        try:
            step_of(path.read_text(encoding="utf-8"))
        except (NotAStep, UnicodeDecodeError) as error:
            if not path.stem.isdecimal() or int(path.stem) not in listed:
                raise RackUnreadable(
                    f"{path.name} in {path.parent} is damaged, and the logs of the book do not list that "
                    "step: nothing tells what it was.",
                    "Put a copy of that file back, or the book that lists it. Or move the file away, and "
                    "what it recorded counts for nothing.",
                ) from error
            yield f"{path.name} was damaged and lies in {set_aside(rack, path).parent.name} now."
    path = rack / TAKEN_BACK
    try:
        read_tags(rack)
    except RackUnreadable:
        text = path.read_text(encoding="utf-8", errors="replace")
        highest = highest_number(re.findall(r"R-[0-9]+", text))
        numbers = [int(number) for number in re.findall(r'"highest": ([0-9]+)', text)]
        yield (
            f"{path.name} was damaged and lies in {set_aside(rack, path).parent.name} now: if a cut was "
            "taken back, see that its tag is off the sheet, as the tag may be given again."
        )
        content = TagsGiven(max([highest, *numbers])).content()
        if content is not None:
            put_file(path, content)


def read_records(rack: Path, units: Units) -> dict[str, Held]:
    """Every record of the rack by tag, used-up ones included.

    Where what the tool knew of a sheet is damaged, its drawing tells.
    """
    found: dict[str, Held] = {}
    drawings = {path.stem: path for folder in (rack / USED_UP, rack) for path in folder.glob("*.dxf")}
    for path in sorted((rack / KNOWN).glob("*.json")):
        drawing = drawings.pop(path.stem, None)
        try:
            known, digest = known_of(path.read_text(encoding="utf-8"))
        except ValueError:
            held = _damaged(path.stem, drawing, units)
            found[held.tag] = held
            continue
        found[known.tag] = _held(known, digest, drawing, units)
    for stem, path in sorted(drawings.items()):
        held = _found_drawing(stem, path, units)
        found.setdefault(held.tag, held)
    return found


def _damaged(stem: str, drawing: Path | None, units: Units) -> Held:
    """A sheet of which the file of what was known cannot be read."""
    if drawing is None:
        what = f"{stem}.json, which says what has been cut from it, is damaged, and its drawing is gone"
        return Held(unquote(stem), None, None, trouble=what, damaged=True)
    return replace(_found_drawing(stem, drawing, units), damaged=True)


def _held(known: Record, digest: str, drawing: Path | None, units: Units) -> Held:
    from sheetplan.rack.record_dxf import compare, read_own, read_redrawn

    if drawing is None:
        return Held(known.tag, known, known)
    data = drawing.read_bytes()
    if digest_of(data) == digest:
        return Held(known.tag, known, known, drawing=drawing)
    own = read_own(data, units)
    if own is not None and own.tag == known.tag:
        edge, cuts = own.edge, tuple(cut.loop for cut in own.cuts)
    else:
        redrawn = read_redrawn(drawing.name, data, units, time.process_time)
        if redrawn.edge is None:
            return Held(known.tag, known, None, trouble=redrawn.trouble, drawing=drawing)
        edge, cuts = redrawn.edge, redrawn.cuts
    difference = compare(known, edge, cuts, units)
    return Held(known.tag, known, difference.record, difference.sentences, drawing=drawing)


def _found_drawing(stem: str, path: Path, units: Units) -> Held:
    """A drawing of which the tool knows nothing: drawn by a person, or brought from another rack."""
    from sheetplan.rack.record import PastCut
    from sheetplan.rack.record_dxf import read_own, read_redrawn
    from sheetplan.trade.thickness import Thickness

    data = path.read_bytes()
    own = read_own(data, units)
    if own is not None:
        return Held(own.tag, None, own, drawing=path)
    redrawn = read_redrawn(path.name, data, units, time.process_time)
    if redrawn.edge is None:
        return Held(stem, None, None, trouble=redrawn.trouble, drawing=path)
    cuts = tuple(PastCut(loop) for loop in redrawn.cuts)
    return Held(stem, None, Record(stem, "", Thickness(0.0, ""), redrawn.edge, cuts), drawing=path)


TAKEN_BACK = "taken back.json"


@dataclass(frozen=True, slots=True)
class CutOf:
    """What a cut was of: two cuts that are equal here are the same cut recorded twice."""

    plan: str
    layout: str
    times: int
    on: str


@dataclass(frozen=True, slots=True)
class TagsGiven:
    """The highest number that was taken back, and the cuts that may have their tags again."""

    highest: int = 0
    waiting: tuple[tuple[CutOf, tuple[str, ...]], ...] = ()

    def again(self, cut: CutOf, count: int, taken: Iterable[str]) -> tuple[str, ...]:
        """The tags that this cut had, if it was the last to be taken back and nothing else has them."""
        if not self.waiting or self.waiting[-1][0] != cut:
            return ()
        tags = self.waiting[-1][1]
        return tags if len(tags) == count and not set(tags) & set(taken) else ()

    def after_cut(self, cut: CutOf, tags: Sequence[str]) -> TagsGiven:
        """What to remember when a cut was given tags."""
        if not tags:
            return self
        if self.waiting and self.waiting[-1] == (cut, tuple(tags)):
            return replace(self, waiting=self.waiting[:-1])
        return TagsGiven(self.highest_number)

    def after_undo(self, step: Step) -> TagsGiven:
        """What to remember when a step was taken back."""
        tags = tuple(tag for tag in step.left if tag != step.on)
        if not tags:
            return self
        return replace(self, waiting=(*self.waiting, (cut_of(step), tags)))

    @property
    def highest_number(self) -> int:
        """The highest number of any tag that was taken back."""
        return max(self.highest, highest_number(tag for _, tags in self.waiting for tag in tags))

    def content(self) -> bytes | None:
        """The file; None where there is nothing to remember."""
        if not self.highest and not self.waiting:
            return None
        value = {
            "format": 1,
            "highest": self.highest,
            "waiting": [
                {"plan": cut.plan, "layout": cut.layout, "times": cut.times, "on": cut.on, "tags": tags}
                for cut, tags in self.waiting
            ],
        }
        return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()


def cut_of(step: Step) -> CutOf:
    """What a step cut."""
    return CutOf(step.plan, step.layout, step.times, step.on)


def highest_number(tags: Iterable[str]) -> int:
    """The highest number among tags of the tool's own kind, such as ``R-018``; 0 without any."""
    return max((int(tag[2:]) for tag in tags if tag.startswith("R-") and tag[2:].isdecimal()), default=0)


COUNTS = "counts.json"


def read_counts(rack: Path) -> tuple[Count, ...]:
    """The counts of the rack that are kept, the oldest first.

    Raises
    ------
    RackUnreadable
        The file is damaged.
    """
    path = rack / COUNTS
    try:
        return counts_of(path.read_text(encoding="utf-8")) if path.exists() else ()
    except ValueError as error:
        raise RackUnreadable(f"{path.name} in {rack} is damaged ({error}).") from error


def read_tags(rack: Path) -> TagsGiven:
    """What is remembered beside a rack.

    Raises
    ------
    RackUnreadable
        The file is damaged.
    """
    path = rack / TAKEN_BACK
    if not path.exists():
        return TagsGiven()
    try:
        value = json.loads(path.read_text(encoding="utf-8"))
        waiting = tuple(
            (
                CutOf(str(one["plan"]), str(one["layout"]), int(one["times"]), str(one["on"])),
                tuple(map(str, one["tags"])),
            )
            for one in value["waiting"]
        )
        return TagsGiven(int(value["highest"]), waiting)
    except (ValueError, KeyError, TypeError) as error:
        raise RackUnreadable(f"{path.name} in {rack} is damaged ({error}).") from error


# One step on the disk: all of it or nothing, whenever the machine stops.
#
# The order, each thing forced to the disk before the next:
#
# 1. the new files of the rack are written to ``.unfinished``, then its journal;
# 2. the book is replaced: this is the moment at which the step counts;
# 3. the files of the rack take their places, the records last;
# 4. ``.unfinished`` goes.
#
# Stopped before 2, the book is the old one and the next command drops ``.unfinished``: no sheet was
# used up. Stopped after 2, the next command finishes 3 and 4. Which of the two it was, the book tells:
# by its digest, or, where the planner or a program has saved it since, by whether its page Cut log has
# the step.
#
# An interrupted step stops `plan` and `check`, which name it; `sheetplan rack BOOK`, and every next step,
# finishes or drops it.

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


@dataclass(frozen=True, slots=True)
class Transaction:
    """Steps that are done or taken back together, or files of the rack that no step goes with.

    ``steps`` are all that the logs of the book list afterwards, ``before`` all that they list now. ``files``
    are new contents by their place in the rack, None for those that go. ``job`` is what the book's input
    pages say, ``job_after`` what they say then, where its orders change; ``mark`` is the book's. ``told``
    says what counts once it is done, where that is no step.
    """

    steps: Sequence[Step]
    before: Sequence[Step]
    files: Mapping[str, bytes | None]
    job: Job
    mark: str
    job_after: Job | None = None
    told: str = ""

    @property
    def numbers(self) -> list[int]:
        """The steps that it does or takes back; the last that stands where it does neither."""
        now, then = {step.number for step in self.before}, {step.number for step in self.steps}
        if self.told:
            return [max(then, default=0)]
        return sorted(then - now or now - then)

    @property
    def adds(self) -> bool:
        """Whether the book lists its steps afterwards."""
        return bool(self.told or {step.number for step in self.steps} & set(self.numbers))


def commit(
    book: Path, before: bytes, done: Transaction, write_book: Callable[[], object], *,
    after: bytes | None = None, counts: Callable[[], bool] | None = None,
) -> None:  # fmt: skip
    """Do a transaction: files of the rack, and the book, whose bytes were ``before``, in between.

    ``after`` are the book's bytes once it is written; where they are not known beforehand, ``counts``
    tells of the file whether the transaction is in it.
    Raises what ``write_book`` raises, and then nothing counts.
    """
    with uninterrupted():
        rack = rack_of(book)
        journal = _staged(rack, book, before, done, after)
        try:
            write_book()
        except BaseException:
            digest = digest_of(book.read_bytes()) if book.exists() else journal.before
            if digest == journal.before or not (counts() if counts else digest == journal.after):
                shutil.rmtree(rack / UNFINISHED, ignore_errors=True)
                raise
        told = f"{_numbered(journal)} of {book.name} {'is recorded' if done.adds else 'is taken back'}."
        told = done.told or told
        ledger().done.append(told)
        try:
            _finish(rack, journal)
        except OSError as error:
            ledger().unfinished.append(
                f"{told} But the folder rack is not finished ({error.filename or 'a file'}: "
                f"{error.strerror or error}). The next step finishes it, or: sheetplan rack {book.name}"
            )


def _staged(rack: Path, book: Path, before: bytes, done: Transaction, after: bytes | None) -> Journal:
    """Write the new files and the journal aside; where that fails, nothing is left of it."""
    folder = rack / UNFINISHED
    shutil.rmtree(folder, ignore_errors=True)
    try:
        folder.mkdir(parents=True)
        staged: dict[str, str | None] = {}
        for number, (place, content) in enumerate(done.files.items()):
            staged[place] = None if content is None else f"{number:03d}"
            if content is not None:
                put_file(folder / f"{number:03d}", content)
        told = digest_of(after) if after is not None else ""
        last, count = max(done.numbers), len(done.numbers)
        journal = Journal(last, done.adds, book.name, digest_of(before), told, staged, count)
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
    several = journal.adds and journal.count > 1
    was, it = ("were", "they") if several else ("was", "it")
    if counts:
        _finish(rack, journal)
        has = "have" if several else "has"
        return f"{what} {was} interrupted after the book had been written; {it} {has} now been finished."
    shutil.rmtree(folder, ignore_errors=True)
    return (
        f"{what} {was} interrupted before the book was written; {it} {was} dropped, and no sheet was used up."
    )


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
