"""Wrong lines as `python -m tests.hard.mutants` draws them."""

from __future__ import annotations

import importlib.util
import json
import os
import time
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

import pytest

from tests.hard.mutants import ROOMS, drawn
from tests.hard.mutants_alike import ALIKE
from tests.hard.mutating import changes, imported, stands_over
from tests.hard.trying import AT_IMPORT, Touched, Trial, leave, put_in, worked

ROOT = Path(__file__).parents[2]

SOURCE = '''\
"""Words."""

MOST = 3


def paid(hours: float, rate: float = 2.0) -> float:
    """Words."""
    assert hours >= 0.0
    if hours > MOST and rate:
        return hours * rate
    rest = max(
        hours, 0.0
    )
    print(rest)
    return rest + 1
'''

BY_HAND = {
    (3, "MOST = 4"), (3, "MOST = 2"),
    (6, "def paid(hours: float, rate: float = 4.0) -> float:"),
    (9, "    if (hours >= MOST) and rate:"), (9, "    if (hours <= MOST) and rate:"),
    (9, "    if (hours > MOST or rate):"), (9, "    if (not (hours > MOST and rate)):"),
    (10, "        return (hours / rate)"), (10, "        return 0.0"),
    (11, "    rest = min("), (12, "        hours, 1.0"),
    (14, "    pass"),
    (15, "    return (rest - 1)"), (15, "    return 0.0"),
    (15, "    return rest + 2"), (15, "    return rest + 0"),
}  # fmt: skip
"""Every slip of the kinds that `mutating` names, written down by a reader."""


def test_the_slips_of_a_small_source() -> None:
    found = changes(SOURCE)
    assert {(change.line, change.after) for change in found} == BY_HAND
    assert all(change.counts(SOURCE) for change in found)
    assert {change.line for change in found if change.at_import} == {3, 6}


def test_a_change_is_of_one_line() -> None:
    right = SOURCE.split("\n")
    for change in changes(SOURCE):
        wrong = change.made_in(SOURCE).split("\n")
        assert [n for n, (a, b) in enumerate(zip(right, wrong, strict=True), 1) if a != b] == [change.line]


def test_a_line_belongs_to_its_innermost_statement() -> None:
    assert stands_over(SOURCE, 12) == range(11, 14)
    assert stands_over(SOURCE, 9) == range(9, 10)


def test_what_a_module_imports_by_way_of_its_packages(tmp_path: Path) -> None:
    (tmp_path / "p" / "q").mkdir(parents=True)
    (tmp_path / "p" / "__init__.py").write_text("")
    (tmp_path / "p" / "q" / "__init__.py").write_text("from p import one\n")
    (tmp_path / "p" / "one.py").write_text("import json\n")
    (tmp_path / "p" / "two.py").write_text("from p.q import three\n")
    (tmp_path / "p" / "q" / "three.py").write_text("")
    needs = imported(tmp_path, "p")
    assert needs["p.q"] == {"p", "p.one"}
    assert needs["p.two"] == {"p", "p.q", "p.q.three"}
    assert needs["p.one"] == {"p"}


def test_the_same_lines_are_drawn_again_and_none_twice() -> None:
    first = list(drawn(ROOT, list(ROOMS), 20, 3))
    assert first == list(drawn(ROOT, list(ROOMS), 20, 3))
    assert len({(one.name, one.change.line) for one in first}) == 20
    assert sorted(sum(one.room == room for one in first) for room in ROOMS) == [6, 7, 7]


def test_lines_that_are_said_to_be_alike_stand_in_the_source() -> None:
    for name, before, after in ALIKE:
        here = [c for c in changes((ROOT / name).read_text(encoding="utf-8")) if c.before.strip() == before]
        assert after in {change.after.strip() for change in here}, (name, before)


