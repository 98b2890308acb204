"""Parts out of folders of drawings: a row for each different outline, copies counted into kits.

Names of layers, files and folders say the thickness and the metal where people write them there. What
they do not say, or say twice, is left empty and told in the row's Description, `to confirm: ...`; nothing
that stands in the book is overwritten. Run again, it adds what is new.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from sheetplan.drawings.copies import Copies, copies, same_part
from sheetplan.drawings.findings import Says, counted
from sheetplan.drawings.report import DrawingReport, DrawnPart, shown_units
from sheetplan.model.outline import Outline
from sheetplan.model.settings import Settings
from sheetplan.pages.contact_sheet import Shown
from sheetplan.shapes import size
from sheetplan.trade.said_in_names import agreed, metal_in, said_in
from sheetplan.trade.units import Units
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.parts import TO_CONFIRM

LONGEST_NAME = 60
"""Letters of a part's name that come from a file's name."""

MOST_DOUBTS = 4


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
    """A drawn part that the book has already: its name, its metal in words, what is to be confirmed.

    ``path`` is its drawing's, ``text`` the whole cell. ``outline`` is what it stands for, ``now`` what its
    drawing has; None where there is no such outline. ``changed`` says that the two differ, ``sound`` that it
    can be cut as the row has it.
    """

    name: str
    metal: str
    asked: str
    path: str
    text: str
    outline: Outline | None
    now: Outline | None
    changed: bool = False
    sound: bool = True

    @property
    def gone(self) -> bool:
        """Whether its drawing has no such outline any more."""
        return self.now is None


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
    """What cannot be used, a file or an outline of one (``part``), in the book's words, and why."""

    cell: str
    why: str
    part: DrawnPart | None = None


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
    found: list[Found] = []
    refused: list[Refusal] = []
    for file in files:
        report = file.report
        if not report.readable:
            why = _first(report.of_weight(Says.WRONG))
            refused.append(Refusal(file.cell, why, next(iter(report.parts), None)))
            continue
        for part in report.parts:
            if part.wrong and _cut_by_a_row(file, part, book):
                continue
            if part.wrong:
                refused.append(Refusal(f"{file.cell}#{part.number}", _first(part.wrong), part))
            else:
                found.append(_said(file, part, book, asked))
    groups = copies([one.part.outline for one in found], [(one.metal, one.thickness) for one in found])
    parts: list[PartFound] = []
    names, standing = set(book.names), set[str]()
    for group in groups:
        own = [found[i] for i in group.all]
        drawn, kits = sum(one.count for one in own), _in_kits(own, asked.kit)
        known = _standing(own, book, standing)
        if known is not None:
            standing.add(known.name)
            parts.append(PartFound(known.name, own[0], drawn, kits, (), known))
            continue
        name = _name(found[group.first], names)
        names.add(normal(name))
        parts.append(PartFound(name, found[group.first], drawn, kits, _doubts(found, group)))
    open_questions = tuple((file.cell, what) for file in files for what in questions(file.report))
    return Sorted(tuple(parts), tuple(refused), open_questions)


def _cut_by_a_row(file: DrawingFile, part: DrawnPart, book: BookSays) -> bool:
    """Whether a row says of a flawed outline what becomes of its doubtful lines, so that it can be cut."""
    path = unicodedata.normalize("NFC", file.cell)
    rows = (row.now for row in book.drawn if row.path == path and row.sound)
    return any(now is not None and same_part(now, part.outline) for now in rows)


def _first(findings: Sequence[object]) -> str:
    return str(findings[0]) if findings else "nothing in it can be cut"


def _said(file: DrawingFile, part: DrawnPart, book: BookSays, asked: ImportAsked) -> Found:
    """What layer, file and folders say of an outline, the nearest first."""
    drawn_in = shown_units(file.report)
    names = (part.layer, Path(file.cell).stem, *file.folders)
    said = [said_in(name, drawn_in) for name in names]
    thickness, clear = agreed(one.thicknesses for one in said)
    doubts = []
    if not thickness and (asked.thickness and clear):
        thickness = asked.thickness
    elif not thickness:
        doubts.append("thickness not said" if clear else "thickness said twice")
    elif not clear:
        doubts.append("names say different thicknesses")
    named, sure = agreed(metal_in(name, book.metals) for name in names)
    if not named and not asked.metal:
        doubts.append("material not said")
    elif not sure:
        doubts.append("names say different metals")
    count = next((one.counts[0] for one in said[:2] if len(one.counts) == 1), 1)
    return Found(file, part, thickness, named or asked.metal, count, (*doubts, *_about_file(file.report)))


def _about_file(report: DrawingReport) -> tuple[str, ...]:
    """What is doubtful about a file as a whole; the questions themselves are told once, for the file."""
    unit = ("the drawing states no unit",) if "for the drawing says nothing" in report.unit else ()
    asked = ("see the questions about the drawing",) if questions(report) else ()
    return (*unit, *asked)


