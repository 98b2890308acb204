"""A partly used sheet out of its pictures: edge and openings in the sheet's frame, with the error claimed.

Terms
-----
frame
    The sheet's: zero at the lower left corner of the box round it, x along its length. The plane of the
    pictures is turned, moved and scaled into it; the size by tape says the scale, as a print is true to
    some parts in a thousand only.
claimed error
    No point of the outline is believed to be farther off, measured from the datum corner and along the edge
    there, as the sheet is squared on the table.

Choices
-------
What a picture cannot tell is refused with a sentence rather than guessed, and what is claimed adds up, as
errors of one picture go together: what the marks leave open, how the seen edge scatters, the lower rim
where it can be taken for the upper one, and what a tape is read to.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from PIL import Image, ImageOps, UnidentifiedImageError

from sheetplan.drawings.writing.scene import corner_point, offset
from sheetplan.model.outline import Loop
from sheetplan.model.turns import Corner
from sheetplan.pictures.camera import OPEN_STEP, Bundle, Seen, solve
from sheetplan.pictures.doubt import (
    SEEN_SHARE,
    SIMPLE_MM,
    SLAT_MM,
    VAGUE_MM,
    apart,
    lip,
    not_hidden,
    region_of,
    soft_places,
    told_apart,
    two_ways,
    unclear,
    unseen_places,
    usual_crispness,
    vague,
)
from sheetplan.pictures.fitting import Fitted, fit_ring, refit
from sheetplan.pictures.marks import BAR_MM, Array, NotSeen, find_marks, opencv
from sheetplan.pictures.metal import loops_round, metal_in
from sheetplan.pictures.outline import (
    ROUNDED_CELLS,
    Picture,
    Ring,
    even,
    plan_view,
    rings_of,
    sharpen,
)
from sheetplan.rack.record import AGREE_MM, FINE_MM, has_corner
from sheetplan.shapes import Side, box, flatten, move, oriented, size, to_polygon, turn
from sheetplan.trade.units import Units

MOST_PIXELS = 60_000_000
READ_PIXELS = 16_000_000
"""A picture of more than the first is refused, of more than the second made smaller: it tells no more."""

PRINT_SHARE = 0.012
"""A print that is further from true is not believed to be one of ours at 100 per cent."""

LOST_SHARE = 0.02
"""Of the sheet: corners that come apart when it is taken inward, and are given up."""

WORST_MM = 6.0
"""A reading that can be further off than this is of no use."""

CORNER_MM = 2.5
"""A corner as near as this to the corner of the box round the sheet is that corner."""

PIXEL_SHARE = 0.15
"""Of a pixel: how far an edge may lie beside its steepest brightness, all along."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is known of the sheet beside its pictures.

    ``units`` are what sentences are written in. ``size`` is length and width by tape (mm), ``bar`` what the
    bar on a page measures (mm), ``degrees`` how far the
    sheet is turned against the first picture, counter-clockwise. ``points`` were taken by tape on the edge or
    an opening, from the datum corner, x along the length, y along the width.
    """

    size: tuple[float, float]
    thickness: float
    datum: Corner
    bar: float = BAR_MM
    degrees: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    units: Units = Units.MM

    def said(self, *lengths: float) -> str:
        """Lengths as sentences say them, in the book's unit."""
        places = 1 if self.units is Units.MM else 2
        return " x ".join(f"{mm / self.units.length_mm:.{places}f}" for mm in lengths)

    def at(self, x: float, y: float) -> str:
        """A place from the datum corner."""
        return f"{self.said(x)}, {self.said(y)} {self.units.value} from the datum corner"


@dataclass(frozen=True, slots=True)
class Frame:
    """From the plane of the pictures into the sheet's frame: turned (degrees), scaled, moved."""

    degrees: float
    scale: float
    shift: tuple[float, float]

    def loop(self, loop: Loop) -> Loop:
        """A loop of the plane in the frame."""
        turned = turn(loop, self.degrees)
        return move(
            Loop(tuple((x * self.scale, y * self.scale, bulge) for x, y, bulge in turned.vertices)),
            *self.shift,
        )

    def back(self, points: Array) -> Array:
        """Points of the frame in the plane."""
        angle = math.radians(self.degrees)
        cos, sin = math.cos(angle), math.sin(angle)
        flat = (points - self.shift) / self.scale
        return np.asarray(flat @ np.array(((cos, -sin), (sin, cos))))


