"""Do the tests catch wrong code? One line at a time is made wrong, at random, and the tests are asked.

Lines are drawn in the rooms of money, of the rack and of the checker, as many in each (`mutating.py` knows
what a wrong line is). In a copy of the tree the tests are run once to know which touch which line
(`touched.py`); each wrong source is then met by the tests that touch its line, of one test file after
another, until one fails. A process that has imported all but the rooms forks a child for each wrong source,
which imports the rest. A line that no test touches is not caught. What ran out of time is caught.

    python -m tests.hard.mutants [--count 200] [--seed 1] [--room money] [--only 17] [--map touched.json]

Prints every wrong line that was not caught; exit code 1 if one of them is not in `ALIKE`.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.hard.mutants_alike import ALIKE
from tests.hard.mutating import Change, changes, imported, stands_over

ROOMS = {
    "money": ("sheetplan/money",),
    "rack": ("sheetplan/rack", "sheetplan/app/rack"),
    "checking": ("sheetplan/checking",),
}
FOLDERS = ("sheetplan", "tests", "workbook_template", "examples", "pyproject.toml", "README.md")
"""What the tests need of the tree."""

MOST_SECONDS = 240.0
"""Tests of one wrong line that take longer together are cut short here: the quickest are run."""

SLOWER = 4.0
PATIENCE = 60.0
"""A child that takes so many times as long as its tests did, and so many seconds more, hangs."""

LATER = 10_000
"""Seconds by which a wrong source is younger than the right one, so that no compiled file passes for it."""


@dataclass(frozen=True)
class Mutant:
    """A wrong line of a file."""

    room: str
    name: str
    change: Change

    @property
    def reason(self) -> str:
        """Why nobody can see it, if that is known."""
        return ALIKE.get((self.name, self.change.before.strip(), self.change.after.strip()), "")

    def __str__(self) -> str:
        change = self.change
        before, after = change.before.strip(), change.after.strip()
        return f"{self.name}:{change.line} {change.kind}\n    - {before}\n    + {after}"


@dataclass
class Tried:
    """What became of a wrong line: the test that failed, empty if none did, and how many were asked."""

    mutant: Mutant
    caught: str
    asked: int
    left: int = 0


def drawn(root: Path, rooms: Sequence[str], count: int, seed: int) -> Iterator[Mutant]:
    """So many wrong lines, no two of the same line, shared out among the rooms."""
    for place, room in enumerate(rooms):
        dice = random.Random(f"{seed} {room}")
        lines: dict[tuple[str, int], list[Change]] = {}
        for folder in ROOMS[room]:
            for path in sorted((root / folder).rglob("*.py")):
                name = path.relative_to(root).as_posix()
                for change in changes(path.read_text(encoding="utf-8")):
                    lines.setdefault((name, change.line), []).append(change)
        order = sorted(lines)
        dice.shuffle(order)
        wanted = (count + place) // len(rooms)
        for name, line in order:
            if not wanted:
                break
            source = (root / name).read_text(encoding="utf-8")
            seen = [change for change in lines[name, line] if change.counts(source)]
            if seen:
                wanted -= 1
                yield Mutant(room, name, dice.choice(seen))


@dataclass
class Trial:
    """A copy of the tree, what its tests touch, and this process, which has imported all but the rooms."""

    root: Path
    lines: dict[str, dict[int, list[str]]]
    costs: dict[str, float]
    wrong: set[str]
    scratch: Path
    catching: set[str] = field(default_factory=set)

    def asked(self, mutant: Mutant) -> tuple[list[str], int]:
        """The tests that touch the line, file by file, the quickest file first; and how many were left out.

        A line that is run at import is asked of all tests that touch its file.
        """
        known = self.lines.get(mutant.name, {})
        if mutant.change.at_import:
            wanted = {test for tests in known.values() for test in tests}
        else:
            source = (self.root / mutant.name).read_text(encoding="utf-8")
            line = mutant.change.line
            around = [line] if known.get(line) else stands_over(source, line)
            wanted = {test for line in around for test in known.get(line, ())}
        wanted -= self.wrong
        files: dict[str, list[str]] = {}
        for test in sorted(wanted, key=lambda test: (self.costs[test], test)):
            files.setdefault(test.partition("::")[0], []).append(test)
        taken, seconds = [], 0.0
        for tests in sorted(files.values(), key=lambda tests: (self.cost(tests) / len(tests), tests)):
            if seconds + self.cost(tests) <= MOST_SECONDS:
                taken += tests
                seconds += self.cost(tests)
        return taken, len(wanted) - len(taken)

    def cost(self, tests: Sequence[str]) -> float:
        return sum(self.costs[test] for test in tests)

    def tried(self, mutant: Mutant) -> Tried:
        """Meet a wrong line with its tests."""
        tests, left = self.asked(mutant)
        if not tests:
            return Tried(mutant, "", 0, left)
        path = self.root / mutant.name
        right, stat = path.read_text(encoding="utf-8"), path.stat()
        path.write_text(mutant.change.made_in(right), encoding="utf-8")
        os.utime(path, (stat.st_atime, stat.st_mtime + LATER))
        try:
            caught = self.failed(tests)
        finally:
            path.write_text(right, encoding="utf-8")
            os.utime(path, (stat.st_atime, stat.st_mtime))
        if "::" in caught:
            self.catching.add(caught)
        return Tried(mutant, caught, len(tests), left)

    def failed(self, tests: Sequence[str]) -> str:
        """The first test that fails, run in a child; empty if none does."""
        folder = Path(tempfile.mkdtemp(dir=self.scratch))
        child = os.fork()
        if child == 0:
            _run(tests, folder)
        deadline = time.monotonic() + SLOWER * self.cost(tests) + PATIENCE
        try:
            while os.waitpid(child, os.WNOHANG)[0] == 0:
                if time.monotonic() > deadline:
                    os.killpg(child, signal.SIGKILL)
                    os.waitpid(child, 0)
                    return "out of time"
                time.sleep(0.02)
            return (folder / "failed").read_text(encoding="utf-8")
        except FileNotFoundError:
            return "the process died"
        finally:
            shutil.rmtree(folder, ignore_errors=True)


def _run(tests: Sequence[str], folder: Path) -> None:
    """Be a child: run tests, leave the name of the first that failed, and end."""
    os.setsid()
    nothing = os.open(os.devnull, os.O_RDWR)
    said = os.open(folder / "said", os.O_RDWR | os.O_CREAT)
    for own, theirs in enumerate((nothing, said, said)):
        os.dup2(theirs, own)
    sys.dont_write_bytecode = True
    failed = "the run of the tests fails"
    try:
        import pytest

        chosen = Chosen(tests)
        files = list(dict.fromkeys(test.partition("::")[0] for test in tests))
        told = ["-x", "-p", "no:cacheprovider", "--hypothesis-seed=1", f"--basetemp={folder / 'there'}"]
        code = pytest.main([*told, *files], [chosen])
        failed = chosen.failed if code == 0 or chosen.failed else f"{failed}: {int(code)}"
    finally:
        (folder / "failed.part").write_text(failed, encoding="utf-8")
        (folder / "failed.part").rename(folder / "failed")
        os._exit(0)


class Chosen:
    """A plugin of pytest that runs some tests alone, in their order."""

    def __init__(self, tests: Sequence[str]) -> None:
        self.failed = ""
        self._turn = {test: place for place, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self._turn), key=lambda item: self._turn[item.nodeid]
        )

    def pytest_collectreport(self, report) -> None:
        if report.failed and not self.failed:
            self.failed = f"{report.nodeid} cannot be imported"

    def pytest_runtest_logreport(self, report) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid


def import_all_but(root: Path, libraries: Sequence[str]) -> None:
    """Import what does not import the rooms, and fetch the kernels."""
    for name in libraries:
        with contextlib.suppress(Exception):
            importlib.import_module(name)
    wanted = imported(root, "sheetplan")
    rooms = tuple(folder.replace("/", ".") for folders in ROOMS.values() for folder in folders)
    touching = {name for name in wanted if name.startswith(rooms)}
    while more := {name for name, needs in wanted.items() if needs & touching} - touching:
        touching |= more
    for name in sorted(wanted.keys() - touching - {"sheetplan.__main__"}):
        with contextlib.suppress(ImportError):  # of a library that is an extra
            importlib.import_module(name)
    assert not [name for name in sys.modules if name.startswith(rooms)]
    ready = importlib.import_module("sheetplan.packing.ready")
    ready.make_ready()
    ready.make_shapes_ready()


def in_copy(told: argparse.Namespace, root: Path) -> int:
    """Draw and try, where everything may be spoilt."""
    rooms = [told.room] if told.room else list(ROOMS)
    mutants = list(drawn(root, rooms, told.count, told.seed))
    touched = json.loads(told.map.read_text(encoding="utf-8"))
    lines = {name: {int(n): t for n, t in found.items()} for name, found in touched["lines"].items()}
    import_all_but(root, touched["libraries"])
    with tempfile.TemporaryDirectory(prefix="mutants-") as scratch:
        trial = Trial(root, lines, touched["costs"], set(touched["wrong"]), Path(scratch))
        results = []
        for place, mutant in enumerate(mutants):
            if told.only is None or place in told.only:
                begun = time.monotonic()
                tried = trial.tried(mutant)
                results.append(tried)
                took = time.monotonic() - begun
                more = f", {tried.left} left out" if tried.left else ""
                print(f"{place} {tried.caught or 'NOT CAUGHT'} ({tried.asked} tests{more}, {took:.1f} s)")
                if not tried.caught:
                    print(f"{mutant}\n    = {mutant.reason or 'NO REASON KNOWN'}", flush=True)
        broken = trial.failed(sorted(trial.catching)) if trial.catching else ""
    if broken:
        raise SystemExit(f"A test that caught something fails on the right source too: {broken}")
    return summed(results)


def summed(results: Sequence[Tried]) -> int:
    """Print the shares; how many were neither caught nor can be seen by nobody."""
    open_ones = 0
    for room in ROOMS:
        here = [tried for tried in results if tried.mutant.room == room]
        if not here:
            continue
        caught = sum(bool(tried.caught) for tried in here)
        alike = sum(not tried.caught and bool(tried.mutant.reason) for tried in here)
        open_ones += len(here) - caught - alike
        share = caught / max(1, len(here) - alike)
        print(f"{room}: {len(here)} wrong lines, {caught} caught, {alike} that nobody can see: {share:.1%}")
    print("by kind:", dict(Counter(tried.mutant.change.kind for tried in results)))
    print("not caught, by kind:", dict(Counter(t.mutant.change.kind for t in results if not t.caught)))
    return open_ones


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.hard.mutants", description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", choices=list(ROOMS), help="draw all of them in one room")
    parser.add_argument("--only", type=int, nargs="+", help="the numbers of some, to look at them alone")
    parser.add_argument("--map", type=Path, help="what `touched.py` wrote of this very tree")
    parser.add_argument("--copied", action="store_true", help=argparse.SUPPRESS)
    told = parser.parse_args()
    root = Path(__file__).parents[2]
    if told.copied:
        return 1 if in_copy(told, root) else 0
    with tempfile.TemporaryDirectory(prefix="hard-") as there:
        copy = Path(there) / "tree"
        copy.mkdir()
        for name in FOLDERS:
            copied = shutil.copytree if (root / name).is_dir() else shutil.copy2
            copied(root / name, copy / name)
        paths = os.pathsep.join([str(copy), os.environ.get("PYTHONPATH", "")])
        told.map = told.map and told.map.resolve()

        def run(module: str, *arguments: str) -> int:
            return subprocess.run(
                [sys.executable, "-m", module, *arguments], cwd=copy, check=False,
                env={**os.environ, "PYTHONPATH": paths},
            ).returncode  # fmt: skip

        if told.map is None:
            told.map = Path(there) / "touched.json"
            if run("tests.hard.touched", "--to", str(told.map)):
                return 2
        return run("tests.hard.mutants", *sys.argv[1:], "--map", str(told.map), "--copied")


if __name__ == "__main__":
    sys.exit(main())
