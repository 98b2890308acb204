"""What a person changed in a record's drawing, told loop by loop."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sheetplan.model.outline import Loop
from sheetplan.rack.record import PastCut, Record
from sheetplan.shapes import box, same_loop
from sheetplan.trade.units import Units


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
