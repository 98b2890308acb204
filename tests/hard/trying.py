"""Wrong lines met by the tests that touch them, each in a child that is forked from a warm process.

In the warm process all tests are collected; a child gets the code of the wrong source put into the functions
that are there. Where that cannot be, since a line is run when its module is imported or its code is not told
from another, the child is forked from a process that has imported all but the rooms, and imports the rest.
"""

from __future__ import annotations

import contextlib
import gc
import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, NoReturn

from tests.hard.mutating import Change, stands_over

MOST_SECONDS = 100.0
"""Tests of one wrong line are cut short at so much processor time: the quickest are run."""

SLOWER = 4.0
PATIENCE = 20.0
"""A child that takes so many times the processor time of its tests, and so many seconds more, hangs."""

SLEEPING = 600.0
AWAKE = 1.0
"""A child that in so many seconds has worked less than this many waits for something that never comes. One
that only waits for its turn on a busy machine works on: it is not counted as caught."""

LATER = 10_000
"""Seconds by which a wrong source is younger than the right one, so that no compiled file passes for it."""

AT_IMPORT = "import"
"""Stands among the tests of a line that is run before the first test."""


@dataclass
class Touched:
    """Which tests touch which line.

    ``lines`` names the tests, by file and line; ``costs`` are seconds of work, of tests and of what is made
    for several of them, which ``uses`` names by test; ``wrong`` are tests that failed, which can catch
    nothing; ``libraries`` is what they import.
    """

    lines: dict[str, dict[int, list[str]]] = field(default_factory=dict)
    costs: dict[str, float] = field(default_factory=dict)
    uses: dict[str, list[str]] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    libraries: list[str] = field(default_factory=list)

    @classmethod
    def read(cls, paths: Iterable[Path]) -> Touched:
        """What several runs wrote, of different tests, taken together."""
        found = cls()
        for path in paths:
            told = json.loads(path.read_text(encoding="utf-8"))
            for name, lines in told["lines"].items():
                here = found.lines.setdefault(name, {})
                for line, tests in lines.items():
                    here.setdefault(int(line), []).extend(tests)
            found.costs |= told["costs"]
            found.uses |= told["uses"]
            found.wrong += told["wrong"]
            found.libraries += [name for name in told["libraries"] if name not in found.libraries]
        return found

    def by(self, name: str, lines: Iterable[int]) -> set[str]:
        """The tests that touch any of some lines of a file."""
        known = self.lines.get(name, {})
        found = {test for line in lines for test in known.get(line, ())}
        return found - {AT_IMPORT, *self.wrong}

    def cost(self, tests: Iterable[str], paid: Collection[str] = ()) -> float:
        """Seconds that tests take together, where some of what they use is there."""
        names = {name for test in tests for name in (test, *self.uses.get(test, ()))}
        return sum(self.costs.get(name, 0.0) for name in names.difference(paid))

    def is_at_import(self, name: str, change: Change) -> bool:
        """Whether the line does its work when its module is imported."""
        return change.at_import or AT_IMPORT in self.lines.get(name, {}).get(change.line, ())


@dataclass(frozen=True)
class Tried:
    """What became of a wrong line: the test that failed, empty if none did, and how many were asked."""

    caught: str
    asked: int
    left: int = 0


@dataclass
class Trial:
    """A copy of the tree, and what its tests touch."""

    root: Path
    touched: Touched
    scratch: Path
    most: float = MOST_SECONDS
    catching: set[str] = field(default_factory=set)

    def asked(self, name: str, change: Change) -> tuple[list[str], int]:
        """The tests that touch the line, file by file, the quickest file first; and how many were left out.

        A line that is run at import is asked of all tests that touch its file.
        """
        known = self.touched.lines.get(name, {})
        if self.touched.is_at_import(name, change):
            wanted = self.touched.by(name, known)
        else:
            source = (self.root / name).read_text(encoding="utf-8")
            around = [change.line] if known.get(change.line) else stands_over(source, change.line)
            wanted = self.touched.by(name, around)
        files: dict[str, list[str]] = {}
        for test in sorted(wanted, key=lambda test: (self.touched.cost([test]), test)):
            files.setdefault(test.partition("::")[0], []).append(test)
        taken: list[str] = []
        paid: set[str] = set()
        left = self.most
        for tests in sorted(files.values(), key=lambda tests: (self.touched.cost(tests) / len(tests), tests)):
            for test in tests:
                if (cost := self.touched.cost([test], paid)) <= left:
                    left -= cost
                    taken.append(test)
                    paid.update((test, *self.touched.uses.get(test, ())))
        return taken, len(wanted) - len(taken)

    def tried(self, name: str, change: Change, run: Run) -> Tried | None:
        """Meet a wrong line with its tests; None where this way of running does not know how."""
        tests, left = self.asked(name, change)
        if not tests:
            return Tried("", 0, left)
        path = self.root / name
        right, stat = path.read_text(encoding="utf-8"), path.stat()
        path.write_text(change.made_in(right), encoding="utf-8")
        os.utime(path, (stat.st_atime, stat.st_mtime + LATER))
        try:
            caught = self.failed(tests, run, path)
        finally:
            path.write_text(right, encoding="utf-8")
            os.utime(path, (stat.st_atime, stat.st_mtime))
        if "::" in caught:
            self.catching.add(caught)
        return None if caught == UNKNOWN_WAY else Tried(caught, len(tests), left)

    def failed(self, tests: Sequence[str], run: Run, changed: Path | None = None) -> str:
        """The first test that fails, run in a child; empty if none does."""
        folder = Path(tempfile.mkdtemp(dir=self.scratch))
        child = os.fork()
        if child == 0:
            os.setsid()
            most = int(SLOWER * self.touched.cost(tests) + PATIENCE)
            resource.setrlimit(resource.RLIMIT_CPU, (most, most))
            sys.dont_write_bytecode = True
            nothing = os.open(os.devnull, os.O_RDWR)
            said = os.open(folder / "said", os.O_RDWR | os.O_CREAT)
            for own, theirs in enumerate((nothing, said, said)):
                os.dup2(theirs, own)
            try:
                run(tests, folder, changed)
            except BaseException as error:
                leave(folder, f"the run of the tests fails: {error}")
        deadline, before = time.monotonic() + SLEEPING, 0.0
        try:
            while True:
                done, status = os.waitpid(child, os.WNOHANG)
                if done:
                    break
                if time.monotonic() > deadline:
                    if (work := worked(child)) < before + AWAKE:
                        os.killpg(child, signal.SIGKILL)
                    deadline, before = time.monotonic() + SLEEPING, work
                time.sleep(0.02)
            if os.WIFSIGNALED(status) and os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL):
                return "out of time"
            return (folder / "failed").read_text(encoding="utf-8")
        except FileNotFoundError:
            return "the process died"
        finally:
            shutil.rmtree(folder, ignore_errors=True)


