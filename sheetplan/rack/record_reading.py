"""A record's drawing read back, whoever wrote or changed it.

A drawing as we write it gives back its record exactly. One that a drawing program has exploded, or
a person has drawn, is read by the reader of part drawings: the loop on the edge's layer (or, where
no layer is ours, the largest loop) is the sheet, every other closed loop is a cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ezdxf.lldxf.const import DXFError

from sheetplan.drawings.dxf_loading import load_dxf
from sheetplan.drawings.findings import Says
from sheetplan.drawings.layer_choice import LayerChoice
from sheetplan.drawings.limits import Clock, Refused
from sheetplan.drawings.reading import ReadingChoices, read_bytes
from sheetplan.model.outline import Loop
from sheetplan.model.settings import Corner
from sheetplan.rack.record import PastCut, Record
from sheetplan.rack.record_dxf import APPLICATION, EDGE, LABELS, NEXT_ROOM, OLD_CUTS, facts_of
from sheetplan.shapes import area, box, move
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import SAME_LENGTH_MM, Units


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