@dataclass(frozen=True)
class Reading:
    """What the pictures say: edge and openings as seen, in the frame, and how far they can be wrong (mm).

    ``hidden`` are loops round places that could not be told, in glare or rust: edge and openings are not
    known there. ``print_share`` is the size of the print by the size of the sheet, 1 where both agree.
    """

    edge: Loop
    cuts: tuple[Loop, ...]
    hidden: tuple[Loop, ...]
    claimed: float
    datum: Corner
    frame: Frame
    bundle: Bundle
    pictures: tuple[Picture, ...]
    print_share: float

    @cached_property
    def sure(self) -> tuple[Loop, tuple[Loop, ...]]:
        """What is metal for certain: the edge taken inward and the openings outward by the claimed error.

        What is hidden is taken out like an opening.
        The datum corner stays, as a point too thin for any part: the sheet is measured from it.
        """
        # By polygons: a seen loop may have corners so near to one another that exact offsets come apart.
        taken = to_polygon(self.edge, FINE_MM, Side.IN).buffer(-self.claimed, join_style="mitre")
        parts = sorted(shapely.get_parts(taken), key=lambda part: part.area, reverse=True)
        if not parts or parts[0].is_empty or sum(p.area for p in parts[1:]) > LOST_SHARE * parts[0].area:
            raise NotSeen(
                "Taken inward by the claimed error the sheet falls apart, or nothing is left of it.",
                "Take pictures from nearer by, or measure it by tape.",
            )
        holes = (*self.cuts, *self.hidden)
        grown = [max(offset(hole, self.claimed), key=lambda one: box(one).width) for hole in holes]
        ring = np.asarray(parts[0].exterior.coords)[:-1]
        inner = oriented(_straight(ring))
        edge, cuts = _apart_again(inner, grown)
        return _with_datum(edge, corner_point(self.edge, self.datum), self.claimed), cuts


def _apart_again(edge: Loop, cuts: Sequence[Loop]) -> tuple[Loop, tuple[Loop, ...]]:
    """Openings that grew into one another or into the edge become one, or part of the edge."""
    sheet = to_polygon(edge, FINE_MM, Side.IN)
    holes = [to_polygon(cut, FINE_MM, Side.OUT) for cut in cuts]
    meet = shapely.STRtree(holes).query(holes, predicate="intersects") if holes else np.empty((2, 0))
    if all(sheet.contains_properly(hole) for hole in holes) and (meet[0] == meet[1]).all():
        return edge, tuple(cuts)
    left = sheet.difference(shapely.union_all(holes))
    whole = max(shapely.get_parts(left), key=lambda part: part.area)
    rings = [np.asarray(ring.coords)[:-1] for ring in (whole.exterior, *whole.interiors)]
    outer, *inner = (oriented(_straight(ring)) for ring in rings)
    return outer, tuple(inner)


NEAR_CLAIMS, POINT_MM = 3.0, 0.1
"""From as many claims away the datum corner is joined by a point of this half width: too thin for a part."""


def _with_datum(inner: Loop, at: tuple[float, float], by: float) -> Loop:
    vertices = inner.vertices
    near = min(range(len(vertices)), key=lambda i: math.dist(vertices[i][:2], at))
    x, y, bulge = vertices[near]
    if math.dist((x, y), at) > NEAR_CLAIMS * by:
        # What lies between is hidden, and may be no metal.
        by = POINT_MM
    before, after = vertices[near - 1], vertices[(near + 1) % len(vertices)]

    def toward(other: tuple[float, float, float]) -> tuple[float, float]:
        far = math.dist(other[:2], (x, y))
        share = min(by, far / 2.0) / far
        return x + share * (other[0] - x), y + share * (other[1] - y)

    point = ((*toward(before), 0.0), (*at, 0.0), (*toward(after), bulge))
    return Loop((*vertices[:near], *point, *vertices[near + 1 :]))


