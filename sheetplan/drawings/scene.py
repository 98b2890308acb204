"""One picture of a layout as plain values, for every writer that draws it: DXF, SVG, PDF, PNG.

Terms
-----
role
    What a line is there for; each writer has its own pen or layer for each role.
stand
    The index of the placement that a line or label belongs to, `ON_SHEET` for the sheet's own.

Everything is in mm in the sheet's frame: length along x, width along y, lower left at (0, 0).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from sheetplan.drawings.kerf import part_to_cut
from sheetplan.drawings.lettering import Lettering, letter_room, letter_turn
from sheetplan.model.job import CuttingRule, Part, Remnant, edge_of
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Corner, Settings
from sheetplan.shapes import box, place

ON_SHEET = -1


class Role(StrEnum):
    """What a line or label is there for."""

    SHEET = "sheet edge"
    OLD_CUT = "old cut"
    HOLE = "hole"
    OUTLINE = "outline"
    CROP = "crop cut"
    MARK = "mark"
    LABEL = "label"


@dataclass(frozen=True, slots=True)
class Curve:
    """A loop or stroke of lines and arcs with its role."""

    role: Role
    chain: Loop | Stroke
    stand: int = ON_SHEET


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text, its middle at ``(x, y)``, capitals ``height`` mm high, turned by ``turn`` degrees.

    The role is `Role.MARK` where the text is to be marked on the part itself.
    """

    role: Role
    text: str
    x: float
    y: float
    height: float
    turn: float = 0.0
    stand: int = ON_SHEET


@dataclass(frozen=True, slots=True)
class Scene:
    """A layout as curves and labels in cutting order: for each part its marks, holes, then outline.

    The crop cut comes last: once it is made, the skeleton is loose.

    ``origin`` is the datum corner, from which drawings for the table are measured.
    """

    tag: str
    sheet: Loop
    datum: Corner
    origin: tuple[float, float]
    curves: tuple[Curve, ...]
    labels: tuple[Label, ...]


class CutScenes:
    """Scenes of one gauge's layouts as the table is to follow them.

    A part's path and the place of its name are worked out once, on however many layouts it lies.

    Parameters
    ----------
    parts : Mapping[str, Part]
        The parts of the job by name, those of the layouts at the least.
    rule : CuttingRule
        How the gauge is cut.
    settings : Settings
        Whether drawings hold the middle of the cut, and where sheets are measured from.
    """

    def __init__(self, parts: Mapping[str, Part], rule: CuttingRule, settings: Settings) -> None:
        self._parts, self._rule, self._settings = parts, rule, settings
        self._cut: dict[str, Part] = {}
        self._rooms = LetterRooms()

    def of(self, layout: Layout, crop: Sequence[Stroke] = ()) -> Scene:
        """The scene of a layout; ``crop`` is cut on the line."""
        for placement in layout.placements:
            if placement.part not in self._cut:
                part = self._parts[placement.part]
                offset = self._settings.kerf_offset
                self._cut[placement.part] = part_to_cut(part, self._rule) if offset else part
        return layout_scene(layout, self._cut, self._settings, crop, self._rooms)


class LetterRooms:
    """Where the names of parts stand on their metal, each worked out once."""

    def __init__(self) -> None:
        self._known: dict[str, Lettering] = {}

    def of(self, part: Part) -> Lettering:
        """The place of a part's name; parts of one name are taken to be one part."""
        known = self._known.get(part.name)
        if known is None:
            known = self._known[part.name] = letter_room(part.outline, part.name)
        return known


def layout_scene(
    layout: Layout, parts: Mapping[str, Part], settings: Settings, crop: Sequence[Stroke] = (),
    rooms: LetterRooms | None = None,
) -> Scene:  # fmt: skip
    """What stands on the sheet of a layout.

    Parameters
    ----------
    layout : Layout
        The arrangement.
    parts : Mapping[str, Part]
        The parts of the job by name.
    settings : Settings
        Gives the datum corner of sheets that have none of their own.
    crop : Sequence[Stroke]
        Lines that part what is kept of the sheet from the rest, cut on the line.
    rooms : LetterRooms, optional
        Shared by the layouts of a job.
    """
    rooms = rooms or LetterRooms()
    sheet = edge_of(layout.sheet)
    old = layout.sheet.old_cuts if isinstance(layout.sheet, Remnant) else ()
    datum = layout.sheet.datum if isinstance(layout.sheet, Remnant) else settings.datum
    curves = [Curve(Role.SHEET, sheet), *(Curve(Role.OLD_CUT, loop) for loop in old)]
    labels: list[Label] = []
    for stand, placement in enumerate(layout.placements):
        part = parts[placement.part]
        curves.extend(_part_curves(place(part.outline, placement), stand))
        labels.append(_label(part, placement, rooms.of(part), stand))
    curves.extend(Curve(Role.CROP, line) for line in crop)
    return Scene(layout.tag, sheet, datum, corner_point(sheet, datum), tuple(curves), tuple(labels))


def corner_point(sheet: Loop, corner: Corner) -> tuple[float, float]:
    """Where a corner of the sheet lies; on an odd remnant, the corner of the box around it."""
    around = box(sheet)
    return (
        around.right if corner.is_right else around.left,
        around.top if corner.is_upper else around.bottom,
    )


def _part_curves(placed: Outline, stand: int) -> list[Curve]:
    """In cutting order: what is marked or cut out after the outline has come loose is out of place."""
    return [
        *(Curve(Role.MARK, mark, stand) for mark in placed.marks),
        *(Curve(Role.HOLE, hole, stand) for hole in placed.holes),
        Curve(Role.OUTLINE, placed.outer, stand),
    ]


def _label(part: Part, placement: Placement, room: Lettering, stand: int) -> Label:
    (x, y, _), *_ = place(Stroke(((room.x, room.y, 0.0),)), placement).vertices
    role = Role.MARK if part.mark else Role.LABEL
    return Label(role, part.name, x, y, room.height, letter_turn(room.turn, placement), stand)


# The layers of our drawings: a name and a colour for each role, one table for every writer.

class Layer(NamedTuple):
    """A layer's name (plain letters, as R12 asks) and its colour by the DXF's colour numbers."""

    name: str
    colour: int
    rgb: str


LAYERS = {
    Role.SHEET: Layer("SHEET_EDGE", 8, "#808080"),
    Role.OLD_CUT: Layer("OLD_CUTS", 30, "#C06000"),
    Role.HOLE: Layer("PART_HOLES", 5, "#0000FF"),
    Role.OUTLINE: Layer("PART_OUTLINES", 7, "#000000"),
    Role.CROP: Layer("CROP_CUT", 6, "#C000C0"),
    Role.MARK: Layer("PART_MARKS", 3, "#008000"),
    Role.LABEL: Layer("LABELS", 9, "#606060"),
}
