"""A list to walk along the rack with: each sheet with its measures, and room to tick and correct.

The picture says what was read: every corner of the edge, and every opening, as it is measured from the datum
corner. So a shape that came in by tape or from a drawing is seen beside the metal before it is cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.drawings.scene import corner_point
from sheetplan.model import Loop
from sheetplan.pages import palette
from sheetplan.pages.decimals import Decimals
from sheetplan.pages.lettering import text_width
from sheetplan.pages.marks import Area, Drawing, Hold, Line, Mark, Point, Words
from sheetplan.pages.paper import (
    HEAD_FILL,
    LARGE,
    MARGIN,
    RULE,
    SMALL,
    TICK,
    DrawingBox,
    Paper,
    Section,
    build_pdf,
    paper_for,
    text,
    tight,
)
from sheetplan.pages.part_labels import RackLabel, remnant_drawing
from sheetplan.pages.wording import bare_length, shape_text
from sheetplan.rack.record import Record, outermost
from sheetplan.shapes import as_circle, box, is_rectangle
from sheetplan.trade.units import Units

HEIGHT = 165.0
"""Points that a picture may be high."""

SHARE = 0.62
"""Of the width of the page that a picture may take."""

AROUND = 14.0
"""Points round a picture for what stands beside its edge."""

MEASURE = 6.0
"""Size of the type of a measure."""

MOST_MEASURES = 40
"""Corners of one sheet that are measured in its picture; beyond, it says how many there are."""


def rack_list_pdf(
    labels: Iterable[RackLabel], units: Units, decimals: Decimals, *, paper: Paper | None = None
) -> bytes:
    """All sheets by their place and tag."""
    page = paper or paper_for(units)
    room = page.width - 2.0 * MARGIN
    ordered = sorted(labels, key=lambda label: (label.place or "~", label.record.tag))

    def content() -> list[Any]:
        where = "inches" if units is Units.INCH else "millimetres"
        said = (
            f"Measures stand at the corners, in {where} from the heavy angle at the datum corner: along the "
            "length, along the width. Tick what is there; write beside it what is not so."
        )
        story: list[Any] = [text("The rack", LARGE, bold=True), Spacer(1, 3), text(said), Spacer(1, 6)]
        for label in ordered:
            story += [KeepTogether(_card(label, units, room)), Spacer(1, 8)]
        return story if ordered else [*story, text("Nothing lies in it.")]

    return build_pdf([Section("Rack list", content)], page, "Rack list", "", said=decimals.said)


def _card(label: RackLabel, units: Units, room: float) -> list[Any]:
    """One sheet: its picture at the left, words and ticks at the right."""
    record = label.record
    lines = [
        text(record.tag, LARGE, bold=True),
        text(shape_text(record.edge, units, has_cuts=bool(record.cuts))),
        text(f"{record.material} {record.thickness.text}".strip()),
        text(label.weight),
        text(f"place {label.place}" if label.place else "place not said"),
        text(record.origin, SMALL) if record.origin else Spacer(1, 1),
        Spacer(1, 6),
        text(f"{TICK} seen    {TICK} not there"),
        Spacer(1, 4),
        text(f"{TICK} elsewhere: ______________"),
        Spacer(1, 4),
        text(f"{TICK} not as drawn: ___________"),
    ]
    table = Table([[DrawingBox(measured_drawing(record, units, SHARE * room, HEIGHT)), lines]],
                  (SHARE * room + 8.0, (1.0 - SHARE) * room - 8.0))  # fmt: skip
    table.setStyle(TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEABOVE", (0, 0), (-1, 0), 0.6, RULE), *tight(0, 6),
        ("BACKGROUND", (1, 0), (1, 0), HEAD_FILL), ("LEFTPADDING", (1, 0), (1, 0), 8),
    ]))  # fmt: skip
    return [table]


def measured_drawing(record: Record, units: Units, width: float, height: float) -> Drawing:
    """A sheet with its measures; ``width`` and ``height`` in points."""
    plain = remnant_drawing(record, width - 2.0 * AROUND, height - 2.0 * AROUND)
    around = box(record.edge)
    scale = plain.width / around.length
    marks: list[Mark] = [_moved(mark) for mark in plain.marks if isinstance(mark, Area)]

    def seen(x: float, y: float) -> Point:
        return AROUND + (x - around.left) * scale, AROUND + (y - around.bottom) * scale

    marks.append(_angle(record, seen))
    marks += _measures(record, units, seen)
    wide, high = plain.width + 2.0 * AROUND, plain.height + 2.0 * AROUND
    return Drawing(wide, high, tuple(marks), f"{record.tag} with its measures")


def _moved(area_: Area) -> Area:
    return replace(area_, rings=tuple(tuple((x + AROUND, y + AROUND) for x, y in one) for one in area_.rings))


def _angle(record: Record, seen: Callable[[float, float], Point]) -> Line:
    """A heavy angle outside the datum corner."""
    x, y = seen(*corner_point(record.edge, record.datum))
    dx, dy = (-1.0 if record.datum.is_right else 1.0), (-1.0 if record.datum.is_upper else 1.0)
    x, y, leg = x - 3.0 * dx, y - 3.0 * dy, 22.0
    return Line(((x + dx * leg, y), (x, y), (x, y + dy * leg)), palette.INK, 2.0)


def _measures(record: Record, units: Units, seen: Callable[[float, float], Point]) -> Iterator[Words]:
    """What a tape says of every corner of the edge, and of every opening."""
    left, bottom, right, top = box(record.edge)
    middle_x, middle_y = (left + right) / 2.0, (bottom + top) / 2.0
    said: list[tuple[str, float, float]] = []
    for x, y, _ in record.edge.vertices:
        said.append((_from_datum(record, x, y, units), x, y))
    openings = [(_opening(record, cut.loop, units), cut.loop) for cut in outermost(record.cuts)]
    if len(said) + len(openings) > MOST_MEASURES:
        x, y = seen(middle_x, bottom)
        yield Words(f"{len(said)} corners, {len(openings)} openings: see its drawing", x, y - 9.0, MEASURE,
                    palette.INK)  # fmt: skip
        return
    taken: list[Words] = []
    for words, x, y in said:
        px, py = seen(x, y)
        # Towards the middle, so that the words stand on the metal that they are about or close beside it.
        hold, aside = (Hold.START, 2.5) if x < middle_x else (Hold.END, -2.5)
        up = 1.0 if y < middle_y else -1.0
        taken.append(_free(Words(words, px + aside, py + 5.0 * up, MEASURE, palette.INK, hold), up, taken))
    for words, loop in openings:
        around = box(loop)
        px, py = seen((around.left + around.right) / 2.0, (around.bottom + around.top) / 2.0)
        taken.append(_free(Words(words, px, py, MEASURE, palette.INK), 1.0, taken))
    yield from taken


def _free(words: Words, up: float, taken: Sequence[Words]) -> Words:
    """The words where they stand over no others: shifted by lines, or as they are if that does not help."""
    for line in (0.0, 1.0, 2.0, -1.0, -2.0):
        tried = replace(words, y=words.y + line * up * (MEASURE + 1.0))
        if not any(_meet(tried, other) for other in taken):
            return tried
    return words


def _meet(one: Words, other: Words) -> bool:
    (left, right), (low, high) = _span(one), _span(other)
    return abs(one.y - other.y) < MEASURE and left < high + 2.0 and low < right + 2.0


def _span(words: Words) -> tuple[float, float]:
    """Left and right end of some words."""
    wide = text_width(words.text, words.size)
    left = {Hold.START: 0.0, Hold.MIDDLE: wide / 2.0, Hold.END: wide}[words.hold]
    return words.x - left, words.x - left + wide


def _from_datum(record: Record, x: float, y: float, units: Units) -> str:
    """A point as it is measured from the datum corner: along the length, along the width."""
    cx, cy = corner_point(record.edge, record.datum)
    return f"{bare_length(abs(x - cx), units)}, {bare_length(abs(y - cy), units)}"


def _opening(record: Record, loop: Loop, units: Units) -> str:
    """An opening in a few words: a disc by its middle and diameter, else its box by its nearest corner."""
    circle = as_circle(loop)
    if circle is not None:
        x, y, radius = circle
        return f"⌀ {bare_length(2.0 * radius, units)} at {_from_datum(record, x, y, units)}"
    around = box(loop)
    near = around.right if record.datum.is_right else around.left
    at = _from_datum(record, near, around.top if record.datum.is_upper else around.bottom, units)
    kind = "" if is_rectangle(loop) else "odd "
    size = f"{bare_length(around.length, units)} x {bare_length(around.width, units)}"
    return f"{kind}{size} at {at}"
