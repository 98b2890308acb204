"""A drawing that changes under a book is told at its row, and not planned until it is accepted."""

from __future__ import annotations

import datetime
import errno
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sheetplan.app.check import check_book, check_tables
from sheetplan.app.making.drawings import accept, known_outlines, outlines_file, remember
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.square import Measured, square
from sheetplan.app.rack.undo import undo_cut
from sheetplan.cli.commands import app, main
from sheetplan.model import Weight
from sheetplan.planning import never, quiet
from tests.hard.drawing_edits import Thing, draw, edited, followed
from tests.hard.drawing_edits import planned as planned_kit
from tests.nasty.books.plain import plain_rows, tables_of, write_book
from tests.nasty.drawings_making import dxf, space


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.mark.parametrize("seed", range(8))
def test_edits_after_a_plan_are_told_or_harmless(tmp_path: Path, seed: int) -> None:
    """A few of the edits that `tests.hard.drawing_edits` makes by the hundred."""
    edited(tmp_path, seed)


def test_nothing_of_a_changed_part_is_squared_cut_locked_or_planned_without_a_word(tmp_path: Path) -> None:
    """An outline deleted, another unit, two swapped; a hundred edits by `tests.hard.drawing_edits`."""
    plan = planned_kit(tmp_path / "first")
    for seed in (6, 13, 14):
        (tmp_path / str(seed)).mkdir()
        followed(tmp_path / "first", plan, tmp_path / str(seed), seed)


DAY = datetime.date(2026, 11, 2)
WHEELS = [Thing("wheel", 0, 0), Thing("plate", 200, 0)]


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a book that was planned on a drawing of two outlines."""
    folder = tmp_path_factory.mktemp("drawn")
    (folder / "kit.dxf").write_bytes(dxf(space(draw(WHEELS))))
    rows = plain_rows()
    steel = {"Material": "mild steel", "Thickness": "10 ga"}
    rows["Parts"] += [{"Part": f"K-{i}", **steel, "Drawing": f"kit.dxf#{i}"} for i in (1, 2)]
    rows["Orders"] = [{"Order": "X", "Item": item, "Quantity": 4} for item in ("K-1", "K-2")]
    book = write_book(folder / "book.xlsx", rows)
    outcome = plan_book(book, PlanAsked(DAY, seconds=0.3, seed=1), stop=never, report=quiet, workers=1)
    assert outcome.plan is not None, outcome.problems
    return folder


def test_a_disc_added_on_the_left_leaves_the_parts_what_they_were(planned: Path, tmp_path: Path) -> None:
    book = copied(planned, tmp_path)
    assert set(known_outlines(book)[0]) >= {"k-1", "k-2"}
    drawn(book, [Thing("disc", -300, 0), *WHEELS])
    outcome = check_book(book, DAY)
    assert outcome.job is not None
    assert len(outcome.job.parts["K-1"].outline.holes) == 1
    notes = [p.what for p in outcome.problems if "it is the same" in p.what]
    assert len(notes) == 2
    assert "kit.dxf#1 is kit.dxf#2 now" in notes[0]


def test_choosing_layers_renumbers_and_leaves_the_parts_what_they_were(tmp_path: Path) -> None:
    """Without the layer of the disc, the wheel that was #2 is #1."""
    things = [Thing("disc", -300, 0, layer="SPARE"), *(replace(thing, layer="CUT") for thing in WHEELS)]
    (tmp_path / "kit.dxf").write_bytes(dxf(space(draw(things))))
    rows = plain_rows()
    steel = {"Material": "mild steel", "Thickness": "10 ga"}
    rows["Parts"] += [{"Part": f"K-{i}", **steel, "Drawing": f"kit.dxf#{i}"} for i in (1, 2, 3)]
    first = check_tables(tables_of(rows), tmp_path / "book.xlsx")
    assert first.job is not None
    remember(tmp_path / "book.xlsx", first.outlines)
    for row in rows["Parts"][-3:]:
        row["Cut layers"] = "CUT"
    outcome = check_tables(tables_of(rows), tmp_path / "book.xlsx")
    assert outcome.job is not None
    for name in ("K-2", "K-3"):
        assert outcome.job.parts[name].outline == first.job.parts[name].outline
    assert "K-1" not in outcome.job.parts
    assert any("kit.dxf#1 has changed since it was planned" in p.what for p in outcome.problems)


