"""A record as a DXF: the sheet's edge, every old cut, the datum corner and the next useful room.

What a drawing program shows is the record itself. Dates and layouts hang on the loops as extended
data, which drawing programs keep; where one does not, the loops alone still say where nothing may
be cut.

A drawing as we write it gives back its record exactly. One that a drawing program has exploded, or a
person has drawn, is read by the reader of part drawings: the loop on the edge's layer (or, where no layer
is ours, the largest loop) is the sheet, every other closed loop is a cut. What a person changed is told
loop by loop.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.lldxf.const import DXFError

from sheetplan.drawings.layers import LAYERS, Role
from sheetplan.drawings.reading.choices import LayerChoice
from sheetplan.drawings.reading.drawing import ReadingChoices, read_bytes
from sheetplan.drawings.reading.dxf import load_dxf
from sheetplan.drawings.reading.findings import Clock, Refused, Says
from sheetplan.drawings.writing.dxf import dxf_bytes
from sheetplan.drawings.writing.scene import corner_point
from sheetplan.model.outline import Loop
from sheetplan.model.turns import Corner
from sheetplan.rack.record import PastCut, Record
from sheetplan.shapes import Box, area, box, move, same_loop
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import SAME_LENGTH_MM, Units

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace


APPLICATION = "SHEETPLAN"
"""Name under which our extended data hang."""

EDGE, OLD_CUTS, LABELS = LAYERS[Role.SHEET].name, LAYERS[Role.OLD_CUT].name, LAYERS[Role.LABEL].name
NEXT_ROOM = "NEXT_ROOM"
"""Layer of the largest rectangle that is still free."""

ROOM_COLOUR = 3
"""Green, by the DXF's colour numbers."""

DIGITS = 12
"""Decimals kept, in the book's lengths."""

TEXT_SHARE = 0.012
"""Height of lettering over the sheet's length."""

LONGEST_TEXT = 200
"""Letters of a fact in one string of extended data. The format allows 255 bytes (Autodesk DXF reference,
group code 1000)."""


def settled(record: Record, units: Units) -> Record:
    """The record with its coordinates as a drawing in the book's units can hold them.

    Applied once when a record is made; after that drawing and reading give equal values.
    """

    def fit(loop: Loop) -> Loop:
        return Loop(tuple((_kept(x, units), _kept(y, units), bulge) for x, y, bulge in loop.vertices))

    cuts = tuple(PastCut(fit(c.loop), c.step, c.date, c.plan, c.layout, c.part, c.metal) for c in record.cuts)
    return Record(
        record.tag, record.material, record.thickness, fit(record.edge), cuts, record.datum,
        record.rack_place, record.heat, record.origin, record.used_up,
    )  # fmt: skip


def _kept(mm: float, units: Units) -> float:
    return round(mm / units.length_mm, DIGITS) * units.length_mm + 0.0


def record_drawing(record: Record, units: Units, room: Box | None) -> bytes:
    """The record's DXF (R2000, in the book's lengths, lower left corner at zero).

    Parameters
    ----------
    record : Record
        Settled for these units (see `settled`).
    units : Units
        The book's units.
    room : Box or None
        The largest free rectangle, drawn on a layer of its own; it is not read back.
    """
    document = Drawing.new("R2000")
    document.appids.add(APPLICATION)
    for role in (Role.SHEET, Role.OLD_CUT, Role.LABEL):
        document.layers.add(LAYERS[role].name, color=LAYERS[role].colour)
    document.layers.add(NEXT_ROOM, color=ROOM_COLOUR)
    pen = _Pen(document.modelspace(), units, box(record.edge))
    pen.loop(record.edge, EDGE, _facts(record))
    for cut in record.cuts:
        pen.loop(cut.loop, OLD_CUTS, _cut_facts(cut))
    if room is not None:
        corners = ((room.left, room.bottom), (room.right, room.bottom),
                   (room.right, room.top), (room.left, room.top))  # fmt: skip
        pen.loop(Loop(tuple((x, y, 0.0) for x, y in corners)), NEXT_ROOM, {})
    pen.datum(record)
    pen.title(record)
    return dxf_bytes(document, units)


def fact_strings(facts: Mapping[str, str]) -> list[str]:
    """Facts as plain ASCII ``key=text``, long ones in several strings with the same key."""
    strings = []
    for key, text in facts.items():
        plain = text.encode("unicode_escape").decode("ascii")
        for start in range(0, max(len(plain), 1), LONGEST_TEXT):
            strings.append(f"{key}={plain[start : start + LONGEST_TEXT]}")
    return strings


def facts_of(strings: Iterable[str]) -> dict[str, str]:
    """The facts that `fact_strings` wrote; ValueError where one is damaged."""
    plain: dict[str, str] = {}
    for text in strings:
        key, _, part = text.partition("=")
        plain[key] = plain.get(key, "") + part
    return {key: text.encode("ascii").decode("unicode_escape") for key, text in plain.items()}


