import xml.etree.ElementTree as ET

import pytest

from sheetplan.drawings.layers import LAYERS, Role
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.trade.units import Units
from tests.drawings.samples import LAYOUT, PARTS, REMNANT, RULE, layout_svg

SVG = "{http://www.w3.org/2000/svg}"


def drawn(layout: Layout = LAYOUT, **how) -> ET.Element:
    return ET.fromstring(layout_svg(layout, PARTS, RULE, Settings(**how)))


def group(root: ET.Element, role: Role) -> list[ET.Element]:
    found = root.find(f"{SVG}g[@id='{LAYERS[role].name}']")
    return [] if found is None else list(found)


@pytest.mark.parametrize(("units", "width"), [(Units.INCH, "96in"), (Units.MM, "2438.4mm")])
def test_it_has_its_real_size(units: Units, width: str) -> None:
    root = drawn(units=units)
    assert root.get("width") == width
    assert root.get("viewBox").split()[2] == width.rstrip("inm")


@pytest.mark.parametrize(
    ("corner", "box"),
    [
        (Corner.LOWER_LEFT, "0 -48 96 48"),
        (Corner.LOWER_RIGHT, "-96 -48 96 48"),
        (Corner.UPPER_LEFT, "0 0 96 48"),
        (Corner.UPPER_RIGHT, "-96 0 96 48"),
    ],
)
def test_the_datum_corner_is_the_origin(corner: Corner, box: str) -> None:
    assert drawn(datum=corner).get("viewBox") == box


def test_circles_are_circles_and_arcs_arcs() -> None:
    root = drawn(units=Units.MM)
    outlines = group(root, Role.OUTLINE)
    assert [element.tag for element in outlines].count(f"{SVG}circle") == 1
    assert (outlines[0].get("cx"), outlines[0].get("cy"), outlines[0].get("r")) == ("110", "-110", "100")
    # Corners of radius 20, counter-clockwise on the page, where y points down: sweep flag 0.
    assert outlines[1].get("d").count("A 20 20 0 0 0 ") == 4
    assert all(d.endswith("Z") for d in (e.get("d") for e in outlines[1:]))
    # Mirrored arcs turn the other way.
    assert outlines[4].get("d").count("A 12 12 0 0 1 ") == 4


def test_groups_stand_in_for_layers() -> None:
    layout = Layout("L9", REMNANT, (Placement("BASE-3", 700.0, 20.0),))
    root = drawn(layout)
    assert [g.get("id") for g in root.findall(f"{SVG}g")] == [
        LAYERS[role].name for role in (Role.SHEET, Role.OLD_CUT, Role.HOLE, Role.OUTLINE, Role.MARK)
    ]
    assert [e.text for e in group(root, Role.MARK) if e.tag == f"{SVG}text"] == ["BASE-3"]


def test_same_bytes_every_time_and_names_are_escaped() -> None:
    assert layout_svg(LAYOUT, PARTS, RULE, Settings()) == layout_svg(LAYOUT, PARTS, RULE, Settings())
    tagged = Layout("<L&1>", LAYOUT.sheet, LAYOUT.placements)
    assert drawn(tagged).find(f"{SVG}title").text == "<L&1>"
