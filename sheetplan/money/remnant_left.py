"""What is left of a sheet as one useful rectangle: the one that the rack will record once it is cut.

Exact on the boxes of the parts and of old cuts: the rectangle keeps the rule's gap to each of them.
"""

from __future__ import annotations

from collections.abc import Mapping

from sheetplan.model.job import CuttingRule, Part, Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.rack.useful import free_beside, is_useful
from sheetplan.shapes import Box, box, place


def remnant_left(
    layout: Layout, parts: Mapping[str, Part], rule: CuttingRule, settings: Settings
) -> Box | None:
    """The largest useful rectangle that a layout leaves on its sheet, in the sheet's frame (mm).

    Parameters
    ----------
    layout
        What is cut; every repeat leaves the same.
    parts
        The parts by name.
    rule
        Its ``gap`` is kept between the crop line and parts or old cuts.
    settings
        Its least remnant sizes decide what is useful, whichever way round the rectangle lies.

    Returns
    -------
    Box or None
        None where nothing useful is left.
    """
    taken = [*placed_boxes(layout, parts), *_old_cuts(layout.sheet)]
    rest = free_beside(edge_of(layout.sheet), taken, rule.gap)
    return rest if is_useful(rest, settings) else None


def edge_of(sheet: SheetSize | Remnant) -> Loop:
    """The outline of a full sheet or of a remnant."""
    return sheet.edge if isinstance(sheet, Remnant) else rectangle(sheet.length, sheet.width).outer


def placed_boxes(layout: Layout, parts: Mapping[str, Part]) -> list[Box]:
    """The boxes of all parts of a layout as they lie on the sheet."""
    at_origin: dict[tuple[str, float, bool], Box] = {}
    found = []
    for placement in layout.placements:
        key = placement.part, placement.turn, placement.mirrored
        if key not in at_origin:
            turned = Placement(placement.part, 0.0, 0.0, placement.turn, placement.mirrored)
            at_origin[key] = box(place(parts[placement.part].outline, turned))
        around = at_origin[key]
        found.append(
            Box(
                around.left + placement.x, around.bottom + placement.y,
                around.right + placement.x, around.top + placement.y,
            )
        )  # fmt: skip
    return found


def _old_cuts(sheet: SheetSize | Remnant) -> list[Box]:
    return [box(cut) for cut in sheet.cuts] if isinstance(sheet, Remnant) else []
