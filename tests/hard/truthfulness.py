"""A fault at every call that changes a file, in every command: what it says and its exit code are held true.

A command runs in this process, and one of its calls that change a file (`CALLS`) fails: once, or it and all
after it, or Ctrl-C is pressed there. Then the bytes are looked at. Exit code 0: all is as after a run that
nothing disturbed. 3: the book is as before, other changes are named. 5: the book is as after it, and one more
command finishes the rest. 130 and every "nothing was changed" or "is recorded": as the sentence says.
Backups, and hidden files, are no part of it. In all cases `rack` afterwards finds book and rack as before or
as after, and fitting each other.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import importlib.util
import io
import os
import random
import shutil
import signal
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any
from unittest import mock

import ezdxf
import openpyxl
from openpyxl.workbook.protection import WorkbookProtection

from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.cli import main as command_line
from sheetplan.trade.units import MM_PER_INCH
from tests.app.cut_book import DAY, fill, planned_book, record_cut, state, write
from tests.hard.looking import link_faults
from tests.hard.options import told
from tests.hard.watching import Outcome, outcomes, peak_megabytes, tell

SECONDS = 400.0

CALLS = ("replace", "rename", "unlink", "mkdir", "rmdir", "fsync", "chmod", "link")
"""Functions of the module os; files that are opened for writing come to them."""

COMMANDS: dict[str, Sequence[str]] = {
    "cut": ("cut", "yard.xlsx", "L1", "--by", "Ann"),
    "cut again": ("cut", "yard.xlsx", "L1", "--again"),
    "undo": ("undo", "yard.xlsx"),
    "receive": ("receive", "yard.xlsx", "MS10=2"),
    "ordered": ("ordered", "yard.xlsx", "MS10=2"),
    "parts": ("parts", "yard.xlsx", "--move", "BRACE=1", "--from", "H-2"),
    "month": ("month", "yard.xlsx", "2026-11"),
    "close": ("close", "yard.xlsx", "2026-11"),
    "repair": ("rack", "yard.xlsx", "--repair"),
    "rack": ("rack", "yard.xlsx"),
    "check": ("check", "yard.xlsx", "--json", "said.json"),
    "plan": ("plan", "yard.xlsx", "--seconds", "0.1", "--workers", "1"),
    "locked": ("month", "yard.xlsx", "2026-11"),
    "add": ("rack", "add", "yard.xlsx", "R-030", "--drawing", "old.dxf"),
    "seen": ("rack", "seen", "yard.xlsx", "--all-but", "R-031", "--place", "R-030=A4", "--date", f"{DAY}"),
    "picture": ("rack", "picture", "yard.xlsx", "R-030", "1.jpg"),
    "confirm": ("rack", "picture", "yard.xlsx", "R-030", "1.jpg", "--confirm", "CODE"),
    "labels": ("rack", "yard.xlsx", "--labels", "labels.pdf", "--list", "rack.pdf"),
    "markers": ("rack", "markers", "marks.pdf", "--pages", "1"),
    "square": ("square", "yard.xlsx", "L1", "--corner", "1,0.5", "--angle", "0.35"),
    "import": ("import", "yard.xlsx", "kit", "--material", "mild steel", "--thickness", "10 ga"),
    "accept": ("accept", "yard.xlsx"),
    "quote": ("quote", "yard.xlsx", "--seconds", "0.1"),
    "show": ("show", "old.dxf", "--picture", "old.png", "--json", "said.json"),
    "new": ("new", "other.xlsx", "--demo"),
}
"""CODE stands for what the command ``picture`` says."""

WITH_PICTURES = ("picture", "confirm")

BY_OPENCV = (*WITH_PICTURES, "markers")

CHOSEN = tuple(name for name in sorted(COMMANDS) if name not in BY_OPENCV or importlib.util.find_spec("cv2"))

KINDS = ("once", "from there on", "Ctrl-C")

CUT_BEFORE = ("cut again", "undo", "receive", "parts", "month", "close", "repair", "rack", "labels")

ON_A_REMNANT = ("add", "seen", "show", "import", "accept", *WITH_PICTURES)


@lru_cache(maxsize=1)
def planned() -> Path:
    warnings.simplefilter("ignore", UserWarning)
    return planned_book(Path(tempfile.mkdtemp(prefix="hard-shop-")))


LENGTH, WIDTH = 36.0, 26.0
"""Size of the remnant that is taken in or counted, in inches."""


@lru_cache(maxsize=1)
def with_remnants() -> Path:
    """A book with two rows on the page Remnants, and beside it a drawing of the first and a picture of it."""
    metal = {"Material": "mild steel", "Thickness": "10 ga", "Width": WIDTH, "Length": LENGTH}
    rows = [{"Tag": tag, **metal, "Rack place": "R1"} for tag in ("R-030", "R-031")]
    book = planned_book(Path(tempfile.mkdtemp(prefix="hard-rack-")), remnants=rows, plan_it=False)
    draw(book.with_name("old.dxf"), LENGTH)
    book.with_name("kit").mkdir()
    draw(book.with_name("kit") / "cleat.dxf", LENGTH)
    return book


def draw(path: Path, length: float) -> None:
    """A DXF of a plate with a slanted end."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 1  # inches
    corners = [(0, 0), (length, 0), (length - 9.0, WIDTH), (0, WIDTH)]
    document.modelspace().add_lwpolyline(corners, close=True)
    document.saveas(path)


