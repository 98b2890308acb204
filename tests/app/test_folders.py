"""Drawings of a plan: whole or not there, earlier plans set aside, never outside the book's folder."""

import os
from pathlib import Path

import pytest

from sheetplan.app.making import folders
from sheetplan.app.making.folders import (
    BOOK_NOTE,
    EARLIER_KEPT,
    RECORDS_KEPT,
    output_folder,
    publish,
    retire_others,
    sole_use,
)
from sheetplan.model import Problem
from sheetplan.rack.kept_plan import EXACT_FILE
from sheetplan.workbook.outcomes import BookInUse


@pytest.mark.parametrize(
    "asked",
    [
        "../out",
        "/tmp/out",
        "C:\\out",
        "C:out",
        "\\\\server\\share",
        "//server/share",
        "a/../../b",
        "layouts/../..",
    ],
)
def test_a_folder_outside_is_refused_with_the_reason(tmp_path: Path, asked: str) -> None:
    answer = output_folder(tmp_path / "book.xlsx", asked)
    assert isinstance(answer, Problem)
    assert answer.page == "Settings"
    assert asked in answer.what.replace("\\\\", "\\") or repr(asked) in answer.what
    assert "layouts" in answer.remedy


@pytest.mark.parametrize(
    ("asked", "parts"), [("layouts", ("layouts",)), ("out\\nov", ("out", "nov")), ("", ())]
)
def test_a_folder_beside_the_book_is_taken(tmp_path: Path, asked: str, parts: tuple[str, ...]) -> None:
    assert output_folder(tmp_path / "book.xlsx", asked) == tmp_path.joinpath(*parts)


def test_a_file_where_the_folder_is_to_be_is_found_before_the_search(tmp_path: Path) -> None:
    (tmp_path / "layouts").write_text("notes")
    answer = output_folder(tmp_path / "book.xlsx", "layouts/november")
    assert isinstance(answer, Problem)
    assert "layouts beside the workbook is a file" in answer.what


@pytest.mark.parametrize("name", ["book.backup.xlsx", "book results.xlsx"])
def test_a_folder_where_a_file_is_to_be_is_found_before_the_search(tmp_path: Path, name: str) -> None:
    (tmp_path / name).mkdir()
    answer = output_folder(tmp_path / "book.xlsx", "layouts")
    assert isinstance(answer, Problem)
    assert f"A folder is called {name}" in answer.what


