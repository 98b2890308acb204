"""One layout as a drawing: sheet, parts with their numbers, old cuts, what will remain, scale bar."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import shapely

from sheetplan.drawings.scene import sheet_edge
from sheetplan.model import Job, Layout, Loop, Placement, Remnant
from sheetplan.pages import palette
from sheetplan.pages.layout_frame import Frame, frame_for, frame_marks
from sheetplan.pages.lettering import text_width
from sheetplan.pages.marks import Area, Drawing, Line, Mark, Point, Ring, Words
from sheetplan.pages.marks import box as ring_of
from sheetplan.pages.numbering import SMALLEST, Spot, spot_for
from sheetplan.pages.wording import counted, sheet_text, size_text
from sheetplan.shapes import Box, area, flatten, flatten_stroke, place
from sheetplan.shapes.flattening import Points

FLATNESS = 0.1
"""Points that a drawn arc may stray: less than the width of its edge."""

HATCH_STEP = 5.0
"""Points between hatch lines, measured along the sheet's length."""


@dataclass(frozen=True, slots=True)
class LayoutDrawing:
    """A drawing with what a page needs to explain it."""

    drawing: Drawing
    keys: Mapping[str, str]
    """Key of each part whose name did not fit, by part."""
    points_per_mm: float
    bar_mm: float
    """Length that the scale bar stands for."""


@dataclass(frozen=True, slots=True)
class _Shape:
    """A part as it lies at one turn: rings and marks in points about its own origin, and its number."""

    rings: tuple[Ring, ...]
    marks: tuple[Ring, ...]
    words: str
    spot: Spot | None


@dataclass(slots=True)
class _Shapes:
    """Shapes made so far for one layout, so that equal parts are worked out once."""

    job: Job
    scale: float
    keys: dict[str, str]
    made: dict[tuple[str, float, bool], _Shape] = field(default_factory=dict)

    def of(self, placement: Placement) -> _Shape:
        which = (placement.part, placement.turn, placement.mirrored)
        if which not in self.made:
            self.made[which] = self._make(placement)
        return self.made[which]

    def _make(self, placement: Placement) -> _Shape:
        at_origin = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
        outline = place(self.job.parts[placement.part].outline, at_origin)
        rings = tuple(self._ring(loop) for loop in (outline.outer, *outline.holes))
        marks = tuple(
            _points(flatten_stroke(mark, FLATNESS / self.scale) * self.scale) for mark in outline.marks
        )
        metal = shapely.Polygon(rings[0], rings[1:])
        if placement.part in self.keys:
            key = self.keys[placement.part]
            return _Shape(rings, marks, key, spot_for(key, metal))
        return _Shape(rings, marks, placement.part, spot_for(placement.part, metal))

    def _ring(self, loop: Loop) -> Ring:
        return _points(flatten(loop, FLATNESS / self.scale) * self.scale)


def draw_layout(
    layout: Layout,
    job: Job,
    *,
    width: float,
    height: float,
    colours: palette.PartColours | None = None,
    keep: Box | None = None,
) -> LayoutDrawing:
    """Compose a layout within a width and height in points.

    Parameters
    ----------
    layout : Layout
        What to show.
    job : Job
        Where its parts and the book's units stand.
    width, height : float
        The most that the drawing may take, points.
    colours : PartColours, optional
        Fills by part; worked out from the job where not given.
    keep : Box, optional
        What will remain as a useful remnant, in the sheet's frame (mm); drawn hatched.
    """
    colours = colours or palette.part_colours(job)
    frame = frame_for(layout, job, colours, width, height)
    keys = _keys(layout, job, frame.scale)
    shapes = _Shapes(job, frame.scale, keys)
    marks: list[Mark] = [*_sheet(layout, frame)]
    if keep is not None:
        marks += _kept(keep, frame, job)
    marks += _old_cuts(layout, frame)
    marks += _parts(layout, frame, shapes, colours)
    marks += frame_marks(frame, job)
    kinds = len({placement.part for placement in layout.placements})
    alt = (
        f"Layout {layout.tag} on {sheet_text(layout.sheet, job.settings.units)}: "
        f"{counted(len(layout.placements), 'part')} of {counted(kinds, 'kind')}"
    )
    drawing = Drawing(frame.width, frame.height, tuple(marks), alt)
    return LayoutDrawing(drawing, keys, frame.scale, frame.bar_mm)


def _keys(layout: Layout, job: Job, scale: float) -> dict[str, str]:
    """Keys for the parts whose name does not fit at every turn that they lie in, largest part first."""
    plain = _Shapes(job, scale, {})
    too_small = {p.part for p in layout.placements if plain.of(p).spot is None}
    by_size = sorted(too_small, key=lambda part: (-area(job.parts[part].outline), part))
    return {part: str(number) for number, part in enumerate(by_size, start=1)}


def _sheet(layout: Layout, frame: Frame) -> Iterator[Mark]:
    edge = _points(frame.put(flatten(sheet_edge(layout), FLATNESS / frame.scale)))
    yield Area((edge,), palette.SHEET, palette.SHEET_EDGE, 1.2)


