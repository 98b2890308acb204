"""Kill steps at random moments; after one command book and rack are as before the step or as after it.

Run as a program with a folder, a count, a seed and a kind of `KINDS`. A book made by `wider_book` may lie in
the folder already. A warm process forks each step, so that kills fall into the step and not into imports.
Prints one line of JSON.
"""

from __future__ import annotations

import datetime
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

import ezdxf
import openpyxl

from sheetplan.app.close import close_month
from sheetplan.app.month import month_of
from sheetplan.app.parts import Move, PartsAsked, record_parts
from sheetplan.app.rack.add import add_drawing
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import SeenAsked, look, record_seen
from sheetplan.app.rack.undo import undo_cut
from sheetplan.app.receive import SheetsAsked, ordered, receive
from sheetplan.planning.progress import quiet
from tests.app.cut_book import DAY, fill, plan, planned_book, state

WIDER = "MS10-5x10"


KINDS: Mapping[str, tuple[CutAsked, ...]] = {
    "one": (CutAsked("L1", by="Ann"),),
    "together": (CutAsked("L1x1", by="Ann"), CutAsked("L1x1", again=True, by="Ben")),
    "stopped": (CutAsked("L1", only=("BRACE",), date=DAY - datetime.timedelta(days=3)),),
    "elsewhere": (CutAsked("L1", on=WIDER),),
    "handed": (
        CutAsked("L1x1", bad={"PLATE": 1}, handed="a1", said_in="cut.json, line 1"),
        CutAsked("L1x1", again=True, handed="a2", said_in="cut.json, line 2"),
    ),
}
"""What a cut records, by the kind that the program is told; others: ordered, received, and `ANEW`."""

MOVES: Mapping[str, PartsAsked] = {
    "moved": PartsAsked(moves=[Move("BRACE", 1, "H-2", "free"), Move("PLATE", 2, "H-1", "scrap")]),
    "counted": PartsAsked({"BRACE": 2, "PLATE": 1}),
}
"""What becomes of finished parts, once a sheet is cut."""

ANEW = ("closed", "added", "seen")
"""What cannot be taken back: each time it begins from the same folder."""


def step(book: Path, cuts: bool) -> None:
    if cuts and kind in MOVES:
        record_parts(book, MOVES[kind], today=DAY)
    elif cuts and kind == "closed":
        close_month(book, "2026-11", today=DAY)
    elif cuts and kind == "added":
        add_drawing(book, "R-030", book.with_name("old.dxf"))
    elif cuts and kind == "seen":
        record_seen(book, SeenAsked(["R-031"], all_others=True, places={"R-030": "B7"}), today=DAY)
    elif cuts and kind == "received":
        receive(book, SheetsAsked({"MS10": 2, WIDER: 1}), today=DAY)
    elif cuts and kind == "ordered":
        ordered(book, SheetsAsked({"MS10": 2, WIDER: 1}), today=DAY)
    elif cuts:
        record_cuts(book, KINDS[kind], today=DAY)
    else:
        undo_cut(book)


kind = "one"


def wider_book(folder: Path) -> Path:
    """The book with a larger sheet on hand that the plan does not want."""
    book = planned_book(folder, plan_it=False)
    opened = openpyxl.load_workbook(book)
    metal = {"Material": "mild steel", "Thickness": "10 ga"}
    fill(opened, "Stock", [
        {"Sheet": "MS10", **metal, "Width": 48, "Length": 96, "On hand": 3, "Price": 140},
        {"Sheet": WIDER, **metal, "Width": 60, "Length": 120, "On hand": 2, "Price": 900},
    ])  # fmt: skip
    opened.save(book)
    plan(book)
    return book


