"""The edge of the metal in pictures: first roughly in a plan view of all, then finely in each picture.

Terms
-----
plan view
    All pictures laid out on the plane, row 0 the lowest y, one cell ``grain`` mm.
ring
    Points along the sheet's edge or round an opening, in the plane, in order, the metal on their left.

Choices
-------
What is metal in the plan view (`metal.py`) is good to a cell. Where the edge is, each picture then says by
its steepest change of colour across it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sheetplan.pictures.camera import Bundle
from sheetplan.pictures.marks import CLEAR, Array, edge_offsets, opencv, reach_of

Picture = NDArray[np.uint8]

MOST_CELLS = 1_800_000
"""Of the plan view: what is cut apart within a second."""

EVERY = 8
"""Of so many cells of the plan view one is looked up in a picture; between them it runs straight."""

FINEST_MM = 1.0

CLEAR_MM = 12.0
"""Metal is learnt this far round a page; the pages ask for a little more."""

LEAST_OPENING_MM2 = 60.0
"""What is smaller is taken for rust or dirt."""

THIN_MM = 8.0
"""Strips of metal thinner than this are taken for slats seen through an opening."""

FIRST_SHARE = 0.35
"""Of the steepest edge's strength, that one nearer to the metal has to have to be its upper rim."""

GLARE_SHARE = 0.01
"""What glare counts of a picture's cell where another sees it without."""

WHITE = 250
"""As bright as this in all colours is glare."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan view: colours, which cells any picture sees, and where it lies in the plane."""

    colour: Picture
    seen: NDArray[np.bool_]
    left: float
    bottom: float
    grain: float

    def to_plane(self, cells: Array) -> Array:
        """Middles of cells (x, y) in the plane, mm."""
        return np.asarray(cells * self.grain + (self.left, self.bottom))

    def to_cells(self, points: Array) -> Array:
        """Points of the plane in cells."""
        return np.asarray((points - (self.left, self.bottom)) / self.grain)


@dataclass(frozen=True, slots=True)
class Ring:
    """Points of the edge or of an opening, shape (n, 2), each with the picture it was seen in.

    ``sure`` is where a picture has a clear edge; ``wall`` how far the lower rim can be taken for the upper
    one there, mm; ``pixel`` what a pixel is there, mm; ``apart`` how far a second picture sees it elsewhere,
    NaN where there is none; ``crisp`` how much of the change across it is within a pixel or so, as a share.
    """

    points: Array
    sure: NDArray[np.bool_]
    picture: NDArray[np.intp]
    wall: Array
    pixel: Array
    apart: Array
    crisp: Array

    def only(self, some: NDArray[np.bool_]) -> Ring:
        """The ring of some of its points."""
        return Ring(*(getattr(self, name)[some] for name in self.__slots__))


def plan_view(pictures: Sequence[Picture], bundle: Bundle, reach: float) -> Plan:
    """Lay all pictures out on the plane, as far round the pages as ``reach`` (mm)."""
    cv2 = opencv()
    papers = np.concatenate([bundle.paper(page, reach_of(page)) for page in bundle.pages])
    low, high = papers.min(axis=0) - reach, papers.max(axis=0) + reach
    prints = np.concatenate([_footprint(bundle, i) for i in range(len(pictures))])
    low, high = np.maximum(low, prints.min(axis=0)), np.minimum(high, prints.max(axis=0))
    grain = max(FINEST_MM, float(np.sqrt((high - low).prod() / MOST_CELLS)))
    wide, deep = (int(one) + 1 for one in (high - low) / grain)
    some = np.meshgrid(*(np.arange(0, n + EVERY, EVERY) for n in (wide, deep)))
    every = np.stack(some, axis=-1) * grain + low
    between = np.meshgrid(*(np.arange(n, dtype=np.float32) / EVERY for n in (wide, deep)))
    colour = np.zeros((deep, wide, 3), np.uint8)
    best = np.full((deep, wide), -1.0, np.float32)
    for number, picture in enumerate(pictures):
        coarse = bundle.to_picture(number, every.reshape(-1, 2)).reshape(every.shape).astype(np.float32)
        x, y = cv2.split(cv2.remap(coarse, *between, cv2.INTER_LINEAR))
        across, down = bundle.sizes[number]
        inside = np.minimum(np.minimum(x, across - 1 - x), np.minimum(y, down - 1 - y)) / min(across, down)
        inside = np.where(inside > 0.004, inside, -1.0)
        spread = 0.4 * grain / _pixel_mm(bundle, number)
        soft = cv2.GaussianBlur(picture, (0, 0), max(spread, 0.4))
        laid = cv2.remap(soft, np.nan_to_num(x, nan=-1.0), np.nan_to_num(y, nan=-1.0), cv2.INTER_LINEAR)
        # Glare of one picture is seen through in another.
        inside[(laid.min(axis=2) >= WHITE) & (inside > 0.0)] *= GLARE_SHARE
        better = inside > best
        colour[better] = laid[better]
        best[better] = inside[better]
    return Plan(colour, best > 0.0, float(low[0]), float(low[1]), grain)


