"""Stickers for parts and for what lies in the rack, and the list to walk along the rack with."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, TypeVar

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import KeepTogether, Spacer, Table, TableStyle

from sheetplan.drawings.writing.scene import corner_point
from sheetplan.model import Loop, Plan
from sheetplan.pages.contents import SPARE
from sheetplan.pages.drawing import marks as palette
from sheetplan.pages.drawing.files import POINTS_PER_INCH
from sheetplan.pages.drawing.layout_drawing import FLATNESS, ring_of_points
from sheetplan.pages.drawing.lettering import shorten, text_width, wrapped
from sheetplan.pages.drawing.marks import Area, Drawing, Hold, Line, Mark, Point, Ring, Words
from sheetplan.pages.drawing.marks import box as ring_of
from sheetplan.pages.paper.lists import Pick, pick_orders, spare_picks
from sheetplan.pages.paper.paper import (
    A4,
    HEAD_FILL,
    LARGE,
    LETTER,
    MARGIN,
    RULE,
    SMALL,
    TICK,
    DrawingBox,
    Paper,
    Section,
    build_pdf,
    paint,
    paper_for,
    tight,
    use_faces,
)
from sheetplan.pages.paper.paper import text as paper_text
from sheetplan.pages.paper.paper import words as paper_words
from sheetplan.pages.wording import Decimals, bare_length, decimals_of, shape_text
from sheetplan.rack.record import Record, outermost
from sheetplan.shapes import as_circle, box, flatten, is_rectangle
from sheetplan.shapes import box as bounds
from sheetplan.trade.units import MM_PER_INCH, Units

# Stickers for parts by kit, and for what lies in the rack, on the usual sheets of labels.
#
# Terms
# bundle
#     All pieces of one part for one order line, or all spare ones: one sticker, with their count.

Sticker = TypeVar("Sticker")

POINTS_PER_MM = POINTS_PER_INCH / MM_PER_INCH

INSET = 11.0
"""Points kept free inside a label: printers shift the paper a little and leave 4 mm of its edge bare."""

LINES = 6.15
"""Lines of type on a label of a part, the first taller than the others."""

RACK_LINES = 4.3
"""The same on a label for the rack."""

LETTER_SHARE = 1.9
"""Height of the box round a kit's letter over the height of a line."""
HEAD_SHARE, COUNT_SHARE, TEXT_SHARE = 1.3, 1.0, 0.75
"""Size of the type over the height of a line: part, count, the rest."""
LARGEST = 24.0
SMALLEST = 5.5


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels: columns and rows, size and pitch of a label, first label's corner; in points."""

    paper: Paper
    columns: int
    rows: int
    width: float
    height: float
    pitch_x: float
    pitch_y: float
    left: float
    top: float


def _inches(paper: Paper, columns: int, rows: int, *lengths: float) -> LabelSheet:
    return LabelSheet(paper, columns, rows, *(length * POINTS_PER_INCH for length in lengths))


def _millimetres(paper: Paper, columns: int, rows: int, *lengths: float) -> LabelSheet:
    return LabelSheet(paper, columns, rows, *(length * POINTS_PER_MM for length in lengths))


LABELS = {
    Units.INCH: _inches(LETTER, 2, 5, 4.0, 2.0, 4.1875, 2.0, 0.15625, 0.5),
    Units.MM: _millimetres(A4, 3, 8, 70.0, 37.0, 70.0, 37.0, 0.0, 0.5),
}
"""The sheets of labels that go with a book's units, 2 x 4 in and 37 x 70 mm. Common practice, no source:
stationers sell these layouts."""


@dataclass(frozen=True, slots=True)
class Label:
    """What one sticker says."""

    part: str
    count: str
    description: str
    item: str
    """The kit that it belongs to; empty where the part was ordered alone, and for spare pieces."""
    order: str
    due: str
    gauge: str
    letter: str = ""
    """The kit's, on its fill."""
    fill: str = ""


def part_labels(plan: Plan) -> Iterator[Label]:
    """A sticker for each bundle, by order, the earliest due first, spare pieces last."""
    colours = palette.part_colours(plan.job)
    for order in pick_orders(plan):
        due = f"due {order.due}" if order.due else ""
        look = (colours.letters[order.kit], colours.fills[order.kit]) if order.kit else ("", "")
        for pick in order.picks:
            if pick.pieces:
                yield _label(pick, order.kit, f"order {order.order}", due, *look)
    for pick in spare_picks(plan):
        if pick.pieces:
            yield _label(pick, "", SPARE, "")


def _label(pick: Pick, item: str, order: str, due: str, letter: str = "", fill: str = "") -> Label:
    count = f"{pick.pieces:,} pcs"
    return Label(pick.part, count, pick.description, item, order, due, pick.gauge, letter, fill)


