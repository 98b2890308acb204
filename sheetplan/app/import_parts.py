"""Parts out of folders of drawings: a row for each different outline, copies counted into kits.

Names of layers, files and folders say the thickness and the metal where people write them there. What
they do not say, or say twice, is left empty and told in the row's Description, `to confirm: ...`. What
cannot be used gets its row too, `cannot be used: ...`, so that no kit is short of it in silence. Nothing that
stands in the book is overwritten. Run again, it adds what is new.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from sheetplan.drawings.known import Copies, copies, same_part
from sheetplan.drawings.reading.choices import is_assumed
from sheetplan.drawings.reading.findings import Says
from sheetplan.drawings.reading.report import DrawingReport, DrawnPart, shown_units
from sheetplan.model.outline import Outline
from sheetplan.model.settings import Settings
from sheetplan.pages.paper.contact_sheet import Shown
from sheetplan.shapes import size
from sheetplan.trade.said_in_names import agreed, metal_in, said_in
from sheetplan.trade.sentences import counted
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.parts import (
    MIRRORED,
    NO_METAL,
    NO_THICKNESS,
    NO_UNIT,
    QUESTIONS,
    TWO_METALS,
    TWO_THICKNESSES,
    UNCLEAR_THICKNESS,
    asks_to_confirm,
    cannot_be_used,
    doubts_of,
    is_own,
    says_refused,
    to_confirm,
    unanswered,
)
from sheetplan.workbook.reading.rows import Place

LONGEST_NAME = 60
"""Letters of a part's name that come from a file's name."""


@dataclass(frozen=True, slots=True)
class ImportAsked:
    """Files and folders to read, metal and thickness of what says none, and what a kit is.

    ``kit`` is `folder`, `file` or `none`; ``doubtful`` are words of Doubtful lines, for all drawings.
    """

    paths: tuple[Path, ...]
    metal: str = ""
    thickness: str = ""
    kit: str = "folder"
    doubtful: str = ""


@dataclass(frozen=True, slots=True)
class DrawingFile:
    """A drawing that was read: where, how the book names it, its folders' names, the nearest first."""

    path: Path
    cell: str
    folders: tuple[str, ...]
    report: DrawingReport


@dataclass(frozen=True, slots=True)
class Found:
    """One outline of a file with what its names say of it."""

    file: DrawingFile
    part: DrawnPart
    thickness: str
    metal: str
    count: int
    doubts: tuple[str, ...]

    @property
    def cell(self) -> str:
        """As the column Drawing names it."""
        return f"{self.file.cell}#{self.part.number}" if len(self.file.report.parts) > 1 else self.file.cell


@dataclass(frozen=True, slots=True)
class StandingPart:
    """A drawn part that the book has already: its name, its metal in words, its Description.

    ``path`` is its drawing's, ``text`` the whole cell. ``outline`` is what it stands for, ``now`` what its
    drawing has; None where there is no such outline. ``changed`` says that the two differ, ``sound`` that it
    can be cut as the row has it; ``empty`` are those of `FILLED` whose cells are empty; ``place`` is the row.
    """

    name: str
    metal: str
    said: str
    path: str
    text: str
    outline: Outline | None
    now: Outline | None
    changed: bool = False
    sound: bool = True
    empty: frozenset[str] = frozenset()
    place: Place | None = None

    @property
    def asked(self) -> str:
        """What is to be confirmed."""
        return self.said if asks_to_confirm(self.said) else ""

    @property
    def refused(self) -> bool:
        """Whether the row was written for what could not be used."""
        return says_refused(self.said)

    @property
    def gone(self) -> bool:
        """Whether its drawing has no such outline any more."""
        return self.now is None and not self.refused


@dataclass(frozen=True, slots=True)
class PartFound:
    """A part among the drawings: its name, its first outline, how many are drawn, and for which kits.

    ``doubts`` are to be confirmed; ``row`` is the part as the book has it, None where it is new.
    """

    name: str
    found: Found
    drawn: int
    in_kits: Mapping[str, int]
    doubts: tuple[str, ...]
    row: StandingPart | None = None


@dataclass(frozen=True, slots=True)
class Refusal:
    """What cannot be used, a file or an outline of one (``part``), in the book's words, and why.

    ``name`` is its part's, ``row`` the one that the book has of it, None where it is new.
    """

    cell: str
    why: str
    part: DrawnPart | None
    name: str
    thickness: str
    metal: str
    in_kits: Mapping[str, int]
    row: StandingPart | None = None


