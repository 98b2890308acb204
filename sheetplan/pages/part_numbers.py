"""Numbers on the parts of a drawing: every kind is named or keyed, and no words touch.

A part's name stands on its metal where it fits, with its kit's letter where there is room; where it does
not, a key does, or the key lies over a hole that nothing else lies in. Where even that is not possible for
any of a kind, one of them is keyed on a pad.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import shapely

from sheetplan.model import Job, Layout
from sheetplan.pages import palette
from sheetplan.pages.lettering import text_width
from sheetplan.pages.marks import Area, Mark, Words
from sheetplan.pages.marks import box as ring_of
from sheetplan.pages.numbering import SMALLEST
from sheetplan.pages.stand import PartShapes, Stand, lie_of, translated
from sheetplan.shapes import area


@dataclass(frozen=True, slots=True)
class Numbers:
    """The words for all parts, with the pads that some stand on, and the key of each keyed part."""

    marks: tuple[Mark, ...]
    keys: Mapping[str, str]


def number_parts(
    layout: Layout, job: Job, stand: Stand, shapes: PartShapes, colours: palette.PartColours
) -> Numbers:
    """Number the parts of a layout at its place in a drawing, with the letters of their kits."""
    lies = {lie_of(placement): placement for placement in layout.placements}
    letters = {lie: colours.letter(lie[0]) for lie in lies}
    named = {
        lie: shapes.spot(placement, lie[0], letters[lie], may_break=True) for lie, placement in lies.items()
    }
    keys = _keys(layout, {lie[0] for lie, spot in named.items() if spot is None}, job)
    spots = {
        lie: shapes.spot(placement, keys[lie[0]], letters[lie]) if lie[0] in keys else named[lie]
        for lie, placement in lies.items()
    }
    words: list[Words] = []
    bare = []
    metal = []
    for placement in layout.placements:
        x, y = stand.at(placement.x, placement.y)
        metal.append(translated(shapes.of(placement).metal, x, y))
        spot = spots[lie_of(placement)]
        if spot is None:
            bare.append((placement.part, metal[-1]))
        else:
            words += spot.words(x, y, palette.INK)
    return Numbers((*words, *_on_pads(bare, words, metal, keys)), keys)


def pad(mark: Words, air: float = 0.3) -> Area:
    """A light ground for words that stand on lines."""
    left, bottom, right, top = _room(mark).bounds
    return Area((ring_of(left - air, bottom - air, right + air, top + air),), palette.SHEET)


def _keys(layout: Layout, nameless: set[str], job: Job) -> dict[str, str]:
    """Keys for parts whose name does not fit at every turn that they lie in.

    All parts of a layout are numbered, the largest first: a part has one key in every picture of its layout,
    though in a small picture fewer names fit.
    """
    parts = {placement.part for placement in layout.placements}
    by_size = sorted(parts, key=lambda part: (-area(job.parts[part].outline), part))
    return {part: str(number) for number, part in enumerate(by_size, start=1) if part in nameless}


def _on_pads(
    bare: list[tuple[str, shapely.Polygon]],
    words: list[Words],
    metal: list[shapely.Polygon],
    keys: Mapping[str, str],
) -> Iterator[Mark]:
    """Keys of parts whose metal is too narrow."""
    everything = shapely.STRtree(metal)
    taken = [_room(mark) for mark in words]
    done: set[str] = set()
    for part, own in bare:
        left, bottom, right, top = own.bounds
        mark = Words(keys[part], (left + right) / 2, (bottom + top) / 2, SMALLEST, palette.INK)
        room = _room(mark)
        inside = shapely.Polygon(own.exterior).contains(room)
        if inside and all(metal[i] is own for i in everything.query(room, predicate="intersects")):
            done.add(part)
            taken.append(room)
            if not own.contains(room):
                yield pad(mark)
            yield mark
    for part, own in bare:
        if part not in done:
            point = own.representative_point()
            mark = Words(keys[part], point.x, point.y, SMALLEST, palette.INK)
            room = _room(mark)
            if not any(room.intersects(other) for other in taken):
                done.add(part)
                taken.append(room)
                yield from (pad(mark), mark)


def _room(mark: Words) -> shapely.Polygon:
    half = text_width(mark.text, mark.size, mark.bold) / 2 + 0.5, mark.size / 2
    dx, dy = half[::-1] if mark.upward else half
    return shapely.box(mark.x - dx, mark.y - dy, mark.x + dx, mark.y + dy)