def labels_pdf(plan: Plan) -> bytes:
    """The stickers as a PDF."""
    said, sheet = decimals_of(plan.job).said, LABELS[plan.job.settings.units]
    stickers = (replace(label, gauge=said(label.gauge)) for label in part_labels(plan))
    return _pdf("Part labels", sheet, stickers, _stick)


@dataclass(frozen=True, slots=True)
class RackLabel:
    """What the sticker of a partly used sheet says; ``weight`` and ``place`` may be empty."""

    record: Record
    weight: str
    place: str


def rack_labels_pdf(stickers: Iterable[RackLabel], units: Units, decimals: Decimals) -> bytes:
    """Stickers for the rack as a PDF: tag, a small picture, what it is, its metal, weight and place."""
    stick = partial(_stick_rack, units=units, decimals=decimals)
    return _pdf("Rack labels", LABELS[units], stickers, stick)


def _pdf(
    title: str, sheet: LabelSheet, stickers: Iterable[Sticker],
    stick: Callable[[Any, LabelSheet, int, Sticker], None],
) -> bytes:  # fmt: skip
    """Sheets of stickers, each set by ``stick`` at its place on the sheet."""
    use_faces()
    held = io.BytesIO()
    canvas = Canvas(held, pagesize=(sheet.paper.width, sheet.paper.height), invariant=True)
    canvas.setTitle(title)
    canvas.setCreator("sheetplan labels")
    on_sheet = sheet.columns * sheet.rows
    for number, label in enumerate(stickers):
        place = number % on_sheet
        if number and place == 0:
            canvas.showPage()
        stick(canvas, sheet, place, label)
    canvas.showPage()
    canvas.save()
    return held.getvalue()


def _corner(sheet: LabelSheet, place: int) -> tuple[float, float]:
    """Left and top of the room of a label on its sheet, points."""
    row, column = divmod(place, sheet.columns)
    left = sheet.left + column * sheet.pitch_x + INSET
    return left, sheet.paper.height - sheet.top - row * sheet.pitch_y - INSET


def _stick(canvas: Any, sheet: LabelSheet, place: int, label: Label) -> None:
    """Set a label's lines, as large as the label allows, with the kit's letter in its lower right corner."""
    left, top = _corner(sheet, place)
    room, line = sheet.width - 2 * INSET, min((sheet.height - 2 * INSET) / LINES, LARGEST / HEAD_SHARE)
    count = text_width(label.count, COUNT_SHARE * line, bold=True)
    first, size = top - 0.7 * line, COUNT_SHARE * line
    _name(canvas, label.part, left, first, line, room - count - 8.0)
    paper_words(Words(label.count, left + room, first, size, palette.INK, Hold.END, bold=True), canvas)
    wide = _letter_box(canvas, label, left + room, top - LINES * line, line) if label.letter else 0.0
    lines = filter(None, (label.description, label.gauge, label.item, label.order, label.due))
    for number, said in enumerate(lines):
        at = top - (1.85 + 0.95 * number) * line
        is_beside = at - TEXT_SHARE * line / 2 < top - (LINES - LETTER_SHARE) * line
        _line(canvas, said, (left, at), TEXT_SHARE * line, room - (wide if is_beside else 0.0))


def _name(canvas: Any, part: str, x: float, y: float, line: float, room: float) -> None:
    """A part's name in one line, or in two where it would be smaller than the words under it."""
    size = TEXT_SHARE * line
    if text_width(part, size, bold=True) > room:
        while size > SMALLEST and len(_halves(part, size, room)) > 2:
            size = max(SMALLEST, size - STEP)
        lines = _halves(part, size, room)
        if len(lines) == 2:
            for said, up in zip(lines, (0.5, -0.5), strict=True):
                paper_words(Words(said, x, y + up * size, size, palette.INK, Hold.START, bold=True), canvas)
            return
    _line(canvas, part, (x, y), HEAD_SHARE * line, room, bold=True)


STEP = 0.25
"""Points between sizes of type that are tried."""


def _halves(part: str, size: float, room: float) -> list[str]:
    return wrapped(part, room, lambda said: text_width(said, size, bold=True))


def _letter_box(canvas: Any, label: Label, right: float, bottom: float, line: float) -> float:
    """A kit's letter on its fill; gives the width that it takes with the air beside it."""
    high = LETTER_SHARE * line
    size = 0.75 * high
    wide = max(high, text_width(label.letter, size, bold=True) + 0.5 * line)
    marks = (
        Area((ring_of(0.0, 0.0, wide, high),), label.fill, palette.EDGE, 0.8),
        Words(label.letter, wide / 2, high / 2, size, palette.INK, bold=True),
    )
    paint(Drawing(wide, high, marks, label.item), canvas, right - wide, bottom)
    return wide + 0.5 * line


PICTURE_SHARE = 0.36
"""Of a rack label's width that its picture may take."""