def _footprint(bundle: Bundle, picture: int) -> Array:
    """Where the border of a picture meets the plane."""
    wide, high = bundle.sizes[picture]
    share = np.linspace(0.0, 1.0, 9)
    border = np.concatenate([
        np.column_stack((share * wide, 0 * share)), np.column_stack((share * wide, 0 * share + high)),
        np.column_stack((0 * share, share * high)), np.column_stack((0 * share + wide, share * high)),
    ])  # fmt: skip
    return bundle.to_plane(picture, border)


def _pixel_mm(bundle: Bundle, picture: int) -> float:
    middle = np.array(bundle.sizes[picture]) / 2.0
    a, b = bundle.to_plane(picture, np.array([middle, middle + np.array((1.0, 0.0))]))
    return float(np.hypot(*(b - a)))


def rings_of(metal: NDArray[np.bool_], plan: Plan) -> list[Array]:
    """The edge and the openings as cells lie, in the plane; the edge first, the metal on the left."""
    cv2 = opencv()
    found, above = cv2.findContours(metal.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    edge = max((i for i in range(len(found)) if above[0, i, 3] < 0), key=lambda i: len(found[i]))
    rings = [found[edge]]
    rings += [one for one, tree in zip(found, above[0], strict=True)
              if tree[3] == edge and cv2.contourArea(one) * plan.grain**2 > LEAST_OPENING_MM2]  # fmt: skip
    laid = []
    for number, ring in enumerate(rings):
        points = plan.to_plane(ring.reshape(-1, 2).astype(np.float64))
        if (_area(points) > 0.0) != (number == 0):
            points = points[::-1]
        laid.append(even(points, max(1.5, plan.grain)))
    return laid


def _area(points: Array) -> float:
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0)


def even(points: NDArray[np.floating], step: float) -> Array:
    """A closed chain with points at equal distances, about ``step`` mm."""
    closed = np.vstack((points, points[:1]))
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))))
    at = np.linspace(0.0, along[-1], max(8, round(along[-1] / step)), endpoint=False)
    return np.column_stack([np.interp(at, along, closed[:, i]) for i in (0, 1)])


def smoothed(points: Array, spread: float) -> Array:
    """A closed chain, each point drawn to its neighbours, ``spread`` of them either way."""
    reach = int(3 * spread) + 1
    weight = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    weight /= weight.sum()
    wrapped = np.take(points, np.arange(-reach, len(points) + reach), axis=0, mode="wrap")
    return np.column_stack([np.convolve(wrapped[:, i], weight, "valid") for i in (0, 1)])


ROUNDED_CELLS = 1.5
"""Cells of the plan view by which a sharp corner is rounded there."""

BESIDE = 6
"""Points either way that tell where an edge goes on; a spike is not as wide."""


def sharpen(
    rough: Array, pictures: Sequence[Picture], bundle: Bundle, thickness: float, grain: float
) -> Ring:
    """A rough ring as the pictures see it: once widely, then closely round what was found."""
    along = smoothed(rough, 2.0)
    ring = _looked(rough, along, pictures, bundle, thickness, 2.2 * grain + 1.0)
    good = np.where(ring.sure[:, None], ring.points, rough)
    # A spike is an edge of rust or of a slat: back to the neighbours' line before the close look.
    good, _ = _without_spikes(good, along, ROUNDED_CELLS * grain)
    close = smoothed(good, 2.0)
    ring = _looked(good, close, pictures, bundle, thickness, 0.8 * grain + 1.0)
    points, spikes = _without_spikes(ring.points, along, ROUNDED_CELLS * grain + 1.0)
    return replace(ring, points=points, sure=ring.sure & ~spikes)


def _outward(along: Array) -> Array:
    tangent = np.roll(along, -1, axis=0) - np.roll(along, 1, axis=0)
    tangent /= np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    return np.column_stack((tangent[:, 1], -tangent[:, 0]))


