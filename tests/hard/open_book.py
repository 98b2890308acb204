"""A book that is open in a real LibreOffice, disturbed at random moments of a run.

First, after each run, Undo and Redo twenty times. Then, at each seeded moment of a seeded run, one of the
things that a person does: close the document, save it, save it under another name, load it anew, type, stop,
ask for another run, undo. Afterwards the program is alive, the book is free, what was typed is there, nothing
is left behind, and book and rack agree. ``python -m tests.hard.open_book --count 100 --seed 1``; three
languages share the count.
"""

from __future__ import annotations

import random
import shutil
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import openpyxl

from sheetplan.app.rack.looking import look
from tests.app.cut_book import planned_book
from tests.hard.options import told
from tests.workbook.hosts.real_calc import Calc, Failed, calc, profile_with_extension

LOCALES = ("de-DE", "fr-FR", "en-US")
RUNS = ("check", "plan", "cut", "record", "undo", "month", "ordered", "receive")
UNDONE = ("check", "plan", "cut", "undo", "record", "undo", "month", "receive")
"""Runs by their menu entries; ``record`` is the one of cuts, told by a row of the page Record."""

TIMES = 20
GONE_SECONDS = 3.0
LONGEST_PAUSE = 4.0
WORD = "typed in a run"
LEFT_BEHIND = ("sheetplan-writing", ".part", ".unfinished", "~lock", "sheetplan.log")


@dataclass
class Tally:
    """What was seen: each pair of run and deed, the longest that a run outlived its document, faults."""

    moments: Counter[str] = field(default_factory=Counter)
    in_run: int = 0
    longest: float = 0.0
    faults: list[str] = field(default_factory=list)


def made_book(folder: Path, seconds: float = 1.0) -> Path:
    """A planned book with metal to order, a setting of few seconds, in a folder of its own."""
    book = planned_book(folder, plates=33)
    plain = openpyxl.load_workbook(book)
    next(r for r in plain["Settings"].iter_rows() if r[0].value == "Seconds to spend")[1].value = seconds
    plain.save(book)
    return book


def undo_after_each_run(program: Calc, book: Path, tally: Tally) -> None:
    """Undo and Redo twenty times after each run leave the pages as the run drew them."""
    program.open(str(book))
    for run in UNDONE:
        if run == "record":
            tell_in_row(program)
        said = program.run(run)
        program.typed("Parts", "B6", f"{WORD} {run}")
        pages = {page: program.texts(page) for page in ("Plan", "Layouts", "Stock", "Problems")}
        drawn = program.drawn("Layouts"), program.drawn("Month")
        program.undo(TIMES)
        program.redo(TIMES)
        after = {page: program.texts(page) for page in pages}
        tally.moments[f"{run} then undo"] += 1
        if after != pages or drawn != (program.drawn("Layouts"), program.drawn("Month")):
            tally.faults.append(f"undo after {run}: pages differ ({said})")
    program.close()


def tell_in_row(program: Calc) -> None:
    """Write the first layout's ticket into the page Record, once."""
    for heading, text in (("Ticket", "L1"), ("Sheets", "1"), ("Cut by", "Ann")):
        program.entered("Record", heading, "Message", [text])


