"""Drawing nasty things into DXF documents."""

from __future__ import annotations

import math

from sheetplan.drawings.reading.drawing import ReadingChoices
from sheetplan.trade.units import Units
from tests.nasty.drawings_making import (
    box_lines,
    box_polyline,
    dxf,
    space,
)

PLATE = 100.0 * 50.0
MM = ReadingChoices(units=Units.MM)


def choices(**more) -> ReadingChoices:
    return ReadingChoices(units=Units.MM, **more)


def plate(msp, **attributes) -> None:
    box_polyline(msp, 0, 0, 100, 50, **attributes)


def with_plate(more) -> bytes:
    def draw(msp) -> None:
        plate(msp)
        more(msp)

    return dxf(space(draw))


def one_handle(*, strictly: bool) -> bytes:
    """A plate with two holes of the same handle; without ``strictly`` in a file that has to be recovered."""

    def draw(msp) -> None:
        for x in (20, 60):
            msp.add_circle((x, 20), 5)

    before, *circles = with_plate(draw).split(b"\nCIRCLE\n")
    handle = circles[0].splitlines()[1]
    second = circles[1].splitlines(keepends=True)
    second[1] = handle + b"\n"
    data = b"\nCIRCLE\n".join((before, circles[0], b"".join(second)))
    return data if strictly else data.replace(b"  9\n$ACADVER", b"  9;\n$ACADVER", 1)


def loose_lines(msp) -> None:
    box_lines(msp, 0, 0, 100, 50)


def gaps(width: float):
    def draw(msp) -> None:
        msp.add_line((0, 0), (100 - width, 0))
        msp.add_line((100, 0), (100, 50))
        msp.add_line((100, 50), (0, 50))
        msp.add_line((0, 50), (0, 0))

    return draw


def lines_and_arcs(msp) -> None:
    msp.add_line((10, 0), (90, 0))
    msp.add_arc((90, 10), 10, 270, 360)
    msp.add_line((100, 10), (100, 40))
    msp.add_arc((90, 40), 10, 0, 90)
    msp.add_line((90, 50), (10, 50))
    msp.add_arc((10, 40), 10, 90, 180)
    msp.add_line((0, 40), (0, 10))
    msp.add_arc((10, 10), 10, 180, 270)


def mirrored_arcs(msp) -> None:
    """The same, the arcs drawn upside down, as a mirrored view is stored."""
    for start, end in (((10, 0), (90, 0)), ((100, 10), (100, 40)), ((90, 50), (10, 50)), ((0, 40), (0, 10))):
        msp.add_line(start, end)
    down = {"extrusion": (0, 0, -1)}
    # In the upside-down frame x is reversed and angles run the other way.
    msp.add_arc((-90, 10), 10, 180, 270, dxfattribs=down)
    msp.add_arc((-90, 40), 10, 90, 180, dxfattribs=down)
    msp.add_arc((-10, 40), 10, 0, 90, dxfattribs=down)
    msp.add_arc((-10, 10), 10, 270, 360, dxfattribs=down)


ROUNDED = PLATE - (4.0 - math.pi) * 100.0


def tenfold(msp) -> None:
    for _ in range(10):
        box_lines(msp, 0, 0, 100, 50)
        msp.add_circle((50, 25), 10)


def partly_overlapping(msp) -> None:
    msp.add_line((0, 0), (70, 0))
    msp.add_line((30, 0), (100, 0))
    msp.add_line((100, 0), (100, 50))
    msp.add_line((100, 50), (0, 50))
    msp.add_line((0, 50), (0, 0))
    msp.add_line((0, 20), (0, 30))


def overlapping_arcs(msp) -> None:
    msp.add_arc((0, 0), 10, 0, 200)
    msp.add_arc((0, 0), 10, 150, 370)


def blocks_in_blocks(document) -> None:
    inner = document.blocks.new("HOLE")
    inner.add_circle((0, 0), 2.5)
    outer = document.blocks.new("PLATE")
    box_polyline(outer, 0, 0, 50, 25)
    outer.add_blockref("HOLE", (10, 10))
    outer.add_blockref("HOLE", (40, 10))
    document.modelspace().add_blockref(
        "PLATE", (500, 300), dxfattribs={"xscale": 2, "yscale": 2, "rotation": 30}
    )