def _without_spikes(points: Array, along: Array, by: float) -> tuple[Array, NDArray[np.bool_]]:
    """Points with spikes of more than ``by`` (mm) laid back to their neighbours' line, and which are."""
    outward = _outward(along)
    off = ((points - along) * outward).sum(axis=1)
    beside = np.median([np.roll(off, step) for step in range(-BESIDE, BESIDE + 1)], axis=0)
    # Where the plan view has a spike and what was found has none, the plan view is wrong.
    spikes = (np.abs(off - beside) > by) & (_bends(points) > _bends(along))
    return np.where(spikes[:, None], along + beside[:, None] * outward, points), spikes


def _bends(points: Array) -> Array:
    """How far each point lies from amid those ``BESIDE`` before and after it."""
    return np.asarray(
        np.hypot(*(points - (np.roll(points, BESIDE, axis=0) + np.roll(points, -BESIDE, axis=0)) / 2.0).T)
    )


def _looked(
    points: Array, along: Array, pictures: Sequence[Picture], bundle: Bundle, thickness: float, half_mm: float
) -> Ring:
    outward = _outward(along)
    count = len(points)
    cost, second = np.full(count, np.inf), np.full((count, 2), np.nan)
    best, sure = points.copy(), np.zeros(count, bool)
    picture, wall, pixel, crisp = np.zeros(count, np.intp), np.zeros(count), np.ones(count), np.zeros(count)
    for number, seen in enumerate(pictures):
        found, clear, mm, share = _in_picture(points, outward, seen, bundle, number, half_mm)
        camera = bundle.camera_at(number)
        aside = (outward * (camera[:2] - points)).sum(axis=1) / camera[2]
        lip = thickness * np.maximum(aside, 0.0)
        price = np.where(clear, mm + lip, np.inf)
        better = price < cost
        second[better & sure] = best[better & sure]
        second[~better & clear] = found[~better & clear]
        best[better], cost[better], sure[better] = found[better], price[better], True
        picture[better], wall[better], pixel[better] = number, lip[better], mm[better]
        crisp[better] = share[better]
    apart = np.abs(((second - best) * outward).sum(axis=1))
    return Ring(best, sure, picture, wall, pixel, apart, crisp)


def _in_picture(
    points: Array, outward: Array, picture: Picture, bundle: Bundle, number: int, half_mm: float
) -> tuple[Array, NDArray[np.bool_], Array, Array]:
    """Where one picture has the edge, where it is clear, what a pixel is there (mm), and how crisp it is."""
    at = bundle.to_picture(number, points)
    ahead = bundle.to_picture(number, points + outward)
    across = ahead - at
    ratio = np.hypot(*across.T)
    size = np.array(bundle.sizes[number])
    with np.errstate(invalid="ignore", divide="ignore"):
        mm = 1.0 / ratio
        inside = (np.minimum(at, size - 1 - at).min(axis=1) > 4.0 + half_mm * ratio) & (ratio > 0.0)
    found, clear, crisp = points.copy(), np.zeros(len(points), bool), np.zeros(len(points))
    if not inside.any():
        return found, clear, np.where(inside, mm, np.inf), crisp
    half = float(np.clip(half_mm * np.median(ratio[inside]), 2.5, 40.0))
    unit = across[inside] / ratio[inside, None]
    offsets, sharp = edge_offsets(picture, at[inside], unit, half, first=FIRST_SHARE)
    pixels = at[inside] + offsets[:, None] * unit
    found[inside] = bundle.to_plane(number, pixels)
    rows = np.clip(np.round(pixels - 2.0 * unit).astype(int), 0, size - 1)
    glare = picture[rows[:, 1], rows[:, 0]].min(axis=1) >= WHITE
    clear[inside] = sharp & ~glare
    crisp[inside] = _crisp(picture, pixels, unit)
    return found, clear, mm, crisp


CRISP_PX, AROUND_PX = 1.25, 3.5
"""Half of what a cut edge changes within, for the most part, and of what softer ones are told from it by."""


def _crisp(picture: Picture, pixels: Array, unit: Array) -> Array:
    """Of the change of brightness across an edge, the share that is near it."""
    cv2 = opencv()
    steps = np.array((-AROUND_PX, -CRISP_PX, CRISP_PX, AROUND_PX))
    at = (pixels[:, None, :] + steps[None, :, None] * unit[:, None, :]).astype(np.float32)
    level = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR).astype(np.float64).mean(axis=2)
    # A few points together, for noise.
    level = sum(np.roll(level, step, axis=0) for step in range(-2, 3)) / 5.0
    whole = np.maximum(np.abs(level[:, 3] - level[:, 0]), CLEAR)
    return np.asarray(np.abs(level[:, 2] - level[:, 1]) / whole)
