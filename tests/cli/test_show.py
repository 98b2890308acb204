"""The command `show`: many drawings, their own units, layers, JSON."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path

import pytest
from ezdxf.document import Drawing
from typer.testing import CliRunner

from sheetplan.cli.commands import app
from tests.nasty.drawings_making import box_lines, dxf, space


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def two(msp) -> None:
    box_lines(msp, 10, 5, 100, 50, layer="3MM")
    box_lines(msp, 200, 0, 60, 40, layer="6MM")
    msp.add_circle((230, 20), 5, dxfattribs={"layer": "DRILL"})


def test_a_folder_is_told_in_its_own_units_with_layers_and_places(tmp_path: Path) -> None:
    (tmp_path / "kit" / "sub").mkdir(parents=True)
    (tmp_path / "kit" / "a.dxf").write_bytes(dxf(space(two), unit=4))
    (tmp_path / "kit" / "sub" / "a.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 4, 3)), unit=1))
    result = CliRunner().invoke(app, ["show", "kit", "--json", "read.json"])
    assert result.exit_code == 0, result.output
    assert "a.dxf#1: 100 x 50 mm at (10, 5), layer 3MM, 0 holes" in result.output
    assert "a.dxf#2: 60 x 40 mm at (200, 0), layer 6MM, 1 hole" in result.output
    assert "4 x 3 in" in result.output
    assert "2 drawings, 3 outlines good to cut; 0 drawings with something wrong" in result.output
    assert sorted(path.name for path in tmp_path.glob("*.png")) == ["a.2.read.png", "a.read.png"]
    told = json.loads((tmp_path / "read.json").read_text())["drawings"]
    assert [(d["units"], [(p["layer"], p["length"]) for p in d["parts"]]) for d in told] == [
        ("mm", [("3MM", 100.0), ("6MM", 60.0)]),
        ("in", [("0", 4.0)]),
    ]


def test_layers_to_cut(tmp_path: Path) -> None:
    (tmp_path / "a.dxf").write_bytes(dxf(space(two), unit=4))
    result = CliRunner().invoke(app, ["show", "a.dxf", "--layers", "6MM, DRILL", "--units", "in"])
    assert "2.3622 x 1.5748 in, 1 hole" in result.output


def test_a_block_from_another_drawing_makes_it_none_that_is_good_to_cut(tmp_path: Path) -> None:
    def draw(document: Drawing) -> None:
        box_lines(document.modelspace(), 0, 0, 4, 3)
        document.add_xref_def("plates/other.dxf", "HOLES")
        document.modelspace().add_blockref("HOLES", (0, 0))

    (tmp_path / "a.dxf").write_bytes(dxf(draw, unit=1))
    result = CliRunner().invoke(app, ["show", "a.dxf"])
    said = " ".join(result.output.split())
    assert result.exit_code == 1
    assert "the block HOLES stands in plates/other.dxf and not in this file" in said
    assert "good to cut" not in said


def test_what_is_not_read_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.dwg").write_bytes(b"AC1027")
    (tmp_path / "empty").mkdir()
    assert "save it as DXF" in CliRunner().invoke(app, ["show", "a.dwg"]).output
    assert CliRunner().invoke(app, ["show", "gone.dxf"]).exit_code == 3
    assert "no DXF or SVG" in CliRunner().invoke(app, ["show", "empty"]).output


def test_the_unit_asked_for_is_that_of_places_and_one_is_one(tmp_path: Path) -> None:
    def creased(msp) -> None:
        box_lines(msp, 10, 0, 4, 3)
        msp.add_line((11, 1), (13, 1))

    (tmp_path / "good.dxf").write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 4, 3)), unit=1))
    (tmp_path / "bad.dxf").write_bytes(dxf(space(creased), unit=1))
    result = CliRunner().invoke(app, ["show", "good.dxf", "bad.dxf", "--units", "mm"])
    said = " ".join(result.output.split())
    assert "a line 50.8 mm long ends nowhere at (279.4, 25.4) mm; write mark or leave out" in said
    assert "2 drawings, 1 outline good to cut; 1 drawing with something wrong" in said


def test_a_name_typed_is_found_though_its_letters_are_composed_otherwise(tmp_path: Path) -> None:
    drawing = tmp_path / unicodedata.normalize("NFD", "Bügel.dxf")
    drawing.write_bytes(dxf(space(lambda m: box_lines(m, 0, 0, 100, 50))))
    typed = str(tmp_path / unicodedata.normalize("NFC", "Bügel.dxf"))
    found = CliRunner().invoke(app, ["show", typed, "--picture", str(tmp_path / "p.png")])
    assert found.exit_code == 0, found.output
    assert "There is no file" not in found.output