def read_pictures(files: Sequence[tuple[str, bytes]], asked: Asked) -> Reading:
    """Read a sheet from its pictures.

    Parameters
    ----------
    files : sequence of (str, bytes)
        Each picture's name and content.
    asked : Asked
        What is known of the sheet.

    Raises
    ------
    NotSeen
        With a sentence on what the pictures cannot tell.
    """
    cv2 = opencv()
    cv2.setNumThreads(1)
    pictures, seen = [], []
    for name, data in files:
        picture = load(name, data)
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        try:
            marks = tuple(find_marks(grey))
        except NotSeen as missing:
            raise NotSeen(f"{name}: {missing.what}", missing.remedy) from missing
        pictures.append(picture)
        seen.append(Seen((picture.shape[1], picture.shape[0]), marks))
    bundle = solve(seen)
    plan = plan_view(pictures, bundle, 1.1 * max(asked.size))
    metal = metal_in(plan, bundle)
    rough = rings_of(metal.there, plan)
    rings = [sharpen(ring, pictures, bundle, asked.thickness, plan.grain) for ring in rough]
    hidden = loops_round(metal.hidden, plan)
    seen_so = [(ring.points, cells) for ring, cells in zip(rings, rough, strict=True)]
    region = region_of(hidden)
    if not_hidden(rings[0], region) < SEEN_SHARE:
        raise NotSeen("Most of the edge lies in glare or rust.", "Wipe it; take pictures in even light.")
    kept = [not_hidden(ring, region) >= SEEN_SHARE for ring in rings]
    whole = [both for both, here in zip(seen_so, kept, strict=True) if here]
    rings, rough = told_apart(rings, rough, region)
    work = _Work(asked, bundle, tuple(pictures), (rings, rough, whole), hidden, plan.grain)
    return work.reading(seen_so)


