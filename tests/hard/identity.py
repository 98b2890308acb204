"""Histories of a book and its rack: copied, moved, renamed, linked, deleted and put back between steps.

A small shop, cut layout by layout. Between the steps books are copied under other names, put back from
yesterday, moved alone into another folder, looked at through links; the rack is put back from yesterday,
taken away, or loses single files; logs lose rows; `rack --repair` is run. Cuts are recorded and taken back by
whichever of the books is at hand.

The harness keeps a ledger of its own: what was cut of which layout, and not taken back. After every event
each book is looked at: either something stops it, which is told, or what it would plan is what the ledger
says is still to be made, on remnants as the ledger has them, with the sheets that are on hand. Anything else
is a silent wrong, the one thing that may not be. No event destroys the last witness of a cut. Whole folders
that are put back, book and rack together, are consistent worlds of their own: nobody could know. So is a book
that was moved alone and whose rack is made anew where it lies, which is told.
"""

from __future__ import annotations

import random
import re
import shutil
import sys
import tempfile
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import openpyxl

from sheetplan.app.check import check_book
from sheetplan.app.month import month_of
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.repair import TWO_RACKS, repair
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, receive
from sheetplan.model import Job
from sheetplan.planning.progress import quiet
from sheetplan.rack.step import Step
from sheetplan.workbook.outcomes import BookError
from tests.app.cut_book import DAY, planned_book, record_cut
from tests.hard.looking import snapshot
from tests.hard.options import told
from tests.hard.watching import Outcome, outcomes, peak_megabytes, tell

SECONDS = 400.0
"""Longest that one history may take, on a busy machine."""

EVENTS = 7
SHEET = "MS10"
STOCK = 9


@lru_cache(maxsize=1)
def shop() -> Path:
    """A planned book of several layouts, made once in a process."""
    warnings.simplefilter("ignore", UserWarning)
    folder = Path(tempfile.mkdtemp(prefix="hard-shop-"))
    return planned_book(folder, plates=30, on_hand=STOCK, seconds=0.3)


@dataclass
class Ledger:
    """The truth: cuts that were made and not taken back, in their order, and sheets that came."""

    cuts: list[Step] = field(default_factory=list)
    came: int = 0

    def made(self) -> Counter[str]:
        """Good pieces by part."""
        found: Counter[str] = Counter()
        for step in self.cuts:
            found.update(step.pieces)
        return found

    def on_hand(self) -> int:
        return STOCK + self.came - sum(step.times for step in self.cuts if step.sheet)

    def tags(self) -> set[str]:
        """Remnants that were left and not used up."""
        found: set[str] = set()
        for step in self.cuts:
            found |= set(step.left)
            if step.on and step.on not in step.left:
                found.discard(step.on)
        return found


