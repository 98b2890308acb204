"""Books and racks of earlier versions go on: what they did not write yet is taken as it then was."""

import json
import shutil
from collections import Counter
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.check import check_book
from sheetplan.app.close import close_month
from sheetplan.app.parts import PartsAsked, record_parts
from sheetplan.app.rack.cut import record_marked
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.folder import read_steps
from sheetplan.app.rack.looking import look
from sheetplan.app.rack.undo import undo_cut
from tests.app.choice_book import planned
from tests.app.cut_book import DAY, cell, copied, fill, plan, record_cut, write
from tests.app.test_finished_parts import free, wanted
from tests.app.test_orders_under_way import plan_again

TEMPLATES = Path(__file__).parent / "earlier_templates"
METAL = {"Material": "mild steel", "Thickness": "10 ga"}
LATER = ("together", "kind", "found", "lines", "asked", "bad_for", "shown", "closed")
"""What steps of the first form did not say."""


def older(folder: Path) -> None:
    """The folder as an earlier version left it: its files without what they have learnt to say since."""
    for path in folder.glob("rack/steps/*.json"):
        step = {key: value for key, value in json.loads(path.read_text()).items() if key not in LATER}
        for one in step["credits"]:
            del one["date"]
        path.write_text(json.dumps({**step, "format": 1}))
    for path in folder.glob("layouts/plan-*/choices.json"):
        kept = json.loads(path.read_text())
        for name in ("gauges_from", "highest", "to_pay"):
            del kept[name]
        for gauge in kept["gauges"]:
            for layout in gauge["layouts"]:
                del layout["of_plan"]
        path.write_text(json.dumps(kept))
    for path in folder.glob("layouts/plan-*/made.json"):
        path.unlink()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of an earlier template, planned, two of its three sheets cut, one piece of them bad."""
    folder = tmp_path_factory.mktemp("made")
    path = folder / "yard.xlsx"
    shutil.copy(TEMPLATES / "empty_in.xlsx", path)
    book = openpyxl.load_workbook(path)
    fill(book, "Parts", [{"Part": "PLATE", **METAL, "Width": 22, "Length": 40}])
    fill(book, "Orders", [{"Order": "H-1", "Item": "PLATE", "Quantity": 12}])
    fill(book, "Stock", [{"Sheet": "MS10", **METAL, "Width": 48, "Length": 96, "On hand": 3, "Price": 140}])
    book.save(path)
    plan(path)
    record_cut(path, CutAsked("L1", times=2, bad={"PLATE": 1}), today=DAY)
    older(folder)
    return path


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Path:
    return copied(made, tmp_path / "shop")


def test_what_was_cut_is_known_and_the_rest_is_planned(book: Path) -> None:
    """By hand: 4 plates a sheet, two sheets, one bad: 7 of 12 are cut, 5 are wanted."""
    assert "Since" not in [c.value for row in openpyxl.load_workbook(book)["Orders"].iter_rows() for c in row]
    assert not check_book(book).stops
    assert list(record_marked(book, today=DAY)) == []  # a page Record that is not there tells of no cut
    assert wanted(book) == {"H-1": 5}
    assert look(book).problems == ()
    after = planned(plan_again(book))
    assert [one.repeats for group in after.groups for one in group.layouts if one.tag == "L1"] == [1]
    assert cell(book, "Stock", "MS10", "On hand") == 1


def test_its_steps_are_taken_back_and_its_tickets_recorded(book: Path) -> None:
    plan_again(book)
    done = record_cut(book, CutAsked("L1"), today=DAY)
    assert done.step.pieces == {"PLATE": 4}
    undo_cut(book)
    undo_cut(book)
    assert wanted(book) == {"H-1": 12}
    assert cell(book, "Stock", "MS10", "On hand") == 3


def test_its_month_is_closed_and_its_parts_are_counted(book: Path) -> None:
    record_parts(book, PartsAsked({"PLATE": 2}), today=DAY)
    before = wanted(book), free(book)
    close_month(book, "2026-11", today=DAY)
    assert (wanted(book), free(book)) == before == ({"H-1": 3}, {"PLATE": 2})
    orders = [row[0].value for row in openpyxl.load_workbook(book)["Orders"].iter_rows()]
    assert orders.count("H-1") == 1


SIZES: dict[str, dict[str, tuple[int, int]]] = {
    "in": {"PLATE": (22, 40), "BAR": (3, 30), "MS10": (48, 96), "R-900": (24, 40)},
    "mm": {"PLATE": (560, 1000), "BAR": (80, 760), "MS10": (1219, 2438), "R-900": (600, 1000)},
}
"""Width and length of parts, sheet and remnant."""

GAUGES = {"in": "10 ga", "mm": "3 mm"}


def yard(folder: Path, units: str) -> Path:
    """A book of an earlier template with a remnant in its rack, planned."""
    path, size = folder / "yard.xlsx", SIZES[units]
    shutil.copy(TEMPLATES / f"empty_{units}.xlsx", path)
    metal = {"Material": "mild steel", "Thickness": GAUGES[units]}

    def row(key: str, name: str, **more: object) -> dict[str, object]:
        return {key: name, **metal, "Width": size[name][0], "Length": size[name][1], **more}

    book = openpyxl.load_workbook(path)
    fill(book, "Parts", [row("Part", "PLATE"), row("Part", "BAR")])
    fill(book, "Kits", [{"Kit": "stand", "Part": "PLATE", "Quantity": 1},
                        {"Kit": "stand", "Part": "BAR", "Quantity": 2}])  # fmt: skip
    fill(book, "Orders", [{"Order": "H-1", "Item": "stand", "Quantity": 11},
                          {"Order": "H-2", "Item": "BAR", "Quantity": 5}])  # fmt: skip
    fill(book, "Stock", [row("Sheet", "MS10", **{"On hand": 2, "Price": 140})])
    fill(book, "Remnants", [row("Tag", "R-900", Value=12)])
    book.save(path)
    plan(path)
    return path


@pytest.fixture(scope="module", params=["in", "mm"])
def yards(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Books of one unit: planned; half cut, so that a remnant of the tool's own lies there; a row locked."""
    first = yard(tmp_path_factory.mktemp("planned"), request.param)
    half = copied(first, tmp_path_factory.mktemp("half") / "shop")
    record_cut(half, CutAsked(largest(half), times=1, bad={"PLATE": 1}), today=DAY)
    locked = copied(half, tmp_path_factory.mktemp("locked") / "shop")
    write(locked, "Layouts", largest(locked), "Lock", "x")
    books = {"planned": first, "half cut": half, "locked": locked}
    for book in books.values():
        older(book.parent)
    return books


