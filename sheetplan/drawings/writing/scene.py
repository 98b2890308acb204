"""One picture of a layout as plain values, for every writer that draws it: DXF, SVG, PDF, PNG.

The path of the cut's middle and the place of a part's name on its metal are found here too.
"""

from __future__ import annotations

import itertools
import math
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import affinity

from sheetplan.drawings.layers import Role
from sheetplan.drawings.reading.findings import Allowance, Limits
from sheetplan.drawings.reading.loops import trace
from sheetplan.drawings.reading.network import close_pairs, make_network
from sheetplan.model.job import CuttingRule, Part, Remnant, edge_of
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.model.turns import Corner
from sheetplan.shapes import Side, area, as_circle, box, circle_loop, merged, oriented, place, to_polygon
from sheetplan.shapes.arcs import Piece, between, meetings, nearest, pieces, point_at
from sheetplan.shapes.loops import cos_sin
from sheetplan.trade.units import SAME_LENGTH_MM

# The path of the cut's middle: outlines half a kerf outward, holes half a kerf inward.
#
# For tables whose own program does not do it. Lines are moved aside and arcs keep their centres, so
# the result is exact; round outer corners are rolled over with half the kerf as radius. Method: the
# pieces moved aside and the corners' arcs make a raw path; it is cut wherever it meets itself, and
# what comes nearer to the outline than half the kerf is taken out (the usual trimmed offset, as in
# X.-Z. Liu et al., An offset algorithm for polyline curves, Computers in Industry 58, 2007).

NEAR_ENOUGH_MM = 1e-6
"""How much nearer than half the kerf a piece may come and still be kept: rounding, no more."""


@dataclass(frozen=True, slots=True)
class KerfPath:
    """The outline to follow, and the holes that are too narrow for the kerf, as drawn."""

    outline: Outline
    lost: tuple[Loop, ...]


def kerf_path(outline: Outline, kerf: float) -> KerfPath:
    """The middle of the cut for an outline.

    Parameters
    ----------
    outline : Outline
        The finished part, mm.
    kerf : float
        Width of the cut, mm.

    Raises
    ------
    ValueError
        If no path is left for the outer loop, which a sound outline always has.
    """
    half = kerf / 2.0
    if half <= 0.0:
        return KerfPath(outline, ())
    outer = offset(outline.outer, half)
    if not outer:
        raise ValueError("no cut path goes round this outline")
    holes: list[Loop] = []
    lost: list[Loop] = []
    for hole in outline.holes:
        inside = offset(hole, -half)
        holes.extend(inside)
        if not inside:
            lost.append(hole)
    # Where a notch closes up, the path round the outside is the part's; pockets cannot be reached.
    return KerfPath(Outline(max(outer, key=area), tuple(holes), outline.marks), tuple(lost))


def part_to_cut(part: Part, rule: CuttingRule) -> Part:
    """The part as the table is to follow it where the drawing holds the middle of the cut.

    A hole too narrow for the kerf, which no path goes round, is marked at its edge instead.
    """
    path = kerf_path(part.outline, rule.kerf)
    lost = tuple(Stroke((*hole.vertices, (*hole.vertices[0][:2], 0.0))) for hole in path.lost)
    return replace(part, outline=replace(path.outline, marks=(*path.outline.marks, *lost)))


def offset(loop: Loop, distance: float) -> tuple[Loop, ...]:
    """A loop moved outward by ``distance`` mm (inward if below 0), counter-clockwise.

    None are left where it is too narrow; inward it may fall into several, outward it may close
    round a pocket, which is among the results as a loop of its own.
    """
    circle = as_circle(loop)
    if circle:
        x, y, radius = circle
        left = radius + distance
        return (circle_loop(x, y, left),) if left > SAME_LENGTH_MM else ()
    # On a counter-clockwise loop outward is to the right of the way along it.
    own = list(pieces(oriented(loop)))
    raw = _raw_path(own, distance)
    kept = [piece for piece in _cut_apart(raw) if _far_enough(piece, own, abs(distance))]
    allowance = Allowance(Limits(pieces=10**9, seconds=math.inf), time.monotonic)
    traced = trace(make_network(kept, SAME_LENGTH_MM, allowance))
    return tuple(merged(found) for found in traced.loops)