def worked(session: int) -> float:
    """Seconds of processor time of a session's processes, those that ended included; 0 without ``/proc``."""
    ticks = 0
    for path in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):  # it has just ended
            # Behind the name in brackets: the session is the 4th word, the four times are the 12th to 15th
            # (proc_pid_stat(5): fields 6 and 14 to 17).
            words = path.read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
            if int(words[3]) == session:
                ticks += sum(map(int, words[11:15]))
    return ticks / os.sysconf("SC_CLK_TCK")


Run = Callable[[Sequence[str], Path, "Path | None"], None]
"""Runs tests in a child with a folder of its own, and ends it with `leave`; the path is the wrong source."""

UNKNOWN_WAY = "another way of running"


def leave(folder: Path, failed: str) -> NoReturn:
    """End a child; ``failed`` names the first test that failed."""
    (folder / "failed.part").write_text(failed, encoding="utf-8")
    (folder / "failed.part").rename(folder / "failed")
    os._exit(0)


class Failing:
    """A plugin of pytest that keeps the first test that failed, and runs none but some, in their order."""

    def __init__(self, tests: Sequence[str] = ()) -> None:
        self.first = ""
        self._turn = {test: place for place, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        if self._turn:
            items[:] = sorted(
                (item for item in items if item.nodeid in self._turn), key=lambda one: self._turn[one.nodeid]
            )

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed and not self.first:
            self.first = f"{report.nodeid} cannot be imported"

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.first:
            self.first = report.nodeid


TOLD = ("-x", "-s", "-p", "no:cacheprovider", "--hypothesis-seed=1")


def run_anew(tests: Sequence[str], folder: Path, changed: Path | None) -> None:
    """Import the rooms and the tests in the child: what a wrong line does that is run at import."""
    import pytest

    failing = Failing(tests)
    files = list(dict.fromkeys(test.partition("::")[0] for test in tests))
    code = pytest.main([*TOLD, f"--basetemp={folder / 'there'}", *files], [failing])
    leave(folder, failing.first or ("" if code == 0 else f"the run of the tests fails: {int(code)}"))


class Warm:
    """A plugin of pytest in whose process all tests are collected; ``ready`` is called with a way to run."""

    def __init__(self, ready: Callable[[Run], None]) -> None:
        self._ready = ready

    def pytest_runtestloop(self, session: Any) -> bool:
        from _pytest.main import pytest_runtestloop

        failing = Failing()
        session.config.pluginmanager.register(failing)

        def run(tests: Sequence[str], folder: Path, changed: Path | None) -> None:
            if changed is not None and not put_in(changed):
                leave(folder, UNKNOWN_WAY)
            turn = {test: place for place, test in enumerate(tests)}
            chosen = [item for item in session.items if item.nodeid in turn]
            session.items = sorted(chosen, key=lambda item: turn[item.nodeid])
            (folder / "there").mkdir()
            session.config._tmp_path_factory._basetemp = folder / "there"
            with contextlib.suppress(session.Failed, session.Interrupted):
                pytest_runtestloop(session)
            leave(folder, failing.first)

        self._ready(run)
        return True


def put_in(path: Path) -> bool:
    """Give every function of a file the code that the file has now; False where two look alike."""
    wanted: dict[tuple[str, int], list[CodeType]] = {}
    waiting = [compile(path.read_text(encoding="utf-8"), str(path), "exec", dont_inherit=True)]
    while waiting:
        code = waiting.pop()
        wanted.setdefault((code.co_qualname, code.co_firstlineno), []).append(code)
        waiting += [const for const in code.co_consts if isinstance(const, CodeType)]
    here = [
        one for one in gc.get_objects()
        if isinstance(one, FunctionType) and one.__code__.co_filename == str(path)
    ]  # fmt: skip
    for one in here:
        codes = wanted.get((one.__code__.co_qualname, one.__code__.co_firstlineno), [])
        if len(codes) != 1 or codes[0].co_freevars != one.__code__.co_freevars:
            return False
        one.__code__ = codes[0]
    return bool(here)
