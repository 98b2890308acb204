"""Folders of drawings become rows: what they state stands in the book, what is doubtful is marked."""

from __future__ import annotations

import errno
import json
import shutil
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from typer.testing import CliRunner

from sheetplan.app.check import check_book
from sheetplan.app.import_parts import ImportAsked
from sheetplan.app.import_run import import_drawings
from sheetplan.app.live import run_live
from sheetplan.app.making.drawings import known_outlines
from sheetplan.app.new import new_book
from sheetplan.app.rack import Refused
from sheetplan.cli.commands import app
from sheetplan.model import Weight
from sheetplan.planning.progress import never
from sheetplan.trade.units import Units
from sheetplan.workbook.hosts.calc import CalcBook
from sheetplan.workbook.hosts.excel import ExcelBook
from sheetplan.workbook.package.cells import BookEdit
from sheetplan.workbook.package.saving import put_file
from tests.hard.strangers import imported, table
from tests.nasty.drawings_making import box_lines, dxf, space
from tests.workbook.hosts.calc_end import CalcEnd, request
from tests.workbook.hosts.excel_engine import opened


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def test_strangers_kits_equal_the_generators_own_list(tmp_path: Path) -> None:
    outcome = imported(tmp_path, 12, 5)
    assert outcome.rows == outcome.stated > 12


def ell(msp, x: float, *, mirrored: bool = False, turned: bool = False, layer: str = "3MM") -> None:
    corners = [(0, 0), (90, 0), (90, 20), (30, 20), (30, 60), (0, 60)]
    corners = [(-a if mirrored else a, b) for a, b in corners]
    corners = [(-b, a) if turned else (a, b) for a, b in corners]
    msp.add_lwpolyline([(a + x, b) for a, b in corners], close=True, dxfattribs={"layer": layer})


