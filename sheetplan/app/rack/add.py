"""Take a remnant in from a drawing of it: squared, measured from its datum corner, and kept as a record.

The row of the page Remnants comes first, since it says the metal and, by tape, the size: a drawing in the
wrong unit, or of another sheet, is noticed by that.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from sheetplan.app.rack import Refused
from sheetplan.app.rack.cut_files import as_said, row_changes
from sheetplan.app.rack.folder import drawing_name, known_name, known_text
from sheetplan.app.rack.opened import OpenRack, open_rack
from sheetplan.drawings.writing.scene import corner_point
from sheetplan.model import Loop, Remnant
from sheetplan.rack.cut import metal_area
from sheetplan.rack.record import (
    AGREE_MM,
    TOUCH_MM,
    PastCut,
    Record,
    Unsound,
    as_remnant,
    flaws,
    from_row,
    has_corner,
)
from sheetplan.rack.record_dxf import read_redrawn, record_drawing, settled
from sheetplan.shapes import box, move, size, turn
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import REMNANT_SHAPES
from sheetplan.workbook.reading.grid import normal
from sheetplan.workbook.reading.remnants import worth_of

LONG_SHARE = 0.1
"""Straight edges over this share of the longest tell how a drawing is turned."""


@dataclass(frozen=True, slots=True)
class Added:
    """The record that was made, how far its drawing was turned (degrees), and what to say."""

    record: Record
    turned: float
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """Edge and openings, the lower left corner of the edge's box at (0, 0)."""

    edge: Loop
    cuts: tuple[Loop, ...]

    def turned(self, degrees: float) -> Drawn:
        """Turned, and moved back to zero."""
        edge = turn(self.edge, degrees)
        around = box(edge)
        shift = -around.left, -around.bottom
        return Drawn(move(edge, *shift), tuple(move(turn(cut, degrees), *shift) for cut in self.cuts))


def add_drawing(book: Path, tag: str, drawing: Path, *, degrees: float | None = None) -> Added:
    """Make the record of a remnant from a DXF or SVG.

    Parameters
    ----------
    book : Path
        The workbook; its page Remnants has a row for the tag.
    tag : str
        The remnant.
    drawing : Path
        Its edge and openings, nothing else; whichever loop is largest is the edge.
    degrees : float, optional
        How far the drawing is turned counter-clockwise first; by default as far as its edges and the size
        in the row say.

    Raises
    ------
    Refused
        The drawing, the row or the rack does not allow it; nothing is written.
    """
    with open_rack(book) as rack:
        row = free_row(rack, tag)
        units = rack.job.settings.units
        drawn, turned = _squared(_read(drawing, units), row, units, degrees)
        refuse_unsound(drawn, row, units)
        cuts = tuple(PastCut(cut) for cut in drawn.cuts)
        made = replace(from_row(row), edge=drawn.edge, cuts=cuts, origin=f"from the drawing {drawing.name}")
        record = settled(made, units)
        write_record(rack, row, record)
        return Added(record, turned, tuple(said_of(rack, record, turned)))


def free_row(rack: OpenRack, tag: str) -> Remnant:
    """The row of the tag, of which nothing else says an outline."""
    row = rack.row(tag)
    if row is None:
        raise Refused(
            f"The page Remnants has no row for {tag} that can be used.",
            "Write its tag, material, thickness, and width and length by tape, with the state 'in rack'.",
        )
    held = rack.held.get(tag)
    if held is not None:
        where = held.drawing or rack.rack / known_name(tag)
        raise Refused(f"{tag} has a record already: {where}.",
                      "Change the drawing there; or give this sheet another tag.")  # fmt: skip
    table = rack.tables.tables.get(REMNANT_SHAPES.name)
    for line in table.rows if table else ():
        cells = {normal(name): cell.value for name, cell in line.cells.items()}
        if normal(str(cells.get("tag") or "")) == normal(tag):
            raise Refused(f"{tag} stands on the page {REMNANT_SHAPES.name} too, on row {line.number}.",
                          "Clear its rows there, or leave the drawing.")  # fmt: skip
    return row


def _read(drawing: Path, units: Units) -> Drawn:
    try:
        data = drawing.read_bytes()
    except OSError as error:
        raise Refused(f"{drawing} cannot be read ({error.strerror}).", "Check the name.") from error
    found = read_redrawn(drawing.name, data, units, time.process_time)
    if found.edge is None:
        raise Refused(f"{drawing.name} cannot be used: {found.trouble}.",
                      "Draw the sheet's edge and what is cut out of it as closed outlines.")  # fmt: skip
    return Drawn(found.edge, found.cuts)