def photograph(folder: Path) -> None:
    """Put a picture of the remnant into a folder."""
    from tests.hard.pictures import photographed
    from tests.pictures.scenes import make_scene

    size = (LENGTH * MM_PER_INCH, WIDTH * MM_PER_INCH)
    scene = make_scene(4, megapixels=2, size=size, pictures=1, cut_outs=3, harsh=False)
    [(name, data)] = photographed(scene)
    (folder / name).write_bytes(data)


@lru_cache(maxsize=len(COMMANDS))
def begun(name: str) -> Path:
    """The folder that a command starts from."""
    folder = Path(tempfile.mkdtemp(prefix="hard-begun-")) / "shop"
    shutil.copytree((with_remnants() if name in ON_A_REMNANT else planned()).parent, folder)
    book = folder / "yard.xlsx"
    if name in CUT_BEFORE:
        record_cut(book, CutAsked("L1"), today=DAY)
    if name == "repair":
        shutil.rmtree(folder / "rack")
    if name in WITH_PICTURES:
        photograph(folder)
    if name == "accept":
        run("import", folder)
        draw(folder / "kit" / "cleat.dxf", LENGTH - 1.0)
    if name == "quote":
        opened = openpyxl.load_workbook(book)
        fill(opened, "Quotes", [{"Quote": "Q-1", "Item": "BRACE", "Quantity": 1}])
        opened.save(book)
    if name == "plan":
        write(book, "Orders", "H-2", "Quantity", 7)
    if name == "locked":
        opened = openpyxl.load_workbook(book)
        opened.security = WorkbookProtection(lockStructure=True)
        opened.save(book)
    return folder


@lru_cache(maxsize=1)
def code_of_reading() -> str:
    """The code that the command ``picture`` says, by which its reading is confirmed."""
    folder = Path(tempfile.mkdtemp(prefix="hard-read-")) / "shop"
    shutil.copytree(begun("picture"), folder)
    code, said = run("picture", folder)
    shutil.rmtree(folder.parent)
    assert code == 0, said
    return said.split("--confirm ")[1].split()[0]


def arguments_of(name: str) -> list[str]:
    """The words of a command."""
    return [code_of_reading() if word == "CODE" else word for word in COMMANDS[name]]


def run(name: str, folder: Path) -> tuple[int, str]:
    """The command in this process: its exit code and what it says."""
    said, code, arguments = io.StringIO(), 0, arguments_of(name)
    handler, here, argv = signal.getsignal(signal.SIGINT), Path.cwd(), sys.argv
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.chdir(folder)
    sys.argv = ["sheetplan", *arguments]
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            command_line()
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else 0
    finally:
        sys.argv = argv
        os.chdir(here)
        signal.signal(signal.SIGINT, handler)
    return code, said.getvalue()