def _facts(record: Record) -> dict[str, str]:
    return {
        "tag": record.tag, "material": record.material, "thickness": record.thickness.text,
        "thickness_mm": repr(record.thickness.mm), "datum": record.datum.value, "place": record.rack_place,
        "heat": record.heat, "origin": record.origin, "used_up": "yes" if record.used_up else "no",
    }  # fmt: skip


def _cut_facts(cut: PastCut) -> dict[str, str]:
    return {
        "step": str(cut.step), "date": cut.date, "plan": cut.plan, "layout": cut.layout, "part": cut.part,
        "metal_mm2": repr(cut.metal),
    }  # fmt: skip


class _Pen:
    """Draws into a model space in the book's lengths."""

    def __init__(self, space: Modelspace, units: Units, around: Box) -> None:
        self.space, self.unit, self.around = space, units.length_mm, around
        self.height = max(around.length, around.width) * TEXT_SHARE / self.unit
        for frame in (space.reset_extents, space.reset_limits):
            frame(self.point(around.left, around.bottom), self.point(around.right, around.top))

    def point(self, x: float, y: float) -> tuple[float, float]:
        return round(x / self.unit, DIGITS) + 0.0, round(y / self.unit, DIGITS) + 0.0

    def loop(self, loop: Loop, layer: str, facts: dict[str, str]) -> None:
        points = [(*self.point(x, y), bulge) for x, y, bulge in loop.vertices]
        drawn = self.space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})
        if facts:
            tags: list[tuple[int, Any]] = [(1000, text) for text in fact_strings(facts)]
            drawn.set_xdata(APPLICATION, tags)

    def datum(self, record: Record) -> None:
        """A heavy angle outside the corner and its name."""
        x, y = corner_point(record.edge, record.datum)
        dx = -1.0 if record.datum.is_right else 1.0
        dy = -1.0 if record.datum.is_upper else 1.0
        step, leg = self.height * self.unit / 2.0, self.height * self.unit * 6.0
        cx, cy = x - dx * step, y - dy * step
        points = [self.point(cx + dx * leg, cy), self.point(cx, cy), self.point(cx, cy + dy * leg)]
        self.space.add_lwpolyline(points, dxfattribs={"layer": LABELS, "const_width": self.height / 3.0})
        self.text("measured from this corner", x, cy - dy * 2.0 * step, dx, dy)

    def title(self, record: Record) -> None:
        """Tag, metal and history beyond the edge on the side away from the datum corner."""
        size = _size(self.around, self.unit)
        lines = [f"{record.tag}   {record.material} {record.thickness.text}   {size}"]
        if record.heat:
            lines[0] += f"   heat {record.heat}"
        lines += [f"{date or 'before'}: {what}" for date, what in _history(record)]
        upper = record.datum.is_upper
        step = self.height * self.unit * 1.8
        for number, line in enumerate(lines, 1):
            above = self.around.top + (len(lines) + 1 - number) * step
            y = self.around.bottom - number * step if upper else above
            self.text(line, self.around.left, y, 1.0, 1.0)

    def text(self, text: str, x: float, y: float, dx: float, dy: float) -> None:
        across = "LEFT" if dx > 0.0 else "RIGHT"
        align = TextEntityAlignment[across if dy > 0.0 else f"BOTTOM_{across}"]
        if dy > 0.0:
            align = TextEntityAlignment[f"TOP_{across}" if y < self.around.bottom else across]
        entity = self.space.add_text(text, height=self.height, dxfattribs={"layer": LABELS})
        entity.set_placement(self.point(x, y), align=align)


def _history(record: Record) -> list[tuple[str, str]]:
    """One line for each layout that was cut, in order."""
    found: dict[tuple[int, str, str], int] = {}
    for cut in record.cuts:
        name = f"layout {cut.layout} of plan {cut.plan}" if cut.layout else "cut by hand or before"
        key = (cut.step, cut.date, name)
        found[key] = found.get(key, 0) + 1
    return [(date, f"{name}, {count} cut out") for (_, date, name), count in found.items()]


def _size(around: Box, unit: float) -> str:
    return f"{around.width / unit:.6g} x {around.length / unit:.6g}"


@dataclass(frozen=True, slots=True)
class Redrawn:
    """What a changed drawing shows: the sheet's edge and cuts; ``trouble`` says what cannot be used."""

    edge: Loop | None
    cuts: tuple[Loop, ...] = ()
    trouble: str = ""


def read_own(data: bytes, units: Units) -> Record | None:
    """The record in a drawing that is still as we write them; None where anything is not."""
    try:
        document, _ = load_dxf(data)
        edge: tuple[Loop, dict[str, str]] | None = None
        cuts = []
        for entity in document.modelspace():
            if entity.dxf.layer in (LABELS, NEXT_ROOM):
                continue
            found = _own_loop(entity, units)
            if entity.dxf.layer == EDGE and edge is None:
                edge = found
            elif entity.dxf.layer == OLD_CUTS:
                cuts.append(_cut(*found))
            else:
                return None
        return _record(*edge, tuple(cuts)) if edge else None
    except (DXFError, Refused, ValueError, KeyError, AttributeError):
        return None