def _old_cuts(layout: Layout, frame: Frame) -> Iterator[Mark]:
    if isinstance(layout.sheet, Remnant):
        for loop in layout.sheet.cuts:
            ring = _points(frame.put(flatten(loop, FLATNESS / frame.scale)))
            yield Area((ring,), palette.OLD_CUT, palette.OLD_CUT_EDGE, 0.7, (2.5, 1.5))


def _kept(keep: Box, frame: Frame, job: Job) -> Iterator[Mark]:
    """Hatch with the size in the middle."""
    ring = ring_of(*frame.at(keep.left, keep.bottom), *frame.at(keep.right, keep.top))
    region = shapely.Polygon(ring)
    for chain in _hatch(region):
        yield Line(chain, palette.KEEP_LINE, 0.5)
    yield Area((ring,), None, palette.KEEP_LINE, 0.8, (4.0, 2.0))
    text = f"keep {size_text(keep.length, keep.width, job.settings.units)}"
    spot = spot_for(text, region, largest=9.0)
    if spot:
        words = Words(text, spot.x, spot.y, spot.size, palette.INK, upward=spot.upward)
        yield from (_pad(words, air=3.0), words)


def _hatch(region: shapely.Polygon) -> Iterator[Ring]:
    """Lines at 45 degrees within a region, equally spaced from the drawing's origin."""
    left, bottom, right, top = region.bounds
    first = math.ceil((left - top) / HATCH_STEP)
    last = math.floor((right - bottom) / HATCH_STEP)
    lines = [
        shapely.LineString(((n * HATCH_STEP + bottom, bottom), (n * HATCH_STEP + top, top)))
        for n in range(first, last + 1)
    ]
    for piece in shapely.get_parts(shapely.intersection(lines, region)):
        for chain in shapely.get_parts(piece):
            if isinstance(chain, shapely.LineString) and chain.length > 0.0:
                yield tuple((x, y) for x, y in chain.coords)


def _parts(layout: Layout, frame: Frame, shapes: _Shapes, colours: palette.PartColours) -> Iterator[Mark]:
    words: list[Words] = []
    bare: list[tuple[str, Point, shapely.Polygon]] = []
    metal: list[shapely.Polygon] = []
    for placement in layout.placements:
        shape = shapes.of(placement)
        x, y = frame.at(placement.x, placement.y)
        rings = tuple(_moved(ring, x, y) for ring in shape.rings)
        metal.append(shapely.Polygon(rings[0], rings[1:]))
        yield Area(rings, colours.fill(placement.part), palette.EDGE, 0.8)
        for chain in shape.marks:
            yield Line(_moved(chain, x, y), palette.QUIET_INK, 0.5)
        spot = shape.spot
        if spot is None:
            bare.append((placement.part, _middle(rings[0]), metal[-1]))
        else:
            words.append(
                Words(shape.words, x + spot.x, y + spot.y, spot.size, palette.INK, upward=spot.upward)
            )
    yield from words
    yield from _on_pads(bare, words, metal, shapes.keys)


def _on_pads(
    bare: list[tuple[str, Point, shapely.Polygon]],
    words: list[Words],
    metal: list[shapely.Polygon],
    keys: Mapping[str, str],
) -> Iterator[Mark]:
    """Keys of parts whose metal is too narrow: on a pad over the part's hole where nothing else lies there.

    Where that is not possible for any of a kind, one of them still gets its key, on its metal.
    """
    others = shapely.STRtree(metal)
    taken = [_room(mark) for mark in words]
    done: set[str] = set()
    for part, middle, own in bare:
        mark = Words(keys[part], *middle, SMALLEST, palette.INK)
        room = _room(mark)
        inside = shapely.Polygon(own.exterior).contains(room)
        if inside and all(metal[i] is own for i in others.query(room, predicate="intersects")):
            done.add(part)
            taken.append(room)
            if not own.contains(room):
                yield _pad(mark)
            yield mark
    for part, _, own in bare:
        if part not in done:
            point = own.representative_point()
            mark = Words(keys[part], point.x, point.y, SMALLEST, palette.INK)
            if not any(_room(mark).intersects(other) for other in taken):
                done.add(part)
                taken.append(_room(mark))
                yield from (_pad(mark), mark)


def _room(mark: Words) -> shapely.Polygon:
    half = text_width(mark.text, mark.size, mark.bold) / 2 + 0.5, mark.size / 2
    dx, dy = half[::-1] if mark.upward else half
    return shapely.box(mark.x - dx, mark.y - dy, mark.x + dx, mark.y + dy)


def _pad(mark: Words, air: float = 0.3) -> Area:
    """A light ground for words that stand on lines."""
    left, bottom, right, top = _room(mark).bounds
    return Area((ring_of(left - air, bottom - air, right + air, top + air),), palette.SHEET)


def _middle(ring: Ring) -> Point:
    xs, ys = [x for x, _ in ring], [y for _, y in ring]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _moved(ring: Ring, dx: float, dy: float) -> Ring:
    return tuple((x + dx, y + dy) for x, y in ring)


def _points(array: Points) -> Ring:
    return tuple((float(x), float(y)) for x, y in array)
