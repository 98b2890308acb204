"""Fill one sheet: `rectangles` packs boxes, `outlines` packs true shapes, behind one small protocol."""

from sheetplan.packing.sheet_packer import Blank, Item, SheetPacker, blank_of

__all__ = ["Blank", "Item", "SheetPacker", "blank_of"]
