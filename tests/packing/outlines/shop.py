"""Parts of an invented harbour workshop, and a judge of arrangements that shares no code with the packer."""

import math
from collections.abc import Mapping, Sequence

import shapely
from shapely import affinity

from sheetplan.model import Loop, Outline, Part, Placement
from sheetplan.trade.thickness import Thickness

INCH = 25.4
PLATE = Thickness(3.0, "3 mm")
CHORD_STRAYS = 2e-4
"""Chords of the judge stray by at most this much, mm: on a hollow arc they add metal that is not there."""

QUARTER = math.tan(math.pi / 8)
"""The bulge of a quarter circle."""

ALLOWED_SHORT = 0.001
"""The judge forgives a micrometre, as the house does (`SAME_LENGTH_MM`)."""


def loop(*corners: tuple[float, ...], unit: float = INCH) -> Loop:
    return Loop(tuple((c[0] * unit, c[1] * unit, c[2] if len(c) > 2 else 0.0) for c in corners))


def circle(x: float, y: float, radius: float, unit: float = INCH) -> Loop:
    return loop((x - radius, y, 1.0), (x + radius, y, 1.0), unit=unit)


def ring(radius: float, hole: float) -> Outline:
    return Outline(circle(radius, radius, radius), (circle(radius, radius, hole),))


KIT_OUTLINES: Mapping[str, Outline] = {
    "bracket": Outline(
        loop((0, 0), (14, 0), (14, 3), (5, 3, -QUARTER), (3, 5), (3, 14), (0, 14))
    ),
    "gusset": Outline(loop((0, 0), (11, 0), (11, 1.5), (1.5, 11), (0, 11))),
    "ring": ring(9, 6.5),
    "flange": ring(4, 1.25),
    "yoke": Outline(loop((0, 0), (12, 0), (12, 10), (9, 10), (9, 4.5, -1.0), (3, 4.5), (3, 10), (0, 10))),
    "slotted tab": Outline(
        loop((0, 0), (6, 0, 1.0), (6, 2.5), (0, 2.5)),
        (loop((2, 0.9), (5, 0.9, 1.0), (5, 1.6), (2, 1.6, 1.0)),),
    ),
    "curved rib": Outline(loop((13, 0), (16, 0, QUARTER), (0, 16), (0, 13, -QUARTER))),
    "tee": Outline(loop((0, 8), (0, 6), (5, 6), (5, 0), (7, 0), (7, 6), (12, 6), (12, 8))),
}
KIT_PIECES: Mapping[str, int] = {
    "bracket": 2, "gusset": 4, "ring": 1, "flange": 2, "yoke": 2, "slotted tab": 8, "curved rib": 2, "tee": 2,
}
"""One kit: 23 pieces."""


def part(name: str, outline: Outline, **more: object) -> Part:
    return Part(name, "mild steel", PLATE, outline, **more)  # type: ignore[arg-type]


def kit_parts() -> tuple[Part, ...]:
    return tuple(part(name, outline) for name, outline in KIT_OUTLINES.items())


def _ring(chain: Loop) -> list[tuple[float, float]]:
    """Corners of a loop; an arc of bulge b has the centre and radius that DXF's definition gives."""
    points: list[tuple[float, float]] = []
    ends = chain.vertices[1:] + chain.vertices[:1]
    for (x0, y0, bulge), (x1, y1, _) in zip(chain.vertices, ends, strict=True):
        points.append((x0, y0))
        if bulge:
            sweep = 4.0 * math.atan(bulge)
            # Centre: from the middle of the chord, chord / 2 * cot(sweep / 2) to its left.
            away = 0.5 / math.tan(sweep / 2.0)
            cx, cy = (x0 + x1) / 2 - away * (y1 - y0), (y0 + y1) / 2 + away * (x1 - x0)
            radius = math.hypot(x0 - cx, y0 - cy)
            count = max(2, math.ceil(abs(sweep) / math.sqrt(8.0 * CHORD_STRAYS / radius)))
            for k in range(1, count):
                a = sweep * k / count
                dx, dy = x0 - cx, y0 - cy
                points.append(
                    (cx + math.cos(a) * dx - math.sin(a) * dy, cy + math.sin(a) * dx + math.cos(a) * dy)
                )
    return points


def filled(chain: Loop) -> shapely.Polygon:
    return shapely.Polygon(_ring(chain))


def polygon(outline: Outline) -> shapely.Polygon:
    return shapely.Polygon(_ring(outline.outer), [_ring(hole) for hole in outline.holes])


def lying(parts: Mapping[str, Part], placement: Placement) -> shapely.Polygon:
    shape = polygon(parts[placement.part].outline)
    if placement.mirrored:
        shape = affinity.scale(shape, -1.0, 1.0, origin=(0, 0))
    turned = affinity.rotate(shape, placement.turn, origin=(0, 0))
    return affinity.translate(turned, placement.x, placement.y)


def least_clearance(
    shapes: Sequence[shapely.Polygon], fixed: Sequence[shapely.Polygon], near: float
) -> float:
    """Least distance between shapes, or of a shape to something fixed; ``near`` where none is nearer."""
    everything = [*shapes, *fixed]
    tree = shapely.STRtree(everything)
    least = near
    for a, b in zip(*tree.query(everything, predicate="dwithin", distance=near), strict=True):
        if a < b and a < len(shapes):
            least = min(least, everything[a].distance(everything[b]))
    return least


def faults(
    parts: Sequence[Part],
    placements: Sequence[Placement],
    edge: shapely.Polygon,
    margin: float,
    gap: float,
    cuts: Sequence[shapely.Polygon] = (),
) -> list[str]:
    """What is wrong with an arrangement, in words; nothing is right only if something was placed."""
    by_name = {p.name: p for p in parts}
    shapes = [lying(by_name, p) for p in placements]
    found = []
    for placement, shape in zip(placements, shapes, strict=True):
        if not edge.covers(shape):
            found.append(f"{placement} sticks out")
        elif edge.exterior.distance(shape) < margin - ALLOWED_SHORT:
            found.append(f"{placement} is {edge.exterior.distance(shape)} from the edge")
        turns = by_name[placement.part].turns
        if not any(abs((placement.turn - turn + 180.0) % 360.0 - 180.0) < 1e-6 for turn in turns):
            found.append(f"{placement} is turned where it may not be")
        if placement.mirrored and not by_name[placement.part].may_mirror:
            found.append(f"{placement} may not be mirrored")
    for a, b in zip(*shapely.STRtree(shapes).query(shapes, predicate="intersects"), strict=True):
        if a < b and gap > 0.0:
            found.append(f"{placements[a]} meets {placements[b]}")
    least = least_clearance(shapes, cuts, 1.3 * gap + 1.0)
    if least < gap - ALLOWED_SHORT:
        found.append(f"clearance {least}, asked for {gap}")
    return found