@dataclass(frozen=True, slots=True)
class Sorted:
    """Parts found, what cannot be used, and what is asked about whole files."""

    parts: tuple[PartFound, ...]
    refused: tuple[Refusal, ...]
    asked: tuple[tuple[str, str], ...]

    @property
    def new(self) -> tuple[PartFound, ...]:
        """Those of which the book has no row."""
        return tuple(part for part in self.parts if part.row is None)

    @property
    def every(self) -> tuple[PartFound | Refusal, ...]:
        """Whatever has a row or gets one."""
        return (*self.parts, *self.refused)

    @property
    def standing(self) -> frozenset[str]:
        """Names of those that stand in the book."""
        return frozenset(part.name for part in self.parts if part.row is not None)


@dataclass(frozen=True, slots=True)
class BookSays:
    """What the book has: settings, metals by name with their gauge series, drawn parts, all part names."""

    settings: Settings
    metals: Mapping[str, str]
    drawn: tuple[StandingPart, ...] = ()
    names: frozenset[str] = field(default_factory=frozenset)


def sort_out(files: Sequence[DrawingFile], book: BookSays, asked: ImportAsked) -> Sorted:
    """Turn what was read into rows."""
    readable = [(file, part) for file in files if file.report.readable for part in file.report.parts]
    found = [_said(file, part, book, asked) for file, part in readable if not part.wrong]
    groups = copies([one.part.outline for one in found], [(one.metal, one.thickness) for one in found])
    parts: list[PartFound] = []
    names, standing = set(book.names), set[str]()
    for group in groups:
        own = [found[i] for i in group.all]
        drawn, kits = sum(one.count for one in own), _in_kits(own, asked.kit)
        known = _standing(own, book, standing)
        if known is not None:
            standing.add(known.name)
            parts.append(PartFound(known.name, own[0], drawn, kits, _doubts(found, group), known))
            continue
        first = found[group.first]
        name = _name(first.file, first.part.number if len(first.file.report.parts) > 1 else None, names)
        names.add(normal(name))
        parts.append(PartFound(name, found[group.first], drawn, kits, _doubts(found, group)))
    open_questions = tuple((file.cell, what) for file in files for what in questions(file.report))
    return Sorted(tuple(parts), tuple(_refusals(files, book, asked, names)), open_questions)


def _refusals(
    files: Sequence[DrawingFile], book: BookSays, asked: ImportAsked, names: set[str]
) -> Iterator[Refusal]:
    """What cannot be used: whole files, and outlines of the others; their names are added to those taken."""
    for file in files:
        report = file.report
        wrong: list[tuple[DrawnPart | None, str]] = [
            (part, _first(part.wrong)) for part in report.parts if part.wrong
        ]
        if not report.readable:
            wrong = [(next(iter(report.parts), None), _first(report.of_weight(Says.WRONG)))]
        for part, why in wrong:
            if report.readable and part is not None and _cut_by_a_row(file, part, book):
                continue
            several = report.readable and len(report.parts) > 1
            number = part.number if several and part is not None else None
            cell = file.cell if number is None else f"{file.cell}#{number}"
            said = _names_say(file, part.layer if part is not None else "", book, asked)
            row = _refused_row(file, cell, part, book)
            name = row.name if row is not None else _name(file, number, names)
            names.add(normal(name))
            kits = {_kit(file, asked.kit): said.count} if asked.kit != "none" else {}
            yield Refusal(cell, why, part, name, said.thickness, said.metal, kits, row)


def _refused_row(
    file: DrawingFile, cell: str, part: DrawnPart | None, book: BookSays
) -> StandingPart | None:
    """The row that the book has of what cannot be used: any of a file that is refused whole."""
    rows = [row for row in book.drawn if row.path == unicodedata.normalize("NFC", file.cell)]
    if not file.report.readable or part is None:
        return next(iter(rows), None)
    own, unsound = unicodedata.normalize("NFC", cell), [row for row in rows if not row.sound]
    texts = {unicodedata.normalize("NFC", row.text): row for row in reversed(unsound)}
    if own in texts:
        return texts[own]
    wrong = (f"{file.cell}#{one.number}" for one in file.report.parts if one.wrong)
    others = {unicodedata.normalize("NFC", text) for text in wrong}
    moved = (row for text, row in texts.items() if text not in others and _same_rim(row.now, part.outline))
    return next(moved, None)


def _same_rim(first: Outline | None, second: Outline) -> bool:
    """Whether two outlines have one outer line, whatever is made of the lines inside."""
    return first is not None and bool(same_part(Outline(first.outer), Outline(second.outer)))


def _cut_by_a_row(file: DrawingFile, part: DrawnPart, book: BookSays) -> bool:
    """Whether a row says of a flawed outline what becomes of its doubtful lines, so that it can be cut."""
    path = unicodedata.normalize("NFC", file.cell)
    rows = (row.now for row in book.drawn if row.path == path and row.sound)
    return any(now is not None and same_part(now, part.outline) for now in rows)


def _first(findings: Sequence[object]) -> str:
    return str(findings[0]) if findings else "nothing in it can be cut"


