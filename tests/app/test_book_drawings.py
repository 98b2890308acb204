"""A book whose parts are drawings and quick shapes: found, read, judged, and told at their own cells."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from sheetplan.app.check import CheckOutcome, check_tables
from sheetplan.app.making.drawings import book_drawings, usual_cache
from sheetplan.model import Weight
from sheetplan.shapes import area, size
from sheetplan.trade.units import MM_PER_INCH
from sheetplan.workbook.reading.rows import MOST_NOTED
from tests.nasty.books.plain import Rows, address, plain_rows, tables_of
from tests.nasty.drawings_making import box_lines, dxf, space, svg

INCH2 = MM_PER_INCH**2


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def plate(msp) -> None:
    box_lines(msp, 0, 0, 10, 6)
    msp.add_circle((5, 3), 1)


def rows(part: dict[str, Any], settings: dict[str, Any] | None = None) -> Rows:
    """The plain book, its first part changed."""
    made = plain_rows()
    kept = {key: made["Parts"][0][key] for key in ("Part", "Material", "Thickness")}
    made["Parts"][0] = {**kept, **part}
    made["Settings"] += [{"Setting": name, "Value": value} for name, value in (settings or {}).items()]
    return made


def checked(
    folder: Path,
    part: dict[str, Any],
    settings: dict[str, Any] | None = None,
    least_hole: float | None = None,
) -> CheckOutcome:
    made = rows(part, settings)
    made["Cutting"] = [{**row, "Least hole": least_hole} for row in made["Cutting"]]
    return check_tables(tables_of(made), folder / "book.xlsx")


def test_webs_have_a_limit_of_their_own(tmp_path: Path) -> None:
    part = {"Width": 6, "Length": 10, "Holes": "4 x 9/16 at 0.35"}
    assert checked(tmp_path, part).problems == ()
    made = rows(part)
    made["Cutting"] = [{**row, "Least web": 0.1} for row in made["Cutting"]]
    (asked,) = check_tables(tables_of(made), tmp_path / "book.xlsx").problems
    assert "a web of" in asked.what
    assert "Least web on the page Cutting" in asked.remedy


def test_a_drawing_gives_the_outline(tmp_path: Path) -> None:
    (tmp_path / "plates").mkdir()
    (tmp_path / "plates" / "base.dxf").write_bytes(dxf(space(plate), unit=1))
    outcome = checked(tmp_path, {"Drawing": "plates\\base.dxf"})
    assert outcome.problems == ()
    assert outcome.job is not None
    outline = outcome.job.parts["CB-100"].outline
    assert area(outline) == pytest.approx((60.0 - math.pi) * INCH2)
    assert len(outline.holes) == 1


def test_the_rows_size_is_held_against_the_drawing(tmp_path: Path) -> None:
    (tmp_path / "base.dxf").write_bytes(dxf(space(plate), unit=4))
    outcome = checked(tmp_path, {"Drawing": "base.dxf", "Length": 10, "Width": 6})
    assert outcome.job is None
    told = [p for p in outcome.problems if p.page == "Parts" and p.weight is not Weight.NOTE]
    # 10 x 6 in millimetres for 10 x 6 in inches: what is to be changed is the unit, once.
    assert [problem.cell for problem in told] == [address("Parts", "Drawn in", 0)]
    assert "the drawing comes out 0.3937" in told[0].what
    assert told[0].remedy == "Write in in Drawn in."
    odd = checked(tmp_path, {"Drawing": "base.dxf", "Length": 11, "Width": 5, "Drawn in": "in"})
    cells = [p.cell for p in odd.problems if p.page == "Parts" and p.weight is not Weight.NOTE]
    assert cells == [address("Parts", "Length", 0), address("Parts", "Width", 0)]
    right = checked(tmp_path, {"Drawing": "base.dxf", "Length": 10, "Width": 6, "Drawn in": "in"})
    assert right.job is not None
    assert size(right.job.parts["CB-100"].outline) == pytest.approx((254.0, 152.4))


def unit_notes(outcome: CheckOutcome) -> list[tuple[str | None, str]]:
    """Where and in which words units are said to be assumed."""
    assert outcome.job is not None
    notes = [p for p in outcome.problems if p.page == "Parts" and "its part comes out" in p.what]
    assert {p.weight for p in notes} <= {Weight.NOTE}
    return [(p.cell, p.what) for p in notes]


def silent_dxf(measurement: int | None = None) -> bytes:
    """A box of 10 x 6 whose drawing states no unit, as old programs write it."""
    header = f"0\nSECTION\n2\nHEADER\n9\n$MEASUREMENT\n70\n{measurement}\n0\nENDSEC\n"
    corners = [(0, 0), (10, 0), (10, 6), (0, 6), (0, 0)]
    lines = [f"0\nLINE\n8\n0\n10\n{a}\n20\n{b}\n11\n{c}\n21\n{d}\n"
             for (a, b), (c, d) in pairwise(corners)]  # fmt: skip
    header = "" if measurement is None else header
    return "".join((header, "0\nSECTION\n2\nENTITIES\n", *lines, "0\nENDSEC\n0\nEOF\n")).encode()


# Source: Autodesk DXF reference, HEADER: without $INSUNITS a drawing has no unit; $MEASUREMENT 1 is metric.
@pytest.mark.parametrize(("measurement", "says"), [
    (None, "base.dxf is read in inches, the book's unit, for the drawing says nothing; "
           "its part comes out 6 x 10 in."),
    (1, "base.dxf is read in millimetres, taken from $MEASUREMENT, for the drawing states no unit; "
        "its part comes out 0.2362 x 0.3937 in."),
])  # fmt: skip
def test_a_unit_that_is_assumed_is_said_until_the_row_says_it(
    tmp_path: Path, measurement: int | None, says: str
) -> None:
    (tmp_path / "base.dxf").write_bytes(silent_dxf(measurement))
    (tmp_path / "said.dxf").write_bytes(dxf(space(plate), unit=1))
    assert unit_notes(checked(tmp_path, {"Drawing": "base.dxf"})) == [(address("Parts", "Drawn in", 0), says)]
    for unit in ("in", "mm"):
        assert unit_notes(checked(tmp_path, {"Drawing": "base.dxf", "Drawn in": unit})) == []
    assert unit_notes(checked(tmp_path, {"Drawing": "said.dxf"})) == []


def test_sizes_that_agree_say_the_unit_as_well(tmp_path: Path) -> None:
    (tmp_path / "base.dxf").write_bytes(silent_dxf())
    assert unit_notes(checked(tmp_path, {"Drawing": "base.dxf", "Length": 10})) == []
    made = rows({"Drawing": "base.dxf"})
    again = {**made["Parts"][0], "Part": "CB-100 again"}
    made["Parts"].append(again)
    made["Orders"].append({"Order": "X", "Item": "CB-100 again", "Quantity": 1})
    told = unit_notes(check_tables(tables_of(made), tmp_path / "book.xlsx"))
    assert [cell for cell, _ in told] == [address("Parts", "Drawn in", 0)], "once a drawing"
    again["Width"] = 6
    assert unit_notes(check_tables(tables_of(made), tmp_path / "book.xlsx")) == [], "whichever row says it"


@pytest.mark.parametrize("files", [MOST_NOTED, MOST_NOTED + 1])
def test_units_of_many_drawings_are_told_together_and_those_of_unordered_parts_not_at_all(
    tmp_path: Path, files: int
) -> None:
    made = plain_rows()
    metal = {key: made["Parts"][0][key] for key in ("Material", "Thickness")}
    for number in range(files + 1):
        (tmp_path / f"b{number}.dxf").write_bytes(silent_dxf())
        made["Parts"].append({**metal, "Part": f"B-{number}", "Drawing": f"b{number}.dxf"})
        if number < files:
            made["Orders"].append({"Order": f"X-{number}", "Item": f"B-{number}", "Quantity": 1})
    notes = unit_notes(check_tables(tables_of(made), tmp_path / "book.xlsx"))
    if files <= MOST_NOTED:
        assert [what.partition(" ")[0] for _, what in notes] == [f"b{number}.dxf" for number in range(files)]
    else:
        ((cell, what),) = notes
        assert cell is None
        assert what.startswith(f"{files} drawings state no unit. The first: b0.dxf is read in inches")


def test_several_parts_in_one_file(tmp_path: Path) -> None:
    def two(msp) -> None:
        box_lines(msp, 0, 0, 10, 6)
        box_lines(msp, 20, 0, 5, 3)

    (tmp_path / "two.dxf").write_bytes(dxf(space(two), unit=1))
    outcome = checked(tmp_path, {"Drawing": "two.dxf"})
    assert outcome.job is None
    assert any("holds 2 outlines" in p.what and "two.dxf#1" in p.remedy for p in outcome.problems)
    second = checked(tmp_path, {"Drawing": "two.dxf#2"})
    assert second.job is not None
    assert size(second.job.parts["CB-100"].outline) == pytest.approx((127.0, 76.2))
    third = checked(tmp_path, {"Drawing": "two.dxf#3"})
    assert any("there is no number 3" in p.what for p in third.problems)


def test_a_missing_drawing_is_looked_for_in_the_folder_and_not_with_a_command(tmp_path: Path) -> None:
    (tmp_path / "drawings").mkdir()
    (tmp_path / "drawings" / "hook.dxf").write_bytes(dxf(space(plate), unit=1))
    outcome = checked(tmp_path, {"Drawing": "drawings/hok.dxf"})
    [told] = [p for p in outcome.problems if p.page == "Parts"]
    assert "There is no drawings/hok.dxf in the workbook's folder" in told.what
    assert "nearest name is drawings/hook.dxf" in told.what
    assert told.remedy == "Correct the name, or put the drawing there."


@pytest.mark.parametrize(
    ("part", "heading", "says"),
    [
        ({"Drawing": "gone.dxf"}, "Drawing", "There is no gone.dxf"),
        ({"Drawing": "/etc/x.dxf"}, "Drawing", "full path"),
        ({"Drawing": "\\\\server\\x.dxf"}, "Drawing", "network path"),
        ({"Drawing": "../x.dxf"}, "Drawing", "there is no|leads out"),
        ({"Drawing": "open.dxf"}, "Drawing", "open by"),
        ({"Drawing": "open.dxf", "Drawn in": "furlongs"}, "Drawn in", "not a unit"),
        ({"Drawing": "good.dxf", "Holes": "4 x 1 at 1"}, "Holes", "so is Drawing"),
        ({}, "Width", "Width is empty"),
        ({"Width": 6, "Length": 10, "Shape": "blob"}, "Shape", "not one of the words"),
        ({"Width": 6, "Length": 10, "Shape": "disc"}, "Width", "as wide as it is long"),
        ({"Width": 6, "Length": 10, "Holes": "some"}, "Holes", "not understood"),
    ],
)
def test_what_is_wrong_is_told_at_its_cell(
    tmp_path: Path, part: dict[str, Any], heading: str, says: str
) -> None:
    (tmp_path / "good.dxf").write_bytes(dxf(space(plate), unit=1))
    (tmp_path / "open.dxf").write_bytes(
        dxf(space(lambda m: m.add_lwpolyline([(0, 0), (9, 0), (9, 9), (0, 9), (0, 1)])), unit=1)
    )
    outcome = checked(tmp_path, part)
    assert outcome.job is None
    found = [p for p in outcome.problems if p.cell == address("Parts", heading, 0)]
    assert found, outcome.problems
    assert any(any(option in p.what for option in says.split("|")) for p in found)


def test_quick_shapes_in_a_row(tmp_path: Path) -> None:
    outcome = checked(tmp_path, {"Width": 6, "Length": 10, "Corner": "r 1/2", "Holes": "4 x 9/16 at 1"})
    assert outcome.problems == ()
    assert outcome.job is not None
    outline = outcome.job.parts["CB-100"].outline
    holes = 4 * math.pi * (9 / 32) ** 2
    assert area(outline) == pytest.approx((60.0 - (4 - math.pi) * 0.25 - holes) * INCH2)


def test_holes_below_the_least_are_questioned_or_marked(tmp_path: Path) -> None:
    part = {"Width": 6, "Length": 10, "Holes": "4 x 1/8 at 1"}
    assert checked(tmp_path, part).problems == ()  # an empty Least hole is no limit
    assert checked(tmp_path, part, {"Mark small holes": "yes"}).problems == ()
    asked = checked(tmp_path, part, least_hole=0.2)
    (note,) = asked.problems
    assert "Mark small holes" in note.remedy
    assert note.weight is Weight.NOTE
    assert "4 holes below the least" in note.what
    assert note.cell == address("Parts", "Part", 0)
    marked = checked(tmp_path, part, {"Mark small holes": "yes"}, least_hole=0.2)
    (told,) = marked.problems
    assert "4 holes too small to cut through will be marked and not cut" in told.what
    assert marked.job is not None
    outline = marked.job.parts["CB-100"].outline
    assert (len(outline.holes), len(outline.marks)) == (0, 8)


def test_a_hole_narrower_than_the_kerf_stops_the_plan(tmp_path: Path) -> None:
    outcome = checked(tmp_path, {"Width": 6, "Length": 10, "Holes": "1 x 0.05"})
    assert outcome.job is None
    (stops,) = [problem for problem in outcome.problems if "narrower than the kerf" in problem.what]
    assert "Mark small holes" in stops.remedy
    marked = checked(tmp_path, {"Width": 6, "Length": 10, "Holes": "1 x 0.05"}, {"Mark small holes": "yes"})
    assert marked.job is not None
    assert not marked.job.parts["CB-100"].outline.holes


def test_layers_and_folders_of_the_settings(tmp_path: Path) -> None:
    def layered(msp) -> None:
        box_lines(msp, 0, 0, 10, 6, layer="PROFILE")
        msp.add_circle((5, 3), 1, dxfattribs={"layer": "INNER"})
        msp.add_line((1, 1), (2, 1), dxfattribs={"layer": "NUMBERS"})

    home, library = tmp_path / "jobs", tmp_path / "library"
    home.mkdir()
    library.mkdir()
    (library / "base.dxf").write_bytes(dxf(space(layered), unit=1))
    how = {"Drawing folders": "../library", "Layers to cut": "PROFILE, INNER", "Layers to mark": "NUM*"}
    outcome = checked(home, {"Drawing": "base.dxf"}, how)
    assert outcome.problems == ()
    assert outcome.job is not None
    outline = outcome.job.parts["CB-100"].outline
    assert (len(outline.holes), len(outline.marks)) == (1, 1)
    row = checked(home, {"Drawing": "base.dxf", "Cut layers": "PROFILE"}, how)
    assert row.job is not None
    assert len(row.job.parts["CB-100"].outline.holes) == 0


def test_svg_parts(tmp_path: Path) -> None:
    body = '<rect width="100" height="50"/><circle cx="50" cy="25" r="10"/>'
    (tmp_path / "a.svg").write_bytes(svg(body))
    outcome = checked(tmp_path, {"Drawing": "a.svg"})
    assert outcome.problems == ()
    assert outcome.job is not None
    assert area(outcome.job.parts["CB-100"].outline) == pytest.approx(5000.0 - math.pi * 100.0, rel=1e-6)


def test_a_book_without_a_folder_says_so() -> None:
    outcome = check_tables(tables_of(rows({"Drawing": "a.dxf"})), None)
    assert any("no folder yet" in problem.what for problem in outcome.problems)


def test_each_drawing_is_read_once_and_remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "base.dxf").write_bytes(dxf(space(plate), unit=1))
    tables = tables_of(rows({"Drawing": "base.dxf"}))
    first = book_drawings(tables, tmp_path / "book.xlsx")
    monkeypatch.setattr("sheetplan.drawings.reading.store.read_bytes", None)
    assert book_drawings(tables, tmp_path / "book.xlsx") == first


def test_the_cache_lies_where_the_platform_keeps_caches() -> None:
    assert usual_cache({"XDG_CACHE_HOME": "/x"}, "linux") == Path("/x/sheetplan/drawings")
    assert usual_cache({}, "darwin") == Path.home() / "Library" / "Caches" / "sheetplan" / "drawings"
    assert usual_cache({"LOCALAPPDATA": "/l"}, "win32") == Path("/l/sheetplan/drawings")
