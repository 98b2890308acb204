"""What a part looks like: a rectangle or another quick shape from the row's sizes, or a drawing.

Drawings are files, which this folder does not open: `drawing_ask` says what a row wants, whoever
runs the reading opens it, and the row is read with the report.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from sheetplan.drawings.files import NOT_THERE, drawing_name
from sheetplan.drawings.findings import Finding, Says, counted, sentence
from sheetplan.drawings.known import KnownOutline, change_words, outline_words, same_text
from sheetplan.drawings.quick import NoShape
from sheetplan.drawings.quick_words import QuickRow, quick_outline
from sheetplan.drawings.reading_words import DoubtfulLines, doubtful_lines, layer_names
from sheetplan.drawings.report import DrawingReport, DrawnPart
from sheetplan.drawings.shape_words import ShapeWord
from sheetplan.drawings.units_said import WORDS, stated_unit
from sheetplan.model.outline import Outline, rectangle
from sheetplan.model.problem import Weight
from sheetplan.shapes import size
from sheetplan.workbook.rows.cells import CellFault, size_in, text_of, word_of
from sheetplan.workbook.rows.reader import Place, RowReader
from sheetplan.workbook.tables import CellValue

SAME_SIZE_MM = 0.5
SAME_SIZE_SHARE = 0.002
"""A size in the row agrees with the drawing if it is this near: rows often hold rounded sizes."""

UNIT_SHARE = 0.02
"""Sizes that are off by a unit's factor, rounded as they are in rows, come within this of it."""

MOST_TOLD = 3
"""Findings on one drawing that are told in the book; `sheetplan show` tells them all."""

QUICK = ("Shape", "Inside", "Corner", "Holes")
"""Columns of a quick shape, which a drawing makes idle."""


@dataclass(frozen=True, slots=True)
class DrawingAsk:
    """A drawing that a row wants read: the file, the unit that the row states (mm), the layers to cut, and
    what to do with doubtful lines."""

    path: str
    unit_mm: float | None = None
    cut_layers: tuple[str, ...] = ()
    doubtful: DoubtfulLines = field(default_factory=DoubtfulLines)


Drawings = Mapping[DrawingAsk, DrawingReport]


def drawing_ask(row: RowReader) -> DrawingAsk | None:
    """What the row wants read, None where it names no drawing."""
    if row.blank("Drawing"):
        return None
    path = drawing_name(row.may("Drawing", text_of, "")).path
    unit = row.may("Drawn in", _unit, None)
    doubtful = row.may("Doubtful lines", _doubtful, DoubtfulLines())
    return DrawingAsk(path, unit, row.may("Cut layers", _layers, ()), doubtful)


def part_outline(
    row: RowReader, drawings: Drawings, speaker: Place | None, known: KnownOutline | None
) -> Outline | None:
    """The row's outline; what is wrong with it is noted on the row.

    What there is to say about its drawing as a whole is said on the row of ``speaker`` alone. ``known``
    is the outline that the part had when it was planned or accepted.
    """
    ask = drawing_ask(row)
    if known is not None and known.stands and same_text(known.drawing, row.may("Drawing", text_of, "")):
        return known.outline
    return _quick(row) if ask is None else _drawn(row, ask, drawings, speaker, known)


def _quick(row: RowReader) -> Outline | None:
    read = size_in(row.units)
    width, length = row.need("Width", read, 0.0), row.need("Length", read, 0.0)
    shape = row.may("Shape", word_of(ShapeWord), ShapeWord.RECTANGLE)
    inside = row.may("Inside", read, None)
    corner, holes = row.may("Corner", text_of, ""), row.may("Holes", text_of, "")
    if not row.ok:
        return None
    if shape is ShapeWord.RECTANGLE and inside is None and not corner and not holes:
        return rectangle(length, width)
    try:
        return quick_outline(QuickRow(shape, length, width, inside, corner, holes), row.units)
    except NoShape as reason:
        what, _, remedy = reason.said(row.units).partition("; ")
        remedy = f"{_sentence(remedy)}." if remedy else "Correct the sizes or the words of this shape."
        row.fault(reason.column or "Shape", f"{_sentence(what)}.", remedy)
        return None


def _drawn(
    row: RowReader, ask: DrawingAsk, drawings: Drawings, speaker: Place | None, known: KnownOutline | None
) -> Outline | None:
    for heading in QUICK:
        if not row.blank(heading) and not (heading == "Shape" and _is_rectangle(row)):
            row.fault(heading, f"{heading} is filled and so is Drawing.", "Empty one of the two.")
    report = drawings.get(ask)
    if report is None:
        what = "The drawing cannot be looked for, since the book has no folder yet."
        row.fault("Drawing", what, "Save the book and run again.")
        return None
    if speaker == row.place:
        _tell(row, report)
    elif not report.readable:
        where = f"; see {speaker.said}" if speaker else ""
        row.fault("Drawing", f"{report.name} cannot be used{where}.", "Put the drawing right.", after=speaker)
    if not report.readable:
        return None
    part = _chosen(row, report, known)
    if part is None:
        return None
    if part.wrong:
        which = f"{report.name}#{part.number}" if len(report.parts) > 1 else report.name
        what = sentence(f"{which} cannot be cut: {_some(part.wrong)}")
        row.fault("Drawing", what, "Look at it with `sheetplan show`, and put it right.")
    _agree(row, part, report.unit_mm)
    return part.outline if row.ok else None