def _said(file: DrawingFile, part: DrawnPart, book: BookSays, asked: ImportAsked) -> Found:
    said = _names_say(file, part.layer, book, asked)
    doubts = (*said.doubts, *_about_file(file.report))
    return Found(file, part, said.thickness, said.metal, said.count, doubts)


@dataclass(frozen=True, slots=True)
class _NamesSay:
    """What names say of an outline: thickness and metal, empty where they say none; pieces; doubts."""

    thickness: str
    metal: str
    count: int
    doubts: tuple[str, ...]


def _names_say(file: DrawingFile, layer: str, book: BookSays, asked: ImportAsked) -> _NamesSay:
    """What layer, file and folders say of an outline, the nearest first."""
    drawn_in = shown_units(file.report)
    names = (layer, Path(file.cell).stem, *file.folders)
    said = [said_in(name, drawn_in) for name in names]
    thickness, clear = agreed(one.thicknesses for one in said)
    doubts = []
    if not thickness and (asked.thickness and clear):
        thickness = asked.thickness
    elif not thickness:
        doubts.append(NO_THICKNESS if clear else UNCLEAR_THICKNESS)
    elif not clear:
        doubts.append(TWO_THICKNESSES)
    named, sure = agreed(metal_in(name, book.metals) for name in names)
    if not named and not asked.metal:
        doubts.append(NO_METAL)
    elif not sure:
        doubts.append(TWO_METALS)
    count = next((one.counts[0] for one in said[:2] if len(one.counts) == 1), 1)
    return _NamesSay(thickness, named or asked.metal, count, tuple(doubts))


def _about_file(report: DrawingReport) -> tuple[str, ...]:
    """What is doubtful about a file as a whole; the questions themselves are told once, for the file."""
    unit = (NO_UNIT,) if is_assumed(report.unit) else ()
    asked = (QUESTIONS,) if questions(report) else ()
    return (*unit, *asked)


def questions(report: DrawingReport) -> tuple[str, ...]:
    """What is asked about a file, each once."""
    asked = (finding.what for finding in report.findings if finding.says is Says.ASKED)
    return tuple(dict.fromkeys(asked))


def _doubts(found: Sequence[Found], group: Copies) -> tuple[str, ...]:
    doubts = list(found[group.first].doubts)
    if group.mirrored:
        doubts.append(f"{MIRRORED}, {len(group.mirrored)} of {len(group.all)}")
    return tuple(dict.fromkeys(doubts))


def _standing(own: Sequence[Found], book: BookSays, taken: Collection[str]) -> StandingPart | None:
    """The part of the book that these outlines are already: of one of their files, and of its shape.

    What a changed drawing has now is that part too, and no new one. Where several parts have that shape, as
    in two thicknesses, it is the one that names an outline among them, or else one that is not taken. A row
    that was refused comes last, since its number may mean another outline of the mended drawing.
    """
    files = {unicodedata.normalize("NFC", one.file.cell) for one in own}
    cells = {unicodedata.normalize("NFC", one.cell) for one in own}
    near = [part for part in book.drawn if part.path in files]
    near.sort(
        key=lambda part: (
            part.refused, unicodedata.normalize("NFC", part.text) not in cells, part.name in taken
        )
    )  # fmt: skip
    for part in near:
        shapes = [shape for shape in (part.outline, part.now) if shape is not None]
        if any(same_part(shape, own[0].part.outline) for shape in shapes):
            return part
        if part.refused and _same_rim(part.now, own[0].part.outline):
            return part
    return None


def _in_kits(own: Sequence[Found], kit: str) -> dict[str, int]:
    """How many are drawn for each kit."""
    if kit == "none":
        return {}
    counts: Counter[str] = Counter()
    for one in own:
        counts[_kit(one.file, kit)] += one.count
    return dict(counts)


def _kit(file: DrawingFile, kit: str) -> str:
    """The kit for which a file is drawn."""
    return _text(Path(file.cell).stem if kit == "file" or not file.folders else file.folders[0])


def _name(file: DrawingFile, number: int | None, taken: Collection[str]) -> str:
    """The file's name, with the outline's number where there are several, and another where it is taken."""
    stem = _text(Path(file.cell).stem)[:LONGEST_NAME]
    base = f"{stem}-{number}" if number is not None else stem
    name, count = base, 1
    while normal(name) in taken:
        count += 1
        name = f"{base}.{count}"
    return name


def _text(name: str) -> str:
    text = " ".join(unicodedata.normalize("NFC", name).split())
    return "".join(letter for letter in text if letter.isprintable()).lstrip("=+-@") or "part"


FILLED = frozenset(("Material", "Thickness", "Drawn in", "Doubtful lines"))
"""Columns whose empty cells are told from filled ones, in rows that stand."""

Row = dict[str, str | int | float | None]
"""What is to be written into a row, by heading."""


