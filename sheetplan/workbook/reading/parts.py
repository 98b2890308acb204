"""The page Parts: what a part looks like, by its sizes or by a drawing, and what `import` left to be
confirmed.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sheetplan.drawings.known import KnownOutline, KnownOutlines, change_words, outline_words, same_text
from sheetplan.drawings.quick import NoShape, QuickRow, quick_outline
from sheetplan.drawings.reading.choices import (
    UNIT_WORDS,
    DoubtfulLines,
    doubtful_lines,
    is_assumed,
    stated_unit,
)
from sheetplan.drawings.reading.files import NOT_THERE, drawing_name
from sheetplan.drawings.reading.findings import Finding, Says
from sheetplan.drawings.reading.report import DrawingReport, DrawnPart
from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.model.job import Part
from sheetplan.model.outline import Outline, rectangle
from sheetplan.model.problem import Problem, Weight
from sheetplan.model.turns import Grain, along
from sheetplan.shapes import size
from sheetplan.trade.sentences import counted, named, sentence
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import PARTS
from sheetplan.workbook.reading.cells import (
    CellFault,
    count_of,
    layers_of,
    name_of,
    size_in,
    text_of,
    word_of,
)
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.metals import Metals
from sheetplan.workbook.reading.rows import (
    MOST_NOTED,
    MOST_TOLD,
    PageRead,
    Place,
    Read,
    RowReader,
    column_problems,
    once_only,
    readers,
)
from sheetplan.workbook.schema import GrainWord, Turn
from sheetplan.workbook.tables import CellValue, RawTable

# What `import` writes into a row's Description: what is to be confirmed, or why its drawing cannot be used.
#
# Such a text is a note to the planner and no description of the part: it is not printed. A doubt is answered
# once the cell that it asks for is filled.

TO_CONFIRM = "to confirm"
"""How a Description begins that says what is doubtful about a row, until the planner takes it out."""

REFUSED = "cannot be used"
"""How one begins that says why the row's drawing could not be used when it was brought in."""

REFUSED_REMEDY = "Mend the drawing, or delete the part here and in Kits."
"""How that one ends."""

NO_METAL = "material not said"
TWO_METALS = "names say different metals"
NO_THICKNESS = "thickness not said"
UNCLEAR_THICKNESS = "thickness said twice"
TWO_THICKNESSES = "names say different thicknesses"
NO_UNIT = "the drawing states no unit"
QUESTIONS = "see the questions about the drawing"
MIRRORED = "drawn mirrored"

ANSWERED_BY = {
    NO_METAL: "Material",
    NO_THICKNESS: "Thickness",
    UNCLEAR_THICKNESS: "Thickness",
    NO_UNIT: "Drawn in",
}
"""Columns whose cell, once filled, answers a doubt."""

MOST_DOUBTS = 4
"""Doubts that a Description lists; more are counted."""

_OTHERS = {TWO_METALS, TWO_THICKNESSES, QUESTIONS}
_COUNTED = re.compile(rf"{MIRRORED}, \d+ of \d+|and \d+ more")


def to_confirm(doubts: Sequence[str]) -> str:
    """What is to be confirmed, as the row's Description says it; empty where nothing is."""
    more = f"; and {len(doubts) - MOST_DOUBTS} more" if len(doubts) > MOST_DOUBTS else ""
    return f"{TO_CONFIRM}: {'; '.join(doubts[:MOST_DOUBTS])}{more}" if doubts else ""


def cannot_be_used(why: str) -> str:
    """Why a drawing cannot be used, as the Description of its row says it.

    >>> cannot_be_used("nothing in it can be cut")
    'cannot be used: nothing in it can be cut. Mend the drawing, or delete the part here and in Kits.'
    """
    return f"{REFUSED}: {why}. {REFUSED_REMEDY}"


def asks_to_confirm(text: str) -> bool:
    """Whether a Description lists doubts."""
    return text.lower().startswith(TO_CONFIRM)


