"""Which functions of the rooms that search no plan reaches: nothing there may be dead.

Plans the demo in both units, again with a lock, a pick and a changed order, once stopped at its first word,
a messy kit, two jobs of plates and a book handed to an executor that pickles all work, and listens to every
Python function that is called meanwhile. A compiled kernel cannot be listened to: it counts as reached where
a reached function, or such a kernel, names it. Prints the rest; exit code 1 unless each stands in `NAMED`.

    python -m tests.hard.reached [--seconds 12]
"""

from __future__ import annotations

import argparse
import dataclasses
import datetime
import importlib
import inspect
import pickle
import pkgutil
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from pathlib import Path
from types import CodeType, FrameType, ModuleType
from typing import Any

import openpyxl

import sheetplan.packing
import sheetplan.planning
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.model import Job
from sheetplan.planning import RunOptions, plan_job, quiet
from sheetplan.trade.units import Units
from tests.bench.messy_parts import messy_job
from tests.bench.shop_jobs import shop_job
from tests.demo import demo_book, demo_job

ROOMS = (sheetplan.packing, sheetplan.planning)
TODAY = datetime.date(2026, 11, 3)

NAMED = {
    "SheetPacker.fill": "the words of a protocol, which has no body",
    "make_kernels_ready": "called where a run has no crew: benchmarks and tests",
}
"""What no plan reaches and is kept, with the reason."""

Key = tuple[str, int]
"""File and line of a function."""


def modules() -> Iterator[ModuleType]:
    for room in ROOMS:
        for found in pkgutil.walk_packages(room.__path__, room.__name__ + "."):
            yield importlib.import_module(found.name)


def codes(function: Callable[..., object]) -> Iterator[CodeType]:
    """The code of a function and of those within it."""
    waiting = [function.__code__]
    while waiting:
        code = waiting.pop()
        yield code
        waiting += [const for const in code.co_consts if isinstance(const, CodeType)]


def plain_of(raw: object) -> object:
    """The function behind a property, a cached property, a class method or a static one."""
    for name in ("fget", "func", "__func__"):
        if getattr(raw, name, None) is not None:
            return getattr(raw, name)
    return raw


def written(module: ModuleType) -> Iterator[tuple[str, Any]]:
    """Functions and methods that stand in a module, by name; kernels as their dispatchers."""
    for name, value in vars(module).items():
        if getattr(value, "__module__", "") != module.__name__:
            continue
        if inspect.isclass(value):
            made = dataclasses.is_dataclass(value)
            for method, raw in vars(value).items():
                plain = plain_of(raw)
                here = inspect.isfunction(plain) and plain.__code__.co_filename == module.__file__
                if here and not (made and method.startswith("__")):
                    yield f"{name}.{method}", plain
        elif inspect.isfunction(value) or hasattr(value, "py_func"):
            yield name, value


class Listening:
    """The functions of the rooms that were called while it lasted."""

    def __init__(self) -> None:
        self.called: set[Key] = set()
        self._files = tuple(str(Path(room.__path__[0])) for room in ROOMS)

    def __enter__(self) -> Listening:
        sys.setprofile(self._heard)
        return self

    def __exit__(self, *_: object) -> None:
        sys.setprofile(None)

    def _heard(self, frame: FrameType, event: str, _: object) -> None:
        if event == "call" and frame.f_code.co_filename.startswith(self._files):
            self.called.add((frame.f_code.co_filename, frame.f_code.co_firstlineno))


class Inline(Executor):
    """Does the work at once, but hands it over as to another process: pickled both ways."""

    def submit(self, call: Callable[..., Any], /, *args: Any, **named: Any) -> Future[Any]:
        future: Future[Any] = Future()
        call, args, named = pickle.loads(pickle.dumps((call, args, named)))
        future.set_result(pickle.loads(pickle.dumps(call(*args, **named))))
        return future


def plan(
    book: Path, seconds: float, locks: tuple[str, ...] = (), picks: tuple[str, ...] = (), **more: Any
) -> PlanOutcome:
    given = {"stop": lambda: False, "report": quiet, "workers": 1, **more}
    return plan_book(book, PlanAsked(TODAY, seconds, 1, picks, locks), **given)


def walk(seconds: float) -> None:
    """Every way in which a planner comes to a plan."""
    with tempfile.TemporaryDirectory() as there:
        folders = [Path(there) / name for name in ("inches", "millimetres", "stopped")]
        for folder in folders:
            folder.mkdir()
        book = demo_book(folders[0])
        outcome = plan(book, seconds)
        assert outcome.plan is not None
        layout = outcome.plan.groups[-1].layouts[0].tag
        plan(book, seconds, locks=(layout,))
        plan(book, seconds, picks=("C1",))
        change(book)
        plan(book, seconds)
        plan(demo_book(folders[1], Units.MM), seconds)
        plan(demo_book(folders[2]), seconds, stop=lambda: True)
    for job in (messy_job(1), shop_job(500, 6, 0), shop_job(2000, 1, 0)):
        alone(job, seconds)
    alone(demo_job(), seconds, Inline())


def alone(job: Job, seconds: float, executor: Executor | None = None) -> None:
    """A job planned with a clock that stands still, so that all its counted work is done."""
    plan_job(job, RunOptions(seconds, executor=executor, clock=lambda: 0.0))


def change(book: Path) -> None:
    """One more of the first order."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of print areas that openpyxl does not take
        opened = openpyxl.load_workbook(book)
    page = opened["Orders"]
    column = next(cell.column for row in page.iter_rows() for cell in row if cell.value == "Quantity")
    cell = next(
        row[0] for row in page.iter_rows(min_col=column, max_col=column) if isinstance(row[0].value, int)
    )
    cell.value += 1
    opened.save(book)


def unreached(called: set[Key]) -> list[str]:
    """What stands in the rooms and was not reached, as `file: name`."""
    functions = [(module, name, value) for module in modules() for name, value in written(module)]
    kernels = {
        value.py_func.__name__: value.py_func for _, _, value in functions if hasattr(value, "py_func")
    }
    plain = [value for _, _, value in functions if not hasattr(value, "py_func")]
    names = {
        name
        for function in plain if (function.__code__.co_filename, function.__code__.co_firstlineno) in called
        for code in codes(function) for name in code.co_names
    }  # fmt: skip
    waiting = [name for name in kernels if name in names]
    reached = set(waiting)
    while waiting:
        one = waiting.pop()
        more = [n for code in codes(kernels[one]) for n in code.co_names if n in kernels]
        waiting += [n for n in more if n not in reached]
        reached |= set(more)
    found = []
    for module, name, value in functions:
        known = name in reached if hasattr(value, "py_func") else _was_called(value, called)
        if not known:
            found.append(f"{module.__name__.removeprefix('sheetplan.')}: {name}")
    return found


def _was_called(function: Callable[..., object], called: set[Key]) -> bool:
    return (function.__code__.co_filename, function.__code__.co_firstlineno) in called


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.hard.reached", description=__doc__)
    parser.add_argument("--seconds", type=float, default=12.0)
    told = parser.parse_args()
    list(modules())
    with Listening() as heard:
        walk(told.seconds)
    missing = unreached(heard.called)
    dead = [line for line in missing if line.rpartition(": ")[2] not in NAMED]
    for line in missing:
        print(line, "-", NAMED.get(line.rpartition(": ")[2], "REACHED BY NO PLAN"))
    print(f"{len(missing) - len(dead)} named exceptions, {len(dead)} functions that no plan reaches")
    sys.exit(1 if dead else 0)


if __name__ == "__main__":
    main()