def row_of(part: PartFound, units: Units, doubtful: str = "") -> Row:
    """The row of a new part by heading; ``doubtful`` is how its drawing was read."""
    row: Row = {
        "Part": part.name,
        "Description": to_confirm(part.doubts),
        "Material": part.found.metal,
        "Thickness": part.found.thickness,
        **_sizes(part.found.part, units),
        "Drawing": part.found.cell,
        "Doubtful lines": doubtful,
    }
    return {heading: value for heading, value in row.items() if value != ""}


def row_again(part: PartFound | Refusal, doubtful: str = "") -> Row:
    """What another run writes into the row that stands, by heading: cells that are empty, and its own text.

    Only rows whose Description is one that an import wrote are touched. A row that was refused takes
    ``doubtful``, where that is what makes its drawing of use, and then says what is doubtful about it.
    """
    row = part.row
    if row is None or not is_own(row.said):
        return {}
    found = part.found if isinstance(part, PartFound) else part
    own: Row = {"Material": found.metal, "Thickness": found.thickness}
    mended = row.refused and isinstance(part, PartFound)
    if mended and not row.sound:
        own["Doubtful lines"] = doubtful
    cells: Row = {heading: value for heading, value in own.items() if value and heading in row.empty}
    filled = FILLED - row.empty | set(cells)
    if mended and (row.sound or "Doubtful lines" in cells) and isinstance(part, PartFound):
        text = to_confirm(unanswered(part.doubts, filled))
    else:
        text = row.said if row.refused else to_confirm(unanswered(doubts_of(row.said), filled))
    return cells if text == row.said else {**cells, "Description": text or None}


def unsaid(found: Sorted) -> tuple[str, ...]:
    """Headings of what no name says, of parts whose cell is still empty: Material, Thickness or both."""
    asked = ((NO_METAL, "Material"), (NO_THICKNESS, "Thickness"))
    return tuple(
        heading
        for doubt, heading in asked
        if any(doubt in one.doubts and (one.row is None or heading in one.row.empty) for one in found.parts)
    )


def left_empty(found: Sorted) -> tuple[str, ...]:
    """Parts whose empty Material or Thickness was not filled, for their Description is the planner's own."""
    return tuple(
        one.name
        for one in found.every
        if one.row is not None and not is_own(one.row.said)
        for says in [one.found if isinstance(one, PartFound) else one]
        if (says.metal and "Material" in one.row.empty) or (says.thickness and "Thickness" in one.row.empty)
    )


def refused_row_of(one: Refusal, units: Units) -> Row:
    """The row of what cannot be used.

    It holds the sizes as well, where an outline is refused: should its number come to mean another outline
    of the mended drawing, the row does not agree with that one.
    """
    row: Row = {
        "Part": one.name,
        "Description": cannot_be_used(one.why),
        "Material": one.metal,
        "Thickness": one.thickness,
        **(_sizes(one.part, units) if one.part is not None and one.part.wrong else {}),
        "Drawing": one.cell,
    }
    return {heading: value for heading, value in row.items() if value != ""}


def _sizes(part: DrawnPart, units: Units) -> Row:
    length, width = (round(side / units.length_mm, 4) for side in size(part.outline))
    return {"Width": width, "Length": length}


def counted_words(found: Sorted) -> str:
    """What was found, in a sentence."""
    doubtful = sum(bool(part.doubts) for part in found.new)
    return (
        f"{counted(len(found.new), 'new part')}, {doubtful} of them to confirm; "
        f"{counted(len(found.standing), 'part')} in the book already; {len(found.refused)} cannot be used"
        + (", and no kit with one is planned until its row is mended or deleted" if found.refused else "")
    )


def filled_words(filled: Mapping[str, int]) -> str:
    """How many empty cells were filled, in words."""
    listed = ", ".join(f"{heading} in {counted(count, 'row')}" for heading, count in filled.items())
    return f"Empty cells that were filled: {listed}"


def shown_parts(found: Sorted) -> tuple[list[Shown], list[tuple[str, str]]]:
    """Pictures for the contact sheet, and the drawings of which there is none with why."""
    shown = []
    for part in found.parts:
        own, row = part.found, part.row
        metal = row.metal if row else " ".join(filter(None, (own.thickness, own.metal)))
        asked = row.asked if row else to_confirm(part.doubts)
        words = ("new" if row is None and found.standing else "", metal or "metal and thickness not said")
        line = "; ".join(filter(None, (*words, f"{part.drawn} drawn" if part.drawn > 1 else "")))
        shown.append(Shown(part.name, own.part.outline, line, own.cell, asked))
    shown += [
        Shown(one.name, one.part.outline, "", one.cell, wrong=one.why) for one in found.refused if one.part
    ]
    return shown, [(one.cell, one.why) for one in found.refused if one.part is None]