def _squared(drawn: Drawn, row: Remnant, units: Units, degrees: float | None) -> tuple[Drawn, float]:
    """The drawing as the row's size says that it lies, and how far it was turned."""
    wanted = size(row.edge)
    turns = [0.0, *_leans(drawn.edge)] if degrees is None else [degrees]
    for one in turns:
        lying = drawn.turned(one) if one else drawn
        if _agree(size(lying.edge), wanted):
            return lying, one
    shown = drawn.turned(turns[-1]) if degrees is not None else drawn
    across = [one for one in turns if degrees is None and _agree(size(drawn.turned(one + 90.0).edge), wanted)]
    said = f"The drawing is {_size(shown.edge, units)}, the row of {row.tag} says {_size(row.edge, units)}."
    if across:
        raise Refused(
            f"{said} It fits on its side.",
            f"Say how it is turned, counter-clockwise: --turn {across[0] + 90.0:.6g} or --turn "
            f"{across[0] - 90.0:.6g}.",
        )
    raise Refused(said, "Check the row by tape, and the drawing's unit; both go round all that is metal.")


def _leans(edge: Loop) -> list[float]:
    """Turns of at most 45 degrees that lay a long straight edge square, the longest edge's first."""
    ends = (*edge.vertices[1:], edge.vertices[0])
    straight = [
        (math.dist(a[:2], b[:2]), math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
        for a, b in zip(edge.vertices, ends, strict=True) if a[2] == 0.0
    ]  # fmt: skip
    straight.sort(reverse=True)
    long = [angle for length, angle in straight if length >= LONG_SHARE * straight[0][0]]
    return [45.0 - (angle + 45.0) % 90.0 for angle in long]


def _agree(found: tuple[float, float], wanted: tuple[float, float]) -> bool:
    return max(abs(found[0] - wanted[0]), abs(found[1] - wanted[1])) <= AGREE_MM


def _size(edge: Loop, units: Units) -> str:
    length, width = size(edge)
    return f"{width / units.length_mm:.6g} x {length / units.length_mm:.6g} {units.value}"


def refuse_unsound(drawn: Drawn, row: Remnant, units: Units) -> None:
    """Raise where edge and openings cannot be those of one sheet with its datum corner."""
    if not has_corner(drawn.edge, *corner_point(drawn.edge, row.datum), within=TOUCH_MM):
        raise Refused(
            f"It has no corner at the {row.datum} of the sheet, which is its datum corner.",
            "Write another one into Datum corner: it has to be there to be measured from.",
        )
    for flaw in flaws(drawn.edge, drawn.cuts):
        at = _place(drawn.cuts[flaw.opening], units) if drawn.cuts else ""
        match flaw.kind:
            case Unsound.NOT_WITHIN:
                what = f"The outline at {at} from the sheet's lower left is not within its edge."
            case Unsound.OVER_ANOTHER:
                other = _place(drawn.cuts[flaw.other], units)
                what = f"The outlines at {at} and {other} lie over each other, from the sheet's lower left."
            case Unsound.IN_PIECES:
                pieces = f"{flaw.other} pieces" if flaw.other else "nothing"
                what = f"With what is cut out the sheet falls into {pieces}."
        raise Refused(what, "Leave only the sheet's edge and the openings within it.")


def _place(loop: Loop, units: Units) -> str:
    around = box(loop)
    return f"{around.left / units.length_mm:.5g}, {around.bottom / units.length_mm:.5g}"


def write_record(rack: OpenRack, row: Remnant, record: Record) -> None:
    """Record, drawing and row, together or not at all."""
    job, units = rack.job, rack.job.settings.units
    changes = rack.desk.changes(rack.tables)
    worth = worth_of(as_remnant(record, row), job.stock, job.settings)
    cells = row_changes(rack, row, from_row(row), record, worth, rack.kerf_of(record))
    cells.pop("Sheets above", None)
    if changes.value("Remnants", row.tag, "Value") is not None:
        cells.pop("Value")
    for heading, value in as_said(job, cells).items():
        if changes.has("Remnants", row.tag, heading):
            changes.write("Remnants", row.tag, heading, value)
    drawing = record_drawing(record, units, rack.room_of(record))
    files = {known_name(record.tag): known_text(record, drawing).encode(), drawing_name(record): drawing}
    rack.commit(changes, files, told=f"{record.tag} is taken in.")


def said_of(rack: OpenRack, record: Record, turned: float) -> Iterator[str]:
    """What was taken in, in sentences."""
    units, metal = rack.job.settings.units, rack.job.materials.get(record.material)
    kilograms = weight_kg(metal_area(record, 0.0), record.thickness.mm, metal.density) if metal else 0.0
    openings = "no opening" if not record.cuts else f"{len(record.cuts)} openings"
    openings = "1 opening" if len(record.cuts) == 1 else openings
    yield (
        f"{record.tag} is taken in: {_size(record.edge, units)} with {openings}, "
        f"{kilograms / units.weight_kg:.1f} {units.weight} of metal."
    )
    if abs(turned) > 0.0:
        yield f"The drawing was turned by {turned:.4g} degrees to lie square."
    yield f"Its record is {rack.rack / drawing_name(record)}; from now on that is planned on."
    yield "Look at its picture beside the sheet before it is cut: sheetplan rack BOOK --list rack.pdf"