def largest(book: Path) -> str:
    """The layout of which most is left to cut."""
    plan = json.loads(next(book.parent.glob("layouts/plan-*/plan.json")).read_text())
    left = {
        one["tag"]: one["repeats"] - int(str(cell(book, "Layouts", one["tag"], "Cut so far") or 0))
        for group in plan["groups"] for one in group["layouts"] if "PLATE" in one["parts"]
    }  # fmt: skip
    return max(left, key=lambda tag: left[tag])


def typed(book: Path) -> dict[str, list[tuple[object, ...]]]:
    """All that stands on the pages that a planner types into."""
    pages = ("Settings", "Materials", "Cutting", "Parts", "Kits", "Orders", "Stock", "Remnants")
    opened = openpyxl.load_workbook(book)
    return {page: list(opened[page].iter_rows(values_only=True)) for page in pages}


@pytest.mark.parametrize("state", ["planned", "half cut", "locked"])
def test_it_is_checked_planned_cut_and_taken_back_and_nothing_is_lost(
    yards: dict[str, Path], state: str, tmp_path: Path
) -> None:
    book = copied(yards[state], tmp_path / "shop")
    before, tag = typed(book), largest(book)
    had = Counter[str]()
    for step in read_steps(book.parent / "rack").values():
        had += Counter(step.pieces)
    assert not check_book(book).stops
    assert look(book).problems == ()
    after = planned(plan_again(book))
    layouts = [layout for group in after.groups for layout in group.layouts]
    made = Counter(p.part for la in layouts for p in la.placements for _ in range(la.repeats))
    assert had + made == {"PLATE": 11, "BAR": 27}  # by hand: 11 stands of a plate and two bars, and 5 bars
    assert [la.tag for la in layouts if la.locked] == ([tag] if state == "locked" else [])
    if state != "half cut":
        assert tag in {la.tag for la in layouts}
    assert typed(book) == before
    record_cut(book, CutAsked(largest(book), times=1), today=DAY)
    assert typed(book) != before
    undo_cut(book)
    assert typed(book) == before
    assert look(book).problems == ()
