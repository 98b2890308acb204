"""Which functions of the rooms that search no plan reaches: nothing there may be dead.

Plans the demo in both units, again with a lock, a pick, greater and smaller orders, once stopped at its first
word, and prices its quotes; a messy kit; jobs of plates, with room for none of them and without a gap; small
books of true shapes, one gauge of them for long; odd remnants; and a book handed to an executor that pickles
all work. Listens to every Python function that is called meanwhile, in all threads. A compiled kernel cannot
be listened to: it counts as reached where a reached function, or such a kernel, names it. Prints the rest;
exit code 1 unless each stands in `NAMED`. Takes about ten minutes.

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
import threading
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from dataclasses import replace
from pathlib import Path
from types import CodeType, FrameType, ModuleType
from typing import Any

import openpyxl

import sheetplan.packing
import sheetplan.planning
from sheetplan.app.plan import PlanAsked, PlanOutcome, plan_book
from sheetplan.app.quote import quote_book
from sheetplan.model import Job, Kit, Loop, Plan
from sheetplan.planning import RunOptions, plan_job, quiet
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.whatif.fits import fits_of
from sheetplan.shapes import box, circle_loop
from sheetplan.trade.units import Units
from tests.bench.messy_parts import messy_job
from tests.bench.shop_jobs import shop_job
from tests.demo import demo_book, demo_job
from tests.planning.bounds.test_bounds_of_shapes import book as book_of_shapes

ROOMS = (sheetplan.packing, sheetplan.planning)
TODAY = datetime.date(2026, 11, 3)

NAMED = {
    "SheetPacker.fill": "the words of a protocol, which has no body",
    "compiled": "called as the modules are fetched",
    "gauge_metals": "asked when a month is closed",
    "with_less": "asked where a quote for fewer would cost more than one for more",
    "never": "a packer's stop where it counts no work, and so does not ask",
    "make_kernels_ready": "called where a run has no crew: benchmarks and tests",
}
"""What no plan reaches and is kept, with the reason."""

DEEP, DEEP_SECONDS = "stainless 304 14 ga", 60.0
"""A gauge of true shapes that is searched until nothing promises anything."""

SMALL = (0, 11, 13, 16, 35)
"""Books of a few true shapes that take proofs far."""

NOTHING = Kit("", {})

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
        threading.setprofile(self._heard)
        sys.setprofile(self._heard)
        return self

    def __exit__(self, *_: object) -> None:
        sys.setprofile(None)
        threading.setprofile(None)

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
    outcome = plan_book(book, PlanAsked(TODAY, seconds, 1, picks, locks), **given)
    assert outcome.plan is not None, outcome.problems
    return outcome


def walk(seconds: float) -> None:
    """Every way in which a planner comes to a plan."""
    with tempfile.TemporaryDirectory() as there:
        names = ("inches", "changed", "millimetres", "stopped")
        folders = {name: Path(there) / name for name in names}
        for folder in folders.values():
            folder.mkdir()
        book = demo_book(folders["inches"])
        outcome = plan(book, seconds)
        layout = outcome.plan.groups[-1].layouts[0].tag
        plan(book, seconds, locks=(layout,))
        plan(book, seconds, picks=("C1",))
        book = demo_book(folders["changed"])
        plan(book, seconds)
        for factor, most in ((2.0, 1), (1.2, 100), (0.5, 100)):
            change(book, factor, most)
            plan(book, seconds)
        quote_book(book, today=TODAY, seconds=None, report=quiet)
        plan(demo_book(folders["millimetres"], Units.MM), seconds)
        plan(demo_book(folders["stopped"]), seconds, stop=lambda: True)
    for job in (messy_job(1), shop_job(500, 6, 0), shop_job(2000, 1, 0)):
        alone(job, seconds)
    plates = shop_job(100, 1, 0)
    alone(without_gap(plates), seconds)
    alone(replace(plates, stock=tuple(replace(one, buy_limit=2) for one in plates.stock)), seconds)
    alone(replace(plates, stock=()), seconds)
    for seed in SMALL:
        alone(book_of_shapes(seed)[0], seconds)
    job = demo_job()
    alone(of_gauge(job, DEEP), DEEP_SECONDS)
    alone(with_odd_remnants(job), seconds)
    made = alone(job, seconds, Inline())
    fits_of(made, seconds=10.0 * seconds, stop=lambda: False, report=quiet, executor=Inline())


def of_gauge(job: Job, label: str) -> Job:
    """The job with the parts of one gauge alone, in its kits as well."""
    (group,) = (group for group in make_groups(job)[0] if group.label == label)
    names = {need.part for need in group.needs}
    kits = {
        name: replace(kit, parts={part: n for part, n in kit.parts.items() if part in names})
        for name, kit in job.kits.items()
    }
    orders = tuple(one for one in job.orders if one.item in names or kits.get(one.item, NOTHING).parts)
    return replace(job, parts={name: job.parts[name] for name in names}, kits=kits, orders=orders)


def with_odd_remnants(job: Job) -> Job:
    """The job with a corner of each remnant cut off and a hole cut in it."""
    odd = []
    for one in job.remnants:
        at = box(one.edge)
        (left, bottom), (right, top) = (at.left, at.bottom), (at.right, at.top)
        edge = [(left, bottom), (right, bottom), (right, (bottom + top) / 2.0), (left, top)]
        hole = circle_loop(left + 60.0, bottom + 60.0, 40.0)
        odd.append(replace(one, edge=Loop(tuple((x, y, 0.0) for x, y in edge)), cuts=(hole,)))
    return replace(job, remnants=tuple(odd))


def without_gap(job: Job) -> Job:
    """The job with parts that may touch and lie at the sheet's edge, so that boxes can be proven."""
    return replace(job, rules=tuple(replace(rule, gap=0.0, margin=0.0) for rule in job.rules))


def alone(job: Job, seconds: float, executor: Executor | None = None) -> Plan:
    """A job planned with a clock that stands still, so that all its counted work is done."""
    return plan_job(job, RunOptions(seconds, executor=executor, clock=lambda: 0.0))


def change(book: Path, factor: float, most: int) -> None:
    """So many times as much of every order, or of the first ones alone."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of print areas that openpyxl does not take
        opened = openpyxl.load_workbook(book)
    page = opened["Orders"]
    column = next(cell.column for row in page.iter_rows() for cell in row if cell.value == "Quantity")
    cells = [cell for (cell,) in page.iter_rows(min_col=column, max_col=column)]
    for cell in [cell for cell in cells if isinstance(cell.value, int)][:most]:
        cell.value = round(factor * cell.value)
    opened.save(book)


def unreached(called: set[Key]) -> list[str]:
    """What stands in the rooms and was not reached, as `file: name`."""
    functions = [(module, name, value) for module in modules() for name, value in written(module)]
    kernels = [value.py_func for _, _, value in functions if hasattr(value, "py_func")]
    plain = [value for _, _, value in functions if not hasattr(value, "py_func")]
    names = {
        name
        for function in plain if (function.__code__.co_filename, function.__code__.co_firstlineno) in called
        for code in codes(function) for name in code.co_names
    }  # fmt: skip
    reached: set[str] = set()
    while names - reached:
        reached |= names
        names = {
            name
            for kernel in kernels if kernel.__name__ in reached
            for code in codes(kernel) for name in code.co_names
        }  # fmt: skip
    found = []
    for module, name, value in functions:
        known = value.py_func.__name__ in reached if hasattr(value, "py_func") else _was_called(value, called)
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