def _own_loop(entity: Any, units: Units) -> tuple[Loop, dict[str, str]]:
    if entity.dxftype() != "LWPOLYLINE" or not entity.closed:
        raise ValueError("not one of our loops")
    unit = units.length_mm
    # The library gives numpy's floats, whose rounding is not Python's.
    points = [tuple(map(float, point)) for point in entity.get_points(format="xyb")]
    vertices = tuple((x * unit, y * unit, bulge) for x, y, bulge in points)
    facts = facts_of(tag.value for tag in entity.get_xdata(APPLICATION) if tag.code == 1000)
    return Loop(vertices), facts


def _cut(loop: Loop, facts: dict[str, str]) -> PastCut:
    return PastCut(
        loop, int(facts["step"]), facts["date"], facts["plan"], facts["layout"], facts["part"],
        float(facts["metal_mm2"]),
    )  # fmt: skip


def _record(edge: Loop, facts: dict[str, str], cuts: tuple[PastCut, ...]) -> Record:
    return Record(
        facts["tag"], facts["material"], Thickness(float(facts["thickness_mm"]), facts["thickness"]), edge,
        cuts, Corner(facts["datum"]), facts["place"], facts["heat"], facts["origin"],
        facts["used_up"] == "yes",
    )  # fmt: skip


def read_redrawn(name: str, data: bytes, units: Units, clock: Clock) -> Redrawn:
    """Edge and cuts of a drawing that is not as we write them, moved so that the edge starts at zero."""
    edges, trouble = _loops(name, data, units, clock, LayerChoice(cut=(EDGE,)))
    if edges:
        cuts, more = _loops(name, data, units, clock, LayerChoice(cut=(OLD_CUTS,)))
        trouble = trouble or more
    else:
        everything = LayerChoice(ignore=(LABELS, NEXT_ROOM))
        edges, trouble = _loops(name, data, units, clock, everything)
        cuts = []
    if trouble:
        return Redrawn(None, trouble=trouble)
    if not edges:
        return Redrawn(None, trouble="there is no closed outline in it")
    edge = max(edges, key=area)
    cuts += [loop for loop in edges if loop is not edge]
    around = box(edge)
    dx, dy = -around.left, -around.bottom
    if max(abs(dx), abs(dy)) <= SAME_LENGTH_MM:
        dx = dy = 0.0
    return Redrawn(move(edge, dx, dy), tuple(move(cut, dx, dy) for cut in cuts))


def _loops(name: str, data: bytes, units: Units, clock: Clock, layers: LayerChoice) -> tuple[list[Loop], str]:
    """Every closed loop on some layers, outer loops and holes alike."""
    report = read_bytes(name, data, ReadingChoices(units=units, layers=layers), clock)
    wrong = [finding.what for finding in report.of_weight(Says.WRONG)]
    if not report.parts:
        nothing_there = not wrong or any("closed outline" in what or "layer" in what for what in wrong)
        return [], "" if nothing_there else "; ".join(wrong)
    loops = []
    for part in report.parts:
        around = box(part.outline)
        dx = part.corner[0] * report.unit_mm - around.left
        dy = part.corner[1] * report.unit_mm - around.bottom
        for loop in (part.outline.outer, *part.outline.holes):
            loops.append(move(loop, dx, dy))
    return loops, "; ".join(wrong)


@dataclass(frozen=True, slots=True)
class Difference:
    """A record as its drawing now has it, and in words how that differs from what the tool knew."""

    record: Record
    sentences: tuple[str, ...]


def compare(known: Record, edge: Loop, cuts: tuple[Loop, ...], units: Units) -> Difference:
    """Match the loops of a drawing with those of a record.

    Loops that are still there keep their date and layout; new ones count as cut by hand.
    """
    sentences = []
    if not same_loop(known.edge, edge):
        was = _extent(known.edge, units)
        sentences.append(f"the sheet's edge is now {_extent(edge, units)}, it was {was}")
    else:
        edge = known.edge
    left = list(known.cuts)
    kept: list[PastCut] = []
    for loop in cuts:
        match = next((cut for cut in left if same_loop(cut.loop, loop)), None)
        if match:
            left.remove(match)
            kept.append(match)
        else:
            kept.append(PastCut(loop))
            sentences.append(f"a cut of {_extent(loop, units)} was drawn at {_place(loop, units)}")
    for cut in left:
        sentences.append(
            f"the cut {cut.part or 'by hand'} at {_place(cut.loop, units)}"
            f"{' of ' + cut.date if cut.date else ''} is no longer drawn"
        )
    kept.sort(key=lambda cut: known.cuts.index(cut) if cut in known.cuts else len(known.cuts))
    return Difference(replace(known, edge=edge, cuts=tuple(kept)), tuple(sentences))


def _extent(loop: Loop, units: Units) -> str:
    around = box(loop)
    unit = units.length_mm
    return f"{around.width / unit:.5g} x {around.length / unit:.5g} {units.value}"


def _place(loop: Loop, units: Units) -> str:
    around = box(loop)
    return f"({around.left / units.length_mm:.5g}, {around.bottom / units.length_mm:.5g})"