def _raw_path(own: Sequence[Piece], distance: float) -> list[Piece]:
    """Every piece moved aside, and at each corner an arc about it from one to the next."""
    raw = []
    moved = [_moved(piece, distance) for piece in own]
    for i, piece in enumerate(moved):
        if piece is not None:
            raw.append(piece)
        corner = (own[i].x1, own[i].y1)
        ends = [_beside(own[i], 1.0, distance), _beside(own[(i + 1) % len(own)], 0.0, distance)]
        if math.dist(*ends) > SAME_LENGTH_MM * 1e-3:
            raw.append(_corner(corner, ends[0], ends[1]))
    return raw


def _beside(piece: Piece, share: float, distance: float) -> tuple[float, float]:
    """The point that lies ``distance`` to the right of an end of the piece."""
    x, y = point_at(piece, share)
    lean = piece.sweep / 2.0 * (1.0 if share > 0.5 else -1.0)
    heading = math.atan2(piece.y1 - piece.y0, piece.x1 - piece.x0) + lean
    return x + distance * math.sin(heading), y - distance * math.cos(heading)


def _moved(piece: Piece, distance: float) -> Piece | None:
    """The piece moved to the right; None for an arc that shrinks to nothing."""
    start, end = _beside(piece, 0.0, distance), _beside(piece, 1.0, distance)
    if piece.bulge:
        radius = piece.radius + (distance if piece.bulge > 0.0 else -distance)
        if radius <= SAME_LENGTH_MM * 1e-3:
            return None
    return Piece(*start, *end, piece.bulge)


