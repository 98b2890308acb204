"""One layout as a drawing: sheet, numbered parts, old cuts, what will remain, and the frame round them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from sheetplan.model import Grain, Job, Layout, Loop, Placement, Remnant
from sheetplan.model.job import edge_of
from sheetplan.model.turns import Corner
from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.lettering import shorten, text_width
from sheetplan.pages.drawing.marks import Area, Drawing, Hold, Line, Mark, Point, Ring, Words
from sheetplan.pages.drawing.marks import box as ring_of
from sheetplan.pages.drawing.numbering import SMALLEST, Spot, spot_for
from sheetplan.pages.wording import length_text, sheet_text, size_text
from sheetplan.shapes import Box, area, box, flatten, flatten_stroke, place
from sheetplan.shapes.loops import AnyPoints
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import Units

# Where a sheet stands in a drawing, and the marks that lie on it: edge, old cuts, hatch, parts.

FLATNESS = 0.1
"""Points that a drawn arc may stray: less than the width of its edge."""

HATCH_STEP = 5.0
"""Points between hatch lines, measured along the sheet's length."""


@dataclass(frozen=True, slots=True)
class Stand:
    """Scale and place of a sheet in a drawing of a width and height in points."""

    width: float
    height: float
    scale: float
    """Points to the millimetre."""
    origin: Point
    """Where the sheet's (0, 0) lies."""
    sheet: Box
    """The box of the sheet in its own frame, mm."""
    datum: Corner

    def at(self, x: float, y: float) -> Point:
        """A point of the sheet (mm) in the drawing."""
        return self.origin[0] + x * self.scale, self.origin[1] + y * self.scale

    def ring(self, loop: Loop) -> Ring:
        """A loop of the sheet (mm) in the drawing."""
        points = flatten(loop, FLATNESS / self.scale) * self.scale + np.array(self.origin)
        return ring_of_points(points)

    @property
    def corners(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of the sheet in the drawing."""
        return (*self.at(self.sheet.left, self.sheet.bottom), *self.at(self.sheet.right, self.sheet.top))


@dataclass(frozen=True, slots=True)
class PartShape:
    """A part as it lies at one turn: rings, scribed marks and metal in points about its own origin."""

    rings: tuple[Ring, ...]
    scribed: tuple[Ring, ...]
    metal: shapely.Polygon


Lie = tuple[str, float, bool]
"""A part's name, its turn, and whether it is mirrored."""


def lie_of(placement: Placement) -> Lie:
    """How a placement's part lies, wherever that is."""
    return placement.part, placement.turn, placement.mirrored


class PartShapes:
    """Shapes worked out so far at one scale, so that equal parts are flattened once, and numbered once."""

    def __init__(self, job: Job, scale: float) -> None:
        self.job, self.scale = job, scale
        self._made: dict[Lie, PartShape] = {}
        self._spots: dict[tuple[Lie, str, str, bool], Spot | None] = {}

    def spot(
        self, placement: Placement, text: str, letter: str = "", *, may_break: bool = False
    ) -> Spot | None:
        """Where a text stands on a placement's part, about its own origin."""
        asked = lie_of(placement), text, letter, may_break
        if asked not in self._spots:
            metal = self.of(placement).metal
            self._spots[asked] = spot_for(text, metal, may_break=may_break, letter=letter)
        return self._spots[asked]

    def of(self, placement: Placement) -> PartShape:
        """The shape of a placement's part as it lies."""
        lie = lie_of(placement)
        if lie not in self._made:
            self._made[lie] = self._make(placement)
        return self._made[lie]

    def _make(self, placement: Placement) -> PartShape:
        at_origin = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
        outline = place(self.job.parts[placement.part].outline, at_origin)
        bound = FLATNESS / self.scale
        rings = [flatten(loop, bound) * self.scale for loop in (outline.outer, *outline.holes)]
        scribed = [flatten_stroke(mark, bound) * self.scale for mark in outline.marks]
        return PartShape(
            tuple(map(ring_of_points, rings)),
            tuple(map(ring_of_points, scribed)),
            shapely.Polygon(rings[0], rings[1:]),
        )


def datum_of(layout: Layout, job: Job) -> Corner:
    """The corner that a layout's sheet is measured from."""
    return layout.sheet.datum if isinstance(layout.sheet, Remnant) else job.settings.datum


def sheet_marks(layout: Layout, stand: Stand) -> Iterator[Mark]:
    """The sheet and, on a remnant, what was cut from it before."""
    yield Area((stand.ring(edge_of(layout.sheet)),), palette.SHEET, palette.SHEET_EDGE, 1.2)
    if isinstance(layout.sheet, Remnant):
        for loop in layout.sheet.old_cuts:
            yield Area((stand.ring(loop),), palette.OLD_CUT, palette.OLD_CUT_EDGE, 0.7, (2.5, 1.5))
        for loop in layout.sheet.cuts[len(layout.sheet.old_cuts) :]:
            # Metal that is there and not used has an edge only.
            yield Area((stand.ring(loop),), None, palette.OLD_CUT_EDGE, 0.5, (1.0, 2.5))


def part_marks(
    layout: Layout, stand: Stand, shapes: PartShapes, colours: palette.PartColours
) -> Iterator[Mark]:
    """All parts with their holes and scribed marks."""
    for placement in layout.placements:
        shape = shapes.of(placement)
        x, y = stand.at(placement.x, placement.y)
        yield Area(
            tuple(moved(ring, x, y) for ring in shape.rings), colours.fill(placement.part), palette.EDGE, 0.8
        )
        for chain in shape.scribed:
            yield Line(moved(chain, x, y), palette.QUIET_INK, 0.5)


def kept_ring(keep: Box, stand: Stand) -> Ring:
    """The corners of what goes back to the rack."""
    return ring_of(*stand.at(keep.left, keep.bottom), *stand.at(keep.right, keep.top))


def kept_marks(keep: Box, stand: Stand) -> Iterator[Mark]:
    """Hatch over what goes back to the rack."""
    ring = kept_ring(keep, stand)
    for chain in _hatch(shapely.Polygon(ring)):
        yield Line(chain, palette.KEEP_LINE, 0.5)
    yield Area((ring,), None, palette.KEEP_LINE, 0.8, (4.0, 2.0))


def datum_angle(stand: Stand) -> Line:
    """A heavy angle round the datum corner; its middle point is the corner."""
    left, bottom, right, top = stand.corners
    x, inward = (right + 2.0, -1.0) if stand.datum.is_right else (left - 2.0, 1.0)
    y, upward = (top + 2.0, -1.0) if stand.datum.is_upper else (bottom - 2.0, 1.0)
    leg = min(18.0, 0.4 * (right - left), 0.4 * (top - bottom))
    return Line(((x + inward * leg, y), (x, y), (x, y + upward * leg)), palette.DATUM, 2.6)


def moved(ring: Ring, dx: float, dy: float) -> Ring:
    """A ring or chain moved."""
    return tuple((x + dx, y + dy) for x, y in ring)


def translated(metal: shapely.Polygon, dx: float, dy: float) -> shapely.Polygon:
    """A polygon moved."""
    return shapely.transform(metal, lambda points: points + np.array((dx, dy)))


def ring_of_points(points: AnyPoints) -> Ring:
    """Points of shape (n, 2) as plain pairs."""
    return tuple((x, y) for x, y in points.tolist())


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


# Numbers on the parts of a drawing: every kind is named or keyed, and no words touch.
#
# A part's name stands on its metal where it fits, with its kit's letter where there is room; where it does
# not, a key does, or the key lies over a hole that nothing else lies in. Where even that is not possible for
# any of a kind, one of them is keyed on a pad.


@dataclass(frozen=True, slots=True)
class Numbers:
    """The words for all parts, with the pads that some stand on, and the key of each keyed part."""

    marks: tuple[Mark, ...]
    keys: Mapping[str, str]


def number_parts(
    layout: Layout, job: Job, stand: Stand, shapes: PartShapes, colours: palette.PartColours
) -> Numbers:
    """Number the parts of a layout at its place in a drawing, with the letters of their kits."""
    lies = {lie_of(placement): placement for placement in layout.placements}
    letters = {lie: colours.letter(lie[0]) for lie in lies}
    named = {
        lie: shapes.spot(placement, lie[0], letters[lie], may_break=True) for lie, placement in lies.items()
    }
    keys = _keys(layout, {lie[0] for lie, spot in named.items() if spot is None}, job)
    spots = {
        lie: shapes.spot(placement, keys[lie[0]], letters[lie]) if lie[0] in keys else named[lie]
        for lie, placement in lies.items()
    }
    words: list[Words] = []
    bare = []
    metal = []
    for placement in layout.placements:
        x, y = stand.at(placement.x, placement.y)
        metal.append(translated(shapes.of(placement).metal, x, y))
        spot = spots[lie_of(placement)]
        if spot is None:
            bare.append((placement.part, metal[-1]))
        else:
            words += spot.words(x, y, palette.INK)
    return Numbers((*words, *_on_pads(bare, words, metal, keys)), keys)


def pad(mark: Words, air: float = 0.3) -> Area:
    """A light ground for words that stand on lines."""
    left, bottom, right, top = _room(mark).bounds
    return Area((ring_of(left - air, bottom - air, right + air, top + air),), palette.SHEET)


def _keys(layout: Layout, nameless: set[str], job: Job) -> dict[str, str]:
    """Keys for parts whose name does not fit at every turn that they lie in.

    All parts of a layout are numbered, the largest first: a part has one key in every picture of its layout,
    though in a small picture fewer names fit.
    """
    parts = {placement.part for placement in layout.placements}
    by_size = sorted(parts, key=lambda part: (-area(job.parts[part].outline), part))
    return {part: str(number) for number, part in enumerate(by_size, start=1) if part in nameless}


def _on_pads(
    bare: list[tuple[str, shapely.Polygon]],
    words: list[Words],
    metal: list[shapely.Polygon],
    keys: Mapping[str, str],
) -> Iterator[Mark]:
    """Keys of parts whose metal is too narrow."""
    everything = shapely.STRtree(metal)
    taken = [_room(mark) for mark in words]
    done: set[str] = set()
    for part, own in bare:
        left, bottom, right, top = own.bounds
        mark = Words(keys[part], (left + right) / 2, (bottom + top) / 2, SMALLEST, palette.INK)
        room = _room(mark)
        inside = shapely.Polygon(own.exterior).contains(room)
        if inside and all(metal[i] is own for i in everything.query(room, predicate="intersects")):
            done.add(part)
            taken.append(room)
            if not own.contains(room):
                yield pad(mark)
            yield mark
    for part, own in bare:
        if part not in done:
            point = own.representative_point()
            mark = Words(keys[part], point.x, point.y, SMALLEST, palette.INK)
            room = _room(mark)
            if not any(room.intersects(other) for other in taken):
                done.add(part)
                taken.append(room)
                yield from (pad(mark), mark)


def _room(mark: Words) -> shapely.Polygon:
    half = text_width(mark.text, mark.size, bold=mark.bold) / 2 + 0.5, mark.size / 2
    dx, dy = half[::-1] if mark.upward else half
    return shapely.box(mark.x - dx, mark.y - dy, mark.x + dx, mark.y + dy)


# What stands round a layout: the scale, sizes along the edges, datum corner, scale bar, legend.

SIDE = 16.0
"""Points left and right of the sheet: one line of turned text."""
TOP = 13.0
UNDER = 24.0
"""Points under the sheet: the datum's word, then the size along the edge."""
FOOT_ROW = 12.0
"""Points to each row of scale bar and legend."""
SIZE_TEXT = 8.0
SMALL_TEXT = 7.0
RIM = 5.0
"""Points round a sheet that stands alone: room for the datum's angle."""
LEAST_WIDTH = 190.0
"""A narrow remnant's drawing is still wide enough for its scale bar and words."""
BAR_SHARE = 0.25
SWATCH = 8.0


@dataclass(frozen=True, slots=True)
class Frame:
    """A sheet's stand and what is written round it."""

    stand: Stand
    bar_mm: float
    """Length that the scale bar stands for."""
    legend: tuple[tuple[str, str], ...]
    """Words and fill of each kind of part on the sheet."""
    legend_rows: tuple[int, ...]
    """In which row each entry of the legend stands; row 0 shares with the scale bar."""
    shows_grain: bool


def frame_for(layout: Layout, job: Job, colours: palette.PartColours, width: float, height: float) -> Frame:
    """Fit a layout's sheet with all that stands round it into a width and height in points."""
    edge = box(edge_of(layout.sheet))
    legend = _legend(layout, colours)
    widest = edge.length * (height - UNDER - FOOT_ROW - TOP) / edge.width + 2 * SIDE
    full_width = min(width, max(widest, LEAST_WIDTH))
    rows = _legend_rows(legend, full_width)
    foot = UNDER + FOOT_ROW * (1 + max(rows, default=0))
    scale = min((width - 2 * SIDE) / edge.length, (height - foot - TOP) / edge.width)
    per_unit = job.settings.units.length_mm
    stand = Stand(
        width=full_width,
        height=edge.width * scale + foot + TOP,
        scale=scale,
        origin=(SIDE - edge.left * scale, foot - edge.bottom * scale),
        sheet=edge,
        datum=datum_of(layout, job),
    )
    return Frame(
        stand=stand,
        bar_mm=round_length(BAR_SHARE * edge.length / per_unit) * per_unit,
        legend=legend,
        legend_rows=rows,
        shows_grain=any(job.parts[p.part].grain is not Grain.NONE for p in layout.placements),
    )


def bare_stand(layout: Layout, job: Job, width: float, height: float) -> Stand:
    """Fit a layout's sheet alone into a width and height in points."""
    edge = box(edge_of(layout.sheet))
    scale = min((width - 2 * RIM) / edge.length, (height - 2 * RIM) / edge.width)
    return Stand(
        width=edge.length * scale + 2 * RIM,
        height=edge.width * scale + 2 * RIM,
        scale=scale,
        origin=(RIM - edge.left * scale, RIM - edge.bottom * scale),
        sheet=edge,
        datum=datum_of(layout, job),
    )


def frame_marks(frame: Frame, job: Job) -> Iterator[Mark]:
    """Everything round the sheet."""
    yield from _sizes(frame, job)
    yield from _datum(frame.stand)
    yield from _bar(frame, job)
    yield from _legend_marks(frame)
    if frame.shows_grain:
        yield from _rolling(frame)


def round_length(about: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is at most ``about``.

    >>> round_length(37.0), round_length(4.9), round_length(0.1)
    (20.0, 2.0, 0.1)
    """
    dust = 1e-9
    power = 10.0 ** math.floor(math.log10(about) + dust)
    return next(step * power for step in (5.0, 2.0, 1.0) if step * power <= about * (1 + dust))


def _legend(layout: Layout, colours: palette.PartColours) -> tuple[tuple[str, str], ...]:
    present = {colours.of_part.get(p.part, palette.LOOSE) for p in layout.placements}
    return tuple((colours.lettered(name), fill) for name, fill in colours.fills.items() if name in present)


def _entry_width(name: str) -> float:
    return SWATCH + 3.0 + text_width(name, SMALL_TEXT) + 10.0


def _legend_rows(legend: tuple[tuple[str, str], ...], width: float) -> tuple[int, ...]:
    """Fill rows from the left; the first starts behind the scale bar."""
    rows = []
    row, x = 0, _legend_start(width)
    for name, _ in legend:
        if x > SIDE and x + _entry_width(name) > width:
            row, x = row + 1, SIDE
        rows.append(row)
        x += _entry_width(name)
    return tuple(rows)


def _legend_start(width: float) -> float:
    """Behind the longest scale bar that can stand there, and its words."""
    return SIDE + BAR_SHARE * (width - 2 * SIDE) + 40.0


def _sizes(frame: Frame, job: Job) -> Iterator[Mark]:
    left, bottom, right, top = frame.stand.corners
    units = job.settings.units
    y = bottom - 16.0
    along = length_text(frame.stand.sheet.length, units)
    yield from _measure(left, right, y, along, upward=False)
    yield from _measure(bottom, top, left - 9.0, length_text(frame.stand.sheet.width, units), upward=True)


def _measure(start: float, end: float, across: float, text: str, *, upward: bool) -> Iterator[Mark]:
    """A line with ticks at its ends, broken by its text."""
    middle = (start + end) / 2
    gap = text_width(text, SIZE_TEXT) / 2 + 3.0

    def at(along: float, aside: float = 0.0) -> Point:
        return (across + aside, along) if upward else (along, across + aside)

    for a, b in ((start, middle - gap), (middle + gap, end)):
        if b > a:
            yield Line((at(a), at(b)), palette.QUIET_INK, 0.5)
    for tick in (start, end):
        yield Line((at(tick, -2.5), at(tick, 2.5)), palette.QUIET_INK, 0.5)
    yield Words(text, *at(middle), SIZE_TEXT, palette.INK, upward=upward)


def _datum(stand: Stand) -> Iterator[Mark]:
    """The angle round the corner and the word beside it."""
    angle = datum_angle(stand)
    yield angle
    x, y = angle.points[1]
    inward, upward = (-1.0 if stand.datum.is_right else 1.0), (-1.0 if stand.datum.is_upper else 1.0)
    hold = Hold.END if stand.datum.is_right else Hold.START
    yield Words("datum", x + inward, y - upward * 5.0, SMALL_TEXT, palette.DATUM, hold, bold=True)


def _bar(frame: Frame, job: Job) -> Iterator[Mark]:
    """Five fields, dark and light by turns, with what the whole bar stands for."""
    y = _row_middle(frame, 0)
    step = frame.bar_mm * frame.stand.scale / 5
    for field in range(5):
        fill = palette.INK if field % 2 == 0 else palette.SHEET
        ring = ring_of(SIDE + field * step, y - 2.0, SIDE + (field + 1) * step, y + 2.0)
        yield Area((ring,), fill, palette.INK, 0.5)
    text = length_text(frame.bar_mm, job.settings.units)
    yield Words(text, SIDE + 5 * step + 4.0, y, SMALL_TEXT, palette.INK, Hold.START)


def _legend_marks(frame: Frame) -> Iterator[Mark]:
    row, x = 0, _legend_start(frame.stand.width)
    for (name, fill), its_row in zip(frame.legend, frame.legend_rows, strict=True):
        if its_row != row:
            row, x = its_row, SIDE
        y = _row_middle(frame, row)
        swatch = ring_of(x, y - SWATCH / 2, x + SWATCH, y + SWATCH / 2)
        yield Area((swatch,), fill, palette.EDGE, 0.6)
        room = frame.stand.width - x - SWATCH - 4.0
        yield Words(shorten(name, SMALL_TEXT, room), x + SWATCH + 3.0, y, SMALL_TEXT, palette.INK, Hold.START)
        x += _entry_width(name)


def _row_middle(frame: Frame, row: int) -> float:
    rows = 1 + max(frame.legend_rows, default=0)
    return (rows - row - 0.5) * FOOT_ROW


def _rolling(frame: Frame) -> Iterator[Mark]:
    """An arrow along the sheet's length: the way it was rolled."""
    left, _, right, top = frame.stand.corners
    y = top + 7.0
    middle = (left + right) / 2
    half = text_width("grain", SMALL_TEXT) / 2
    yield Words("grain", middle, y, SMALL_TEXT, palette.QUIET_INK)
    for way in (-1.0, 1.0):
        near, tip = middle + way * (half + 3.0), middle + way * (half + 22.0)
        yield Line(((near, y), (tip, y)), palette.QUIET_INK, 0.6)
        head = ((tip, y), (tip - way * 4.0, y + 1.8), (tip - way * 4.0, y - 1.8))
        yield Area((head,), palette.QUIET_INK)


# One layout as a drawing: sheet, parts with their numbers, old cuts, what will remain, scale bar.

KEEP_TEXT = 9.0


@dataclass(frozen=True, slots=True)
class LayoutDrawing:
    """A drawing with what a page needs to explain it."""

    drawing: Drawing
    keys: Mapping[str, str]
    """Key of each part whose name did not fit, by part."""
    points_per_mm: float
    bar_mm: float
    """Length that the scale bar stands for."""


class LayoutDrawings:
    """Draws the layouts of a job; a part that lies on many of them is flattened and numbered once a scale.

    Parameters
    ----------
    job : Job
        Where the parts and the book's units stand.
    colours : PartColours, optional
        Fills by part; worked out from the job where not given.
    """

    def __init__(self, job: Job, colours: palette.PartColours | None = None) -> None:
        self.job, self.colours = job, colours or palette.part_colours(job)
        self._shapes: dict[float, PartShapes] = {}

    def of(self, layout: Layout, width: float, height: float, keep: Box | None = None) -> LayoutDrawing:
        """Compose a layout within a width and height in points.

        Parameters
        ----------
        layout : Layout
            What to show.
        width, height : float
            The most that the drawing may take, points.
        keep : Box, optional
            What will remain as a useful remnant, in the sheet's frame (mm); drawn hatched.
        """
        job = self.job
        frame = frame_for(layout, job, self.colours, width, height)
        stand = frame.stand
        shapes = self._shapes_at(stand.scale)
        numbers = number_parts(layout, job, stand, shapes, self.colours)
        marks = self._plain_marks(layout, stand, keep)
        if keep is not None:
            marks += _kept_words(keep, stand, job.settings.units)
        marks += [*numbers.marks, *frame_marks(frame, job)]
        drawing = Drawing(stand.width, stand.height, tuple(marks), alt_text(layout, job))
        return LayoutDrawing(drawing, numbers.keys, stand.scale, frame.bar_mm)

    def small(self, layout: Layout, width: float, height: float, keep: Box | None = None) -> Drawing:
        """A layout without words, to be known at a glance."""
        stand = bare_stand(layout, self.job, width, height)
        marks = self._plain_marks(layout, stand, keep)
        return Drawing(stand.width, stand.height, (*marks, datum_angle(stand)), alt_text(layout, self.job))

    def _plain_marks(self, layout: Layout, stand: Stand, keep: Box | None) -> list[Mark]:
        marks = [*sheet_marks(layout, stand)]
        if keep is not None:
            marks += kept_marks(keep, stand)
        return [*marks, *part_marks(layout, stand, self._shapes_at(stand.scale), self.colours)]

    def _shapes_at(self, scale: float) -> PartShapes:
        if scale not in self._shapes:
            self._shapes[scale] = PartShapes(self.job, scale)
        return self._shapes[scale]


def alt_text(layout: Layout, job: Job) -> str:
    """What a drawing of a layout shows, in one sentence."""
    kinds = len({placement.part for placement in layout.placements})
    return (
        f"Layout {layout.tag} on {sheet_text(layout.sheet, job.settings.units)}: "
        f"{counted(len(layout.placements), 'piece')} of {counted(kinds, 'part', 'different parts')}"
    )


def _kept_words(keep: Box, stand: Stand, units: Units) -> Iterator[Mark]:
    """The size of what goes back to the rack, in the middle of its hatch."""
    said = f"keep {size_text(keep.length, keep.width, units)}"
    spot = spot_for(said, shapely.Polygon(kept_ring(keep, stand)), largest=KEEP_TEXT)
    if spot:
        for words in spot.words(0.0, 0.0, palette.INK):
            yield from (pad(words, air=3.0), words)
