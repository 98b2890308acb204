"""Remnants of any shape: by tape planned on, cut and taken back; from a drawing taken in, or refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import openpyxl
import pytest
import shapely
from shapely.affinity import rotate, translate

from sheetplan.app.check import check_book
from sheetplan.app.plan import PlanAsked, plan_book
from sheetplan.app.rack import Refused
from sheetplan.app.rack.add import add_drawing
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.app.rack.looking import look, write_list
from sheetplan.app.rack.undo import undo_cut
from sheetplan.model import Layout, Remnant
from sheetplan.planning.progress import quiet
from sheetplan.shapes import place, to_polygon
from tests.app.cut_book import DAY, cell, copied, fill, planned_book, write

INCH = 25.4
METAL = {"Material": "mild steel", "Thickness": "10 ga"}
ROW = {"Tag": "R-030", **METAL, "Width": 40, "Length": 80, "Value": 1, "Rack place": "R1"}

# Built by shapely alone: 80 x 40 with a slanted end, a round bite in its upper side, and two openings.
TRUTH = (
    shapely.Polygon([(0, 0), (80, 0), (66, 40), (0, 40)])
    - shapely.Point(30, 40).buffer(8, quad_segs=256)
    - shapely.box(10, 8, 24, 18)
    - shapely.Point(50, 16).buffer(6, quad_segs=256)
)


def by_tape() -> list[dict[str, Any]]:
    edge: list[tuple[float, float, dict[str, Any]]] = [
        (0, 0, {}), (80, 0, {"To next point": "slanting"}), (66, 40, {}),
        (38, 40, {"To next point": "round inwards", "Radius": 8}), (22, 40, {}), (0, 40, {}), (0, 0, {}),
    ]  # fmt: skip
    rows: list[dict[str, Any]] = [{"Along length": x, "Along width": y, **more} for x, y, more in edge]
    rows.append({"What": "rectangle", "Along length": 10, "Along width": 8, "Length": 14, "Width": 10})
    rows.append({"What": "disc", "Along length": 50, "Along width": 16, "Diameter": 12})
    return [{"Tag": "R-030", **row} for row in rows]


@pytest.fixture(scope="module")
def taped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned book with a remnant by tape and nothing else to cut from but sheets that cost."""
    folder = tmp_path_factory.mktemp("tape")
    path = planned_book(folder, plates=2, on_hand=0, least=6, remnants=[ROW], plan_it=False)
    book = openpyxl.load_workbook(path)
    fill(book, "Remnant shapes", by_tape())
    book.save(path)
    return path


@pytest.fixture(scope="module")
def planned(taped: Path) -> tuple[Path, Layout, dict[str, Any]]:
    done = plan_book(taped, PlanAsked(DAY, seconds=0.5, seed=1), stop=lambda: False, report=quiet, workers=1)
    assert done.plan is not None, done.problems
    layouts = [one for group in done.plan.groups for one in group.layouts]
    [layout] = [one for one in layouts if isinstance(one.sheet, Remnant)]
    return taped, layout, dict(done.plan.job.parts)


def on_truth(layout: Layout, parts: dict[str, Any]) -> None:
    """Every part lies on metal that is there, clear of its edge by the margin and of openings by the gap."""
    metal = shapely.transform(TRUTH, lambda points: points * INCH)
    for placement in layout.placements:
        part = to_polygon(place(parts[placement.part].outline, placement), 0.01)
        assert part.within(metal)
        # Starter rule of 10 ga: gap and margin are above 4 mm; common practice, no source.
        assert part.distance(metal.boundary) > 4.0


def test_a_plan_lies_on_the_true_outline(planned: tuple[Path, Layout, dict[str, Any]]) -> None:
    _, layout, parts = planned
    assert len(layout.placements) >= 4
    on_truth(layout, parts)