def says_refused(text: str) -> bool:
    """Whether a Description says why a drawing could not be used."""
    return text.lower().startswith(f"{REFUSED}:")


def description_of(text: str) -> str:
    """The part's description for people who handle it: none where the text is a note of `import`."""
    return "" if asks_to_confirm(text) or says_refused(text) else text


def doubts_of(text: str) -> tuple[str, ...]:
    """The doubts that a Description lists.

    >>> doubts_of("to confirm: material not said; drawn mirrored, 1 of 3")
    ('material not said', 'drawn mirrored, 1 of 3')
    """
    return tuple(text[len(TO_CONFIRM) :].lstrip(" :").split("; ")) if asks_to_confirm(text) else ()


def unanswered(doubts: Sequence[str], filled: Collection[str]) -> tuple[str, ...]:
    """The doubts that are left, where the cells under these headings are filled."""
    return tuple(doubt for doubt in doubts if ANSWERED_BY.get(doubt) not in filled)


def is_own(text: str) -> bool:
    """Whether `import` wrote all of a Description, so that it may write it anew.

    >>> is_own("to confirm: material not said"), is_own("to confirm: material not said, ask the office")
    (True, False)
    """
    if says_refused(text):
        return text.startswith(f"{REFUSED}: ") and text.endswith(REFUSED_REMEDY)
    own = {*ANSWERED_BY, *_OTHERS}
    doubts = doubts_of(text)
    return bool(doubts) and all(doubt in own or _COUNTED.fullmatch(doubt) for doubt in doubts)


# What a part looks like: a rectangle or another quick shape from the row's sizes, or a drawing.
#
# Drawings are files, which this folder does not open: `drawing_ask` says what a row wants, whoever
# runs the reading opens it, and the row is read with the report.

SAME_SIZE_MM = 0.5
SAME_SIZE_SHARE = 0.002
"""A size in the row agrees with the drawing if it is this near: rows often hold rounded sizes."""

UNIT_SHARE = 0.02
"""Sizes that are off by a unit's factor, rounded as they are in rows, come within this of it."""

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
    return DrawingAsk(path, unit, row.may("Cut layers", layers_of, ()), doubtful)


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
    return named(map(str, findings), MOST_TOLD, "; ")


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
    words = {known: word for word, known in reversed(UNIT_WORDS.items())}
    return next((word for known, word in words.items() if abs(mm - known) <= UNIT_SHARE * known), None)


def _is_rectangle(row: RowReader) -> bool:
    return row.may("Shape", word_of(ShapeWord), None) is ShapeWord.RECTANGLE


def _unit(value: CellValue) -> float:
    try:
        return stated_unit(text_of(value))
    except ValueError as error:
        what = f"`{text_of(value)}` is not a unit of drawings"
        raise CellFault(what, "Write in, mm, cm, m or ft.") from error


def _doubtful(value: CellValue) -> DoubtfulLines:
    try:
        return doubtful_lines(text_of(value))
    except ValueError as error:
        remedy = "Write mark or leave out, or such as: mark open lines, leave out lettering."
        raise CellFault(f"holds {error}", remedy) from error


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


# The page Parts.
#
# Doubts of many rows are one note: of more than `MOST_NOTED` of a kind the first and their count, and only
# of parts that are ordered, since a folder that was brought in fills the page with parts that nobody wants
# yet.

TURNS = {
    Turn.ANY_QUARTER: (0.0, 90.0, 180.0, 270.0),
    Turn.HALF_ONLY: (0.0, 180.0),
    Turn.AS_DRAWN: (0.0,),
}
"""Degrees that each word allows, before grain."""

GRAINS = {
    GrainWord.ANY: Grain.NONE,
    GrainWord.ALONG_LENGTH: Grain.LENGTH,
    GrainWord.ALONG_WIDTH: Grain.WIDTH,
}


def drawing_asks(table: RawTable, units: Units) -> tuple[DrawingAsk, ...]:
    """The drawings that the page's rows name, each once."""
    asks = (drawing_ask(row) for row in readers(PARTS, table, units))
    return tuple(dict.fromkeys(ask for ask in asks if ask is not None))


