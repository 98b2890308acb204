"""Folders of drawings become rows: what they state stands in the book, what is doubtful is marked."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

from sheetplan.app.import_run import ImportAsked, import_drawings
from sheetplan.app.known_outlines import known_outlines
from sheetplan.app.new import new_book
from sheetplan.app.rack_open import Refused
from sheetplan.cli.commands import app
from sheetplan.trade.units import Units
from tests.hard.strangers import imported, table
from tests.nasty.drawings_making import box_lines, dxf, space


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
    assert "1 of 3 drawn mirrored" in said[three]
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
    assert [(part.name, part.found.thickness) for part in done.found.new][-1] == ("new t=2", "2 mm")


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
    assert "question: mild steel/set A/ells.dxf: a line 100 long ends nowhere" in said
    assert "old.dwg is a DWG, which is not read" in said
    assert CliRunner().invoke(app, ["import", str(book), str(book.parent / "gone")]).exit_code == 3
