"""The layer on which each outline is drawn: the one that most of its outer line lies on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from sheetplan.model.outline import Outline
from sheetplan.shapes import flatten
from sheetplan.shapes.arcs import Piece
from sheetplan.shapes.meeting import point_at

FLAT_MM = 0.02

NEAR_MM = 0.2
"""A piece whose middle lies this near to an outer line is part of it: gaps that are closed are narrower."""


def outline_layers(
    outlines: Sequence[Outline], pieces: Sequence[Piece], layers: Sequence[str]
) -> tuple[str, ...]:
    """For each outline its layer; ``layers`` are those of the pieces, which made the outlines (mm)."""
    names = set(layers)
    if len(names) < 2 or not outlines:
        return tuple(next(iter(names), "") for _ in outlines)
    rims = [shapely.LinearRing(flatten(outline.outer, FLAT_MM)) for outline in outlines]
    middles = shapely.points(np.array([point_at(piece, 0.5) for piece in pieces]))
    which, near = shapely.STRtree(rims).query_nearest(middles, max_distance=NEAR_MM)
    lengths: list[Counter[str]] = [Counter() for _ in outlines]
    for piece, rim in zip(which.tolist(), near.tolist(), strict=True):
        lengths[rim][layers[piece]] += round(pieces[piece].length * 1000) + 1
    return tuple(found.most_common(1)[0][0] if found else "" for found in lengths)
