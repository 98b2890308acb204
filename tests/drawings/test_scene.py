import pytest
import shapely
from shapely import affinity

from sheetplan.drawings.layers import Role
from sheetplan.drawings.writing.scene import ON_SHEET, WIDE, Label, layout_scene
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.shapes import Side, place, to_polygon
from tests.drawings.samples import LAYOUT, OUTLINES, PARTS, REMNANT


def text_box(label: Label) -> shapely.Polygon:
    wide, high = label.height * WIDE * len(label.text) / 2, label.height / 2
    upright = shapely.box(label.x - wide, label.y - high, label.x + wide, label.y + high)
    return affinity.rotate(upright, label.turn, origin=(label.x, label.y))


def test_holes_come_before_their_outline() -> None:
    scene = layout_scene(LAYOUT, PARTS, Settings())
    for stand in range(len(LAYOUT.placements)):
        roles = [curve.role for curve in scene.curves if curve.stand == stand]
        assert roles[-1] is Role.OUTLINE
        assert roles.count(Role.OUTLINE) == 1
    assert [c.role for c in scene.curves if c.stand == ON_SHEET] == [Role.SHEET]


@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 180.0, 250.0])
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("name", list(OUTLINES))
def test_the_name_stands_on_the_metal_and_upright(name: str, turn: float, mirrored: bool) -> None:
    placement = Placement(name, 900.0, 500.0, turn, mirrored)
    scene = layout_scene(Layout("L1", LAYOUT.sheet, (placement,)), PARTS, Settings())
    (label,) = scene.labels
    metal = to_polygon(place(OUTLINES[name], placement), 0.01, Side.IN)
    assert metal.contains(text_box(label))
    assert -90.0 < label.turn <= 90.0
    assert label.height >= 5.0


def test_a_long_thin_part_is_lettered_along_itself() -> None:
    layout = Layout("L1", LAYOUT.sheet, (Placement("STRAP-5", 500.0, 500.0, 60.0),))
    (label,) = layout_scene(layout, PARTS, Settings()).labels
    assert label.turn == pytest.approx(60.0)


def test_the_origin_is_the_datum_corner() -> None:
    assert layout_scene(LAYOUT, PARTS, Settings(datum=Corner.UPPER_LEFT)).origin == (0.0, 1219.2)
    on_remnant = Layout("L2", REMNANT, ())
    scene = layout_scene(on_remnant, PARTS, Settings(datum=Corner.LOWER_LEFT))
    assert scene.origin == (1200.0, 800.0)
    assert [c.role for c in scene.curves] == [Role.SHEET, Role.OLD_CUT]
