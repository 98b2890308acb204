"""What stands round a layout: the scale, sizes along the edges, datum corner, scale bar, legend."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from sheetplan.model import Grain, Job, Layout
from sheetplan.model.job import edge_of
from sheetplan.pages import palette
from sheetplan.pages.lettering import shorten, text_width
from sheetplan.pages.marks import Area, Hold, Line, Mark, Point, Words
from sheetplan.pages.marks import box as ring_of
from sheetplan.pages.stand import Stand, datum_angle, datum_of
from sheetplan.pages.wording import length_text
from sheetplan.shapes import box

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


def _measure(start: float, end: float, across: float, text: str, upward: bool) -> Iterator[Mark]:
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
