"""Wrong lines as `python -m tests.hard.mutants` draws them."""

from __future__ import annotations

from pathlib import Path

from tests.hard.mutants import ROOMS, drawn
from tests.hard.mutants_alike import ALIKE
from tests.hard.mutating import changes, imported, stands_over

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