def close(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Close the document; the run goes with it."""
    start = time.monotonic()
    if not program.close():
        tally.faults.append("the document could not be closed")
    program.wait(30.0)
    tally.longest = max(tally.longest, time.monotonic() - start)
    if time.monotonic() - start > GONE_SECONDS + 0.5:
        tally.faults.append(f"a run outlived its document by {time.monotonic() - start:.1f} s")
    return None


def reload(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Load the document anew; the old one goes when the new one is there."""
    program.save()
    program.reload()
    start = time.monotonic()
    program.wait(30.0)
    tally.longest = max(tally.longest, time.monotonic() - start)
    if time.monotonic() - start > GONE_SECONDS:
        tally.faults.append(f"a run outlived its document, loaded anew, by {time.monotonic() - start:.1f} s")
    return None


def save(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Save the document."""
    program.save()
    return None


def save_as(program: Calc, book: Path, tally: Tally) -> Path | None:
    """Save the document under another name."""
    other = book.with_name("other.xlsx")
    program.save_as(str(other))
    return other


def type_in(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Type a description, key by key."""
    program.typed("Parts", "B7", WORD)
    program.wait()
    if program.shown("Parts", "B7").lower() != WORD:
        tally.faults.append(f"typing was lost: {program.shown('Parts', 'B7')!r}")
    return None


def type_half(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Begin a word, and end it when the run is over."""
    program.typed("Parts", "B7", WORD[:7], False)
    program.wait()
    program.keys(WORD[7:] + "\n")
    if program.shown("Parts", "B7").lower() != WORD:
        tally.faults.append(f"typing was lost: {program.shown('Parts', 'B7')!r}")
    return None


def order_more(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Change a quantity, which a plan depends on."""
    program.typed("Orders", "C6", "5")
    program.wait()
    if program.shown("Orders", "C6") != "5":
        tally.faults.append(f"a quantity was lost: {program.shown('Orders', 'C6')!r}")
    return None


def stop(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Stop the run."""
    program.ask("stop")
    return None


def another(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Ask for another run while one is under way."""
    program.ask("check")
    return None


def undo_in_run(program: Calc, _: Path, tally: Tally) -> Path | None:
    """Undo and Redo while the run works."""
    program.undo(TIMES)
    program.redo(TIMES)
    return None


DEEDS: tuple[Callable[[Calc, Path, Tally], Path | None], ...] = (
    close, reload, save, save_as, type_in, type_half, order_more, stop, another, undo_in_run,
)  # fmt: skip


def moment(program: Calc, source: Path, folder: Path, chance: random.Random, tally: Tally) -> None:
    """One run, one deed at one moment of it, and what must hold afterwards."""
    book = Path(shutil.copytree(source.parent, folder)) / source.name
    run, deed, pause = chance.choice(RUNS), chance.choice(DEEDS), chance.uniform(0.0, LONGEST_PAUSE)
    name = f"{run}, {deed.__name__} after {pause:.2f} s"
    program.open(str(book))
    if run == "undo":
        program.run("cut")
    if run in ("cut", "undo"):
        program.mark()
    if run == "record":
        tell_in_row(program)
    before = len(tally.faults)
    program.ask("cut" if run == "record" else run)
    program.pause(pause if run == "plan" else pause / 4)
    tally.in_run += bool(program.working())
    book = deed(program, book, tally) or book
    tally.moments[f"{run}, {deed.__name__}"] += 1
    program.wait()
    program.close()
    left = [path.name for path in folder.rglob("*") if any(word in path.name for word in LEFT_BEHIND)]
    if left:
        tally.faults.append(f"left behind: {', '.join(left)}")
    agrees = look(book)
    if agrees.problems:
        tally.faults.append(f"book and rack differ: {agrees.problems[0].what}")
    program.open(str(book))
    said = program.run("check")
    if "Check the book:" not in said or "under way" in said:
        tally.faults.append(f"the book is not free: {said}")
    program.undo(3)
    program.close()
    tally.faults[before:] = [f"{name}: {fault}" for fault in tally.faults[before:]]
    print(f"{name}: {tally.faults[before:] or 'good'}", flush=True)


def main(count: int, seed: int, locales: tuple[str, ...] = LOCALES, *, undo: bool = True) -> Tally:
    """So many moments, shared among the languages; with ``undo`` also Undo after each run in each."""
    warnings.simplefilter("ignore")
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="sheetplan-open-") as name:
        folder = Path(name, "source")
        folder.mkdir()
        source = made_book(folder)
        for place, locale in enumerate(locales):
            chance = random.Random(f"{seed} {locale}")
            share = range(place, count, len(locales))
            with profile_with_extension() as profile:
                if profile is None:
                    raise SystemExit("unopkg refuses the administrator, and setpriv is not there")
                done = 0
                while done < len(share):
                    done += in_one_program(
                        (profile, locale), source, Path(name), (chance, share[done:]), tally,
                        undo=undo and not done,
                    )  # fmt: skip
    return tally


def in_one_program(
    program_of: tuple[Path, str], source: Path, place: Path, moments: tuple[random.Random, range],
    tally: Tally, *, undo: bool,
) -> int:  # fmt: skip
    """Moments in one LibreOffice, until all are done or it dies; how many were begun."""
    (profile, locale), (chance, share) = program_of, moments
    begun = 0
    with calc(profile, locale) as program:
        try:
            if undo:
                copy = Path(shutil.copytree(source.parent, place / locale))
                undo_after_each_run(program, copy / source.name, tally)
            for number in share:
                begun += 1
                moment(program, source, place / f"{number}", chance, tally)
            program.end()
        except Failed as failed:
            tally.faults.append(f"{locale}, moment {share[begun - 1] if begun else 'undo'}: {failed}")
    return max(begun, 1)


if __name__ == "__main__":
    asked = told(__doc__, count=100)
    seen = main(asked.count, asked.seed)
    for what, times in sorted(seen.moments.items()):
        print(f"{times:4} {what}")
    print(f"{sum(seen.moments.values())} moments, {seen.in_run} of them while the run worked;")
    print(f"the longest that a run outlived its document: {seen.longest:.1f} s; {len(seen.faults)} faults")
    for fault in seen.faults:
        print(f"  {fault}")
    raise SystemExit(1 if seen.faults else 0)