def _tell(row: RowReader, report: DrawingReport) -> None:
    """The weightiest findings about the file, at the row; questions do not stop it."""
    for says, weight in ((Says.WRONG, None), (Says.ASKED, Weight.NOTE)):
        found = [finding for finding in report.findings if finding.says is says]
        if found:
            remedy = f"Look at it with `sheetplan show`{', and put it right' if weight is None else ''}."
            what, missing = f"{report.name}: {_some(found)}", ""
            if not report.found:
                what, remedy = _some(found), "Correct the name, or put the drawing there."
                if what.startswith(NOT_THERE):
                    what, missing = what[0].upper() + what[1:], report.name
            row.fault("Drawing", sentence(what), remedy, weight, missing=missing)


def repaired(report: DrawingReport) -> str:
    """What was repaired when the drawing was read, in a sentence; empty where nothing was."""
    found = [finding for finding in report.findings if finding.says is Says.REPAIRED]
    return sentence(f"{report.name}: {_some(found)}") if found else ""


def _some(findings: Sequence[Finding]) -> str:
    told = "; ".join(str(finding) for finding in findings[:MOST_TOLD])
    return told + (f"; and {len(findings) - MOST_TOLD} more" if len(findings) > MOST_TOLD else "")


def drawn_part(text: str, parts: Sequence[DrawnPart]) -> DrawnPart | None:
    """The outline of a file that a cell's words mean by its number; None where they mean none."""
    number = drawing_name(text).number
    if number is None:
        return parts[0] if len(parts) == 1 else None
    return parts[number - 1] if 1 <= number <= len(parts) else None


def _chosen(row: RowReader, report: DrawingReport, known: KnownOutline | None) -> DrawnPart | None:
    """The outline that the row means: the one that it meant when it was planned, wherever that is now."""
    text = row.may("Drawing", text_of, "")
    part = drawn_part(text, report.parts)
    if known is None or not same_text(known.drawing, text):
        if part is None:
            _no_such(row, report)
        return part
    if part is not None and known.is_still(part.outline):
        return part
    moved = known.among(report.parts)
    if moved is not None:
        now = f"{report.name}#{moved.number}" if len(report.parts) > 1 else report.name
        what = f"The outline that was {text} is {now} now; it is the same, and is used."
        row.fault("Drawing", what, f"Write {now}, so that the row says so.", Weight.NOTE)
        return moved
    if part is None:
        held = counted(len(report.parts), "outline")
        what = f"{text}, which was {outline_words(known.outline, row.units)}, is gone: the file holds {held}."
        row.fault("Drawing", what, "Name the outline that is meant now, or put the old drawing back.")
        return None
    what = f"{text} has changed since it was planned: {change_words(known.outline, part.outline, row.units)}."
    row.fault("Drawing", what, "Accept it with `sheetplan accept`, or put the old drawing back.")
    return None


def _no_such(row: RowReader, report: DrawingReport) -> None:
    """Say that the row means no outline of its file."""
    number, count = drawing_name(row.may("Drawing", text_of, "")).number, len(report.parts)
    if number is None:
        what = f"{report.name} holds {count} outlines."
        remedy = f"Write {report.name}#1 to {report.name}#{count} for the one that is meant."
        row.fault("Drawing", what, remedy)
        return
    held = counted(count, "outline")
    what = f"{report.name} holds {held}, so there is no number {number}."
    row.fault("Drawing", what, "Correct the number after the #.")


def _agree(row: RowReader, part: DrawnPart, unit_mm: float) -> None:
    """Sizes that the row gives as well are held against the drawing: the surest sign of a wrong unit."""
    length, width = size(part.outline)
    asked = ((heading, row.may(heading, size_in(row.units), None)) for heading in ("Length", "Width"))
    drawn = {"Length": length, "Width": width}
    off = {
        heading: given
        for heading, given in asked
        if given is not None and abs(given - drawn[heading]) > _slack(drawn[heading])
    }
    units = {_other_unit(given / drawn[heading] * unit_mm) for heading, given in off.items()}
    unit = row.units.length_mm
    for heading, given in off.items():
        what = f"{heading} is {given / unit:g} and the drawing comes out {drawn[heading] / unit:.4g}"
        if len(units) == 1 and None not in units:
            word = str(units.pop())
            row.fault("Drawn in", f"{what}: it seems to be drawn in {word}.", f"Write {word} in Drawn in.")
            return
        row.fault(heading, f"{what}.", f"Correct or empty {heading}, or correct the drawing.")


def _slack(drawn: float) -> float:
    return max(SAME_SIZE_MM, SAME_SIZE_SHARE * drawn)


def _other_unit(mm: float) -> str | None:
    """The unit of drawings that is so many mm long, as the book writes it; None where there is none."""
    words = {known: word for word, known in reversed(WORDS.items())}
    return next((word for known, word in words.items() if abs(mm - known) <= UNIT_SHARE * known), None)


def _is_rectangle(row: RowReader) -> bool:
    return row.may("Shape", word_of(ShapeWord), None) is ShapeWord.RECTANGLE


def _unit(value: CellValue) -> float:
    try:
        return stated_unit(text_of(value))
    except ValueError as error:
        what = f"`{text_of(value)}` is not a unit of drawings"
        raise CellFault(what, "Write in, mm, cm, m or ft.") from error


def _layers(value: CellValue) -> tuple[str, ...]:
    return layer_names(text_of(value))


def _doubtful(value: CellValue) -> DoubtfulLines:
    try:
        return doubtful_lines(text_of(value))
    except ValueError as error:
        remedy = "Write mark or leave out, or such as: mark open lines, leave out lettering."
        raise CellFault(f"holds {error}", remedy) from error


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
