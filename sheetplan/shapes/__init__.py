"""Outline geometry: measures, transforms, flattening with a stated bound, polygons.

Everything works on `sheetplan.model.outline` values, in mm; nothing here changes its input.
"""

from sheetplan.shapes.flattening import Side, flatten, flatten_stroke
from sheetplan.shapes.measures import (
    Box,
    area,
    box,
    centroid,
    cut_length,
    perimeter,
    pierces,
    signed_area,
    size,
)
from sheetplan.shapes.merging import merged
from sheetplan.shapes.plain import as_circle, circle_loop, is_rectangle, same_loop
from sheetplan.shapes.polygons import apart, to_polygon
from sheetplan.shapes.transforms import mirror, move, oriented, place, reverse, settle, turn

__all__ = [
    "Box",
    "Side",
    "apart",
    "area",
    "as_circle",
    "box",
    "centroid",
    "circle_loop",
    "cut_length",
    "flatten",
    "flatten_stroke",
    "is_rectangle",
    "merged",
    "mirror",
    "move",
    "oriented",
    "perimeter",
    "pierces",
    "place",
    "reverse",
    "same_loop",
    "settle",
    "signed_area",
    "size",
    "to_polygon",
    "turn",
]