@pytest.mark.skipif(os.name == "nt", reason="links need a privilege on Windows")
def test_a_link_that_leads_out_is_refused(tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    (home / "layouts").symlink_to(tmp_path)
    assert isinstance(output_folder(home / "book.xlsx", "layouts"), Problem)


def test_a_plan_is_published_whole(tmp_path: Path) -> None:
    folder = publish(tmp_path / "layouts", "ABCD", {"L1.dxf": b"one", "L2.dxf": b"two"}, "b.xlsx")
    assert folder == tmp_path / "layouts" / "plan-ABCD"
    held = {p.name: p.read_bytes() for p in folder.iterdir()}
    assert held == {"L1.dxf": b"one", "L2.dxf": b"two", BOOK_NOTE: b"b.xlsx\n"}
    assert [p.name for p in (tmp_path / "layouts").iterdir()] == ["plan-ABCD"]


def test_a_failed_write_leaves_what_was_there(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    publish(layouts, "ABCD", {"L1.dxf": b"one"}, "b.xlsx")
    with pytest.raises(OSError, match="missing"):
        publish(layouts, "WXYZ", {"L1.dxf": b"new", "missing/L2.dxf": b"no such folder"}, "b.xlsx")
    assert [p.name for p in layouts.iterdir()] == ["plan-ABCD"]
    assert (layouts / "plan-ABCD" / "L1.dxf").read_bytes() == b"one"


def test_the_same_plan_again_changes_nothing(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    first = publish(layouts, "ABCD", {"L1.dxf": b"one"}, "b.xlsx")
    written = (first / "L1.dxf").stat().st_mtime_ns
    publish(layouts, "ABCD", {"L1.dxf": b"one"}, "b.xlsx")
    assert (first / "L1.dxf").stat().st_mtime_ns == written
    assert [p.name for p in layouts.iterdir()] == ["plan-ABCD"]


def test_a_drawing_changed_by_hand_is_kept_aside(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    folder = publish(layouts, "ABCD", {"L1.dxf": b"one"}, "b.xlsx")
    (folder / "L1.dxf").write_bytes(b"one with my own lead-in")
    publish(layouts, "ABCD", {"L1.dxf": b"one"}, "b.xlsx")
    assert (layouts / "plan-ABCD" / "L1.dxf").read_bytes() == b"one"
    assert (layouts / "earlier" / "plan-ABCD" / "L1.dxf").read_bytes() == b"one with my own lead-in"


def test_earlier_plans_step_aside_and_only_the_newest_are_kept(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    marks = ["AAAA", "BBBB", "CCCC", "DDDD", "EEEE", "FFFF"]
    for age, mark in enumerate(marks):
        publish(layouts, mark, {"L1.dxf": mark.encode()}, "b.xlsx")
        retire_others(layouts, {mark}, "b.xlsx")
        for kept in (layouts / "earlier").glob(f"plan-{marks[age - 1]}"):
            os.utime(kept, (1_000_000 + age, 1_000_000 + age))
    assert [p.name for p in layouts.glob("plan-*")] == ["plan-FFFF"]
    kept = [f"plan-{mark}" for mark in marks[-1 - EARLIER_KEPT : -1]]
    assert sorted(p.name for p in (layouts / "earlier").iterdir()) == kept


def test_of_older_plans_what_a_cut_needs_is_kept_and_no_more_than_so_many(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    marks = [f"AA{first}{second}" for first in "ABCDEF" for second in "ABCDEF"]
    assert len(marks) > RECORDS_KEPT + 2
    for age, mark in enumerate(marks):
        publish(layouts, mark, {"L1.dxf": b"one", EXACT_FILE: mark.encode()}, "b.xlsx")
        retire_others(layouts, {mark}, "b.xlsx")
        for kept in (layouts / "earlier").glob(f"plan-{marks[age - 1]}"):
            os.utime(kept, (1_000_000 + age, 1_000_000 + age))
    held = {p.name: {q.name for q in p.iterdir()} for p in (layouts / "earlier").iterdir()}
    assert sorted(held) == [f"plan-{mark}" for mark in marks[-1 - RECORDS_KEPT : -1]]
    whole = {name for name, files in held.items() if "L1.dxf" in files}
    assert whole == {f"plan-{mark}" for mark in marks[-1 - EARLIER_KEPT : -1]}
    assert all(files >= {EXACT_FILE, BOOK_NOTE} for files in held.values())
    oldest = layouts / "earlier" / f"plan-{marks[-1 - RECORDS_KEPT]}"
    assert (oldest / EXACT_FILE).read_text() == marks[-1 - RECORDS_KEPT]


def test_the_planners_own_files_stay(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    layouts.mkdir()
    (layouts / "my notes.txt").write_text("keep")
    publish(layouts, "ABCD", {}, "b.xlsx")
    retire_others(layouts, {"ABCD"}, "b.xlsx")
    assert (layouts / "my notes.txt").read_text() == "keep"


def test_books_that_share_a_folder_leave_each_others_plans_alone(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    publish(layouts, "AAAA", {"L1.dxf": b"november"}, "november.xlsx")
    for mark in ("BBBB", "CCCC", "DDDD", "EEEE", "FFFF", "GGGG"):
        publish(layouts, mark, {"L1.dxf": b"december"}, "december.xlsx")
        retire_others(layouts, {mark}, "december.xlsx")
    assert sorted(p.name for p in layouts.glob("plan-*")) == ["plan-AAAA", "plan-GGGG"]


def test_a_plan_made_again_on_another_day_is_never_out_of_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    layouts = tmp_path / "layouts"
    publish(layouts, "ABCD", {"L1.dxf": b"one", "tickets.pdf": b"monday"}, "b.xlsx")
    drawing = layouts / "plan-ABCD" / "L1.dxf"
    seen = []
    replace = Path.replace

    def watched(path: Path, target: Path) -> Path:
        seen.append(drawing.read_bytes())
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", watched)
    publish(layouts, "ABCD", {"L1.dxf": b"one", "tickets.pdf": b"tuesday"}, "b.xlsx")
    assert seen == [b"one"]
    assert (layouts / "plan-ABCD" / "tickets.pdf").read_bytes() == b"tuesday"


def test_what_a_killed_run_left_is_swept(tmp_path: Path) -> None:
    layouts = tmp_path / "layouts"
    (layouts / ".plan-WXYZ.part").mkdir(parents=True)
    (layouts / ".plan-WXYZ.part" / "L1.dxf").write_bytes(b"half")
    publish(layouts, "ABCD", {"L1.dxf": b"one"}, "b.xlsx")
    assert [p.name for p in layouts.iterdir()] == ["plan-ABCD"]


def test_a_second_run_waits_and_then_gives_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folders, "WAIT_SECONDS", 0.3)
    with (
        sole_use(tmp_path / "layouts", tmp_path / "b.xlsx"),
        pytest.raises(BookInUse, match="Another run"),
        sole_use(tmp_path / "layouts", tmp_path / "b.xlsx"),
    ):
        pytest.fail("two runs write at once")
    with sole_use(tmp_path / "layouts", tmp_path / "b.xlsx"):
        assert list((tmp_path / "layouts").iterdir())
    assert list((tmp_path / "layouts").iterdir()) == []


def test_the_plan_that_the_saved_file_still_shows_stays(tmp_path: Path) -> None:
    """An open book that was planned may be closed without saving: its file's links must lead somewhere."""
    layouts = tmp_path / "layouts"
    for mark in ("AAAA", "BBBB", "CCCC"):
        publish(layouts, mark, {"L1.dxf": b"1"}, "b.xlsx")
    retire_others(layouts, {"CCCC", "BBBB"}, "b.xlsx")
    assert sorted(path.name for path in layouts.glob("plan-*")) == ["plan-BBBB", "plan-CCCC"]