def test_a_cut_keeps_the_shape_and_is_taken_back(
    planned: tuple[Path, Layout, dict[str, Any]], tmp_path: Path
) -> None:
    book, layout, _ = planned
    path = copied(book, tmp_path)
    record_cuts(path, [CutAsked(layout.tag, bad={})], today=DAY)
    after = check_book(path)
    assert [p for p in after.problems if p.page in ("Remnants", "Remnant shapes")] == []
    # It is cropped: the rows by tape say another size, and matter no more.
    assert cell(path, "Remnants", "R-030", "State") != "used up"
    assert cell(path, "Remnants", "R-030", "Length") != 80
    undo_cut(path)
    checked = check_book(path)
    assert checked.job is not None
    [back] = checked.job.remnants
    assert (len(back.edge.vertices), len(back.cuts)) == (6, 2)


def test_the_list_of_the_rack_weighs_and_measures_it(taped: Path, tmp_path: Path) -> None:
    path = copied(taped, tmp_path)
    seen = look(path)
    [line] = seen.lines
    # 10 gauge is 0.1345 in (ASTM A568, table of the manufacturers' standard gauge), steel 0.2836 lb/in3.
    # Round openings the rack takes a kerf off as well, as round its own cuts: 0.2 per cent here.
    assert line.weight == pytest.approx(TRUTH.area * 0.1345 * 0.2836 * 0.45359237, rel=0.004)
    written = tmp_path / "rack.pdf"
    assert write_list(seen, written) == 1
    assert written.read_bytes().startswith(b"%PDF")


def test_the_list_says_what_it_leaves_out(taped: Path, tmp_path: Path) -> None:
    path = copied(taped, tmp_path)
    changed = openpyxl.load_workbook(path)
    changed["Remnant shapes"].cell(7, 5).value = 39
    changed.save(path)
    seen = look(path)
    assert seen.lines == ()
    assert any("it runs slanting to 38, 40" in problem.what for problem in seen.problems)


def test_a_record_that_differs_from_the_tape_is_told(
    planned: tuple[Path, Layout, dict[str, Any]], tmp_path: Path
) -> None:
    book, layout, _ = planned
    path = copied(book, tmp_path)
    write(path, "Settings", "What is left", "Value", "keep as it is")
    record_cuts(path, [CutAsked(layout.tag, bad={})], today=DAY)
    changed = openpyxl.load_workbook(path)
    changed["Remnant shapes"].cell(12, 4).value = 12
    assert changed["Remnant shapes"].cell(12, 2).value == "rectangle"
    changed.save(path)
    told = [p.what for p in check_book(path).problems if p.page == "Remnants"]
    assert any("has another outline than the book's pages say" in what for what in told)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book whose remnant has a row with its size and no shape."""
    return planned_book(tmp_path_factory.mktemp("plain"), remnants=[{**ROW, "Value": None}], plan_it=False)


def drawn(path: Path, metal: Any, *, unit: int = 1) -> Path:
    """A DXF of a polygon with holes as ezdxf writes polylines; ``unit`` 1 is inches, 4 millimetres."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = unit
    for ring in (metal.exterior, *metal.interiors):
        document.modelspace().add_lwpolyline(list(ring.coords)[:-1], close=True)
    document.saveas(path)
    return path


STRAIGHT = shapely.Polygon([(0, 0), (80, 0), (66, 40), (0, 40)]) - shapely.box(10, 8, 24, 18)