def read_parts(
    table: RawTable,
    units: Units,
    metals: Metals,
    drawings: Drawings | None = None,
    ordered: Collection[str] = (),
    known: KnownOutlines | None = None,
) -> PageRead[Part]:
    """All usable rows of the page Parts; a faulty row is left out and stops the orders that need it.

    ``drawings`` holds a report for each drawing that `drawing_asks` named; ``ordered`` are the names,
    as compared by `normal`, of the parts that are ordered, as far as orders are there; ``known`` are the
    outlines that parts had when they were planned.
    """
    problems = list(column_problems(PARTS, table))
    if problems:
        return PageRead(problems=tuple(problems), whole=False)
    reads: list[Read[Part]] = []
    broken: dict[str, Place] = {}
    names: dict[str, str] = {}
    speakers = _speakers(table, units, ordered, drawings or {})
    to_confirm: list[tuple[Place, str, tuple[str, ...]]] = []
    repairs: list[tuple[Place, str]] = []
    units_assumed = _UnitsAssumed()
    for row in readers(PARTS, table, units):
        name = row.need("Part", name_of, "")
        ask = drawing_ask(row)
        then = (known or {}).get(normal(name)) if ask else None
        outline = part_outline(row, drawings or {}, speakers.get(ask) if ask else None, then)
        part = _part(row, name, metals, outline)
        problems += row.problems
        report = (drawings or {}).get(ask) if ask else None
        if ask and report and speakers.get(ask) == row.place and (mended := repaired(report)):
            repairs.append((row.place, mended))
        doubts = _open_doubts(row)
        if ask and report and outline is not None and not (then and then.stands) and NO_UNIT not in doubts:
            units_assumed.seen(row, ask, report, outline, speaks=speakers.get(ask) == row.place)
        if doubts and (not ordered or normal(name) in ordered):
            to_confirm.append((row.place, name, doubts))
        if part is not None:
            reads.append(Read(part, row.place))
        elif name:
            broken.setdefault(normal(name), row.place)
            names.setdefault(normal(name), name)
    problems += [*_unconfirmed(to_confirm), *_repaired(repairs), *units_assumed.notes()]
    kept, unclear, more = once_only(reads, lambda part: part.name, "Part", broken)
    return PageRead(kept, {**unclear, **broken}, (*problems, *more), metals.whole, names)


class _UnitsAssumed:
    """Drawings that state no unit of their own, each told where it is spoken of.

    A size in a row that agrees with the outline says the unit as well as a word would.
    """

    def __init__(self) -> None:
        self._told: dict[DrawingAsk, tuple[Place, str]] = {}
        self._sized: set[DrawingAsk] = set()

    def seen(
        self, row: RowReader, ask: DrawingAsk, report: DrawingReport, outline: Outline, *, speaks: bool
    ) -> None:
        """Note a row that was read from a drawing; ``speaks`` where what is to be said of it is said here."""
        if not row.blank("Width") or not row.blank("Length"):
            self._sized.add(ask)
        elif speaks and is_assumed(report.unit):
            self._told[ask] = row.place, assumed_words(report, outline, row.units)

    def notes(self) -> Iterator[Problem]:
        """A note for each; of many, one note with the first of them."""
        rows = [told for ask, told in self._told.items() if ask not in self._sized]
        if len(rows) > MOST_NOTED:
            what = f"{len(rows)} drawings state no unit. The first: {rows[0][1]}"
            remedy = "Write the units that are meant into Drawn in."
            yield Problem(rows[0][0].sheet, None, None, what, remedy, Weight.NOTE)
            return
        for place, what in rows:
            yield place.problem("Drawn in", what, UNIT_REMEDY, Weight.NOTE)


UNIT_REMEDY = "Write the unit that is meant into Drawn in, this one or another."