def load(name: str, data: bytes) -> Picture:
    """A picture upright, in RGB, made smaller where it is very large."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            opened = Image.open(io.BytesIO(data))
        pixels = opened.width * opened.height
        if pixels > MOST_PIXELS:
            raise NotSeen(
                f"{name} has {pixels / 1e6:.0f} megapixels; at most {MOST_PIXELS // 10**6} are read.",
                "Save it smaller: 12 megapixels are enough.",
            )
        share = math.sqrt(READ_PIXELS / pixels)
        if share < 1.0:
            opened.draft("RGB", (round(opened.width * share), round(opened.height * share)))
        upright = ImageOps.exif_transpose(opened).convert("RGB")
        share = math.sqrt(READ_PIXELS / (upright.width * upright.height))
        if share < 1.0:
            upright = upright.resize(
                (round(upright.width * share), round(upright.height * share)), Image.Resampling.BOX
            )
        return np.asarray(upright)
    except (UnidentifiedImageError, Image.DecompressionBombError) as error:
        raise NotSeen(f"{name} is not a picture that can be read.", "Save it as a JPEG or PNG.") from error
    except (OSError, ValueError, SyntaxError, EOFError) as error:
        raise NotSeen(
            f"{name} is damaged or cut off ({error}).", "Copy it from the telephone again."
        ) from error


class _Work:
    """Rings becoming loops in the frame, with everything that speaks against them."""

    def __init__(
        self,
        asked: Asked,
        bundle: Bundle,
        pictures: tuple[Picture, ...],
        seen: tuple[list[Ring], list[Array], list[tuple[Array, Array]]],
        hidden: list[Array],
        grain: float,
    ) -> None:
        self.asked, self.bundle, self.pictures = asked, bundle, pictures
        self.hidden, self.grain = hidden, grain
        # Rings but for what is hidden, as pictures see them and as cells lie; and both with all points.
        self.rings, self.rough, self.whole = seen
        self.within = [max(0.8, 0.8 * float(np.median(ring.pixel))) for ring in self.rings]
        self.region = region_of(hidden)
        self.wrong = 0.0

    def reading(self, seen_so: list[tuple[Array, Array]]) -> Reading:
        """All steps, in order; ``seen_so`` are all rings with all their points, and as cells lie."""
        fitted = [fit_ring(r.points, r.sure, w) for r, w in zip(self.rings, self.within, strict=True)]
        fitted = self._without_vague(fitted)
        for _ in range(ODD_ROUNDS):
            fitted[0] = self._without_odd(fitted[0])
        frame = self._framed(fitted[0].loop)
        fitted = self._with_points(fitted, frame)
        frame = self._framed(fitted[0].loop)
        edge, *cuts = (oriented(frame.loop(one.loop)) for one in fitted)
        self._refuse_unclear(fitted, edge, frame)
        claimed = self._claimed(fitted, frame)
        if not math.isfinite(claimed):
            raise NotSeen(
                "How far the outline can be wrong cannot be said: some of it lies where no picture sees it.",
                "Take one more picture, from farther off, that shows the whole sheet.",
            )
        if claimed > WORST_MM:
            raise NotSeen(
                f"The outline can be wrong by {self.asked.said(claimed)} {self.asked.units.value}: too much.",
                "Lay more pages of marks near the edges; take pictures from nearer by, straight from above.",
            )
        self._hide_doubtful(fitted)
        self._hide_missed(fitted, seen_so, claimed / frame.scale)
        share = frame.scale * BAR_MM / self.asked.bar
        hidden = tuple(oriented(frame.loop(_straight(one))) for one in self.hidden)
        return Reading(
            edge, tuple(cuts), hidden, claimed, self.asked.datum, frame, self.bundle, self.pictures, share
        )

    def _without_vague(self, fitted: list[Fitted]) -> list[Fitted]:
        """The fitted rings but openings that are not seen well: those are hidden, with a margin."""
        kept, usual = [0], usual_crispness(self.rings)
        for number in range(1, len(fitted)):
            one, ring, rough = fitted[number], self.rings[number], self.rough[number]
            off = max(self._strays(fitted, number), self._left_out(one, self.whole[number]))
            if off <= VAGUE_MM and not vague(one, ring, self.within[number], usual):
                kept.append(number)
                continue
            loops = (*self.whole[number], ring.points, rough, flatten(one.loop, 0.05))
            there = shapely.union_all([shapely.Polygon(loop).buffer(0.0) for loop in loops])
            margin = max(lip(ring, 0.5, 1.0) + ROUNDED_CELLS * self.grain + 1.0, SLAT_MM)
            self._hide(there.buffer(margin, quad_segs=4))
        for name in ("rings", "rough", "whole", "within"):
            setattr(self, name, [getattr(self, name)[number] for number in kept])
        return [fitted[number] for number in kept]

    def _without_odd(self, edge: Fitted) -> Fitted:
        """The edge without places that can be read in two ways: they are hidden, from one to the other."""
        places = self._two_ways(edge, 0)
        odd = [place.buffer(2.0 * VAGUE_MM, quad_segs=2) for far, place in places if far > VAGUE_MM]
        if not odd:
            return edge
        self._hide(shapely.union_all(odd))
        rings, rough = told_apart(self.rings[:1], self.rough[:1], self.region)
        if not rings:
            return edge
        [self.rings[0]], [self.rough[0]] = rings, rough
        return fit_ring(self.rings[0].points, self.rings[0].sure, self.within[0])

    def _hide_doubtful(self, fitted: list[Fitted]) -> None:
        """Where an edge is softer than the others, or only bridges what is hidden; an opening as a whole."""
        usual = usual_crispness(self.rings)
        for number, (one, ring) in enumerate(zip(fitted, self.rings, strict=True)):
            places = [*soft_places(ring, usual), *unseen_places(one, ring)]
            if places and number:
                whole = shapely.Polygon(flatten(one.loop, 0.05)).buffer(0.0)
                places = [shapely.union_all([whole, *places]).buffer(SLAT_MM, quad_segs=2)]
            self._hide(shapely.GeometryCollection(places))

    def _hide_missed(self, fitted: list[Fitted], seen_so: list[tuple[Array, Array]], by: float) -> None:
        """Where what any step saw and what was made of it differ by more than the claim, either way."""
        (edge, *openings) = [shapely.Polygon(flatten(one.loop, 0.05)).buffer(0.0) for one in fitted]
        (around, *holes) = [[shapely.Polygon(ring).buffer(0.0) for ring in both] for both in seen_so]
        # It is taken out with the claim round it; cells are no finer than that.
        hidden = shapely.union_all([shapely.Polygon(loop).buffer(0.0) for loop in self.hidden])
        hidden = hidden.buffer(by / 2.0)
        taken_out = shapely.union_all([hidden, *(one.buffer(by) for one in openings)])
        missed = [edge.buffer(-by) - ring - hidden for ring in around]
        missed += [hole - taken_out for both in holes for hole in both]
        missed += [ring - edge.buffer(by) - hidden for ring in around]
        cut_out = shapely.union_all([hole for both in holes for hole in both]).buffer(by)
        missed += [one - cut_out - hidden for one in openings]
        self._hide(shapely.union_all([part for part in missed if part.area > MISSED_MM2]))

    def _hide(self, region: Any) -> None:
        parts = [part.convex_hull.simplify(SIMPLE_MM) for part in shapely.get_parts(region)]
        self.hidden += [np.asarray(part.exterior.coords)[:-1] for part in parts if part.area > 0.0]
        self.region = region_of(self.hidden)

    def _framed(self, edge: Loop) -> Frame:
        """As the first picture has it upright and its long edges lie square, and by the size on the row."""
        middle = np.array(self.bundle.sizes[0]) / 2.0
        foot, head = self.bundle.to_plane(0, np.array([middle, middle - (0.0, 50.0)]))
        upright = 90.0 - math.degrees(math.atan2(*(head - foot)[::-1]))
        wanted, by_bar = self.asked.size, self.asked.bar / BAR_MM
        upright += self.asked.degrees or 0.0
        turned = turn(edge, upright)
        ways = []
        for lean in _leans(turned):
            found = size(turn(turned, lean))
            ways.append((_misfit(found, wanted), lean, found))
        _, lean, _ = min(ways)
        lean += _datum_lean(turn(turned, lean), self.asked.datum)
        found = size(turn(turned, lean))
        misfit = _misfit(found, wanted)
        scale = _scale(found, wanted)
        self._refuse_size(found, by_bar, scale / by_bar, misfit)
        # What the sides differ by beyond what a tape can be off by is an edge that is read wrong.
        self.wrong = max(misfit - AGREE_MM, 0.0) * (wanted[0] ** 2 + wanted[1] ** 2) / (wanted[0] * wanted[1])
        around = box(turn(edge, upright + lean))
        return Frame(upright + lean, scale, (-around.left * scale, -around.bottom * scale))

    def _refuse_size(self, found: tuple[float, float], by_bar: float, share: float, misfit: float) -> None:
        wanted = self.asked.size
        said = (
            f"By the marks the sheet is {self.asked.said(found[1] * by_bar, found[0] * by_bar)}, its "
            f"row says {self.asked.said(wanted[1], wanted[0])} {self.asked.units.value}."
        )
        if misfit > 2.5 + 0.002 * max(wanted):
            if _misfit(found[::-1], wanted) < misfit / 2.0:
                raise NotSeen(
                    f"{said} It lies on its side in the first picture.",
                    "Say how it is turned, counter-clockwise: --turn 90 or --turn -90.",
                )
            raise NotSeen(
                said, "Check the size by tape, and whether the whole sheet and nothing else is seen."
            )
        if abs(share - 1.0) > PRINT_SHARE:
            raise NotSeen(
                f"{said} Both sides differ alike: the marks were printed at {100.0 * share:.1f} per cent, or "
                "it is another sheet.",
                "Check the size. Print them at 100 per cent; or measure the bar on a page, and say it with "
                "--bar.",
            )

    def _with_points(self, fitted: list[Fitted], frame: Frame) -> list[Fitted]:
        """Straight pieces that no picture sees well, laid through points by tape."""
        if not self.asked.points:
            return fitted
        taped = frame.back(self._in_frame(frame.loop(fitted[0].loop)))
        return [
            refit(one, ring.points, ring.sure, taped, [i for i, _ in unclear(one, ring, within)])
            for one, ring, within in zip(fitted, self.rings, self.within, strict=True)
        ]

    def _in_frame(self, edge: Loop) -> Array:
        """The points by tape, from the datum corner into the frame."""
        x, y = np.array(self.asked.points, dtype=np.float64).T
        at = corner_point(edge, self.asked.datum)
        return np.column_stack((
            at[0] - x if self.asked.datum.is_right else at[0] + x,
            at[1] - y if self.asked.datum.is_upper else at[1] + y,
        ))  # fmt: skip

    def _refuse_unclear(self, fitted: list[Fitted], edge: Loop, frame: Frame) -> None:
        if not has_corner(edge, *corner_point(edge, self.asked.datum), within=CORNER_MM):
            raise NotSeen(
                f"No corner of the metal is seen at the {self.asked.datum} of the sheet, its datum corner.",
                "Write another one into Datum corner: it has to be there to be measured from.",
            )
        for one, ring, within in zip(fitted, self.rings, self.within, strict=True):
            for number, why in unclear(one, ring, within):
                if one.pieces[number].taped and ring.sure.any():
                    continue
                x, y = self._from_datum(one, number, ring, edge, frame)
                raise NotSeen(
                    f"The edge is not clear near {self.asked.at(x, y)}: {why}.",
                    "Take one more picture of it, without glare and shadow there; or give two points on it "
                    "by tape, with --point.",
                )
        if self.asked.points:
            self._refuse_far(fitted, edge, frame)

    def _refuse_far(self, fitted: list[Fitted], edge: Loop, frame: Frame) -> None:
        """Points by tape that no outline passes."""
        lines = np.concatenate([even(flatten(frame.loop(one.loop), 0.05), 2.0) for one in fitted])
        for point, taped in zip(self._in_frame(edge), self.asked.points, strict=True):
            off = float(np.hypot(*(lines - point).T).min())
            if off > WORST_MM:
                raise NotSeen(
                    f"The point by tape {self.asked.at(*taped)} is {self.asked.said(off)} off any edge.",
                    "Measure it again, from the datum corner; or take another picture.",
                )

    def _from_datum(
        self, one: Fitted, number: int, ring: Ring, edge: Loop, frame: Frame
    ) -> tuple[float, float]:
        piece = one.pieces[number]
        count = len(ring.points)
        x, y = ring.points[(piece.first + ((piece.last - piece.first) % count or count) // 2) % count]
        [(x, y, _), _] = frame.loop(Loop(((x, y, 0.0), (x, y, 0.0)))).vertices
        at = corner_point(edge, self.asked.datum)
        return abs(x - at[0]), abs(y - at[1])

    def _claimed(self, fitted: list[Fitted], frame: Frame) -> float:
        """How far the outline can be wrong."""
        edges = [self._strays(fitted, number) for number in range(len(fitted))]
        lips = [lip(ring) for ring in self.rings]
        # The datum corner is seen no better than the rest: its error is added to each.
        seen = max(edges) + edges[0] + max(max(lips), lips[0]) + 0.5 * lips[0]
        return AGREE_MM + 0.1 + seen + self.wrong + self._left_open(fitted, frame)

    def _strays(self, fitted: list[Fitted], number: int) -> float:
        """How far a ring can be off where it was seen, beside what holds of all."""
        ring = self.rings[number]
        return (
            fitted[number].stray
            + PIXEL_SHARE * float(np.percentile(ring.pixel[ring.sure], 95))
            + 0.5 * apart(ring)
            + max((far for far, _ in self._two_ways(fitted[number], number)), default=0.0)
        )

    def _left_out(self, one: Fitted, both: tuple[Array, Array]) -> float:
        """How far points of a ring lie off it that were left out beside what is hidden, mm."""
        hidden = shapely.union_all([shapely.Polygon(loop).buffer(VAGUE_MM) for loop in self.hidden])
        lines = shapely.LinearRing(flatten(one.loop, 0.05))
        known = (shapely.points(some[~shapely.contains_xy(hidden, some)]) for some in both)
        off = max(float(shapely.distance(some, lines).max(initial=0.0)) for some in known)
        return max(off - ROUNDED_CELLS * self.grain - 1.0 - VAGUE_MM, 0.0)

    def _two_ways(self, one: Fitted, number: int) -> list[tuple[float, Any]]:
        ring, rough, within = self.rings[number], self.rough[number], self.within[number]
        return two_ways(one, ring, rough, within, self.grain, self.region)

    def _left_open(self, fitted: list[Fitted], frame: Frame) -> float:
        """How far points move in states that fit the marks about as well, seen from the datum corner."""
        points = np.concatenate([
            np.concatenate((np.array([v[:2] for v in one.loop.vertices]), even(flatten(one.loop, 0.2), 80.0)))
            for one in fitted
        ])  # fmt: skip
        all_seen = np.concatenate([ring.points[ring.sure] for ring in self.rings])
        by = np.concatenate([ring.picture[ring.sure] for ring in self.rings])
        picture = np.array([by[np.hypot(*(all_seen - one).T).argmin()] for one in points])
        at = np.array(corner_point(frame.loop(fitted[0].loop), self.asked.datum))
        base = self._seated(points, frame, at, None)
        strays = np.empty((len(self.bundle.others), len(points)))
        for row, state in enumerate(self.bundle.others):
            moved = points.copy()
            for number in np.unique(picture):
                some = picture == number
                pixels = self.bundle.to_picture(int(number), points[some])
                moved[some] = self.bundle.to_plane(int(number), pixels, state)
            strays[row] = np.hypot(*(self._seated(moved, frame, at, base) - base).T)
        return float(np.percentile(strays, 92, axis=0).max()) / OPEN_STEP

    def _seated(self, points: Array, frame: Frame, at: Array, base: Array | None) -> Array:
        """Points in the frame: datum corner at its place, the edge from it square, the size as by tape."""
        angle = math.radians(frame.degrees)
        turned = points @ np.array(((math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))))
        laid = turned * frame.scale + frame.shift
        if base is None:
            return np.asarray(laid)
        corner = int(np.hypot(*(base - at).T).argmin())
        along = np.abs(base[:, 1] - at[1]) < 2.0
        far = int(np.where(along, np.abs(base[:, 0] - at[0]), -1.0).argmax())
        was, now = base[far] - base[corner], laid[far] - laid[corner]
        lean = np.arctan2(was[0] * now[1] - was[1] * now[0], was @ now)
        back = np.array(((np.cos(lean), -np.sin(lean)), (np.sin(lean), np.cos(lean))))
        laid = (laid - laid[corner]) @ back
        spans, wanted = np.ptp(laid, axis=0), np.ptp(base, axis=0)
        return np.asarray(laid * ((spans @ wanted) / (spans @ spans)) + base[corner])


ODD_ROUNDS = 3
"""Without some odd places the edge is fitted otherwise, and others may show."""

MISSED_MM2 = 0.5
"""Slivers from rounding are smaller."""


def _straight(points: Array) -> Loop:
    """A loop of lines."""
    return Loop(tuple((float(x), float(y), 0.0) for x, y in points))


def _scale(found: tuple[float, float], wanted: tuple[float, float]) -> float:
    """By least squares."""
    return (found[0] * wanted[0] + found[1] * wanted[1]) / (found[0] ** 2 + found[1] ** 2)


def _misfit(found: tuple[float, float], wanted: tuple[float, float]) -> float:
    """How far two sizes differ beside a common scale, mm."""
    scale = _scale(found, wanted)
    return max(abs(f * scale - w) for f, w in zip(found, wanted, strict=True))


LONG_SHARE = 0.25
"""Of the longest straight edge: a shorter one does not say how the sheet lies."""


def _leans(edge: Loop) -> Iterator[float]:
    """Turns of at most 45 degrees that lay a long straight edge square."""
    ends = (*edge.vertices[1:], edge.vertices[0])
    straight = [
        (math.dist(a[:2], b[:2]), math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
        for a, b in zip(edge.vertices, ends, strict=True) if abs(a[2]) < 1e-9
    ]  # fmt: skip
    longest = max((length for length, _ in straight), default=0.0)
    if longest <= 0.0:
        raise NotSeen("No straight edge is seen to lay the sheet square by.", "Measure it by tape.")
    for length, angle in straight:
        if length >= LONG_SHARE * longest:
            yield 45.0 - (angle + 45.0) % 90.0


MOST_LEAN = 1.5
"""Degrees: how far the edge at the datum corner is off where another edge lies square."""


def _datum_lean(edge: Loop, datum: Corner) -> float:
    """What turns the edge along the length from the datum corner square, degrees; all is squared by it."""
    at = corner_point(edge, datum)
    ends = (*edge.vertices[1:], edge.vertices[0])
    straight = [(a, b) for a, b in zip(edge.vertices, ends, strict=True) if abs(a[2]) < 1e-9]
    longest = max((math.dist(a[:2], b[:2]) for a, b in straight), default=0.0)
    for a, b in straight:
        angle = (math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) + 90.0) % 180.0 - 90.0
        near = min(math.dist(a[:2], at), math.dist(b[:2], at)) < 2.0 * CORNER_MM
        if near and abs(angle) < MOST_LEAN and math.dist(a[:2], b[:2]) >= LONG_SHARE * longest:
            return -angle
    return 0.0