def _stick_rack(
    canvas: Any, sheet: LabelSheet, place: int, label: RackLabel, units: Units, decimals: Decimals
) -> None:
    """Set a rack label: the picture at the left, words beside it."""
    left, top = _corner(sheet, place)
    room, height = sheet.width - 2 * INSET, sheet.height - 2 * INSET
    line = min(height / RACK_LINES, LARGEST / HEAD_SHARE)
    record = label.record
    drawing = remnant_drawing(record, PICTURE_SHARE * room, height)
    paint(drawing, canvas, left, top - (height + drawing.height) / 2)
    left, room = left + PICTURE_SHARE * room + INSET / 2, (1 - PICTURE_SHARE) * room - INSET / 2
    _line(canvas, record.tag, (left, top - 0.7 * line), HEAD_SHARE * line, room, bold=True)
    where = ", ".join(filter(None, (label.weight, f"place {label.place}" if label.place else "")))
    said = (
        shape_text(record.edge, units, has_cuts=bool(record.cuts)),
        f"{record.material} {record.thickness.text}".strip(), where,
    )  # fmt: skip
    for number, text in enumerate(said):
        at = top - (1.85 + 0.95 * number) * line
        _line(canvas, decimals.said(text), (left, at), TEXT_SHARE * line, room)


def remnant_drawing(record: Record, width: float, height: float) -> Drawing:
    """A small picture of what is left of a sheet, old cuts in grey; ``width`` and ``height`` in points."""
    around = bounds(record.edge)
    scale = min(width / around.length, height / around.width)

    def ring(loop: Loop) -> Ring:
        points = (flatten(loop, FLATNESS / scale) - (around.left, around.bottom)) * scale
        return ring_of_points(points)

    marks = [Area((ring(record.edge),), palette.SHEET, palette.SHEET_EDGE, 0.8)]
    marks += [
        Area((ring(cut.loop),), palette.OLD_CUT, palette.OLD_CUT_EDGE, 0.4) for cut in outermost(record.cuts)
    ]
    alt = f"What is left of {record.tag}"
    return Drawing(around.length * scale, around.width * scale, tuple(marks), alt)


def _line(
    canvas: Any, said: str, at: tuple[float, float], size: float, room: float, *, bold: bool = False
) -> None:
    """Set a line from the left, smaller where it would not fit, cut short where even that does not help."""
    fitting = size * min(1.0, room / max(text_width(said, size, bold=bold), 1.0))
    size = max(fitting, min(size, SMALLEST))
    paper_words(
        Words(shorten(said, size, room, bold=bold), *at, size, palette.INK, Hold.START, bold=bold), canvas
    )


# A list to walk along the rack with: each sheet with its measures, and room to tick and correct.
#
# The picture says what was read: every corner of the edge, and every opening, as it is measured from the
# datum corner. So a shape that came in by tape or from a drawing is seen beside the metal before it is cut.

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


def rack_list_pdf(labels: Iterable[RackLabel], units: Units, decimals: Decimals) -> bytes:
    """All sheets by their place and tag."""
    page = paper_for(units)
    room = page.width - 2.0 * MARGIN
    ordered = sorted(labels, key=lambda label: (label.place or "~", label.record.tag))

    def content() -> list[Any]:
        where = "inches" if units is Units.INCH else "millimetres"
        said = (
            f"Measures stand at the corners, in {where} from the heavy angle at the datum corner: along the "
            "length, along the width. Tick what is there; write beside it what is not so."
        )
        story: list[Any] = [
            paper_text("The rack", LARGE, bold=True),
            Spacer(1, 3),
            paper_text(said),
            Spacer(1, 6),
        ]
        for label in ordered:
            story += [KeepTogether(_card(label, units, room)), Spacer(1, 8)]
        return story if ordered else [*story, paper_text("Nothing lies in it.")]

    return build_pdf([Section("Rack list", content)], page, "Rack list", "", said=decimals.said)


def _card(label: RackLabel, units: Units, room: float) -> list[Any]:
    """One sheet: its picture at the left, words and ticks at the right."""
    record = label.record
    lines = [
        paper_text(record.tag, LARGE, bold=True),
        paper_text(shape_text(record.edge, units, has_cuts=bool(record.cuts))),
        paper_text(f"{record.material} {record.thickness.text}".strip()),
        paper_text(label.weight),
        paper_text(f"place {label.place}" if label.place else "place not said"),
        paper_text(record.origin, SMALL) if record.origin else Spacer(1, 1),
        Spacer(1, 6),
        paper_text(f"{TICK} seen    {TICK} not there"),
        Spacer(1, 4),
        paper_text(f"{TICK} elsewhere: ______________"),
        Spacer(1, 4),
        paper_text(f"{TICK} not as drawn: ___________"),
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
