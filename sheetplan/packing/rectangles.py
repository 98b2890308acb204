"""Fill one sheet with boxes, behind the protocol that true shapes share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sheetplan.model.job import Part
from sheetplan.model.plan import Placement
from sheetplan.packing.kernel import FREE_LIMIT, Desk, Ints, Recipe, Types, cut_free, fill_sheet, new_desk
from sheetplan.packing.kernel_chance import chance_of
from sheetplan.packing.kernel_pricing import price_layouts
from sheetplan.packing.rectangles_blank import DatumFrame, datum_frame, free_rectangles
from sheetplan.packing.rectangles_boxes import PartBox, box_of, nm_down, nm_up
from sheetplan.packing.sheet_packer import Blank, Item
from sheetplan.shapes import box, place

PASS_LOOKS = 20_000
"""Looks that one pass of effort stands for: about one construction of a sheet of plates."""


class BoxPacker:
    """Places parts by their boxes; remembers nothing between calls.

    Parameters
    ----------
    parts
        All parts that kept placements will ever name.
    """

    def __init__(self, parts: Sequence[Part]) -> None:
        self._parts = {part.name: part for part in parts}

    def fill(
        self,
        blank: Blank,
        items: Sequence[Item],
        *,
        seed: int,
        effort: int = 1,
        keep: Sequence[Placement] = (),
    ) -> tuple[Placement, ...]:
        """Place pieces on a blank; see `sheetplan.packing.SheetPacker.fill`."""
        boxes = [(item, made) for item in items if (made := box_of(item.part, blank.gap)) is not None]
        frame = datum_frame(blank)
        free = self._free_beside(blank, frame, keep)
        if not boxes or not len(free):
            return ()
        types = types_of([made for _, made in boxes])
        available = np.array([item.available for item, _ in boxes], np.int64)
        values = np.array([item.value for item, _ in boxes], np.float64)
        desk = new_desk(len(boxes), _most(free, types, available))
        chance = chance_of(seed, effort)
        kept = price_layouts(free, types, available, values, 1, effort * PASS_LOOKS, chance, desk)
        if kept.values[0] < 0.0:
            return ()
        recipe = Recipe(kept.orders[0], kept.caps[0], int(kept.rules[0]), kept.least)
        placed = fill_sheet(free, types, kept.usable, recipe, desk)
        return _placements([made for _, made in boxes], desk, placed, frame)

    def _free_beside(self, blank: Blank, frame: DatumFrame, keep: Sequence[Placement]) -> Ints:
        """Free rectangles once the boxes of the kept placements are taken out."""
        free, fresh = np.empty((FREE_LIMIT, 4), np.int64), np.empty((FREE_LIMIT, 4), np.int64)
        inside = free_rectangles(blank)
        count, gap = len(inside), nm_up(blank.gap)
        free[:count] = inside
        for placement in keep:
            around = box(place(self._parts[placement.part].outline.outer, placement))
            x0, x1 = frame.span_x(around.left, around.right)
            y0, y1 = frame.span_y(around.bottom, around.top)
            length, width = nm_up(x1) - nm_down(x0) + gap, nm_up(y1) - nm_down(y0) + gap
            count = cut_free(free, count, fresh, nm_down(x0), nm_down(y0), length, width, gap + 1)
        return free[:count].copy()


def types_of(boxes: Sequence[PartBox]) -> Types:
    """Box types as columns."""
    return Types(
        np.array([made.length for made in boxes], np.int64),
        np.array([made.width for made in boxes], np.int64),
        np.array([made.mate is not None for made in boxes], np.bool_),
    )


def _most(free: Ints, types: Types, available: Ints) -> int:
    """How many boxes could be placed at most."""
    area = float((free[:, 2].astype(float) * free[:, 3].astype(float)).sum())
    least = float((types.lengths.astype(float) * types.widths.astype(float)).min())
    return max(1, min(int(available.sum()), int(area / least) + 1))


def _placements(
    boxes: Sequence[PartBox], desk: Desk, placed: int, frame: DatumFrame
) -> tuple[Placement, ...]:
    found = []
    for t, x, y, turned in desk.boxes[:placed].tolist():
        posture = boxes[t].posture(bool(turned))
        left, bottom = frame.origin(x, y, posture)
        found.append(Placement(boxes[t].part.name, left, bottom, posture.turn))
    return tuple(found)