@pytest.mark.parametrize(("lie", "turn"), [
    (lambda metal: metal, None), (lambda metal: translate(rotate(metal, 7.25), 13, 500), None),
    (lambda metal: rotate(metal, 90), -90.0),
])  # fmt: skip
def test_a_drawing_is_squared_and_taken_in(
    plain: Path, tmp_path: Path, lie: Callable[[Any], Any], turn: float | None
) -> None:
    path = copied(plain, tmp_path)
    added = add_drawing(path, "R-030", drawn(tmp_path / "old.dxf", lie(STRAIGHT)), degrees=turn)
    mine = to_polygon(added.record.edge, 0.01)
    for cut in added.record.cuts:
        mine -= to_polygon(cut.loop, 0.01)
    truth = shapely.transform(STRAIGHT, lambda points: points * INCH)
    assert mine.symmetric_difference(truth).area < 0.02 * truth.length
    checked = check_book(path)
    assert [p for p in checked.problems if p.page == "Remnants"] == []
    assert checked.job is not None
    [remnant] = checked.job.remnants
    assert len(remnant.cuts) == 1
    value = cell(path, "Remnants", "R-030", "Value")
    assert isinstance(value, int | float)
    # The largest rectangle beside the opening is some two thirds of the sheet's box.
    assert 0.0 < value < 0.6 * 140.0 * (80 * 40) / (48 * 96)
    with pytest.raises(Refused, match="has a record already"):
        add_drawing(path, "R-030", tmp_path / "old.dxf")


HOLE_OUTSIDE = shapely.MultiPolygon([STRAIGHT, shapely.box(76, 30, 79, 36)])


def refused(plain: Path, tmp_path: Path, make: Callable[[Path], object], tag: str = "R-030") -> str:
    path = copied(plain, tmp_path)
    before = path.read_bytes()
    make(tmp_path / "old.dxf")
    with pytest.raises(Refused) as told:
        add_drawing(path, tag, tmp_path / "old.dxf")
    assert told.value.remedy.endswith(".")
    assert path.read_bytes() == before
    assert not list((tmp_path / "rack").glob("*.dxf"))
    return told.value.what


def with_more(path: Path, more: Any) -> None:
    drawn(path, STRAIGHT)
    document = ezdxf.readfile(path)
    document.modelspace().add_lwpolyline(list(more.exterior.coords)[:-1], close=True)
    document.saveas(path)


@pytest.mark.parametrize(("make", "says"), [
    (lambda path: drawn(path, rotate(STRAIGHT, 90)), "It fits on its side"),
    (lambda path: drawn(path, STRAIGHT, unit=4), r"The drawing is 1\.\d+ x 3\.\d+ in, the row of R-030 says"),
    (lambda path: drawn(path, shapely.box(0, 0, 80, 39)), "The drawing is 39 x 80 in"),
    (lambda path: drawn(path, shapely.Polygon([(6, 0), (80, 0), (80, 40), (0, 40), (0, 6)])), "no corner at"),
    (lambda path: with_more(path, shapely.box(76, 30, 79, 36)), "is not within its edge"),
    (lambda path: with_more(path, shapely.box(30, 0.0015, 34, 39.9985)), "falls into 2 pieces"),
    (lambda path: path.write_text("not a drawing"), "cannot be used"),
    (lambda path: path.write_bytes(b""), "cannot be used"),
    (lambda path: None, "cannot be read"),
])  # fmt: skip
def test_what_cannot_be_taken_in_is_told_and_nothing_written(
    plain: Path, tmp_path: Path, make: Callable[[Path], object], says: str
) -> None:
    import re

    assert re.search(says, refused(plain, tmp_path, make))


def test_a_tag_without_a_row_is_refused(plain: Path, tmp_path: Path) -> None:
    assert "no row for R-099" in refused(plain, tmp_path, lambda path: drawn(path, STRAIGHT), "R-099")


def test_a_tag_by_tape_is_not_taken_from_a_drawing_as_well(taped: Path, tmp_path: Path) -> None:
    path = copied(taped, tmp_path)
    with pytest.raises(Refused, match="stands on the page Remnant shapes too"):
        add_drawing(path, "R-030", drawn(tmp_path / "old.dxf", STRAIGHT))


def test_the_area_of_the_truth_is_what_a_tape_reckons() -> None:
    """A trapezoid less half a disc, a rectangle and a disc."""
    expected = (80 + 66) / 2 * 40 - math.pi * 64 / 2 - 140 - math.pi * 36
    assert pytest.approx(expected, rel=1e-4) == TRUTH.area
