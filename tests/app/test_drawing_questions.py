"""What is said about a drawing that many rows use: each thing once, where it matters."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.check import CheckOutcome, check_tables
from sheetplan.model import Weight
from tests.nasty.books.plain import plain_rows, tables_of
from tests.nasty.drawings_making import box_lines, dxf, space


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def many(msp) -> None:
    """Twelve plates, and an open line that belongs to none of them; another crosses the last plate."""
    for i in range(12):
        box_lines(msp, 100 * i, 0, 80, 60)
    msp.add_line((0, -200), (80, -220))
    msp.add_line((1110, 10), (1170, 20))


def checked(folder: Path, count: int = 12) -> CheckOutcome:
    (folder / "many.dxf").write_bytes(dxf(space(many)))
    made = plain_rows()
    first: dict[str, Any] = made["Parts"][0]
    kept = {key: first[key] for key in ("Material", "Thickness")}
    made["Parts"] += [{**kept, "Part": f"P-{i}", "Drawing": f"many.dxf#{i}"} for i in range(1, count + 1)]
    made["Orders"].append({"Order": "X", "Item": "P-5", "Quantity": 1})
    return check_tables(tables_of(made), folder / "book.xlsx")


def test_a_files_question_is_said_once_on_a_part_that_is_ordered(tmp_path: Path) -> None:
    outcome = checked(tmp_path)
    asked = [p for p in outcome.problems if p.page == "Parts" and "ends nowhere" in p.what]
    notes = [p for p in asked if p.weight is Weight.NOTE]
    assert len(notes) == 1
    rows = {p.row for p in outcome.problems if "many.dxf#12" in p.what}
    assert notes[0].row == min(rows) - 7  # P-5, seven rows above P-12


def test_one_flaw_leaves_one_part_out_and_the_orders_of_the_others_stand(tmp_path: Path) -> None:
    outcome = checked(tmp_path)
    assert outcome.job is not None
    assert {f"P-{i}" for i in range(1, 12)} <= set(outcome.job.parts)
    assert "P-12" not in outcome.job.parts
    assert not outcome.stops


def test_an_unreadable_file_is_told_whole_once(tmp_path: Path) -> None:
    (tmp_path / "bad.dxf").write_bytes(b"0\nSECTION\n2\nENTITIES\n0\nLINE\n")
    made = plain_rows()
    kept = {key: made["Parts"][0][key] for key in ("Material", "Thickness")}
    made["Parts"] += [{**kept, "Part": f"P-{i}", "Drawing": "bad.dxf"} for i in range(5)]
    outcome = check_tables(tables_of(made), tmp_path / "book.xlsx")
    told = [p.what for p in outcome.problems if "bad.dxf" in p.what]
    assert len(told) == 5
    assert sum("cannot be used" not in what for what in told) <= 1