class Faults:
    """Counts calls that change something below a folder, and spoils one of them."""

    def __init__(self, folder: Path, at: int = -1, kind: str = "once") -> None:
        self.folder, self.at, self.kind = str(folder), at, kind
        self.count, self.where = 0, ""

    def hit(self, name: str, first: object) -> None:
        inside = isinstance(first, int) or os.path.abspath(os.fsdecode(first)).startswith(self.folder)  # type: ignore[call-overload]
        if not inside:
            return
        number, self.count = self.count, self.count + 1
        if number == self.at or (self.kind == "from there on" and number > self.at >= 0):
            self.where = self.where or f"{name} {first}"
            if self.kind == "Ctrl-C":
                os.kill(os.getpid(), signal.SIGINT)
                return
            raise OSError(errno.EIO, os.strerror(errno.EIO), None if isinstance(first, int) else str(first))

    @contextlib.contextmanager
    def planted(self) -> Iterator[None]:
        def spoilt(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
            def call(first: Any, *more: Any, **named: Any) -> Any:
                self.hit(name, first)
                return real(first, *more, **named)

            return call

        opened = builtins.open

        def opening(file: Any, mode: str = "r", *more: Any, **named: Any) -> Any:
            if not isinstance(file, int) and set(mode) & set("wax+"):
                self.hit("open", file)
            return opened(file, mode, *more, **named)

        with contextlib.ExitStack() as held:
            for name in CALLS:
                held.enter_context(mock.patch.object(os, name, spoilt(name, getattr(os, name))))
            held.enter_context(mock.patch.object(builtins, "open", opening))
            held.enter_context(mock.patch.object(io, "open", opening))
            yield


def seen(folder: Path) -> dict[str, str]:
    """The files that a person sees, backups aside."""
    return {name: digest for name, digest in state(folder).items() if "/." not in f"/{name}"}


def core(now: dict[str, str]) -> dict[str, str]:
    """Book and rack."""
    return {name: one for name, one in now.items() if name.startswith("rack/") or name == "yard.xlsx"}


@lru_cache(maxsize=len(COMMANDS))
def undisturbed(name: str) -> tuple[int, int, dict[str, str]]:
    """Calls that a command makes when nothing goes wrong, its exit code, and the files then."""
    folder = Path(tempfile.mkdtemp(prefix="hard-clean-")) / "shop"
    shutil.copytree(begun(name), folder)
    faults = Faults(folder)
    with faults.planted():
        code, _ = run(name, folder)
    found = seen(folder)
    shutil.rmtree(folder.parent)
    return faults.count, code, found


def wrong(name: str, folder: Path, code: int, said: str) -> list[str]:
    """Where sentence and exit code do not fit the bytes."""
    before, now = seen(begun(name)), seen(folder)
    _, clean, after = undisturbed(name)
    faults = []
    if code == 4 or "Traceback" in said:
        faults.append("it is called a fault of the tool")
    if name == "plan" and code in (clean, 5):
        # A search that was stopped, or had other seconds, gives another plan: it is whole all the same.
        faults += link_faults(folder / "yard.xlsx")
        after = now
    if code == clean and now != after:
        faults.append(f"exit {code}, and not all is as after it: {differing(now, after)}")
    if code == 3 and now["yard.xlsx"] != before["yard.xlsx"]:
        faults.append("exit 3, and the book was changed")
    if code == 3 and now != before and "beside it:" not in said:
        faults.append(f"exit 3, and changed without a word: {differing(now, before)}")
    if "Nothing was changed" in said and now != before:
        faults.append(f"nothing was changed, it says: {differing(now, before)}")
    if "Nothing was recorded" in said and core(now) != core(before):
        faults.append(f"nothing was recorded, it says: {differing(now, before)}")
    if "The workbook was not changed" in said and now["yard.xlsx"] != before["yard.xlsx"]:
        faults.append("the book was not changed, it says")
    if ("is recorded" in said or "is taken back" in said) and now["yard.xlsx"] != after["yard.xlsx"]:
        faults.append("it counts, it says, and the book does not have it")
    changed = "Nothing was changed" not in said and "not changed" not in said and name != "repair"
    if code in (5, 130) and changed and now == before:
        faults.append("something was changed, it says")
    if code == 5 and name not in ("close", "locked") and now["yard.xlsx"] != after["yard.xlsx"]:
        faults.append("exit 5, and the book is not as after it")
    if code in (5, 130) and len(said.strip()) < 10:
        faults.append("it says nothing")
    return faults


def differing(now: dict[str, str], wanted: dict[str, str]) -> list[str]:
    return sorted(one for one in now.keys() | wanted.keys() if now.get(one) != wanted.get(one))[:6]


def afterwards(name: str, folder: Path) -> list[str]:
    """One more command: book and rack fit one another, and are as before or as after."""
    code, said = run("rack", folder)
    if name == "repair" and "no folder rack" in said:
        return []  # it has not been repaired, and that is told
    if code != 0:
        return [f"`rack` afterwards ends with {code}: {said[-600:]}"]
    now = core(seen(folder))
    before, after = core(seen(begun(name))), core(undisturbed(name)[2])
    if now in (before, after) or name in ("close", "plan"):
        return []
    return [f"neither before nor after: {differing(now, before)}, {differing(now, after)}"]


def faulted(name: str, kind: str, at: int, place: Path) -> str:
    """One fault in a command that runs in a folder to be made; what is wrong then, empty where nothing is."""
    shutil.copytree(begun(name), place)
    faults = Faults(place, at, kind)
    try:
        with faults.planted():
            code, said = run(name, place)
        found = [*wrong(name, place, code, said), *afterwards(name, place)]
        return f"{faults.where or 'no fault'}: exit {code}: {said[-500:]}\n{found}" if found else ""
    except Exception:
        return traceback.format_exc()[-1500:]


def one(seed: int, case: int, folder: Path) -> Outcome:
    """One fault, chosen by chance."""
    dice = random.Random(f"{seed} {case}")
    name, kind = dice.choice(CHOSEN), dice.choice(KINDS)
    count = undisturbed(name)[0]
    at = dice.randrange(max(1, count))
    return {
        "kind": name, "what": f"{name}, {kind}, call {at} of {count}", "megabytes": peak_megabytes(),
        "fault": faulted(name, kind, at, folder / "shop"),
    }  # fmt: skip


def main() -> int:
    options = told(__doc__, count=1000)
    first, count = (0, options.count) if options.only is None else (options.only, 1)
    return len(tell(outcomes("tests.hard.truthfulness", first, count, options.seed, SECONDS), every=50)) > 0


if __name__ == "__main__":
    sys.exit(main())
