"""Parts out of folders of drawings: a row for each different outline, copies counted into kits.

Names of layers, files and folders say the thickness and the metal where people write them there. What
they do not say, or say twice, is left empty and told in the row's Description, `to confirm: ...`; nothing
that stands in the book is overwritten. Run again, it adds what is new.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from sheetplan.drawings.copies import Copies, copies, same_part
from sheetplan.drawings.findings import Says, counted
from sheetplan.drawings.report import DrawingReport, DrawnPart, shown_units
from sheetplan.model.outline import Outline
from sheetplan.model.settings import Settings
from sheetplan.shapes import size
from sheetplan.trade.said_in_names import agreed, metal_in, said_in
from sheetplan.trade.units import Units
from sheetplan.workbook.reading_grid import normal
from sheetplan.workbook.rows.parts import TO_CONFIRM

LONGEST_NAME = 60
"""Letters of a part's name that come from a file's name."""

MOST_DOUBTS = 4


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
class NewPart:
    """A row to be: a name, its outline, how often it was drawn in which kit, and what is to be confirmed."""

    name: str
    found: Found
    in_kits: Mapping[str, int]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StandingPart:
    """A drawn part that the book has already: its name, its drawing, and the outline that it stands for."""

    name: str
    path: str
    outline: Outline | None


@dataclass(frozen=True, slots=True)
class Sorted:
    """What is new, which parts stand already, what cannot be used, and what is asked about whole files.

    ``names`` gives the part of each outline, copies too, by drawing and number.
    """

    new: tuple[NewPart, ...]
    standing: Mapping[str, Mapping[str, int]]
    refused: tuple[tuple[str, str], ...]
    asked: tuple[tuple[str, str], ...]
    names: Mapping[tuple[str, int], str]


@dataclass(frozen=True, slots=True)
class BookSays:
    """What the book has: settings, metals by name with their gauge series, drawn parts, all part names."""

    settings: Settings
    metals: Mapping[str, str]
    drawn: tuple[StandingPart, ...] = ()
    names: frozenset[str] = field(default_factory=frozenset)


def sort_out(files: Sequence[DrawingFile], book: BookSays, metal: str, kit: str) -> Sorted:
    """Turn what was read into rows.

    ``metal`` is that of everything whose names say none; ``kit`` is `folder`, `file` or `none`.
    """
    found, refused = [], []
    for file in files:
        report = file.report
        if not report.readable:
            refused.append((file.cell, _first(report.of_weight(Says.WRONG))))
            continue
        for part in report.parts:
            if part.wrong:
                refused.append((f"{file.cell}#{part.number}", _first(part.wrong)))
            else:
                found.append(_said(file, part, book, metal))
    groups = copies([one.part.outline for one in found], [(one.metal, one.thickness) for one in found])
    new: list[NewPart] = []
    standing: dict[str, dict[str, int]] = {}
    names = set(book.names)
    of_outline: dict[tuple[str, int], str] = {}
    for group in groups:
        own = [found[i] for i in group.all]
        known = _standing(own, book)
        kits = _in_kits(own, kit)
        if known is not None:
            of_outline |= {(one.file.cell, one.part.number): known for one in own}
            standing[known] = dict(Counter(standing.get(known, {})) + Counter(kits))
            continue
        name = _name(found[group.first], names)
        names.add(normal(name))
        of_outline |= {(one.file.cell, one.part.number): name for one in own}
        new.append(NewPart(name, found[group.first], kits, _doubts(found, group)))
    asked = tuple((file.cell, what) for file in files for what in questions(file.report))
    return Sorted(tuple(new), standing, tuple(refused), asked, of_outline)


def _first(findings: Sequence[object]) -> str:
    return str(findings[0]) if findings else "nothing in it can be cut"


def _said(file: DrawingFile, part: DrawnPart, book: BookSays, metal: str) -> Found:
    """What layer, file and folders say of an outline, the nearest first."""
    drawn_in = shown_units(file.report)
    names = (part.layer, Path(file.cell).stem, *file.folders)
    said = [said_in(name, drawn_in) for name in names]
    thickness, clear = agreed(one.thicknesses for one in said)
    doubts = []
    if not thickness:
        doubts.append("thickness not said" if clear else "thickness said twice")
    elif not clear:
        doubts.append("names say different thicknesses")
    named, sure = agreed(metal_in(name, book.metals) for name in names)
    if not named and not metal:
        doubts.append("material not said")
    elif not sure:
        doubts.append("names say different metals")
    count = next((one.counts[0] for one in said[:2] if len(one.counts) == 1), 1)
    return Found(file, part, thickness, named or metal, count, (*doubts, *_about_file(file.report)))


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
        doubts.append(f"{len(group.mirrored)} of {len(group.all)} drawn mirrored")
    return tuple(dict.fromkeys(doubts))


def _standing(own: Sequence[Found], book: BookSays) -> str | None:
    """The part of the book that these outlines are already: of one of their files, and of their shape."""
    cells = {unicodedata.normalize("NFC", one.file.cell) for one in own}
    for part in book.drawn:
        if part.path in cells and part.outline is not None and same_part(part.outline, own[0].part.outline):
            return part.name
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


def row_of(part: NewPart, units: Units) -> dict[str, str | float]:
    """The row of a new part by heading."""
    length, width = (round(side / units.length_mm, 4) for side in size(part.found.part.outline))
    doubts = part.doubts[:MOST_DOUBTS]
    more = f"; and {len(part.doubts) - MOST_DOUBTS} more" if len(part.doubts) > MOST_DOUBTS else ""
    row: dict[str, str | float] = {
        "Part": part.name,
        "Description": f"{TO_CONFIRM}: {'; '.join(doubts)}{more}" if doubts else "",
        "Material": part.found.metal,
        "Thickness": part.found.thickness,
        "Width": width,
        "Length": length,
        "Drawing": part.found.cell,
    }
    return {heading: value for heading, value in row.items() if value != ""}


def counted_words(found: Sorted) -> str:
    """What was found, in a sentence."""
    doubtful = sum(bool(part.doubts) for part in found.new)
    return (
        f"{counted(len(found.new), 'new part')}, {doubtful} of them to confirm; "
        f"{counted(len(found.standing), 'part')} in the book already; {len(found.refused)} cannot be used"
    )
