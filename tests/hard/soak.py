"""Random books planned, cut and planned again, looked at with other eyes: nothing drifts, nothing grows.

Each book (`soak_books`) is in inches or millimetres, with kits, true shapes, drawings, grain, spares,
remnants, order multiples, buying limits, orders that only go in if they fit, and names in all spellings.
The way of each: plan, look, order and receive sheets in some, cut some layouts (by code or by marks in the
book, on other days, some pieces bad), take the
last cut back in some, plan again with a lock or a pick in some, look, and balance the month.

Asked of each:

- the plan passes the independent check (a run that does not ends in CheckFailed);
- pieces in the drawings, in the record, on the page Made and asked for agree;
- after cuts, a new plan asks for exactly what is not cut yet, and the stock went down by what was used;
- a cut that is taken back leaves the folder as it was;
- after more plans than are kept, neither the folder nor the book has grown beyond those kept.
"""

from __future__ import annotations

import datetime
import random
import sys
import traceback
from pathlib import Path

from sheetplan.app.making.folders import EARLIER_KEPT
from sheetplan.app.month import month_of
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.rack.cut import record_marked
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, ordered, receive
from sheetplan.model import Layout, Plan, Remnant, Weight
from sheetplan.rack.step import Step
from sheetplan.workbook.reading.book import read_tables
from tests.app.cut_book import record_cut
from tests.hard.book_fuzz import TODAY
from tests.hard.looking import drawings_of, link_faults, snapshot
from tests.hard.options import told
from tests.hard.soak_books import random_book
from tests.hard.soak_counts import count_faults, mark_cut, plan_faults, step_faults, stock_on_hand, tags_of
from tests.hard.watching import Outcome, outcomes, peak_megabytes, tell

SECONDS = 240.0
"""Longest that one book may take for its plans, on a busy machine."""

PLANS = EARLIER_KEPT + 2
"""How often a book is planned again where growth is looked at: more often than earlier plans are kept."""

GROWTH_EVERY = 10
"""One book in so many is planned often enough to look at growth."""


def plan(book: Path, locks: tuple[str, ...] = (), picks: tuple[str, ...] = ()) -> PlanOutcome:
    return plan_book(
        book, PlanAsked(TODAY, seconds=0.1, picks=picks, locks=locks),
        stop=lambda: False, report=lambda _: None, workers=1,
    )  # fmt: skip


def one(seed: int, case: int, folder: Path) -> Outcome:
    """One book on its whole way."""
    walk = Walk(random.Random(f"{seed} {case}"), folder)
    try:
        walk.go(grow=case % GROWTH_EVERY == 0)
    except Exception:
        walk.faults.append(traceback.format_exc()[-1500:])
    kinds = " ".join(sorted(set(walk.kinds))) or "planned only"
    return {"kind": kinds, "megabytes": peak_megabytes(), "fault": "\n".join(walk.faults)}