def _corner(corner: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> Piece:
    """The arc about a corner, the short way round."""
    first = math.atan2(start[1] - corner[1], start[0] - corner[0])
    last = math.atan2(end[1] - corner[1], end[0] - corner[0])
    sweep = (last - first + math.pi) % (2.0 * math.pi) - math.pi
    return Piece(*start, *end, math.tan(sweep / 4.0))


def _cut_apart(raw: Sequence[Piece]) -> list[Piece]:
    """The path's pieces, cut at every place where two of them meet."""
    cuts: dict[int, set[float]] = defaultdict(set)
    for i, j in close_pairs(raw, SAME_LENGTH_MM):
        for at_i, at_j in meetings(raw[i], raw[j], NEAR_ENOUGH_MM):
            cuts[i].add(at_i)
            cuts[j].add(at_j)
    apart = []
    for i, piece in enumerate(raw):
        shares = [0.0, *sorted(share for share in cuts[i] if 1e-9 < share < 1.0 - 1e-9), 1.0]
        apart += [between(piece, a, b) for a, b in itertools.pairwise(shares)]
    return [piece for piece in apart if piece.length > NEAR_ENOUGH_MM]


def _far_enough(piece: Piece, own: Sequence[Piece], distance: float) -> bool:
    """Whether a stretch keeps its distance from the loop, judged in its middle."""
    x, y = point_at(piece, 0.5)
    return all(nearest(other, x, y)[0] >= distance - NEAR_ENOUGH_MM for other in own)


# Where a part's name fits on its metal, and how large.
#
# A line of text is about `WIDE` capital heights wide for each letter. Squeezing the metal
# sideways by the text's shape turns the search for a place for a long flat text into one for a
# square, which stands well inside the largest circle that fits: a standard problem.

WIDE = 1.0
"""Advance of a letter over the height of a capital; drawing programs' plain faces stay below it."""

TALLEST_MM = 25.4
"""Taller letters read no better on a screen or a print."""

CLEAR_SHARE = 0.85
"""How much of the free square the text takes, so that it keeps off the lines."""

CLEAR_GAIN = 1.2
"""How much larger turned text must be than level text to be worth turning the head."""

COARSE_SHARE = 0.004
"""Error allowed in flattening for this purpose, over the part's size."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """A place for text: its middle, the height of its capitals (mm), its turn in degrees."""

    x: float
    y: float
    height: float
    turn: float


def letter_room(outline: Outline, text: str) -> Lettering:
    """The place on an outline's metal where ``text`` can stand largest.

    Level text is tried, upright text, and text along the part where the part lies askew.
    """
    around = box(outline)
    coarse = max(around.length, around.width) * COARSE_SHARE
    metal = to_polygon(outline, coarse, Side.IN)
    best = Lettering(*_largest(metal, text, coarse), 0.0)
    for degrees in (90.0, _lie(metal)):
        x, y, height = _largest(affinity.rotate(metal, -degrees, origin=(0.0, 0.0)), text, coarse)
        # Level text reads more easily, so turned text must bring a clear gain.
        if best.height < TALLEST_MM and height > CLEAR_GAIN * best.height:
            cos, sin = cos_sin(degrees)
            best = Lettering(cos * x - sin * y, sin * x + cos * y, height, degrees)
    return Lettering(best.x, best.y, min(best.height, TALLEST_MM), best.turn)


def letter_turn(own: float, placement: Placement) -> float:
    """The turn of text that lies at ``own`` degrees in its part, never upside down: above -90, up to 90."""
    turned = (-own if placement.mirrored else own) + placement.turn
    return 90.0 - (90.0 - turned) % 180.0


def _lie(metal: shapely.Geometry) -> float:
    """Direction of the longer side of the least box around the metal, in degrees."""
    corners = list(shapely.oriented_envelope(metal).exterior.coords)
    sides = [(bx - ax, by - ay) for (ax, ay), (bx, by) in itertools.pairwise(corners[:3])]
    dx, dy = max(sides, key=lambda side: math.hypot(*side))
    return math.degrees(math.atan2(dy, dx)) % 180.0


def _largest(metal: shapely.Geometry, text: str, tolerance: float) -> tuple[float, float, float]:
    """Middle and height of the largest level text on the metal."""
    squeeze = max(1.0, WIDE * len(text))
    squeezed = affinity.scale(metal, 1.0 / squeeze, 1.0, origin=(0.0, 0.0))
    spoke = shapely.maximum_inscribed_circle(squeezed, tolerance / squeeze)
    x, y = spoke.coords[0]
    return x * squeeze, y, spoke.length * math.sqrt(2.0) * CLEAR_SHARE


# One picture of a layout as plain values, for every writer that draws it: DXF, SVG, PDF, PNG.
#
# Terms
# role
#     What a line is there for; each writer has its own pen or layer for each role.
# stand
#     The index of the placement that a line or label belongs to, `ON_SHEET` for the sheet's own.
#
# Everything is in mm in the sheet's frame: length along x, width along y, lower left at (0, 0).

ON_SHEET = -1


@dataclass(frozen=True, slots=True)
class Curve:
    """A loop or stroke of lines and arcs with its role."""

    role: Role
    chain: Loop | Stroke
    stand: int = ON_SHEET


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text, its middle at ``(x, y)``, capitals ``height`` mm high, turned by ``turn`` degrees.

    The role is `Role.MARK` where the text is to be marked on the part itself.
    """

    role: Role
    text: str
    x: float
    y: float
    height: float
    turn: float = 0.0
    stand: int = ON_SHEET


@dataclass(frozen=True, slots=True)
class Scene:
    """A layout as curves and labels in cutting order: for each part its marks, holes, then outline.

    The crop cut comes last: once it is made, the skeleton is loose.

    ``origin`` is the datum corner, from which drawings for the table are measured.
    """

    tag: str
    sheet: Loop
    datum: Corner
    origin: tuple[float, float]
    curves: tuple[Curve, ...]
    labels: tuple[Label, ...]


class CutScenes:
    """Scenes of one gauge's layouts as the table is to follow them.

    A part's path and the place of its name are worked out once, on however many layouts it lies.

    Parameters
    ----------
    parts : Mapping[str, Part]
        The parts of the job by name, those of the layouts at the least.
    rule : CuttingRule
        How the gauge is cut.
    settings : Settings
        Whether drawings hold the middle of the cut, and where sheets are measured from.
    """

    def __init__(self, parts: Mapping[str, Part], rule: CuttingRule, settings: Settings) -> None:
        self._parts, self._rule, self._settings = parts, rule, settings
        self._cut: dict[str, Part] = {}
        self._rooms = LetterRooms()

    def of(self, layout: Layout, crop: Sequence[Stroke] = ()) -> Scene:
        """The scene of a layout; ``crop`` is cut on the line."""
        for placement in layout.placements:
            if placement.part not in self._cut:
                part = self._parts[placement.part]
                offset = self._settings.kerf_offset
                self._cut[placement.part] = part_to_cut(part, self._rule) if offset else part
        return layout_scene(layout, self._cut, self._settings, crop, self._rooms)


class LetterRooms:
    """Where the names of parts stand on their metal, each worked out once."""

    def __init__(self) -> None:
        self._known: dict[str, Lettering] = {}

    def of(self, part: Part) -> Lettering:
        """The place of a part's name; parts of one name are taken to be one part."""
        known = self._known.get(part.name)
        if known is None:
            known = self._known[part.name] = letter_room(part.outline, part.name)
        return known


def layout_scene(
    layout: Layout, parts: Mapping[str, Part], settings: Settings, crop: Sequence[Stroke] = (),
    rooms: LetterRooms | None = None,
) -> Scene:  # fmt: skip
    """What stands on the sheet of a layout.

    Parameters
    ----------
    layout : Layout
        The arrangement.
    parts : Mapping[str, Part]
        The parts of the job by name.
    settings : Settings
        Gives the datum corner of sheets that have none of their own.
    crop : Sequence[Stroke]
        Lines that part what is kept of the sheet from the rest, cut on the line.
    rooms : LetterRooms, optional
        Shared by the layouts of a job.
    """
    rooms = rooms or LetterRooms()
    sheet = edge_of(layout.sheet)
    old = layout.sheet.old_cuts if isinstance(layout.sheet, Remnant) else ()
    datum = layout.sheet.datum if isinstance(layout.sheet, Remnant) else settings.datum
    curves = [Curve(Role.SHEET, sheet), *(Curve(Role.OLD_CUT, loop) for loop in old)]
    labels: list[Label] = []
    for stand, placement in enumerate(layout.placements):
        part = parts[placement.part]
        curves.extend(_part_curves(place(part.outline, placement), stand))
        labels.append(_label(part, placement, rooms.of(part), stand))
    curves.extend(Curve(Role.CROP, line) for line in crop)
    return Scene(layout.tag, sheet, datum, corner_point(sheet, datum), tuple(curves), tuple(labels))


def corner_point(sheet: Loop, corner: Corner) -> tuple[float, float]:
    """Where a corner of the sheet lies; on an odd remnant, the corner of the box around it."""
    around = box(sheet)
    return (
        around.right if corner.is_right else around.left,
        around.top if corner.is_upper else around.bottom,
    )


def _part_curves(placed: Outline, stand: int) -> list[Curve]:
    """In cutting order: what is marked or cut out after the outline has come loose is out of place."""
    return [
        *(Curve(Role.MARK, mark, stand) for mark in placed.marks),
        *(Curve(Role.HOLE, hole, stand) for hole in placed.holes),
        Curve(Role.OUTLINE, placed.outer, stand),
    ]


def _label(part: Part, placement: Placement, room: Lettering, stand: int) -> Label:
    (x, y, _), *_ = place(Stroke(((room.x, room.y, 0.0),)), placement).vertices
    role = Role.MARK if part.mark else Role.LABEL
    return Label(role, part.name, x, y, room.height, letter_turn(room.turn, placement), stand)