def mirrored_block(document) -> None:
    block = document.blocks.new("B")
    block.add_lwpolyline([(0, 0, 0.5), (100, 0, 0), (100, 50, 0), (0, 50, 0)], format="xyb", close=True)
    document.modelspace().add_blockref("B", (0, 0), dxfattribs={"xscale": -1})


def squeezed_block(document) -> None:
    block = document.blocks.new("B")
    block.add_circle((0, 0), 10)
    document.modelspace().add_blockref("B", (0, 0), dxfattribs={"xscale": 3.0})


def block_array(document) -> None:
    block = document.blocks.new("HOLE")
    block.add_circle((5, 5), 2)
    msp = document.modelspace()
    plate(msp)
    msp.add_blockref("HOLE", (0, 0), dxfattribs={
        "column_count": 8, "row_count": 4, "column_spacing": 12, "row_spacing": 12,
    })  # fmt: skip


def layer_zero_in_a_block(document) -> None:
    """Block contents on layer 0 take the layer of the insert, here one that is to be ignored."""
    block = document.blocks.new("FRAME")
    box_polyline(block, -50, -50, 300, 200)
    document.layers.add("SHEETFRAME")
    msp = document.modelspace()
    plate(msp)
    msp.add_blockref("FRAME", (0, 0), dxfattribs={"layer": "SHEETFRAME"})


def bomb(document) -> None:
    """Ten blocks, each drawing the next ten times: ten thousand million circles."""
    for level in range(10):
        block = document.blocks.new(f"B{level}")
        if level == 0:
            block.add_circle((0, 0), 1)
        else:
            for i in range(10):
                block.add_blockref(f"B{level - 1}", (i, level))
    document.modelspace().add_blockref("B9", (0, 0))


def deep_blocks(document) -> None:
    for level in range(40):
        block = document.blocks.new(f"B{level}")
        if level == 0:
            plate(block)
        else:
            block.add_blockref(f"B{level - 1}", (0, 0))
    document.modelspace().add_blockref("B39", (0, 0))


def huge_array(document) -> None:
    block = document.blocks.new("HOLE")
    block.add_circle((0, 0), 1)
    document.modelspace().add_blockref("HOLE", (0, 0), dxfattribs={
        "column_count": 32000, "row_count": 32000, "column_spacing": 3, "row_spacing": 3,
    })  # fmt: skip


def missing_block(document) -> None:
    msp = document.modelspace()
    plate(msp)
    msp.add_blockref("NOT THERE", (50, 25))


def spline_disc(msp) -> None:
    """A circle of radius 50 by a rational spline of nine points, exact by construction."""
    w = math.sqrt(0.5)
    points = [(50, 0), (50, 50), (0, 50), (-50, 50), (-50, 0), (-50, -50), (0, -50), (50, -50), (50, 0)]
    knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
    msp.add_rational_spline(
        [(x, y, 0) for x, y in points], [1, w, 1, w, 1, w, 1, w, 1], degree=2, knots=knots
    )


def ellipse_plate(msp) -> None:
    msp.add_ellipse((0, 0), major_axis=(60, 0), ratio=0.5)
    msp.add_ellipse((0, 0), major_axis=(10, 0), ratio=1.0)


def texts_and_dimensions(msp) -> None:
    msp.add_text("PLATE 4 OFF", height=5).set_placement((10, 20))
    msp.add_mtext("6 mm mild steel")
    msp.add_point((50, 25))
    msp.add_linear_dim(base=(0, -10), p1=(0, 0), p2=(100, 0)).render()
    hatch = msp.add_hatch()
    hatch.paths.add_polyline_path([(10, 10), (20, 10), (20, 20)])


def centre_lines(document) -> None:
    document.linetypes.add("CENTER", [2.0, 1.25, -0.25, 0.25, -0.25])
    msp = document.modelspace()
    plate(msp)
    msp.add_circle((50, 25), 10)
    msp.add_line((30, 25), (70, 25), dxfattribs={"linetype": "CENTER"})
    msp.add_line((50, 5), (50, 45), dxfattribs={"linetype": "CENTER"})