def main(folder: Path, kills: int, seed: int = 1) -> dict[str, object]:
    made = folder / "yard.xlsx"
    book = made if made.exists() else wider_book(folder)
    if kind in MOVES:
        record_cuts(book, KINDS["one"], today=DAY)
    if kind in ANEW:
        return anew(book, kills, seed)
    step(book, True)
    states = {True: state(folder)}
    step(book, False)
    states[False] = state(folder)
    seconds = {cuts: timed(book, cuts) for cuts in (True, False)}
    assert state(folder) == states[False]
    moments = random.Random(seed)
    cut, outcomes = False, {"as before": 0, "as after": 0, "finished": 0, "mended": 0}
    for attempt in range(kills):
        wanted = not cut
        share = moments.uniform(0.0, 1.05) if attempt % 4 == 0 else moments.uniform(0.7, 1.05)
        finished = killed(book, wanted, share * seconds[wanted])
        seen = look(book)  # the one command
        now = visible(folder)
        assert not (folder / "rack" / ".unfinished").exists()
        assert now in (states[cut], states[wanted]), differing(now, states[wanted])
        assert seen.problems == (), seen.problems
        after = now == states[wanted]
        assert after or not finished, "a step that was finished is not there"
        # The machine is slower at one time than at another: the end is sought where it is now.
        seconds[wanted] *= 0.95 if after else 1.03
        outcomes["finished" if finished else "as after" if after else "as before"] += 1
        outcomes["mended"] += bool(seen.told)
        cut = wanted if after else cut
    for cuts in (not cut, cut):
        step(book, cuts)
    assert state(folder) == states[cut], "something was left behind"
    return {**outcomes, "seconds": round(seconds[True], 2)}


def with_rows(book: Path) -> None:
    """Two rows on the page Remnants, and beside the book a drawing of the first."""
    opened = openpyxl.load_workbook(book)
    metal = {"Material": "mild steel", "Thickness": "10 ga", "Width": 20, "Length": 40, "Rack place": "R1"}
    fill(opened, "Remnants", [{"Tag": tag, **metal} for tag in ("R-030", "R-031")])
    opened.save(book)
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 1  # inches
    document.modelspace().add_lwpolyline([(0, 0), (40, 0), (32, 20), (0, 20)], close=True)
    document.saveas(book.with_name("old.dxf"))


def anew(book: Path, kills: int, seed: int) -> dict[str, object]:
    """Kill what cannot be taken back."""
    if kind == "closed":
        record_cuts(book, KINDS["one"], today=DAY)
        month_of(book, "2026-11", report=quiet)
    else:
        with_rows(book)
    folder = book.parent
    before, outcomes = state(folder), {"as before": 0, "as after": 0, "finished": 0, "mended": 0}
    with tempfile.TemporaryDirectory() as aside:
        kept = Path(aside) / "kept"
        shutil.copytree(folder, kept)

        def begin_again() -> None:
            shutil.rmtree(folder)
            shutil.copytree(kept, folder)

        seconds = timed(book, True)
        after = visible(folder)
        moments = random.Random(seed)
        for _ in range(kills):
            begin_again()
            finished = killed(book, True, moments.uniform(0.3, 1.05) * seconds)
            seen = look(book)
            now = visible(folder)
            assert not (folder / "rack" / ".unfinished").exists()
            assert now in (before, after), differing(now, after)
            assert now == after or not finished, "a step that was finished is not there"
            assert seen.problems == (), seen.problems
            outcomes["finished" if finished else "as after" if now == after else "as before"] += 1
            outcomes["mended"] += bool(seen.told)
            seconds *= 0.95 if now == after else 1.03
    return {**outcomes, "seconds": round(seconds, 2)}


def visible(folder: Path) -> dict[str, str]:
    """The files that count; killed writers may leave hidden ones, which the next writer sweeps up."""
    return {name: digest for name, digest in state(folder).items() if not Path(name).name.startswith(".")}


def differing(now: dict[str, str], wanted: dict[str, str]) -> str:
    names = sorted(name for name in now.keys() | wanted.keys() if now.get(name) != wanted.get(name))
    return f"neither before nor after: {names}"


def timed(book: Path, cuts: bool) -> float:
    start = time.perf_counter()
    assert killed(book, cuts, 60.0)
    return time.perf_counter() - start


def killed(book: Path, cuts: bool, delay: float) -> bool:
    """Do a step in a process of its own that is killed after the delay; whether it was done before."""
    child = os.fork()
    if child == 0:
        try:
            step(book, cuts)
        except BaseException as error:
            print(repr(error), file=sys.stderr, flush=True)
            os._exit(1)
        os._exit(0)
    end = time.perf_counter() + delay
    while time.perf_counter() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            assert status == 0, "the step failed by itself"
            return True
        time.sleep(0.0002)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return not os.WIFSIGNALED(status)


if __name__ == "__main__":
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    kind = sys.argv[4] if len(sys.argv) > 4 else kind
    print(json.dumps(main(Path(sys.argv[1]), int(sys.argv[2]), seed)))