def test_a_changed_part_is_not_planned_or_squared_until_it_is_accepted(
    planned: Path, tmp_path: Path
) -> None:
    book = copied(planned, tmp_path)
    drawn(book, [Thing("disc", 0, 0, hole=0.0), WHEELS[1]])
    outcome = check_book(book, DAY)
    told = [p for p in outcome.problems if "has changed since it was planned" in p.what]
    assert len(told) == 1
    assert "it was a disc of 3.937 in with 1 hole and is now a disc of 1.575 in" in told[0].what
    assert outcome.stops
    run = CliRunner().invoke
    before = sorted((book.parent / "layouts").rglob("*"))
    for command, why in (
        (["plan", str(book), "--seconds", "1", "--lock", "L1"], "has changed since it was planned"),
        (["square", str(book), "L1", "--corner", "0,0", "--angle", "1"], "another one than L1 was planned"),
    ):
        result = run(app, command)
        assert result.exit_code == 1, (command, result.output)
        assert why in " ".join(result.output.split()), command
    assert sorted((book.parent / "layouts").rglob("*")) == before
    said = run(app, ["accept", str(book), "K-1"])
    assert "is now a disc of 1.575 in" in said.output
    assert "No drawing" in run(app, ["accept", str(book)]).output
    assert not any(p.weight is Weight.STOPS for p in check_book(book, DAY).problems)
    result = run(app, ["square", str(book), "L1", "--corner", "0,0", "--angle", "1"])
    assert result.exit_code == 1
    assert "another one than L1 was planned with" in " ".join(result.output.split())


def test_what_was_cut_before_a_drawing_changed_is_recorded_as_it_was_planned(
    planned: Path, tmp_path: Path
) -> None:
    """The sheet is cut, whatever the drawing shows by now; the log says so, and undo takes it back."""
    book = copied(planned, tmp_path)
    drawn(book, [Thing("disc", 0, 0, hole=0.0), WHEELS[1]])
    [done] = record_cuts(book, [CutAsked("L1")], today=DAY)
    assert "cut as planned, before the drawing of K-1 changed" in done.step.note
    assert any("or the change accepted" in one for one in done.sentences)
    assert done.step.weights.parts > 0.0
    assert sum(one.pieces for one in done.step.credits) == 8
    assert check_book(book, DAY).stops
    undo_cut(book)
    (book.parent / "kit.dxf").unlink()
    [done] = record_cuts(book, [CutAsked("L1")], today=DAY)
    assert done.step.pieces == {"K-1": 4, "K-2": 4}


@pytest.mark.parametrize("gone", ["outline", "file", "reading"])
def test_an_outline_that_is_gone_is_refused_at_the_table_and_told_in_the_log(
    planned: Path, tmp_path: Path, gone: str
) -> None:
    book = copied(planned, tmp_path)
    if gone == "outline":
        drawn(book, WHEELS[:1])
    elif gone == "file":
        (book.parent / "kit.dxf").unlink()
    else:
        (book.parent / "kit.dxf").write_bytes(b"0\nSECTION\n")
    with pytest.raises(Refused, match="K-2 is gone or another one than L1 was planned with"):
        square(book, "L1", Measured((0.0, 0.0), angle=1.0))
    [done] = record_cuts(book, [CutAsked("L1")], today=DAY)
    assert "cut as planned, before the drawing of" in done.step.note
    assert "K-2" in done.step.note
    assert done.step.pieces == {"K-1": 4, "K-2": 4}


def test_another_drawing_in_the_row_is_the_planners_own_change(planned: Path, tmp_path: Path) -> None:
    """What is kept belongs to what the row named; under another name it is no change of a drawing."""
    book = copied(planned, tmp_path)
    shutil.copy(book.parent / "kit.dxf", book.parent / "other.dxf")
    known, _ = known_outlines(book)
    text = outlines_file(book).read_text(encoding="utf-8").replace("kit.dxf#1", "other.dxf#2")
    outlines_file(book).write_text(text, encoding="utf-8")
    assert known_outlines(book)[0] != known
    assert not any("changed" in p.what for p in check_book(book, DAY).problems)


def test_a_damaged_file_of_outlines_is_told(planned: Path, tmp_path: Path) -> None:
    book = copied(planned, tmp_path)
    outlines_file(book).write_text("{", encoding="utf-8")
    assert any("cannot be read" in p.what for p in check_book(book, DAY).problems)
    assert check_book(book, DAY).stops


def test_a_disk_that_is_full_before_outlines_are_kept_leaves_the_book_as_it_was(
    planned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    book = copied(planned, tmp_path)
    outlines_file(book).unlink()

    def full(path: Path, data: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", str(path))

    monkeypatch.setattr("sheetplan.workbook.package.saving.put_file", full)
    monkeypatch.setattr(sys, "argv", ["sheetplan", "plan", str(book), "--seconds", "0.3"])
    before = book.read_bytes()
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 3
    said = capsys.readouterr().out
    assert "book.outlines.json: No space left on device." in said
    assert "Nothing was changed." in said or "The workbook was not changed." in said
    assert book.read_bytes() == before


def test_nothing_changed_accepts_nothing(planned: Path, tmp_path: Path) -> None:
    assert accept(copied(planned, tmp_path)) == ()


def copied(planned: Path, folder: Path) -> Path:
    shutil.copytree(planned, folder / "copy")
    return folder / "copy" / "book.xlsx"


def drawn(book: Path, things: list[Thing]) -> None:
    (book.parent / "kit.dxf").write_bytes(dxf(space(draw(things))))