def module_of(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("small", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_wrong_code_is_put_into_functions_that_are_there(tmp_path: Path) -> None:
    path = tmp_path / "small.py"
    path.write_text(SOURCE, encoding="utf-8")
    paid = module_of(path).paid
    assert paid(4.0, 2.0) == 8.0
    (change,) = (one for one in changes(SOURCE) if "hours / rate" in one.after)
    path.write_text(change.made_in(SOURCE), encoding="utf-8")
    assert put_in(path)
    assert paid(4.0, 2.0) == 2.0


def test_two_functions_that_are_not_told_apart_are_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "small.py"
    path.write_text("both = (lambda: 1), (lambda: 2)\n", encoding="utf-8")
    both = module_of(path).both
    path.write_text("both = (lambda: 3), (lambda: 4)\n", encoding="utf-8")
    assert not put_in(path)
    assert [one() for one in both] == [1, 2]


def touched(tmp_path: Path) -> Touched:
    """Two runs: lines 9 and 10 are touched by three tests, of which one fails on the right source too."""
    runs = [
        {"lines": {"small.py": {"3": [AT_IMPORT], "9": ["t.py::a"]}}, "costs": {"t.py::a": 2.0},
         "uses": {"t.py::a": []}, "wrong": [], "libraries": ["json"]},
        {"lines": {"small.py": {"9": ["u.py::b"], "10": ["u.py::b", "u.py::c"]}},
         "costs": {"u.py::b": 0.2, "u.py::c": 500.0, "made": 0.8},
         "uses": {"u.py::b": ["made"], "u.py::c": ["made"]}, "wrong": ["t.py::a"],
         "libraries": ["json", "math"]},
    ]  # fmt: skip
    paths = [tmp_path / f"{number}.json" for number in range(len(runs))]
    for path, run in zip(paths, runs, strict=True):
        path.write_text(json.dumps(run), encoding="utf-8")
    return Touched.read(paths)


def test_only_tests_that_touch_a_line_and_pass_are_asked_the_quickest_first(tmp_path: Path) -> None:
    found = touched(tmp_path)
    assert found.libraries == ["json", "math"]
    assert found.by("small.py", [3, 9]) == {"u.py::b"}
    assert found.cost(["u.py::b", "u.py::c"]) == 501.0, "what is made for both is made once"
    (tmp_path / "small.py").write_text(SOURCE, encoding="utf-8")
    trial = Trial(tmp_path, found, tmp_path)
    (edge, *_) = (one for one in changes(SOURCE) if one.line == 9)
    assert trial.asked("small.py", edge) == (["u.py::b"], 0)
    found.wrong.clear()
    assert trial.asked("small.py", edge) == (["u.py::b", "t.py::a"], 0)
    (inner, *_) = (one for one in changes(SOURCE) if one.line == 10)
    assert trial.asked("small.py", inner) == (["u.py::b"], 1), "500 seconds are too many"
    (constant, *_) = (one for one in changes(SOURCE) if one.line == 3)
    seen = trial.asked("small.py", constant)[0]
    assert seen == ["t.py::a", "u.py::b"], "whoever touches the file may see it"


def test_a_child_tells_what_failed_and_one_that_dies_is_caught(tmp_path: Path) -> None:
    trial = Trial(tmp_path, touched(tmp_path), tmp_path)
    assert trial.failed([], lambda tests, folder, changed: leave(folder, "t.py::a")) == "t.py::a"
    assert trial.failed([], lambda tests, folder, changed: leave(folder, "")) == ""
    assert trial.failed([], lambda tests, folder, changed: [][0]) == (
        "the run of the tests fails: list index out of range"
    )
    assert trial.failed([], lambda tests, folder, changed: os._exit(3)) == "the process died"


def test_a_child_that_waits_is_ended_and_one_that_is_slow_is_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a busy machine a child may take a hundred times the seconds that it works."""
    monkeypatch.setattr("tests.hard.trying.SLEEPING", 1.0)
    monkeypatch.setattr("tests.hard.trying.AWAKE", 0.005)
    trial = Trial(tmp_path, touched(tmp_path), tmp_path)

    def waits(tests: Sequence[str], folder: Path, changed: Path | None) -> None:
        time.sleep(600.0)

    def is_slow(tests: Sequence[str], folder: Path, changed: Path | None) -> None:
        begun = time.monotonic()
        while time.monotonic() < begun + 3.0:
            time.sleep(0.01)
            sum(range(100_000))
        leave(folder, "" if worked(os.getpid()) > 0.005 else "nothing was worked")

    assert trial.failed([], waits) == "out of time"
    assert trial.failed([], is_slow) == ""
