"""Real drawings of a public machine: counts and areas against what was counted and reckoned by hand."""

import math
import time
from collections import Counter
from pathlib import Path

import ezdxf
import pytest
import shapely

from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.reading.findings import Says
from sheetplan.drawings.reading.report import DrawingReport, DrawnPart
from sheetplan.shapes import area, as_circle, size
from sheetplan.trade.units import Units

FOLDER = Path(__file__).parents[3] / "shared" / "drawings"
pytestmark = pytest.mark.skipif(
    not FOLDER.is_dir(), reason="the shared drawings are not beside this repository"
)


def read(name: str) -> DrawingReport:
    data = (FOLDER / name).read_bytes()
    return read_bytes(name, data, ReadingChoices(units=Units.MM), time.process_time)


def part_of(report: DrawingReport, length: float, width: float) -> DrawnPart:
    """The first part of a size."""
    for part in report.parts:
        if size(part.outline) == pytest.approx((length, width), abs=0.01):
            return part
    raise AssertionError(f"no part of {length} x {width}")


def round_holes(part: DrawnPart) -> list[float]:
    """Diameters of round holes."""
    circles = [as_circle(hole) for hole in part.outline.holes]
    return sorted(round(2 * circle[2], 2) for circle in circles if circle)


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.dxf")), ids=lambda path: path.stem)
def test_loops_and_metal_against_a_general_library(path: Path) -> None:
    """Faces of the drawn lines by shapely's polygonise, arcs flattened by ezdxf; dashed lines left out."""
    lines = []
    for entity in ezdxf.readfile(path).modelspace():
        if entity.dxf.get("linetype", "BYLAYER").upper() in ("BYLAYER", "CONTINUOUS"):
            straight = entity.dxftype() == "LINE"
            points = (entity.dxf.start, entity.dxf.end) if straight else entity.flattening(0.0005)
            lines.append(shapely.LineString([(p.x, p.y) for p in points]))
    # The drawn ends miss each other by up to a thousandth, so the library needs a coarse grid.
    noded = shapely.set_precision(shapely.union_all(lines), 0.01)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
    # A face is metal if an even number of rings lie round it.
    shells = [shapely.Polygon(face.exterior) for face in faces]
    inner, outer = shapely.STRtree(shells).query([f.representative_point() for f in faces], "within")
    around = Counter(i for i, j in zip(inner.tolist(), outer.tolist(), strict=True) if i != j)
    metal = sum(face.area for i, face in enumerate(faces) if around[i] % 2 == 0)
    report = read(path.name)
    assert sum(area(part.outline) for part in report.parts) == pytest.approx(metal, rel=2e-4)
    assert sum(1 + len(part.outline.holes) for part in report.parts) == len(faces)


def test_small_lines_only() -> None:
    report = read("r12_small_lines_only.dxf")
    assert report.good
    assert [len(part.outline.holes) for part in report.parts] == [0, 0]
    # The shape's corners as the file has them; area by the surveyor's formula, worked by hand.
    corners = [
        (0.0, 7.0), (0.0, 16.0), (2.3, 16.0), (2.1, 19.0), (2.3, 20.0), (3.5, 20.0), (13.0, 4.0), (13.0, 0.0),
        (12.6, 0.0),
    ]  # fmt: skip
    turned = corners[1:] + corners[:1]
    by_hand = abs(sum(a * d - c * b for (a, b), (c, d) in zip(corners, turned, strict=True))) / 2
    for part in report.parts:
        assert size(part.outline) == pytest.approx((13.0, 20.0), abs=1e-3)
        assert area(part.outline) == pytest.approx(by_hand, abs=0.5)
    assert area(report.parts[0].outline) == pytest.approx(area(report.parts[1].outline), rel=1e-6)
    # The dashed fold and its arrow, five lines, are not cut.
    assert [(use.count, use.style) for use in report.layers if use.use == "not cut"] == [(5, "DASHED")]


