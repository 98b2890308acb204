import io
import math
import subprocess
import sys
from dataclasses import replace

import ezdxf
import pytest

from sheetplan.drawings.layers import LAYERS, Role
from sheetplan.drawings.writing.dxf import dxf_bytes, with_remark
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import DrawingFormat, Settings
from sheetplan.model.turns import Corner
from sheetplan.trade.units import Units
from tests.drawings.samples import LAYOUT, OUTLINES, PARTS, REMNANT, RULE, layout_drawing


def read_back(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("cp1252").replace("\r\n", "\n")))


def by_layer(document, role: Role) -> list:
    return [e for e in document.modelspace() if e.dxf.layer == LAYERS[role].name]


@pytest.mark.parametrize("form", DrawingFormat)
@pytest.mark.parametrize("units", Units)
def test_the_drawing_opens_clean_and_says_its_units(form: DrawingFormat, units: Units) -> None:
    document = read_back(layout_drawing(LAYOUT, PARTS, RULE, Settings(units=units, drawing_format=form)))
    assert document.dxfversion == {DrawingFormat.R12: "AC1009", DrawingFormat.R2000: "AC1015"}[form]
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    # Autodesk DXF reference, HEADER: $INSUNITS 1 inches, 4 millimetres; $MEASUREMENT 0 English, 1 metric.
    assert document.header["$INSUNITS"] == {Units.INCH: 1, Units.MM: 4}[units]
    assert document.header["$MEASUREMENT"] == {Units.INCH: 0, Units.MM: 1}[units]


@pytest.mark.parametrize("form", DrawingFormat)
def test_every_outline_is_closed_and_circles_are_circles(form: DrawingFormat) -> None:
    document = read_back(layout_drawing(LAYOUT, PARTS, RULE, Settings(units=Units.MM, drawing_format=form)))
    outlines = by_layer(document, Role.OUTLINE)
    assert len(outlines) == len(LAYOUT.placements)
    flat = {DrawingFormat.R12: "POLYLINE", DrawingFormat.R2000: "LWPOLYLINE"}[form]
    assert [e.dxftype() for e in outlines] == ["CIRCLE", flat, flat, flat, flat, flat]
    assert all(e.is_closed for e in outlines[1:])
    holes = by_layer(document, Role.HOLE)
    assert len(holes) == 1 + 4 + 4 + 2
    assert {e.dxftype() for e in holes} == {"CIRCLE"}
    assert outlines[0].dxf.radius == 100.0
    assert tuple(outlines[0].dxf.center)[:2] == (110.0, 110.0)
    assert len(by_layer(document, Role.SHEET)) == 1


def test_arcs_stay_arcs_when_turned_and_mirrored() -> None:
    document = read_back(layout_drawing(LAYOUT, PARTS, RULE, Settings(units=Units.MM)))
    base, strap = by_layer(document, Role.OUTLINE)[2], by_layer(document, Role.OUTLINE)[4]
    bulges = [point[4] for point in base.get_points()]
    assert sorted(bulges) == pytest.approx([0.0] * 4 + [math.tan(math.pi / 8)] * 4)
    # Mirrored arcs turn the other way; the strap's ends are two quarter arcs each.
    assert sorted(point[4] for point in strap.get_points())[:4] == pytest.approx([-math.tan(math.pi / 8)] * 4)


@pytest.mark.parametrize(
    ("corner", "least", "most"),
    [
        (Corner.LOWER_LEFT, (0.0, 0.0), (96.0, 48.0)),
        (Corner.LOWER_RIGHT, (-96.0, 0.0), (0.0, 48.0)),
        (Corner.UPPER_LEFT, (0.0, -48.0), (96.0, 0.0)),
        (Corner.UPPER_RIGHT, (-96.0, -48.0), (0.0, 0.0)),
    ],
)
def test_the_datum_corner_is_the_origin(corner: Corner, least: tuple, most: tuple) -> None:
    document = read_back(layout_drawing(LAYOUT, PARTS, RULE, Settings(datum=corner)))
    edge = by_layer(document, Role.SHEET)[0].get_points()
    assert (min(p[0] for p in edge), min(p[1] for p in edge)) == least
    assert (max(p[0] for p in edge), max(p[1] for p in edge)) == most
    assert tuple(document.header["$EXTMIN"])[:2] == least
    assert tuple(document.header["$EXTMAX"])[:2] == most


def test_a_remnant_has_its_own_datum_and_shows_old_cuts() -> None:
    layout = Layout("L9", REMNANT, (Placement("CLEAT-1", 700.0, 20.0),))
    document = read_back(layout_drawing(layout, PARTS, RULE, Settings(units=Units.MM)))
    (old,) = by_layer(document, Role.OLD_CUT)
    assert (old.dxftype(), old.dxf.radius, tuple(old.dxf.center)[:2]) == ("CIRCLE", 150.0, (-900.0, -500.0))


def test_names_are_written_and_marked_where_asked() -> None:
    document = read_back(layout_drawing(LAYOUT, PARTS, RULE, Settings()))
    labels = [e.dxf.text for e in by_layer(document, Role.LABEL)]
    assert sorted(labels) == sorted(p.part for p in LAYOUT.placements if p.part != "BASE-3")
    marked = by_layer(document, Role.MARK)
    assert [e.dxf.text for e in marked if e.dxftype() == "TEXT"] == ["BASE-3", "BASE-3"]
    assert len([e for e in marked if e.dxftype() == "LWPOLYLINE"]) == 2


def test_same_bytes_every_time() -> None:
    script = (
        "from tests.drawings.samples import *; import hashlib;"
        "from sheetplan.model.settings import *;"
        "print([hashlib.sha256(layout_drawing(LAYOUT, PARTS, RULE, Settings(drawing_format=f))).hexdigest()"
        " for f in DrawingFormat])"
    )
    runs = {
        subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
        for _ in range(2)
    }
    assert len(runs) == 1


@pytest.mark.parametrize("form", DrawingFormat)
def test_names_in_any_writing_survive(form: DrawingFormat, capfd: pytest.CaptureFixture[str]) -> None:
    name = "Poller-Öse Ø8 係船"
    parts = {name: replace(PARTS["CLEAT-1"], name=name, outline=OUTLINES["CLEAT-1"])}
    layout = replace(LAYOUT, placements=(Placement(name, 10.0, 10.0),))
    document = read_back(layout_drawing(layout, parts, RULE, Settings(drawing_format=form)))
    (text,) = by_layer(document, Role.LABEL)
    written = ezdxf.lldxf.encoding.decode_dxf_unicode(text.dxf.text)
    assert written == name
    assert capfd.readouterr().err == ""


def test_a_remark_stands_in_front_and_readers_pass_over_it() -> None:
    document = ezdxf.new("R2000")
    document.modelspace().add_circle((0, 0), 5.0)
    drawing = dxf_bytes(document, Units.MM)
    remarked = with_remark(drawing, "sheetplan: plan KRTM, layout L3\r\n  0\r\nEOF")
    assert remarked.split(b"\r\n")[:2] == [b"999", b"sheetplan: plan KRTM, layout L3  0EOF"]
    read = ezdxf.read(io.StringIO(remarked.decode().replace("\r\n", "\n")))
    assert [entity.dxftype() for entity in read.modelspace()] == ["CIRCLE"]
