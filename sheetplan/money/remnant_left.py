"""What is left of a sheet as one useful rectangle across its full width or along its full length.

Exact on the boxes of the parts and of old cuts: the crop line keeps the rule's gap to each of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sheetplan.model.job import CuttingRule, Part, Remnant, SheetSize
from sheetplan.model.outline import Loop, rectangle
from sheetplan.model.plan import Layout, Placement
from sheetplan.model.settings import Settings
from sheetplan.shapes import Box, box, is_rectangle, place
from sheetplan.trade.units import SAME_LENGTH_MM

Span = tuple[float, float]


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
        None where nothing useful is left, and on a remnant whose edge is not a rectangle.
    """
    edge = edge_of(layout.sheet)
    if not is_rectangle(edge):
        return None
    sheet = box(edge)
    obstacles = [*placed_boxes(layout, parts), *_old_cuts(layout.sheet)]
    along = _widest_free((sheet.left, sheet.right), ((o.left, o.right) for o in obstacles), rule.gap)
    across = _widest_free((sheet.bottom, sheet.top), ((o.bottom, o.top) for o in obstacles), rule.gap)
    found = [
        rest
        for rest in (
            Box(along[0], sheet.bottom, along[1], sheet.top),
            Box(sheet.left, across[0], sheet.right, across[1]),
        )
        if _is_useful(rest, settings)
    ]
    return max(found, key=lambda rest: rest.length * rest.width, default=None)


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


def _widest_free(whole: Span, taken: Iterable[Span], gap: float) -> Span:
    """The widest stretch of ``whole`` that keeps ``gap`` to every span taken; the last of equal ones."""
    best: Span = (whole[0], whole[0])
    reached = whole[0]
    for low, high in sorted(taken):
        if low - gap - reached >= best[1] - best[0]:
            best = (reached, low - gap)
        reached = max(reached, high + gap)
    if whole[1] - reached >= best[1] - best[0]:
        best = (reached, whole[1])
    return best


def _is_useful(rest: Box, settings: Settings) -> bool:
    short, long = sorted((rest.length, rest.width))
    least_short, least_long = sorted((settings.least_remnant_length, settings.least_remnant_width))
    return short >= max(least_short, SAME_LENGTH_MM) - SAME_LENGTH_MM and long >= least_long - SAME_LENGTH_MM
