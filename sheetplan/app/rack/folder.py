"""The folder of records beside the book, as found: what the tool knew, and what the drawings now show.

    rack/R-018.dxf          the record of one sheet, for people and drawing programs
    rack/used up/R-017.dxf  sheets that are gone, with all that was cut from them
    rack/known/R-018.json   the record as the tool last wrote it, and its drawing's digest
    rack/steps/000041.json  one recorded cut
    rack/taken back.json    tags of cuts that were taken back, and of which; the last at the end
    rack/.unfinished/       a step under way (see `journal`)

A tag may stand on a sheet already, so it is not given to another. A cut that is recorded again directly
after it was taken back is on the same sheet and gets the same tags; the files are then as they were before.
As soon as another cut is given tags, no earlier one gets its own again, and only the highest number is
remembered.

Choices
-------
A record is kept twice: its drawing is for people; the JSON, with the drawing's digest, lets hundreds be read
in a moment and a change by hand be noticed. A changed drawing is planned on as it now is and told loop by
loop; it is taken over only by `sheetplan rack --repair`.
"""

from __future__ import annotations

import hashlib
import json
import re
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from sheetplan.rack.record import Record, record_json, record_of
from sheetplan.rack.step import NotAStep, Step, step_of
from sheetplan.trade.units import Units
from sheetplan.workbook.replacing import moved, put_file

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


def file_stem(tag: str) -> str:
    """A tag as a file's name that every system takes; other letters as ``%`` and their code.

    >>> file_stem("R-018"), file_stem("R/1")
    ('R-018', 'R%2F1')
    """
    plain = "".join(c if c in _SAFE else "".join(f"%{b:02X}" for b in c.encode()) for c in tag)
    return plain if plain.strip(". ") == plain else f"%{ord(plain[0]):02X}{plain[1:]}" if plain else "%00"


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


def read_records(rack: Path, units: Units, clock: Callable[[], float] = time.process_time) -> dict[str, Held]:
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
            held = _damaged(path.stem, drawing, units, clock)
            found[held.tag] = held
            continue
        found[known.tag] = _held(known, digest, drawing, units, clock)
    for stem, path in sorted(drawings.items()):
        held = _found_drawing(stem, path, units, clock)
        found.setdefault(held.tag, held)
    return found


def _damaged(stem: str, drawing: Path | None, units: Units, clock: Callable[[], float]) -> Held:
    """A sheet of which the file of what was known cannot be read."""
    if drawing is None:
        what = f"{stem}.json, which says what has been cut from it, is damaged, and its drawing is gone"
        return Held(unquote(stem), None, None, trouble=what, damaged=True)
    return replace(_found_drawing(stem, drawing, units, clock), damaged=True)


def _held(known: Record, digest: str, drawing: Path | None, units: Units, clock: Callable[[], float]) -> Held:
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
        redrawn = read_redrawn(drawing.name, data, units, clock)
        if redrawn.edge is None:
            return Held(known.tag, known, None, trouble=redrawn.trouble, drawing=drawing)
        edge, cuts = redrawn.edge, redrawn.cuts
    difference = compare(known, edge, cuts, units)
    return Held(known.tag, known, difference.record, difference.sentences, drawing=drawing)


def _found_drawing(stem: str, path: Path, units: Units, clock: Callable[[], float]) -> Held:
    """A drawing of which the tool knows nothing: drawn by a person, or brought from another rack."""
    from sheetplan.rack.record import PastCut
    from sheetplan.rack.record_dxf import read_own, read_redrawn
    from sheetplan.trade.thickness import Thickness

    data = path.read_bytes()
    own = read_own(data, units)
    if own is not None:
        return Held(own.tag, None, own, drawing=path)
    redrawn = read_redrawn(path.name, data, units, clock)
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