def questions(report: DrawingReport) -> tuple[str, ...]:
    """What is asked about a file, each once."""
    asked = (finding.what for finding in report.findings if finding.says is Says.ASKED)
    return tuple(dict.fromkeys(asked))


def _doubts(found: Sequence[Found], group: Copies) -> tuple[str, ...]:
    doubts = list(found[group.first].doubts)
    if group.mirrored:
        doubts.append(f"drawn mirrored, {len(group.mirrored)} of {len(group.all)}")
    return tuple(dict.fromkeys(doubts))


def _standing(own: Sequence[Found], book: BookSays, taken: Collection[str]) -> StandingPart | None:
    """The part of the book that these outlines are already: of one of their files, and of its shape.

    What a changed drawing has now is that part too, and no new one. Where several parts have that shape, as
    in two thicknesses, it is the one that names an outline among them, or else one that is not taken.
    """
    files = {unicodedata.normalize("NFC", one.file.cell) for one in own}
    cells = {unicodedata.normalize("NFC", one.cell) for one in own}
    near = [part for part in book.drawn if part.path in files]
    near.sort(key=lambda part: (unicodedata.normalize("NFC", part.text) not in cells, part.name in taken))
    for part in near:
        shapes = [shape for shape in (part.outline, part.now) if shape is not None]
        if any(same_part(shape, own[0].part.outline) for shape in shapes):
            return part
    return None


def _in_kits(own: Sequence[Found], kit: str) -> dict[str, int]:
    """How many are drawn for each kit."""
    if kit == "none":
        return {}
    counts: Counter[str] = Counter()
    for one in own:
        stem = Path(one.file.cell).stem
        name = stem if kit == "file" or not one.file.folders else one.file.folders[0]
        counts[_text(name)] += one.count
    return dict(counts)


def _name(found: Found, taken: set[str]) -> str:
    """The file's name; with the outline's number where there are several, and another where it is taken."""
    stem = _text(Path(found.file.cell).stem)[:LONGEST_NAME]
    base = f"{stem}-{found.part.number}" if len(found.file.report.parts) > 1 else stem
    name, count = base, 1
    while normal(name) in taken:
        count += 1
        name = f"{base}.{count}"
    return name


def _text(name: str) -> str:
    text = " ".join(unicodedata.normalize("NFC", name).split())
    return "".join(letter for letter in text if letter.isprintable()).lstrip("=+-@") or "part"


Row = dict[str, str | int | float | None]
"""What is to be written into a row, by heading."""


def row_of(part: PartFound, units: Units, doubtful: str = "") -> Row:
    """The row of a new part by heading; ``doubtful`` is how its drawing was read."""
    length, width = (round(side / units.length_mm, 4) for side in size(part.found.part.outline))
    row: Row = {
        "Part": part.name,
        "Description": _to_confirm(part.doubts),
        "Material": part.found.metal,
        "Thickness": part.found.thickness,
        "Width": width,
        "Length": length,
        "Drawing": part.found.cell,
        "Doubtful lines": doubtful,
    }
    return {heading: value for heading, value in row.items() if value != ""}


def counted_words(found: Sorted) -> str:
    """What was found, in a sentence."""
    doubtful = sum(bool(part.doubts) for part in found.new)
    return (
        f"{counted(len(found.new), 'new part')}, {doubtful} of them to confirm; "
        f"{counted(len(found.standing), 'part')} in the book already; {len(found.refused)} cannot be used"
    )


def _to_confirm(doubts: Sequence[str]) -> str:
    """What is to be confirmed, as the row's Description says it; empty where nothing is."""
    more = f"; and {len(doubts) - MOST_DOUBTS} more" if len(doubts) > MOST_DOUBTS else ""
    return f"{TO_CONFIRM}: {'; '.join(doubts[:MOST_DOUBTS])}{more}" if doubts else ""


def shown_parts(found: Sorted) -> tuple[list[Shown], list[tuple[str, str]]]:
    """Pictures for the contact sheet, and the drawings of which there is none with why."""
    shown = []
    for part in found.parts:
        own, row = part.found, part.row
        metal = row.metal if row else " ".join(filter(None, (own.thickness, own.metal)))
        asked = row.asked if row else _to_confirm(part.doubts)
        words = ("new" if row is None and found.standing else "", metal or "metal and thickness not said")
        line = "; ".join(filter(None, (*words, f"{part.drawn} drawn" if part.drawn > 1 else "")))
        shown.append(Shown(part.name, own.part.outline, line, own.cell, asked))
    shown += [Shown("", one.part.outline, "", one.cell, wrong=one.why) for one in found.refused if one.part]
    return shown, [(one.cell, one.why) for one in found.refused if one.part is None]