def test_panels_that_share_edges() -> None:
    report = read("r12_panels_lines_arcs.dxf")
    assert report.good
    # Counted in a picture: five large panels, one L, one on the right, three connector plates with
    # one bar below them, one disc, and the gap where four panels meet.
    assert len(report.parts) == 13
    assert any("share" in finding.what for finding in report.of_weight(Says.ASKED))
    plain = part_of(report, 170.0, 130.0)
    # A rectangle of 170 x 130 less a notch of 5 x 11 at the corner: 22100 - 55.
    assert (len(plain.outline.holes), area(plain.outline)) == (0, pytest.approx(22045.0, abs=0.01))
    gap = part_of(report, 5.0, 11.0)
    assert area(gap.outline) == pytest.approx(55.0, abs=1e-3)
    base = part_of(report, 376.0, 248.0)
    assert len(base.outline.holes) == 28
    assert len(round_holes(base)) == 28
    disc = part_of(report, 40.0, 40.0)
    # A disc of 40 with two holes of 3: pi (400 - 2 x 2.25).
    assert area(disc.outline) == pytest.approx(math.pi * (400.0 - 2 * 2.25), abs=0.05)
    small = [part for part in report.parts if size(part.outline) == pytest.approx((23.0, 50.0), abs=0.01)]
    assert [len(part.outline.holes) for part in small] == [2, 2, 2]


def test_mounts_of_facets() -> None:
    report = read("r12_mounts_mostly_lines.dxf")
    assert report.good
    assert [len(part.outline.holes) for part in report.parts] == [10, 10, 2, 2]
    # Two pairs, one a copy of the other 130 higher.
    assert area(report.parts[0].outline) == pytest.approx(area(report.parts[1].outline), rel=1e-9)
    assert area(report.parts[2].outline) == pytest.approx(area(report.parts[3].outline), rel=1e-9)
    # Each mount: four holes of 5, two of 4, and four windows of 7 x 7.4 (11.5 to 18.5 by 25.8 to 33.2).
    windows = [hole for hole in report.parts[0].outline.holes if not as_circle(hole)]
    assert [area(hole) for hole in windows] == pytest.approx([7.0 * 7.4] * 4)
    assert round_holes(report.parts[0]) == [4.0, 4.0, 5.0, 5.0, 5.0, 5.0]
    # Two scraps of 0.375 left over beside the mounts are told and left out.
    scraps = [finding for finding in report.findings if "scrap" in finding.what]
    assert len(scraps) == 2
    assert report.parts[0].corner[1] == pytest.approx(0.0, abs=1e-6)


def test_many_parts_of_loose_lines() -> None:
    report = read("r12_loose_lines_many_parts.dxf")
    assert report.good
    # In the picture: 21 plates, and six small discs drawn inside holes (stencils of the next size).
    sizes = [max(size(part.outline)) for part in report.parts]
    assert (sum(s > 10.0 for s in sizes), sum(s < 10.0 for s in sizes)) == (21, 6)
    assert all(as_circle(part.outline.outer) for part in report.parts if max(size(part.outline)) < 10.0)
    bars = [part for part in report.parts if size(part.outline) == pytest.approx((147.8, 124.0), abs=0.01)]
    assert [len(part.outline.holes) for part in bars] == [10, 10]
    tall = part_of(report, 60.0, 149.0)
    # Four screw holes and two bores, four slots, six windows.
    assert len(tall.outline.holes) == 16
    plates = [part_of(report, 37.0, 32.0), part_of(report, 40.0, 29.0)]
    # 37 x 32 with four holes of 5: 1184 - 4 pi 6.25.
    assert area(plates[0].outline) == pytest.approx(1184.0 - 4 * math.pi * 6.25, abs=0.05)
    assert len(plates[1].outline.holes) == 4
    # Each loop is an outline or a hole, and none is lost: 154 in the file.
    assert sum(1 + len(part.outline.holes) for part in report.parts) == 154