@pytest.fixture
def book(tmp_path: Path) -> Path:
    def copies(msp) -> None:
        ell(msp, 0)
        ell(msp, 200, turned=True)
        ell(msp, 400, mirrored=True)
        ell(msp, 600, layer="6MM")
        msp.add_line((800, 0), (900, 0))

    kit = tmp_path / "mild steel" / "set A"
    kit.mkdir(parents=True)
    (kit / "ells.dxf").write_bytes(dxf(space(copies), unit=4))
    (kit / "cap 10ga.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 4, 3)), unit=1))
    (kit / "twice 3mm.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 40, 30, layer="6MM")), unit=4))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    return made


def test_rows_kits_and_doubts(book: Path) -> None:
    done = import_drawings(book, ImportAsked((book.parent / "mild steel",)))
    sheet = openpyxl.load_workbook(book)
    parts = {str(row["Part"]): row for row in table(sheet, "Parts")}
    assert {name: (row["Thickness"], row["Drawing"]) for name, row in parts.items()} == {
        "cap 10ga": ("10 ga", "mild steel/set A/cap 10ga.dxf"),
        "ells-1": ("3 mm", "mild steel/set A/ells.dxf#1"),
        "ells-4": ("6 mm", "mild steel/set A/ells.dxf#4"),
        "twice 3mm": ("6 mm", "mild steel/set A/twice 3mm.dxf"),
    }
    assert {row["Material"] for row in parts.values()} == {"mild steel"}
    kits = [(row["Kit"], row["Part"], row["Quantity"]) for row in table(sheet, "Kits")]
    ells = [name for name in parts if name.startswith("ells")]
    assert sorted(q for kit, name, q in kits if name in ells) == [1, 3]
    assert {kit for kit, _, _ in kits} == {"set A"}
    said = {name: str(row["Description"] or "") for name, row in parts.items()}
    assert said["cap 10ga"] == ""
    assert "names say different thicknesses" in said["twice 3mm"]
    three = next(name for name in ells if parts[name]["Thickness"] == "3 mm")
    assert "drawn mirrored, 1 of 3" in said[three]
    assert "see the questions about the drawing" in said[three]
    assert done.found.asked
    assert done.sheet.read_bytes().startswith(b"%PDF")
    assert set(known_outlines(book)[0]) == {name.lower() for name in parts}


def test_again_adds_what_is_new_and_says_what_changed_and_went(book: Path) -> None:
    asked = ImportAsked((book.parent / "mild steel",))
    import_drawings(book, asked)
    first = book.read_bytes()
    import_drawings(book, asked)
    assert book.read_bytes() == first
    kit = book.parent / "mild steel" / "set A"
    (kit / "cap 10ga.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 5, 3)), unit=1))
    (kit / "twice 3mm.dxf").unlink()
    (kit / "new t=2.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 77, 30)), unit=4))
    done = import_drawings(book, asked)
    assert done.changed == ("cap 10ga",)
    assert done.gone == ("twice 3mm",)
    assert [(part.name, part.found.thickness) for part in done.found.new] == [("new t=2", "2 mm")]
    rows = table(openpyxl.load_workbook(book), "Parts")
    assert [row["Part"] for row in rows][-2:] == ["twice 3mm", "new t=2"]


def test_drawings_elsewhere_are_refused_with_the_remedy(book: Path, tmp_path: Path) -> None:
    away = tmp_path / "away"
    away.mkdir()
    (away / "x.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 5, 3)), unit=1))
    (tmp_path / "jobs").mkdir()
    new_book(tmp_path / "jobs" / "b.xlsx", demo=False, units=Units.MM)
    with pytest.raises(Refused, match="Drawing folders"):
        import_drawings(tmp_path / "jobs" / "b.xlsx", ImportAsked((away,)))


def test_the_command_says_what_it_did(book: Path) -> None:
    (book.parent / "mild steel" / "old.dwg").write_bytes(b"AC1027")
    result = CliRunner().invoke(app, ["import", str(book), str(book.parent / "mild steel")])
    assert result.exit_code == 0, result.output
    said = " ".join(result.output.split())
    assert "4 new parts" in said
    assert "to confirm: drawn mirrored: 1 part, ells-1" in said
    assert "to confirm: see the questions about the drawing: 2 parts, ells-1, ells-4" in said
    assert "question: mild steel/set A/ells.dxf: a line 100 long ends nowhere" in said
    assert "old.dwg is a DWG, which is not read" in said
    assert CliRunner().invoke(app, ["import", str(book), str(book.parent / "gone")]).exit_code == 3


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--thickness", "thick"], "`thick` cannot be read as a thickness. Write 6 mm"),
        (["--thickness", "10 furlongs"], "`furlongs` is not a unit of thickness. Write mm, ga or in."),
        (["--thickness", "-3"], "`-3` is negative."),
        (["--thickness", "99 ga", "--material", "mild steel"], "99 ga is not in the Manufacturers' Standard"),
        (["--doubtful", "remove"], "In --doubtful `remove` is not known. Write mark or leave out"),
        (["--material", "mild stel"], "mild stel is not on the page Materials. Did you mean mild steel?"),
    ],
)
def test_metal_and_thickness_that_the_book_cannot_use_are_refused(
    book: Path, options: list[str], said: str
) -> None:
    before = book.read_bytes()
    result = CliRunner().invoke(app, ["import", str(book), str(book.parent / "mild steel"), *options])
    assert result.exit_code == 1, result.output
    assert said in " ".join(result.output.split())
    assert "Nothing was written." in result.output
    assert book.read_bytes() == before


def test_what_says_none_gets_the_metal_and_thickness_that_are_given(tmp_path: Path) -> None:
    """A bare number is in the book's unit, the metal is written as the book has it."""
    (tmp_path / "kit").mkdir()
    (tmp_path / "kit" / "plain.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 40, 30)), unit=4))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    options = ["--material", "Mild Steel", "--thickness", "3"]
    result = CliRunner().invoke(app, ["import", str(made), str(tmp_path / "kit"), *options])
    assert result.exit_code == 0, result.output
    [row] = table(openpyxl.load_workbook(made), "Parts")
    assert (row["Material"], row["Thickness"], row["Description"]) == ("mild steel", "3", None)
    assert not [p for p in check_book(made).problems if p.page == "Parts"]


def test_doubtful_lines_are_said_once_for_all_drawings(tmp_path: Path) -> None:
    """A line inside stops its part, until it is said for all what becomes of such lines; the rows keep it."""

    def creased(msp) -> None:
        box_lines(msp, 0, 0, 40, 30)
        msp.add_line((10, 10), (30, 20))

    (tmp_path / "kit 3mm").mkdir()
    (tmp_path / "kit 3mm" / "creased.dxf").write_bytes(dxf(space(creased), unit=4))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    run = ["import", str(made), str(tmp_path / "kit 3mm"), "--material", "mild steel"]
    said = CliRunner().invoke(app, run).output
    assert "0 new parts" in said
    assert 'Run it again with --doubtful "leave out" or "mark"' in said
    assert "Empty cells that were filled: Doubtful lines in 1 row." in CliRunner().invoke(
        app, [*run, "--doubtful", "mark"]
    ).output
    [row] = table(openpyxl.load_workbook(made), "Parts")
    assert (row["Doubtful lines"], row["Description"]) == ("mark", None)
    assert not [p for p in check_book(made).problems if p.page == "Parts" and p.weight is not Weight.NOTE]
    known = known_outlines(made)[0]["creased"]
    assert len(known.outline.marks) == 1
    before = made.read_bytes()
    again = CliRunner().invoke(app, run).output
    assert "0 new parts, 0 of them to confirm; 0 parts in the book already; 0 cannot be used" in again
    assert made.read_bytes() == before


def test_a_folder_elsewhere_is_told_by_the_command(book: Path, tmp_path: Path) -> None:
    (tmp_path / "jobs").mkdir()
    new_book(tmp_path / "jobs" / "b.xlsx", demo=False, units=Units.MM)
    away = ["import", str(tmp_path / "jobs" / "b.xlsx"), str(book.parent / "mild steel")]
    result = CliRunner().invoke(app, away)
    assert result.exit_code == 1, result.output
    assert "does not lie below the workbook's folder." in result.output


def test_a_pdf_of_the_planners_own_is_left_alone(book: Path) -> None:
    asked = ImportAsked((book.parent / "mild steel",))
    own = book.with_name("book.drawings.pdf")
    own.write_bytes(b"%PDF-1.4 mine")
    for _ in range(2):
        done = import_drawings(book, asked)
        assert own.read_bytes() == b"%PDF-1.4 mine"
        assert done.sheet == book.with_name("book.drawings 2.pdf")
        assert "left as it is" in done.said[0]
    own.unlink()
    assert import_drawings(book, asked).sheet == own
    assert import_drawings(book, asked).sheet == own


def test_a_disk_that_fills_up_after_the_book_is_told_and_made_good(
    book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rows stand in the book, so nothing may say that nothing was written."""

    def full(path: Path, data: bytes, **more: Any) -> None:
        if path.name in ("book.outlines.json", "book.drawings.pdf"):
            raise OSError(errno.ENOSPC, "No space left on device", str(path))
        put_file(path, data, **more)

    with monkeypatch.context() as patched:
        patched.setattr("sheetplan.workbook.package.saving.put_file", full)
        result = CliRunner().invoke(app, ["import", str(book), str(book.parent / "mild steel")])
    said = " ".join(result.output.split())
    assert result.exit_code == 3
    assert "4 new parts" in said
    assert "book.outlines.json could not be written (No space left on device)" in said
    assert "contact sheet book.drawings.pdf could not be written" in said
    assert len(table(openpyxl.load_workbook(book), "Parts")) == 4
    assert not known_outlines(book)[0]
    done = import_drawings(book, ImportAsked((book.parent / "mild steel",)))
    assert not done.found.new
    assert len(known_outlines(book)[0]) == 4


def test_what_a_plan_and_the_rack_wrote_is_no_drawing_of_a_part(book: Path) -> None:
    for folder in ("layouts/plan-ABCD", "layouts/earlier/plan-ABCE", "rack"):
        (book.parent / folder).mkdir(parents=True)
        (book.parent / folder / "L1.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 9, 8)), unit=4))
    found = import_drawings(book, ImportAsked((book.parent,))).found
    assert len(found.parts) == 4


def test_no_room_below_the_table_is_said(book: Path) -> None:
    edit = BookEdit(book.read_bytes())
    bottom = openpyxl.load_workbook(book)["Parts"].tables["Parts"].ref.split(":")[1]
    row = int("".join(filter(str.isdigit, bottom)))
    edit.set("Parts", f"B{row + 1}", "mine")
    for number in range(row):
        edit.add_row("Parts", {"Part": f"P{number}"}, ("Part",))
    book.write_bytes(edit.done())
    before = book.read_bytes()
    with pytest.raises(Refused, match="no room for 4 more rows"):
        import_drawings(book, ImportAsked((book.parent / "mild steel",)))
    assert book.read_bytes() == before


def typed(book: openpyxl.Workbook, page: str) -> list[dict[str, object]]:
    """What rows hold but for formulas."""
    return [
        {head: value for head, value in row.items() if value is not None and not str(value).startswith("=")}
        for row in table(book, page)
    ]


@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
def test_an_open_book_gets_the_rows_that_a_closed_one_gets(book: Path, tmp_path: Path) -> None:
    home = tmp_path / "shop"
    home.mkdir()
    (book.parent / "mild steel").rename(home / "drawings")
    books = [Path(shutil.copy(book, home / f"{name}.xlsx")) for name in ("closed", "excel", "calc")]
    import_drawings(books[0], ImportAsked((home / "drawings",)))
    closed = openpyxl.load_workbook(books[0])

    (home / "drawings" / "OLD.DWG").write_bytes(b"AC1027")
    excel = opened(books[1])
    assert run_live(ExcelBook(excel), "import", never)
    for page in ("Parts", "Kits"):
        assert typed(excel.impl.plain, page) == typed(closed, page)
    said = str(excel.impl.names("sheetplan_said").refers_to_range.raw_value)
    assert "4 new parts" in said
    assert "excel.drawings.pdf" in said
    assert "OLD.DWG is a DWG, which is not read; save it as DXF" in said
    assert known_outlines(books[1])[0] == known_outlines(books[0])[0]
    assert run_live(ExcelBook(excel), "import", never)
    assert "0 new parts" in str(excel.impl.names("sheetplan_said").refers_to_range.raw_value)

    end = CalcEnd()
    assert run_live(CalcBook(request(books[2], "import"), end.lines(), end), "import", never)
    [write] = [message["write"] for message in end.said if "write" in message]
    assert not write["save"]
    for page in ("Parts", "Kits"):
        cells = [(r, c, value) for name, r, c, value in write["cells"] if name == page]
        assert len(cells) == sum(map(len, typed(closed, page)))
        assert all(closed[page].cell(r + 1, c + 1).value == value for r, c, value in cells)


def test_an_open_book_without_a_folder_says_where_one_is_looked_for(book: Path) -> None:
    end = CalcEnd()
    assert not run_live(CalcBook(request(book, "import"), end.lines(), end), "import", never)
    assert any("There is no folder" in json.dumps(message) for message in end.said)


def creased(msp) -> None:
    """Two good plates, and one with a line in its metal."""
    box_lines(msp, 0, 0, 40, 30)
    box_lines(msp, 100, 0, 77, 30)
    box_lines(msp, 300, 0, 100, 60)
    msp.add_line((310, 10), (360, 20))


def test_what_cannot_be_used_stops_its_kit_until_its_row_is_deleted(tmp_path: Path) -> None:
    kit = tmp_path / "Bracket 3mm"
    kit.mkdir()
    (kit / "set.dxf").write_bytes(dxf(space(creased), unit=4))
    (kit / "torn.dxf").write_bytes(b"0\nSECTION\n2\nENTITIES\n0\nLI")
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    asked = ImportAsked((kit,), "mild steel")
    done = import_drawings(made, asked)
    assert [one.cell.partition("/")[2] for one in done.found.refused] == ["set.dxf#3", "torn.dxf"]
    rows = {row["Part"]: row for row in table(openpyxl.load_workbook(made), "Parts")}
    assert list(rows) == ["set-1", "set-2", "set-3", "torn"]
    assert str(rows["set-3"]["Description"]).startswith("cannot be used: a line 50.99 long")
    assert (rows["set-3"]["Drawing"], rows["set-3"]["Material"]) == ("Bracket 3mm/set.dxf#3", "mild steel")
    assert str(rows["torn"]["Description"]).startswith("cannot be used: ")
    kits = table(openpyxl.load_workbook(made), "Kits")
    assert {row["Part"]: row["Quantity"] for row in kits} == dict.fromkeys(rows, 1)
    notes = check_book(made).problems
    assert {p.weight for p in notes if "cannot be cut" in p.what} == {Weight.LEFT_OUT}

    edit = BookEdit(made.read_bytes())
    edit.add_row("Orders", {"Order": "X", "Item": "Bracket 3mm", "Quantity": 1}, ("Item",))
    made.write_bytes(edit.done())
    stops = [p for p in check_book(made).problems if p.weight is Weight.STOPS]
    assert [p.page for p in stops] == ["Orders"]
    assert "of the page Kits has a problem" in stops[0].what
    assert import_drawings(made, asked).kit_rows == 0
    assert len(table(openpyxl.load_workbook(made), "Parts")) == 4

    edit = BookEdit(made.read_bytes())
    for page in ("Parts", "Kits"):
        sheet = openpyxl.load_workbook(made)[page]
        for cells in sheet.iter_rows():
            if any(cell.value in ("set-3", "torn") for cell in cells):
                for cell in cells:
                    if cell.value is not None:
                        edit.set(page, cell.coordinate, None)
    made.write_bytes(edit.done())
    left = [p.what for p in check_book(made).problems if p.weight is Weight.STOPS]
    assert left == ["The page Stock has no usable sheet of mild steel 3 mm, which set-1, set-2 need."]


def test_a_mended_drawing_is_taken_up_and_its_row_says_so_no_more(tmp_path: Path) -> None:
    kit = tmp_path / "Bracket"
    kit.mkdir()
    (kit / "set.dxf").write_bytes(dxf(space(creased), unit=4))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    import_drawings(made, ImportAsked((kit,), "mild steel"))

    def mended(msp) -> None:
        box_lines(msp, 0, 0, 40, 30)
        box_lines(msp, 100, 0, 77, 30)
        box_lines(msp, 300, 0, 100, 60)

    (kit / "set.dxf").write_bytes(dxf(space(mended), unit=4))
    done = import_drawings(made, ImportAsked((kit,), "mild steel"))
    assert (done.found.new, done.found.refused, done.changed, done.gone, done.kit_rows) == ((), (), (), (), 0)
    said = [row["Description"] for row in table(openpyxl.load_workbook(made), "Parts")]
    assert said == ["to confirm: thickness not said"] * 3
    assert "set-3" in known_outlines(made)[0]


def test_a_doubt_that_is_answered_is_told_no_more_and_never_printed(tmp_path: Path) -> None:
    (tmp_path / "kit").mkdir()
    for name in ("one", "two"):
        width = 40 if name == "one" else 50
        drawn = space(lambda m, width=width: box_lines(m, 0, 0, width, 30))
        (tmp_path / "kit" / f"{name}.dxf").write_bytes(dxf(drawn, version="R12", unit=0))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    import_drawings(made, ImportAsked((tmp_path / "kit",)))
    doubts = "thickness not said; material not said; the drawing states no unit"
    rows = table(openpyxl.load_workbook(made), "Parts")
    assert [row["Description"] for row in rows] == [f"to confirm: {doubts}"] * 2

    def places(heading: str) -> list[str]:
        heads = next(cells for cells in openpyxl.load_workbook(made)["Parts"].iter_rows()
                     if cells[0].value == "Part")  # fmt: skip
        head = next(cell for cell in heads if cell.value == heading)
        return [f"{head.column_letter}{head.row + i}" for i in (1, 2)]

    edit = BookEdit(made.read_bytes())
    for heading, value in (("Material", "mild steel"), ("Thickness", "3 mm")):
        for place in places(heading):
            edit.set("Parts", place, value)
    edit.set("Parts", places("Description")[1], f"to confirm: {doubts}, ask the office")
    made.write_bytes(edit.done())
    outcome = check_book(made)
    notes = [p.what for p in outcome.problems if p.page == "Parts"]
    assert notes[0] == "one is still to confirm: the drawing states no unit."
    import_drawings(made, ImportAsked((tmp_path / "kit",)))
    said = [row["Description"] for row in table(openpyxl.load_workbook(made), "Parts")]
    assert said == ["to confirm: the drawing states no unit", f"to confirm: {doubts}, ask the office"]
    edit = BookEdit(made.read_bytes())
    edit.set("Parts", places("Drawn in")[0], "mm")
    made.write_bytes(edit.done())
    assert not [p.what for p in check_book(made).problems if p.page == "Parts" and "one " in p.what]
    import_drawings(made, ImportAsked((tmp_path / "kit",)))
    assert table(openpyxl.load_workbook(made), "Parts")[0]["Description"] is None


# Source: Autodesk DXF reference, HEADER: $INSUNITS 0 is no unit; $MEASUREMENT tells which hatches are meant.
def test_a_unit_that_is_taken_from_measurement_is_to_be_confirmed(tmp_path: Path) -> None:
    (tmp_path / "kit").mkdir()
    for unit in (0, 4):
        drawn = space(lambda m, width=40 + unit: box_lines(m, 0, 0, width, 30))
        (tmp_path / "kit" / f"u{unit}.dxf").write_bytes(dxf(drawn, version="R2010", unit=unit))
    assert b"$MEASUREMENT" in (tmp_path / "kit" / "u0.dxf").read_bytes()
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    import_drawings(made, ImportAsked((tmp_path / "kit",)))
    said = {row["Part"]: str(row["Description"]) for row in table(openpyxl.load_workbook(made), "Parts")}
    assert {part: "the drawing states no unit" in doubts for part, doubts in said.items()} == {
        "u0": True, "u4": False,
    }  # fmt: skip


def test_another_run_fills_what_is_empty_in_its_own_rows_and_says_how_many(tmp_path: Path) -> None:
    (tmp_path / "kit").mkdir()
    for i, name in enumerate(("a", "b", "c 5mm", "d")):
        drawn = space(lambda m, i=i: box_lines(m, 0, 0, 40 + i, 30))
        (tmp_path / "kit" / f"{name}.dxf").write_bytes(dxf(drawn, unit=4))
    (tmp_path / "kit" / "e.dxf").write_bytes(b"0\nSECTION\n2\nENTITIES\n0\nLI")
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    run = ["import", str(made), str(tmp_path / "kit")]
    first = " ".join(CliRunner().invoke(app, run).output.split())
    assert 'Run it again with --material "mild steel" and --thickness "3 mm", or what it is' in first
    places = {}
    for cells in openpyxl.load_workbook(made)["Parts"].iter_rows():
        heads = places.get("Part", cells)
        places[str(cells[0].value)] = cells
        if cells[0].value == "d":
            spot = next(cell for head, cell in zip(heads, cells, strict=True) if head.value == "Description")
    edit = BookEdit(made.read_bytes())
    edit.set("Parts", spot.coordinate, "door stop")
    made.write_bytes(edit.done())
    options = ["--material", "mild steel", "--thickness", "3 mm"]
    said = " ".join(CliRunner().invoke(app, [*run, *options]).output.split())
    assert "Empty cells that were filled: Material in 4 rows, Thickness in 3 rows." in said
    assert "left empty, for its Description is your own: d" in said
    assert "Run it again with" not in said
    rows = table(openpyxl.load_workbook(made), "Parts")
    assert [(row["Part"], row["Material"], row["Thickness"]) for row in rows] == [
        ("a", "mild steel", "3 mm"), ("b", "mild steel", "3 mm"), ("c 5mm", "mild steel", "5 mm"),
        ("d", None, None), ("e", "mild steel", "3 mm"),
    ]  # fmt: skip
    assert [row["Description"] for row in rows][:4] == [None, None, None, "door stop"]
    before = made.read_bytes()
    assert "filled" not in CliRunner().invoke(app, [*run, *options]).output
    assert made.read_bytes() == before


@pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")
def test_an_open_book_takes_up_a_mended_drawing_too(tmp_path: Path) -> None:
    kit = tmp_path / "drawings"
    kit.mkdir()
    (kit / "set.dxf").write_bytes(dxf(space(creased), unit=4))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    excel = opened(made)
    assert run_live(ExcelBook(excel), "import", never)
    said = str(excel.impl.names("sheetplan_said").refers_to_range.raw_value)
    assert "1 cannot be used, and no kit with one is planned until its row is mended or deleted" in said
    rows = table(excel.impl.plain, "Parts")
    why = "a line 50.99 long ends nowhere at (310, 10); write mark"
    assert str(rows[2]["Description"]).startswith(f"cannot be used: {why}")
    assert len(table(excel.impl.plain, "Kits")) == 3

    def mended(msp) -> None:
        for x, length, width in ((0, 40, 30), (100, 77, 30), (300, 100, 60)):
            box_lines(msp, x, 0, length, width)

    (kit / "set.dxf").write_bytes(dxf(space(mended), unit=4))
    assert run_live(ExcelBook(excel), "import", never)
    rows = table(excel.impl.plain, "Parts")
    assert [row["Description"] for row in rows] == ["to confirm: thickness not said; material not said"] * 3


def test_a_refused_rows_number_that_means_another_outline_by_now_still_stops(tmp_path: Path) -> None:
    kit = tmp_path / "kit 3mm"
    kit.mkdir()
    (kit / "set.dxf").write_bytes(dxf(space(creased), unit=4))
    made = tmp_path / "book.xlsx"
    new_book(made, demo=False, units=Units.MM)
    asked = ImportAsked((kit,), "mild steel")
    import_drawings(made, asked)

    def mended(msp) -> None:
        for x, length, width in ((0, 40, 30), (100, 100, 60), (300, 77, 30)):
            box_lines(msp, x, 0, length, width)

    (kit / "set.dxf").write_bytes(dxf(space(mended), unit=4))
    off = "Length is 100 and the drawing comes out 77."
    assert off in {p.what for p in check_book(made).problems if p.weight is Weight.LEFT_OUT}
    assert [part.name for part in import_drawings(made, asked).found.new] == ["set-2.2"]
    assert off in {p.what for p in check_book(made).problems if p.weight is Weight.LEFT_OUT}