class History:
    """One shop on its way."""

    def __init__(self, dice: random.Random, folder: Path) -> None:
        self.dice, self.folder = dice, folder
        self.home = folder / "shop"
        shutil.copytree(shop().parent, self.home)
        self.books = [self.home / shop().name]
        self.truth = Ledger()
        self.told = 0
        self.kinds: list[str] = []
        self.faults: list[str] = []
        self.kept_book = self.books[0].read_bytes()
        self.kept_rack: Path | None = None
        self.counted = True
        self.seen: dict[Path, object] = {}
        self.asked = wanted(self.job_of(self.books[0]))

    def job_of(self, book: Path) -> Job:
        job = check_book(book).job
        assert job is not None
        return job

    # -- steps

    def cut(self) -> None:
        book = self.dice.choice(self.books)
        tag = self.dice.choice(("L1", "L1", "L2"))
        step = record_cut(book, CutAsked(tag, 1), today=DAY).step
        self.truth.cuts.append(step)

    def undo(self) -> None:
        _, said = undo_cut(self.dice.choice(self.books))
        for one in said:
            if "was taken back" in one and " of plan " in one:
                tag = one.split(": ", 1)[1].split(" ")[0]
                last = next((s for s in reversed(self.truth.cuts) if s.layout == tag), None)
                assert last is not None, f"taken back what was never cut: {one}"
                self.truth.cuts.remove(last)
            elif "was taken back" in one:
                self.truth.came -= 1

    def receive(self) -> None:
        receive(self.dice.choice(self.books), SheetsAsked({SHEET: 1}), today=DAY)
        self.truth.came += 1

    def plan(self) -> None:
        plan_book(
            self.dice.choice(self.books), PlanAsked(DAY, seconds=0.1, seed=1),
            stop=lambda: False, report=quiet, workers=1,
        )

    def month(self) -> None:
        month_of(self.dice.choice(self.books), "2026-11", report=quiet)

    def repair(self) -> None:
        book = self.dice.choice(self.books)
        said = " ".join(repair(book))
        if book.resolve().parent != self.home and TWO_RACKS in said:
            # Two worlds from here on, which was told: the planner goes on with the one at home.
            away = book.resolve().parent
            self.books = [one for one in self.books if one.resolve().parent != away]
        for _ in self.came_back(said):
            # The rack was from before it was taken back: the planner does as the sentence says.
            assert "take it back again" in said
            undo_cut(book)
        if "On hand" in said or "not known any more" in said:
            self.counted = "Check On hand" not in said and self.counted

    def came_back(self, said: str) -> list[int]:
        """Steps that came back to log or rack although the ledger has them taken back."""
        known = {step.number for step in self.truth.cuts}
        back = re.findall(r"Step ([0-9]+) (?:was put back on|.*? was rebuilt from) the page Cut log", said)
        return [int(number) for number in back if int(number) not in known]

    # -- what befalls files

    def copy(self) -> None:
        book = self.dice.choice(self.books)
        self.books.append(Path(shutil.copy(book, self.home / f"copy {len(self.kinds)}.xlsx")))

    def rename(self) -> None:
        book = self.dice.choice(self.books)
        if book.is_symlink() or book.parent != self.home:
            return
        new = book.rename(book.with_name(f"renamed {len(self.kinds)}.xlsx"))
        self.books = [new if one == book else one for one in self.books if not one.is_symlink()]

    def move_alone(self) -> None:
        """A book without its rack; one that is stopped was told of, and elsewhere nobody could know."""
        sound = self.sound()
        if not sound:
            return
        place = self.folder / f"elsewhere {len(self.kinds)}"
        place.mkdir()
        self.books.append(Path(shutil.copy(self.dice.choice(sound), place / "yard.xlsx")))

    def link(self) -> None:
        place = self.folder / f"desk {len(self.kinds)}"
        place.mkdir()
        here = [book for book in self.books if not book.is_symlink()]
        (place / "today.xlsx").symlink_to(self.dice.choice(here))
        self.books.append(place / "today.xlsx")

    def keep(self) -> None:
        """Yesterday's copies of a book and of the rack, each on a drive of its own."""
        self.kept_book = self.dice.choice(self.books).read_bytes()
        if (self.home / "rack").is_dir():
            self.kept_rack = self.folder / f"kept rack {len(self.kinds)}"
            shutil.copytree(self.home / "rack", self.kept_rack)

    def sound(self, *, rack: bool = False) -> list[Path]:
        """Books that nothing stops; where the rack is about to suffer, the others are given up.

        What a planner was told of is told: only the last witness of what was cut may not be destroyed.
        """
        sound = [book for book in self.books if not check_book(book).stops]
        if rack and sound:
            self.books = sound
        return sound

    def put_book_back(self) -> None:
        sound = self.sound()
        if sound and (self.home / "rack").is_dir():
            book = self.dice.choice(sound).resolve()
            if book.parent == self.home:
                book.write_bytes(self.kept_book)

    def put_rack_back(self) -> None:
        if self.kept_rack is not None and self.sound(rack=True):
            shutil.rmtree(self.home / "rack", ignore_errors=True)
            shutil.copytree(self.kept_rack, self.home / "rack")

    def delete_rack(self) -> None:
        if self.sound(rack=True):
            shutil.rmtree(self.home / "rack", ignore_errors=True)

    def delete_in_rack(self) -> None:
        there = sorted(path for path in (self.home / "rack").rglob("*") if path.is_file())
        if there and self.sound(rack=True):
            self.dice.choice(there).unlink()

    def damage_in_rack(self) -> None:
        there = sorted(path for path in (self.home / "rack").rglob("*.json") if path.is_file())
        if there and self.sound(rack=True):
            path = self.dice.choice(there)
            path.write_bytes(path.read_bytes()[: self.dice.randint(0, 200)])

    def delete_log_row(self) -> None:
        """A planner deletes the last row of the Cut log, or the whole page."""
        sound = self.sound()
        if not sound:
            return
        book = self.dice.choice(sound).resolve()
        opened = openpyxl.load_workbook(book)
        if "Cut log" not in opened.sheetnames:
            return
        if self.dice.random() < 0.3:
            del opened["Cut log"]
        else:
            sheet = opened["Cut log"]
            rows = [row[0].row for row in sheet.iter_rows(min_row=4) if isinstance(row[0].value, int)]
            for cell in sheet[rows[-1]] if rows else ():
                cell.value = None
        opened.save(book)

    def steps(self) -> list[Callable[[], None]]:
        work = [self.cut] * 6 + [self.undo] * 3 + [self.receive, self.month, self.repair, self.repair]
        files = [
            self.copy, self.rename, self.move_alone, self.link, self.keep, self.keep, self.put_book_back,
            self.put_rack_back, self.delete_rack, self.delete_in_rack, self.damage_in_rack,
            self.delete_log_row,
        ]  # fmt: skip
        return [*work, *files, *([self.plan] if self.dice.random() < 0.2 else [])]

    def go(self) -> None:
        """Live through some events, and look after each."""
        self.cut()
        for _ in range(EVENTS):
            event = self.dice.choice(self.steps())
            self.kinds.append(event.__name__)
            try:
                event()
            except (Refused, BookError) as refused:
                self.kinds[-1] += " (told)"
                self.told += bool(str(refused))
            self.look()
            if self.faults:
                return

    def look(self) -> None:
        """Every book: told, or as the ledger has it; one that is as at the last look is passed over."""
        for book in self.books:
            lies = (snapshot(book.resolve().parent / "rack"), book.read_bytes(), len(self.truth.cuts))
            if self.seen.get(book) == lies:
                continue
            self.seen[book] = lies
            checked = check_book(book)
            if checked.stops or checked.job is None:
                self.told += 1
                continue
            said = [problem.what for problem in checked.problems]
            self.faults += [f"{self.kinds}: {book.name}: {fault}" for fault in self.wrong(checked.job, said)]

    def wrong(self, job: Job, said: list[str]) -> list[str]:
        """What a book that nothing stops has otherwise than the ledger."""
        faults = []
        still, made = wanted(job), self.truth.made()
        # What is made beyond the orders is spare: it lessens nothing.
        should = Counter({part: max(0, count - made[part]) for part, count in self.asked.items()})
        if +still != +should:
            faults.append(f"still to be made {dict(+still)}, by the ledger {dict(+should)}")
        tags, known = {one.tag for one in job.remnants}, self.truth.tags()
        named = {tag for tag in known - tags if any(tag in one for one in said)}
        if tags - known or (known - tags) - named:
            faults.append(f"remnants {sorted(tags)}, by the ledger {sorted(known)}")
        for one in job.remnants:
            cut = any(step.on == one.tag for step in self.truth.cuts)
            if cut and not one.cuts:
                faults.append(f"{one.tag} was cut, and is planned on whole")
        count = next(sheet.on_hand for sheet in job.stock if sheet.name == SHEET)
        if (
            self.counted
            and count != max(0, self.truth.on_hand())
            and not any("On hand" in one for one in said)
        ):
            faults.append(f"on hand {count}, by the ledger {self.truth.on_hand()}")
        return faults


def wanted(job: Job) -> Counter[str]:
    """Pieces by part that orders still ask for."""
    found: Counter[str] = Counter()
    for order in job.orders:
        kit = job.kits.get(order.item)
        for part, each in (kit.parts if kit else {order.item: 1}).items():
            found[part] += each * order.quantity
    return found


def one(seed: int, case: int, folder: Path) -> Outcome:
    """One history."""
    history = History(random.Random(f"{seed} {case}"), folder)
    try:
        history.go()
    except Exception:
        history.faults.append(f"{history.kinds}: {traceback.format_exc()[-1500:]}")
    kind = f"{'told' if history.told else 'never apart'}"
    return {"kind": kind, "megabytes": peak_megabytes(), "fault": "\n".join(history.faults)}


def main() -> int:
    options = told(__doc__, count=500)
    first, count = (0, options.count) if options.only is None else (options.only, 1)
    return len(tell(outcomes("tests.hard.identity", first, count, options.seed, SECONDS), every=20)) > 0


if __name__ == "__main__":
    sys.exit(main())
