"""What is said about a drawing that many rows use: each thing once, where it matters."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.check import CheckOutcome, check_tables
from sheetplan.model import Problem, Weight
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


def doubtful(folder: Path, parts: int, ordered: int) -> list[Problem]:
    """Notes on parts with a small hole each, still to confirm, of which the first few are ordered."""

    def drilled(msp) -> None:
        for i in range(parts):
            box_lines(msp, 100 * i, 0, 80, 60)
            msp.add_circle((100 * i + 40, 30), 2)

    (folder / "many.dxf").write_bytes(dxf(space(drilled)))
    made = plain_rows()
    made["Cutting"][0]["Least hole"] = 0.25
    kept = {key: made["Parts"][0][key] for key in ("Material", "Thickness")}
    doubt = "to confirm: the drawing states no unit"
    made["Parts"] += [
        {**kept, "Part": f"P-{i}", "Drawing": f"many.dxf#{i}", "Description": doubt}
        for i in range(1, parts + 1)
    ]
    made["Parts"][-parts]["Description"] += "; names say different thicknesses"
    made["Orders"] += [{"Order": "X", "Item": f"P-{i}", "Quantity": 1} for i in range(1, ordered + 1)]
    found = check_tables(tables_of(made), folder / "book.xlsx")
    assert found.job is not None
    return [p for p in found.problems if p.page == "Parts"]


def test_doubts_of_many_parts_are_told_once_a_kind_with_their_count(tmp_path: Path) -> None:
    notes = doubtful(tmp_path, 30, 30)
    assert len(notes) == 2
    confirm, holes = (note.what for note in notes)
    assert "30 parts are still to confirm: the drawing states no unit: P-1, P-2, P-3 and 27 more" in confirm
    assert "names say different thicknesses: P-1." in confirm
    assert "30 parts have holes below Least hole: P-1, P-2, P-3 and 27 more. The first: 1 hole below" in holes
    assert "Least hole on the page Cutting" in notes[1].remedy


def test_doubts_of_few_parts_are_told_at_their_rows_and_of_unordered_ones_not_at_all(tmp_path: Path) -> None:
    notes = doubtful(tmp_path, 30, 2)
    assert sorted(note.row or 0 for note in notes) == [8, 8, 9, 9]
    assert all(note.cell for note in notes)


@pytest.mark.parametrize("files", [3, 12])
def test_repairs_of_many_drawings_are_told_together(tmp_path: Path, files: int) -> None:
    made = plain_rows()
    kept = {key: made["Parts"][0][key] for key in ("Material", "Thickness")}
    for i in range(files):

        def twice(msp, side: float = 60.0 + i) -> None:
            box_lines(msp, 0, 0, 80, side)
            box_lines(msp, 0, 0, 80, side)

        (tmp_path / f"f{i}.dxf").write_bytes(dxf(space(twice)))
        made["Parts"].append({**kept, "Part": f"P-{i}", "Drawing": f"f{i}.dxf"})
        made["Orders"].append({"Order": "X", "Item": f"P-{i}", "Quantity": 1})
    found = check_tables(tables_of(made), tmp_path / "book.xlsx").problems
    notes = [p for p in found if "show" in p.remedy]
    if files == 3:
        assert [note.row for note in notes] == [8, 9, 10]
    else:
        [note] = notes
        assert note.what.startswith("12 drawings were repaired as they were read. The first, f0.dxf: ")
    assert {note.weight for note in notes} == {Weight.NOTE}


def test_a_hole_narrower_than_the_kerf_stops_the_plan_only_where_its_part_is_ordered(tmp_path: Path) -> None:
    def narrow(msp) -> None:
        box_lines(msp, 0, 0, 80, 60)
        msp.add_circle((40, 30), 0.5)

    (tmp_path / "narrow.dxf").write_bytes(dxf(space(narrow)))
    made = plain_rows()
    kept = {key: made["Parts"][0][key] for key in ("Material", "Thickness")}
    made["Parts"].append({**kept, "Part": "N", "Drawing": "narrow.dxf"})
    for weight in (Weight.NOTE, Weight.STOPS):
        found = check_tables(tables_of(made), tmp_path / "book.xlsx").problems
        [told] = [p for p in found if "kerf" in p.what]
        assert told.weight is weight
        made["Orders"].append({"Order": "X", "Item": "N", "Quantity": 1})


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


@pytest.mark.parametrize(
    ("typed", "printed"),
    [
        ("to confirm: material not said; ask the office", ""),
        ("cannot be used: lines cross at (1, 2). Mend the drawing, or delete the part here and in Kits.", ""),
        ("cannot be used under water", "cannot be used under water"),
    ],
)
def test_a_note_of_import_is_no_description_of_the_part(tmp_path: Path, typed: str, printed: str) -> None:
    made = plain_rows()
    made["Parts"][0]["Description"] = typed
    job = check_tables(tables_of(made), tmp_path / "book.xlsx").job
    assert job is not None
    assert job.parts[made["Parts"][0]["Part"]].description == printed
