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
import sys
import time
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import coverage
import pytest

ROOT = Path(__file__).parents[2]

TESTS = ("tests/money", "tests/rack", "tests/checking", "tests/app", "tests/pages", "tests/cli")
LEFT_OUT = {
    "tests/money/test_agreement.py": "plans for minutes",
    "tests/pages/floor/test_in_browser.py": "asks of a browser",
    "tests/pages/floor/test_in_firefox.py": "asks of a browser",
}  # fmt: skip

AT_IMPORT = "import"
"""What is run before the first test."""


@dataclass
class Touched:
    """What was heard.

    ``lines`` names the tests, by file and line; ``costs`` are their seconds, with what is made for them;
    ``wrong`` are tests that failed, which can catch nothing; ``libraries`` is what they import.
    """

    lines: dict[str, dict[int, list[str]]] = field(default_factory=dict)
    costs: dict[str, float] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)
    libraries: list[str] = field(default_factory=list)

    @classmethod
    def read(cls, path: Path) -> Touched:
        told = json.loads(path.read_text(encoding="utf-8"))
        told["lines"] = {
            name: {int(line): tests for line, tests in lines.items()} for name, lines in told["lines"].items()
        }
        return cls(**told)

    def by(self, name: str, lines: Iterable[int]) -> set[str]:
        """The tests that touch any of some lines of a file."""
        known = self.lines.get(name, {})
        return {test for line in lines for test in known.get(line, ())} - set(self.wrong)


class Listening:
    """A plugin of pytest that tells `coverage` for whom the code runs that it hears."""

    def __init__(self, heard: coverage.Coverage) -> None:
        self.wrong: list[str] = []
        self.tests: list[str] = []
        self.seconds: dict[str, float] = {}
        self._uses: dict[str, set[str]] = {}
        self._heard = heard
        self._open = [AT_IMPORT]
        self._since = time.perf_counter()

    @contextmanager
    def within(self, name: str) -> Iterator[None]:
        """What runs meanwhile runs for this one."""
        self._switch(lambda: self._open.append(name))
        try:
            yield
        finally:
            self._switch(self._open.pop)

    def _switch(self, change: Callable[[], object]) -> None:
        now = time.perf_counter()
        self.seconds[self._open[-1]] = self.seconds.get(self._open[-1], 0.0) + now - self._since
        change()
        self._heard.switch_context(self._open[-1])
        self._since = time.perf_counter()

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


def listen(arguments: list[str]) -> tuple[Touched, coverage.Coverage]:
    """Run pytest here and hear what its tests touch."""
    heard = coverage.Coverage(data_file=None, config_file=False, source=[str(ROOT / "sheetplan")])
    plugin = Listening(heard)
    heard.start()
    heard.switch_context(AT_IMPORT)
    plugin.keep_caches()
    pytest.main(["-p", "no:cacheprovider", "--hypothesis-seed=1", *arguments], [plugin])
    heard.stop()
    users: dict[str, list[str]] = {}
    costs = {}
    for test in plugin.tests:
        names = plugin.all_used(test)
        costs[test] = sum(plugin.seconds.get(name, 0.0) for name in names)
        for name in names:
            users.setdefault(name, []).append(test)
    data, lines = heard.get_data(), {}
    for file in sorted(data.measured_files()):
        lines[Path(file).relative_to(ROOT).as_posix()] = {
            line: sorted({test for name in names for test in users.get(name, ())})
            for line, names in sorted(data.contexts_by_lineno(file).items())
        }
    libraries = [name for name in sys.modules if not name.startswith(("tests", "sheetplan", "_", "conftest"))]
    return Touched(lines, costs, plugin.wrong, libraries), heard


def shares(heard: coverage.Coverage) -> dict[str, tuple[int, int]]:
    """Lines and touched lines by folder; a compiled kernel's lines are never heard."""
    found: dict[str, tuple[int, int]] = {}
    for path in sorted((ROOT / "sheetplan").rglob("*.py")):
        _, lines, _, missing, _ = heard.analysis2(str(path))
        place = path.relative_to(ROOT).parts
        folder = "/".join(place[: 3 if place[1:3] == ("app", "rack") else 2]).removesuffix(".py")
        for name in (folder, "sheetplan"):
            all_lines, touched = found.get(name, (0, 0))
            found[name] = (all_lines + len(lines), touched + len(lines) - len(missing))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.hard.touched", description=__doc__)
    parser.add_argument("--tests", nargs="+", default=TESTS)
    parser.add_argument("--slow", action="store_true", help="run slow tests too")
    parser.add_argument("--to", type=Path)
    told = parser.parse_args()
    more = [] if told.slow else ["-m", "not slow", *(f"--ignore={name}" for name in LEFT_OUT)]
    touched, heard = listen([*more, *told.tests])
    for folder, (lines, known) in shares(heard).items():
        print(f"{folder:32} {known:6} of {lines:6} lines, {known / max(1, lines):6.1%}")
    print(f"{len(touched.costs)} tests, {len(touched.wrong)} failed: {touched.wrong}")
    if told.to:
        told.to.write_text(json.dumps(vars(touched)), encoding="utf-8")


if __name__ == "__main__":
    main()
