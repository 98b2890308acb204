"""Loops, sheets and records as plain values for JSON, and back without losing a digit.

Numbers are mm. Python writes the shortest text that gives the same double, so reading gives equal
values.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sheetplan.model.job import Remnant, SheetSize
from sheetplan.model.outline import Loop, Outline, Stroke
from sheetplan.model.settings import Corner
from sheetplan.rack.record import PastCut, Record
from sheetplan.trade.thickness import Thickness

Json = Mapping[str, Any]


def loop_json(chain: Loop | Stroke) -> list[list[float]]:
    """Vertices as ``[x, y, bulge]``."""
    return [list(vertex) for vertex in chain.vertices]


def loop_of(value: Any) -> Loop:
    """A loop from its vertices."""
    return Loop(_vertices(value))


def _vertices(value: Any) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(x), float(y), float(bulge)) for x, y, bulge in value)


def outline_json(outline: Outline) -> dict[str, Any]:
    """An outline with its holes and marks."""
    return {
        "outer": loop_json(outline.outer),
        "holes": [loop_json(hole) for hole in outline.holes],
        "marks": [loop_json(mark) for mark in outline.marks],
    }


def outline_of(value: Json) -> Outline:
    """The outline that `outline_json` wrote."""
    return Outline(
        loop_of(value["outer"]),
        tuple(loop_of(hole) for hole in value["holes"]),
        tuple(Stroke(_vertices(mark)) for mark in value["marks"]),
    )


def thickness_json(thickness: Thickness) -> dict[str, Any]:
    """Millimetres and the text that it is shown as."""
    return {"mm": thickness.mm, "text": thickness.text}


def thickness_of(value: Json) -> Thickness:
    """The thickness that `thickness_json` wrote."""
    return Thickness(float(value["mm"]), str(value["text"]))


def sheet_json(sheet: SheetSize | Remnant) -> dict[str, Any]:
    """A full sheet or a remnant as it was planned on."""
    common = {
        "material": sheet.material,
        "thickness": thickness_json(sheet.thickness),
        "rack_place": sheet.rack_place,
    }
    if isinstance(sheet, SheetSize):
        return {
            "sheet": sheet.name, "length": sheet.length, "width": sheet.width, "price": sheet.price, **common,
        }  # fmt: skip
    return {
        "remnant": sheet.tag, "edge": loop_json(sheet.edge), "cuts": [loop_json(cut) for cut in sheet.cuts],
        "datum": sheet.datum.value, "value": sheet.value, "extra_gap": sheet.extra_gap, **common,
    }  # fmt: skip


def sheet_of(value: Json) -> SheetSize | Remnant:
    """The sheet that `sheet_json` wrote; counts and buying limits are not kept."""
    material, thickness = str(value["material"]), thickness_of(value["thickness"])
    place = str(value["rack_place"])
    if "sheet" in value:
        return SheetSize(
            str(value["sheet"]), material, thickness, float(value["length"]), float(value["width"]),
            price=float(value["price"]), rack_place=place,
        )  # fmt: skip
    return Remnant(
        str(value["remnant"]), material, thickness, loop_of(value["edge"]),
        tuple(loop_of(cut) for cut in value["cuts"]), Corner(value["datum"]), place, float(value["value"]),
        float(value.get("extra_gap", 0.0)),
    )  # fmt: skip


def record_json(record: Record) -> dict[str, Any]:
    """A record with every cut."""
    return {
        "tag": record.tag,
        "material": record.material,
        "thickness": thickness_json(record.thickness),
        "edge": loop_json(record.edge),
        "cuts": [_cut_json(cut) for cut in record.cuts],
        "datum": record.datum.value,
        "rack_place": record.rack_place,
        "heat": record.heat,
        "origin": record.origin,
        "used_up": record.used_up,
    }


def record_of(value: Json) -> Record:
    """The record that `record_json` wrote."""
    return Record(
        str(value["tag"]), str(value["material"]), thickness_of(value["thickness"]), loop_of(value["edge"]),
        tuple(_cut_of(cut) for cut in value["cuts"]), Corner(value["datum"]), str(value["rack_place"]),
        str(value["heat"]), str(value["origin"]), bool(value["used_up"]),
    )  # fmt: skip


def _cut_json(cut: PastCut) -> dict[str, Any]:
    return {
        "loop": loop_json(cut.loop), "step": cut.step, "date": cut.date, "plan": cut.plan,
        "layout": cut.layout, "part": cut.part, "metal": cut.metal,
    }  # fmt: skip


def _cut_of(value: Json) -> PastCut:
    return PastCut(
        loop_of(value["loop"]), int(value["step"]), str(value["date"]), str(value["plan"]),
        str(value["layout"]), str(value["part"]), float(value["metal"]),
    )  # fmt: skip
