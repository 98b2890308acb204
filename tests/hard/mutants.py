"""Do the tests catch wrong code? One line at a time is made wrong, at random, and the tests are asked.

Lines are drawn in the rooms of money, of the rack and of the checker, as many in each (`mutating.py` knows
what a wrong line is). In a copy of the tree the tests are run once to know which touch which line
(`touched.py`); each wrong source is then met by the tests that touch its line, of one test file after
another, until one fails (`trying.py`). A line that no test touches is not caught. What ran out of time is.

    python -m tests.hard.mutants [--count 200] [--seed 1] [--room money] [--only 17] [--map touched.json]

Prints every wrong line that was not caught; exit code 1 if one of them is not in `ALIKE`.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import importlib
import os
import pickle
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from tests.hard.mutants_alike import ALIKE
from tests.hard.mutating import Change, changes, imported
from tests.hard.trying import MOST_SECONDS, TOLD, Run, Touched, Trial, Tried, Warm, run_anew

ROOMS = {
    "money": ("sheetplan/money",),
    "rack": ("sheetplan/rack", "sheetplan/app/rack"),
    "checking": ("sheetplan/checking",),
}
FOLDERS = ("sheetplan", "tests", "workbook_template", "examples", "pyproject.toml", "README.md")
"""What the tests need of the tree."""


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


def drawn(root: Path, rooms: Sequence[str], count: int, seed: int) -> Iterator[Mutant]:
    """So many wrong lines, no two of the same line, shared out among the rooms.

    Chance goes by the words of a line, so that an edit elsewhere draws no others.
    """
    for place, room in enumerate(rooms):
        lines: dict[tuple[str, int], list[Change]] = {}
        chances: dict[str, tuple[str, int]] = {}
        for path in sorted(path for folder in ROOMS[room] for path in (root / folder).rglob("*.py")):
            name, seen = path.relative_to(root).as_posix(), Counter[str]()
            for change in changes(path.read_text(encoding="utf-8")):
                if (name, change.line) not in lines:
                    seen[change.before] += 1
                    chances[_chance(seed, name, change.before, seen[change.before])] = name, change.line
                lines.setdefault((name, change.line), []).append(change)
        wanted = (count + place) // len(rooms)
        for _, (name, line) in sorted(chances.items()):
            if not wanted:
                break
            source = (root / name).read_text(encoding="utf-8")
            real = [change for change in lines[name, line] if change.counts(source)]
            if real:
                wanted -= 1
                yield Mutant(room, name, min(real, key=lambda change: _chance(seed, change.after)))


def _chance(*what: object) -> str:
    return hashlib.sha256(repr(what).encode()).hexdigest()


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
    ready.make_boxes_ready()
    ready.make_strips_ready()
    ready.make_shapes_ready()


def in_copy(told: argparse.Namespace, root: Path) -> int:
    """Draw and try, where everything may be spoilt."""
    rooms = [told.room] if told.room else list(ROOMS)
    drawn_ones = dict(enumerate(drawn(root, rooms, told.count, told.seed)))
    mutants = {place: one for place, one in drawn_ones.items() if told.only is None or place in told.only}
    touched = Touched.read(told.map)
    import_all_but(root, touched.libraries)
    with tempfile.TemporaryDirectory(prefix="mutants-") as scratch:
        trial, kept = Trial(root, touched, Path(scratch), told.most), Path(scratch) / "results"
        child = os.fork()
        if child == 0:
            _warm(trial, mutants, kept)
        os.waitpid(child, 0)
        results, trial.catching = pickle.loads(kept.read_bytes())
        rest = {place: one for place, one in mutants.items() if place not in results}
        try_all(trial, rest, results, run_anew)
        broken = trial.failed(sorted(trial.catching), run_anew) if trial.catching else ""
    if broken:
        raise SystemExit(f"A test that caught something fails on the right source too: {broken}")
    return summed([(mutant, results[place]) for place, mutant in mutants.items()])


def _warm(trial: Trial, mutants: Mapping[int, Mutant], kept: Path) -> NoReturn:
    """Be the warm process: try what can be tried there, keep what became of it, and end."""
    import pytest

    results: dict[int, Tried] = {}
    plain = {
        place: one for place, one in mutants.items() if not trial.touched.is_at_import(one.name, one.change)
    }
    files = sorted({test.partition("::")[0] for test in trial.touched.uses})
    pytest.main([*TOLD, *files], [Warm(lambda run: try_all(trial, plain, results, run))])
    kept.write_bytes(pickle.dumps((results, trial.catching)))
    os._exit(0)


def try_all(trial: Trial, mutants: Mapping[int, Mutant], results: dict[int, Tried], run: Run) -> None:
    """Try wrong lines one after another, and say what becomes of each."""
    for place, mutant in mutants.items():
        begun = time.monotonic()
        tried = trial.tried(mutant.name, mutant.change, run)
        if tried is None:
            continue
        results[place] = tried
        more = f", {tried.left} left out" if tried.left else ""
        took = time.monotonic() - begun
        print(f"{place} {tried.caught or 'NOT CAUGHT'} ({tried.asked} tests{more}, {took:.1f} s)", flush=True)
        if not tried.caught:
            print(f"{mutant}\n    = {mutant.reason or 'NO REASON KNOWN'}", flush=True)


def summed(results: Sequence[tuple[Mutant, Tried]]) -> int:
    """Print the shares; how many were not caught, though they can be seen."""
    open_ones = 0
    for room in ROOMS:
        here = [(mutant, tried) for mutant, tried in results if mutant.room == room]
        if not here:
            continue
        caught = sum(bool(tried.caught) for _, tried in here)
        alike = sum(not tried.caught and bool(mutant.reason) for mutant, tried in here)
        open_ones += len(here) - caught - alike
        share = caught / max(1, len(here) - alike)
        print(f"{room}: {len(here)} wrong lines, {caught} caught, {alike} that nobody can see: {share:.1%}")
    for what, some in (("drawn", results), ("not caught", [one for one in results if not one[1].caught])):
        print(f"{what}, by kind:", dict(Counter(mutant.change.kind for mutant, _ in some)))
    return open_ones


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.hard.mutants", description=__doc__)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--room", choices=list(ROOMS), help="draw all of them in one room")
    parser.add_argument("--only", type=int, nargs="+", help="the numbers of some, to look at them alone")
    parser.add_argument("--most", type=float, default=MOST_SECONDS, help="seconds of tests for one line")
    parser.add_argument("--map", type=Path, nargs="+", help="what `touched.py` wrote of this very tree")
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

        def run(module: str, *arguments: str) -> int:
            return subprocess.run(
                [sys.executable, "-m", module, *arguments], cwd=copy, check=False,
                env={**os.environ, "PYTHONPATH": paths},
            ).returncode  # fmt: skip

        maps = told.map or [Path(there) / "touched.json"]
        if not told.map and run("tests.hard.touched", "--to", str(maps[0])):
            return 2
        known = [str(path.resolve()) for path in maps]
        return run("tests.hard.mutants", *sys.argv[1:], "--copied", "--map", *known)


if __name__ == "__main__":
    sys.exit(main())