def assumed_words(report: DrawingReport, outline: Outline, units: Units) -> str:
    """In which unit a drawing that states none was read, and how large its part comes out, in a sentence."""
    length, width = (f"{one / units.length_mm:.4g}" for one in size(outline))
    return (
        f"{report.name} is read in {report.unit}; its part comes out {width} x {length} {units.value}."
    )


def _repaired(rows: Sequence[tuple[Place, str]]) -> Iterator[Problem]:
    """Notes on drawings that were repaired as they were read: of many, one note with the first of them."""
    remedy = "Look at it with `sheetplan show`."
    if len(rows) > MOST_NOTED:
        what = f"{len(rows)} drawings were repaired as they were read. The first, {rows[0][1]}"
        remedy = "Look at them with `sheetplan show`, which names what was repaired in each."
        yield Problem(rows[0][0].sheet, None, None, what, remedy, Weight.NOTE)
        return
    for place, what in rows:
        yield place.problem("Drawing", what, remedy, Weight.NOTE)


def _open_doubts(row: RowReader) -> tuple[str, ...]:
    """The doubts of a row's Description that no filled cell answers."""
    filled = [heading for heading in ANSWERED_BY.values() if not row.blank(heading)]
    return unanswered(doubts_of(row.may("Description", text_of, "")), filled)


def _unconfirmed(rows: Sequence[tuple[Place, str, tuple[str, ...]]]) -> Iterator[Problem]:
    """Notes on rows whose doubts nobody has looked at: of many one note, which counts each doubt."""
    if len(rows) <= MOST_NOTED:
        remedy = "Put it right where it is wrong, then write over the Description."
        for place, name, open_doubts in rows:
            what = sentence(f"{name} is still {TO_CONFIRM}: {'; '.join(open_doubts)}")
            yield place.problem("Description", what, remedy, Weight.NOTE)
        return
    doubts: dict[str, list[str]] = {}
    for _, name, open_doubts in rows:
        for doubt in open_doubts:
            doubts.setdefault(doubt.partition(", ")[0], []).append(name)
    listed = "; ".join(f"{doubt}: {named(names, 3)}" for doubt, names in list(doubts.items())[:MOST_NOTED])
    what = sentence(f"{len(rows)} parts are still {TO_CONFIRM}: {listed}")
    remedy = "Put right what is wrong in their rows, then write over each Description."
    yield Problem(rows[0][0].sheet, None, None, what, remedy, Weight.NOTE)


def _speakers(
    table: RawTable, units: Units, ordered: Collection[str], drawings: Drawings
) -> dict[DrawingAsk, Place]:
    """For each drawing, the row on which it is spoken of: the first whose part is ordered; of one that cannot
    be used at all the first, where none is."""
    speakers: dict[DrawingAsk, Place] = {}
    unordered: list[tuple[DrawingAsk, Place]] = []
    for row in readers(PARTS, table, units):
        ask = drawing_ask(row)
        if ask is not None and (not ordered or normal(row.may("Part", name_of, "")) in ordered):
            speakers.setdefault(ask, row.place)
        elif ask is not None and ask in drawings and not drawings[ask].readable:
            unordered.append((ask, row.place))
    for ask, place in unordered:
        speakers.setdefault(ask, place)
    return speakers


def _part(row: RowReader, name: str, metals: Metals, outline: Outline | None) -> Part | None:
    metal = metals.of(row)
    turns = TURNS[row.may("Turns", word_of(Turn), Turn.ANY_QUARTER)]
    grain = GRAINS[row.may("Grain", word_of(GrainWord), GrainWord.ANY)]
    spare = row.may("Spare", count_of, 0)
    mark = row.says_yes("Mark")
    description = description_of(row.may("Description", text_of, ""))
    if row.ok and not along(turns, grain):
        row.fault("Grain", "With these turns the grain can never run along the sheet.",
                  "Allow any quarter turn, or ask for grain along length.")
    if not row.ok or metal is None or outline is None:
        return None
    material, thickness = metal
    return Part(name, material.name, thickness, outline, turns, grain, spare, mark,
                description=description)
