"""Which tests touch which line of the source: every test run once, listened to with `coverage`.

What is made once for several tests, a fixture of a module or what a `cache` keeps, counts as touched by
each test that uses it. Code that is run in another process is not heard, nor are compiled kernels.

    python -m tests.hard.touched [--tests tests/money ...] [--slow] [--to touched.json]

Prints the share of lines by folder of `sheetplan/`, for the tests that were run.
"""

from __future__ import annotations

import argparse
import functools
import json
import signal
import sys
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import coverage
import pytest

from tests.hard.trying import AT_IMPORT, Touched

ROOT = Path(__file__).parents[2]

TESTS = ("tests/money", "tests/rack", "tests/checking", "tests/app", "tests/pages", "tests/cli")
LEFT_OUT = {
    "tests/money/test_agreement.py": "plans for minutes",
    "tests/pages/floor/test_in_browser.py": "asks of a browser",
    "tests/pages/floor/test_in_firefox.py": "asks of a browser",
}  # fmt: skip

TAKEN = ("tests/checking/test_plans.py::test_planted_faults_are_all_caught",)
"""Slow tests that are run all the same: seconds, and the proof of a room."""


class Listening:
    """A plugin of pytest that tells `coverage` for whom the code runs that it hears."""

    def __init__(self, heard: coverage.Coverage, *, slow: bool) -> None:
        self.wrong: list[str] = []
        self.tests: list[str] = []
        self.seconds: dict[str, float] = {}
        self._uses: dict[str, set[str]] = {}
        self._heard, self._slow = heard, slow
        self._open = [AT_IMPORT]
        self._since = time.process_time()

    @contextmanager
    def within(self, name: str) -> Iterator[None]:
        """What runs meanwhile runs for this one."""
        self._switch(lambda: self._open.append(name))
        try:
            yield
        finally:
            self._switch(self._open.pop)

    def _switch(self, change: Callable[[], object]) -> None:
        now = time.process_time()
        self.seconds[self._open[-1]] = self.seconds.get(self._open[-1], 0.0) + now - self._since
        change()
        self._heard.switch_context(self._open[-1])
        self._since = time.process_time()

    def used(self, name: str, by: str | None = None) -> None:
        self._uses.setdefault(by or self._open[-1], set()).add(name)

    def all_used(self, test: str) -> set[str]:
        """A test with everything that was made for it."""
        found, waiting = {test}, [test]
        while waiting:
            more = self._uses.get(waiting.pop(), set()) - found
            found |= more
            waiting += more
        return found

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        if not self._slow:
            items[:] = [item for item in items if item.nodeid in TAKEN or not item.get_closest_marker("slow")]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        self.tests.append(item.nodeid)
        for found in getattr(item, "_fixtureinfo").name2fixturedefs.values():  # noqa: B009  # not public
            for made in found:
                if made.scope != "function":
                    self.used(_name(made), item.nodeid)
        with self.within(item.nodeid):
            return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[Any]) -> Generator[None, object, object]:
        if fixturedef.scope == "function":
            return (yield)
        with self.within(_name(fixturedef)):
            return (yield)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.wrong.append(report.nodeid)

    def keeping(self, real: Callable[..., Any]) -> Callable[..., Any]:
        """A `cache` in place of the real one, that says for whom it keeps."""

        def cache(function: Callable[..., Any]) -> Callable[..., Any]:
            module = getattr(function, "__module__", "") or ""
            if not module.startswith(("tests.", "sheetplan.")):
                return real(function)
            name = f"kept {module}.{function.__qualname__}"

            @functools.wraps(function)
            def made(*args: Any, **named: Any) -> Any:
                with self.within(name):
                    return function(*args, **named)

            kept = real(made)

            @functools.wraps(function)
            def asked(*args: Any, **named: Any) -> Any:
                self.used(name)
                return kept(*args, **named)

            for also in ("cache_clear", "cache_info", "cache_parameters"):
                setattr(asked, also, getattr(kept, also))
            return asked

        return cache

    def keep_caches(self) -> None:
        """Hear of the caches of all modules that are imported from now on."""
        real = functools.lru_cache

        def lru_cache(maxsize: Any = 128, typed: bool = False) -> Any:
            if callable(maxsize):
                return self.keeping(real())(maxsize)
            return self.keeping(real(maxsize, typed))

        functools.lru_cache = lru_cache  # type: ignore[assignment]
        functools.cache = self.keeping(real(None))


def _name(made: pytest.FixtureDef[Any]) -> str:
    return f"fixture {made.baseid}::{made.argname}"


def listen(arguments: list[str], folders: Sequence[str], *, slow: bool) -> tuple[Touched, coverage.Coverage]:
    """Run pytest here and hear what its tests touch."""
    sources = [str(ROOT / folder) for folder in folders]
    heard = coverage.Coverage(data_file=None, config_file=False, source=sources)
    plugin = Listening(heard, slow=slow)
    heard.start()
    heard.switch_context(AT_IMPORT)
    plugin.keep_caches()
    pytest.main(["-p", "no:cacheprovider", "--hypothesis-seed=1", *arguments], [plugin])
    heard.stop()
    users: dict[str, list[str]] = {}
    uses = {test: sorted(plugin.all_used(test) - {test}) for test in plugin.tests}
    for test, names in uses.items():
        for name in (test, *names):
            users.setdefault(name, []).append(test)
    data, lines = heard.get_data(), {}
    for file in sorted(data.measured_files()):
        lines[Path(file).relative_to(ROOT).as_posix()] = {
            line: sorted({test for name in names for test in users.get(name, ())} | {AT_IMPORT} & {*names})
            for line, names in sorted(data.contexts_by_lineno(file).items())
        }
    libraries = [name for name in sys.modules if not name.startswith(("tests", "sheetplan", "_", "conftest"))]
    return Touched(lines, plugin.seconds, uses, plugin.wrong, libraries), heard


def shares(heard: coverage.Coverage, folders: Sequence[str]) -> dict[str, tuple[int, int]]:
    """Lines and touched lines by folder; a compiled kernel's lines are never heard."""
    found: dict[str, tuple[int, int]] = {}
    for path in sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py")):
        _, lines, _, missing, _ = heard.analysis2(str(path))
        place = path.relative_to(ROOT).parts
        folder = "/".join(place[: 3 if place[1:3] == ("app", "rack") else 2]).removesuffix(".py")
        for name in (folder, "all of them"):
            all_lines, touched = found.get(name, (0, 0))
            found[name] = (all_lines + len(lines), touched + len(lines) - len(missing))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.hard.touched", description=__doc__)
    parser.add_argument("--tests", nargs="+", default=TESTS)
    parser.add_argument("--slow", action="store_true", help="run slow tests too")
    parser.add_argument("--folders", nargs="+", default=["sheetplan"], help="fewer are heard faster")
    parser.add_argument("--to", type=Path)
    told = parser.parse_args()
    signal.signal(signal.SIGINT, signal.default_int_handler)  # cut short, it tells what it has heard
    left_out = [] if told.slow else [f"--ignore={name}" for name in LEFT_OUT]
    touched, heard = listen([*left_out, *told.tests], told.folders, slow=told.slow)
    for folder, (lines, known) in shares(heard, told.folders).items():
        print(f"{folder:32} {known:6} of {lines:6} lines, {known / max(1, lines):6.1%}")
    print(f"{len(touched.uses)} tests, {len(touched.wrong)} failed: {touched.wrong}")
    if told.to:
        told.to.write_text(json.dumps(vars(touched)), encoding="utf-8")


if __name__ == "__main__":
    main()