def off_layers(document) -> None:
    document.layers.add("OLD").off()
    document.layers.add("COLD").freeze()
    msp = document.modelspace()
    plate(msp)
    msp.add_circle((20, 25), 10, dxfattribs={"layer": "OLD"})
    msp.add_circle((50, 25), 10, dxfattribs={"layer": "COLD"})
    msp.add_circle((80, 25), 10, dxfattribs={"invisible": 1})


def chosen_layers(msp) -> None:
    plate(msp, layer="0-PROFILE")
    msp.add_circle((50, 25), 10, dxfattribs={"layer": "0-INNER"})
    msp.add_line((10, 10), (20, 10), dxfattribs={"layer": "ANNO"})
    msp.add_line((10, 40), (20, 40), dxfattribs={"layer": "NUMBERS"})
    msp.add_circle((300, 300), 10, dxfattribs={"layer": "OTHER"})


def bend_line(msp) -> None:
    plate(msp)
    msp.add_line((40, 0), (40, 50))


def bend_line_on_its_layer(msp) -> None:
    plate(msp)
    msp.add_line((40, 0), (40, 50), dxfattribs={"layer": "BEND LINES"})


def shared_edges(msp) -> None:
    """Three panels side by side, the lines between them drawn once, the middle one lower."""
    msp.add_lwpolyline([(0, 0), (100, 0), (100, 50), (0, 50)], close=True)
    msp.add_lwpolyline([(100, 0), (200, 0), (200, 30), (100, 30)])
    msp.add_lwpolyline([(200, 50), (300, 50), (300, 0), (200, 0), (200, 50)])


def two_parts_one_inside(msp) -> None:
    msp.add_circle((0, 0), 100)
    msp.add_circle((0, 0), 60)
    box_polyline(msp, -20, -10, 40, 20)
    msp.add_circle((0, 0), 4)


def touching_hole(msp) -> None:
    plate(msp)
    msp.add_lwpolyline([(0, 25), (20, 15), (20, 35)], close=True)


def figure_eight(msp) -> None:
    msp.add_lwpolyline([(0, 0), (100, 50), (100, 0), (0, 50)], close=True)


def hole_across_the_edge(msp) -> None:
    msp.add_circle((100, 25), 10)


def spike(msp) -> None:
    """Out and back along one line: a double line that leads nowhere."""
    msp.add_lwpolyline([(0, 0), (100, 0), (130, 0), (100, 0), (100, 50), (0, 50)], close=True)


def bridge(msp) -> None:
    plate(msp)
    box_polyline(msp, 40, 20, 20, 10)
    msp.add_line((0, 25), (40, 25))


def specks(msp) -> None:
    msp.add_line((10, 10), (10, 10))
    msp.add_line((20, 20), (20, 20.0001))
    msp.add_lwpolyline([(30, 30), (30, 30), (30, 30)], close=True)


def far_away(msp) -> None:
    box_lines(msp, 4.5e6, 5.2e6, 100, 50)
    msp.add_circle((4.5e6 + 50, 5.2e6 + 25), 10)


def in_space(msp) -> None:
    msp.add_circle((50, 25, 0), 10, dxfattribs={"extrusion": (1, 0, 1)})


def at_height(msp) -> None:
    msp.add_lwpolyline([(0, 0), (100, 0), (100, 50), (0, 50)], close=True, dxfattribs={"elevation": 12.5})
    msp.add_circle((50, 25, 12.5), 10)


def old_polyline(document) -> None:
    msp = document.modelspace()
    msp.add_polyline2d([(0, 0, 0), (100, 0, 1), (100, 50, 0), (0, 50, 0)], format="xyb", close=True)
    msp.add_polyline3d([(20, 20, 0), (30, 20, 5), (30, 30, 5), (20, 30, 0)], close=True)


def five_thousand_facets(msp) -> None:
    points = [(50 * math.cos(k * math.pi / 2500), 50 * math.sin(k * math.pi / 2500)) for k in range(5000)]
    for start, end in zip(points, points[1:] + points[:1], strict=True):
        msp.add_line(start, end)


FACETED = 2500.0 * 2500.0 * math.sin(2 * math.pi / 5000)
"""Area of a regular polygon of 5,000 sides in a circle of radius 50: n/2 r^2 sin(2 pi/n)."""