class Walk:
    """A book on its way, and what was found on it."""

    def __init__(self, dice: random.Random, folder: Path) -> None:
        self.dice, self.folder = dice, folder
        self.book = random_book(dice, folder)
        self.kinds: list[str] = []
        self.faults: list[str] = []
        self.mark = ""

    def go(self, grow: bool) -> None:
        """Plan, cut, plan again."""
        first = self.planned()
        if first is None:
            return
        if grow:
            first = self.grows() or first
        if self.dice.random() < 0.4:
            self.deliver()
        steps = self.cut(first)
        if steps:
            again = self.planned_after(first, steps)
            self.faults += count_faults(first.job, again.job, steps) if again else ["no plan after a cut"]
        month_of(self.book, "2026-11", report=lambda _: None)
        self.faults += [str(problem) for problem in look(self.book).problems]

    def planned(self, locks: tuple[str, ...] = (), picks: tuple[str, ...] = ()) -> Plan | None:
        """Plan and look; None with a fault noted where a good book is stopped."""
        earlier = drawings_of(self.book)
        outcome = plan(self.book, locks, picks)
        if outcome.plan is None:
            self.faults.append(f"a good book was stopped: {stops_of(outcome)[:3]}")
            return None
        self.mark = outcome.mark
        self.faults += plan_faults(outcome) + link_faults(self.book, earlier)
        return outcome.plan

    def planned_after(self, first: Plan, steps: list[Step]) -> Plan | None:
        """Plan what is left, in half of the books round a locked layout."""
        free = [one for one in layouts_of(first) if one.tag not in {step.layout for step in steps}]
        if not free or self.dice.random() < 0.5:
            return self.planned()
        held = self.dice.choice(free)
        earlier = drawings_of(self.book)
        outcome = plan(self.book, (held.tag,))
        if outcome.plan is None:
            # Pieces of other layouts may have served its orders: that has to be said, and of the lock.
            told = stops_of(outcome)
            self.faults += [f"stopped by something else: {one}" for one in told if "lock" not in one]
            self.kinds.append("lock-refused")
            return self.planned()
        self.kinds.append("locked")
        self.faults += plan_faults(outcome) + link_faults(self.book, earlier)
        now = [(one.placements, one.repeats) for one in layouts_of(outcome.plan) if one.locked]
        if now != [(held.placements, held.repeats)]:
            self.faults.append(f"{held.tag} was locked, and the plan has {len(now)} others locked")
        return outcome.plan

    def cut(self, planned: Plan) -> list[Step]:
        """Record one or two layouts as cut; in some books take the last one back."""
        steps: list[Step] = []
        layouts = layouts_of(planned)
        for layout in self.dice.sample(layouts, min(len(layouts), self.dice.randint(1, 2))):
            before = stock_on_hand(self.book), tags_of(self.book)
            steps += self.cut_one(layout)
            self.faults += step_faults(steps[-1], layout, *before, self.book)
        if steps and self.dice.random() < 0.3:
            self.undo_and_again(steps)
        return steps

    def cut_one(self, layout: Layout) -> list[Step]:
        """By name or by a mark in the book, once or all of it, all good or one piece bad."""
        most = 1 if isinstance(layout.sheet, Remnant) else layout.repeats
        times = self.dice.choice((1, most))
        if self.dice.random() < 0.3:
            self.kinds.append("marked")
            mark_cut(self.book, layout.tag, times)
            return [done.step for done in record_marked(self.book, today=TODAY, by="Ann")]
        bad = {layout.placements[0].part: 1} if self.dice.random() < 0.3 else None
        self.kinds.append("bad" if bad else "cut")
        mark = read_tables(self.book).plan
        date = TODAY - datetime.timedelta(days=self.dice.randint(0, 20)) if self.dice.random() < 0.3 else None
        asked = CutAsked(f"{mark}-{layout.tag}", times, bad=bad, date=date)
        return [record_cut(self.book, asked, today=TODAY).step]

    def deliver(self) -> None:
        """Order and receive sheets, taken back again in half of the books; counts are looked at each time."""
        before, name = stock_on_hand(self.book), self.dice.choice(sorted(stock_on_hand(self.book)))
        count = self.dice.randint(1, 4)
        self.kinds.append("received")
        if self.dice.random() < 0.5:
            ordered(self.book, SheetsAsked({name: count}), today=TODAY)
            self.kinds.append("ordered")
        receive(self.book, SheetsAsked({name: count}), today=TODAY)
        wanted = {**before, name: before[name] + count}
        if stock_on_hand(self.book) != wanted:
            self.faults.append(f"{count} of {name} received: {before} became {stock_on_hand(self.book)}")
        if self.dice.random() < 0.5:
            undo_cut(self.book)
            if stock_on_hand(self.book) != before:
                self.faults.append(f"{name} taken back: {before} became {stock_on_hand(self.book)}")

    def undo_and_again(self, steps: list[Step]) -> None:
        """Taken back and recorded again, a cut gives the same folder."""
        self.kinds.append("undone")
        last = steps.pop()
        after = files_of(self.folder)
        undo_cut(self.book)
        date = datetime.date.fromisoformat(last.date)
        asked = CutAsked(last.layout, last.times, plan=last.plan, by=last.by, bad=last.bad, date=date)
        steps.append(record_cut(self.book, asked, today=TODAY).step)
        differ = {name for name, digest in files_of(self.folder).items() if after.get(name) != digest}
        if "marked" in self.kinds:
            # Recorded by a mark and then by name: the step no longer has a mark to clear.
            differ = {name for name in differ if name != self.book.name and "steps" not in name}
        if differ:
            self.faults.append(f"cut, undo, cut is not the same as cut: {sorted(differ)}")

    def grows(self) -> Plan | None:
        """Plan as often as earlier plans are kept and more; neither book nor folder may grow."""
        self.kinds.append("again")
        sizes = []
        last = None
        for _ in range(PLANS):
            last = self.planned()
            sizes.append((self.book.stat().st_size, len(snapshot(self.folder))))
        # A slow machine may stop a search early, so that a plan differs and the one before is kept.
        if sizes[-1][0] > 1.2 * sizes[0][0] or sizes[-1][1] > (2 + EARLIER_KEPT) * sizes[0][1]:
            self.faults.append(f"book and folder grow: {sizes}")
        return last


def stops_of(outcome: PlanOutcome) -> list[str]:
    return [str(p) for p in outcome.problems if p.weight is Weight.STOPS]


def layouts_of(planned: Plan) -> list[Layout]:
    return [layout for group in planned.groups for layout in group.layouts]


def files_of(folder: Path) -> dict[str, str]:
    return {name: digest for name, digest in snapshot(folder).items() if "backup" not in name}


def main() -> int:
    options = told(__doc__, count=300)
    first, count = (0, options.count) if options.only is None else (options.only, 1)
    return len(tell(outcomes("tests.hard.soak", first, count, options.seed, SECONDS), every=20)) > 0


if __name__ == "__main__":
    sys.exit(main())
