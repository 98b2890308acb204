"""The edge of the metal in pictures: first roughly in a plan view of all, then finely in each picture.

Terms
-----
plan view
    All pictures laid out on the plane, row 0 the lowest y, one cell ``grain`` mm.
ring
    Points along the sheet's edge or round an opening, in the plane, in order, the metal on their left.

Choices
-------
Metal and what lies under it are told apart by colour, learnt from strips round the pages of marks, which
lie on metal (C. Rother et al., GrabCut, ACM Transactions on Graphics 23, 2004, as OpenCV has it). The cut
between the two is good to a cell. Where the edge is, each picture then says by its steepest change of
brightness across it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sheetplan.pictures.camera import Bundle
from sheetplan.pictures.marks import Array, NotSeen, edge_offsets, opencv, reach_of

Picture = NDArray[np.uint8]

MOST_CELLS = 900_000
"""Of the plan view: what is cut apart within seconds."""

FINEST_MM = 1.0

CLEAR_MM = 12.0
"""Metal is learnt this far round a page; the pages ask for a little more."""

LEAST_OPENING_MM2 = 60.0
"""What is smaller is taken for rust or dirt."""

THIN_MM = 8.0
"""Strips of metal thinner than this are taken for slats seen through an opening."""

FIRST_SHARE = 0.35
"""Of the steepest edge's strength, that one nearer to the metal has to have to be its upper rim."""

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
    NaN where there is none.
    """

    points: Array
    sure: NDArray[np.bool_]
    picture: NDArray[np.intp]
    wall: Array
    pixel: Array
    apart: Array


def plan_view(pictures: Sequence[Picture], bundle: Bundle, reach: float) -> Plan:
    """Lay all pictures out on the plane, as far round the pages as ``reach`` (mm)."""
    cv2 = opencv()
    papers = np.concatenate([bundle.paper(page, reach_of(page)) for page in bundle.pages])
    low, high = papers.min(axis=0) - reach, papers.max(axis=0) + reach
    prints = np.concatenate([_footprint(bundle, i) for i in range(len(pictures))])
    low, high = np.maximum(low, prints.min(axis=0)), np.minimum(high, prints.max(axis=0))
    grain = max(FINEST_MM, float(np.sqrt((high - low).prod() / MOST_CELLS)))
    wide, deep = (int(one) + 1 for one in (high - low) / grain)
    ground = np.stack(np.meshgrid(np.arange(wide), np.arange(deep)), axis=-1) * grain + low
    colour = np.zeros((deep, wide, 3), np.uint8)
    best = np.full((deep, wide), -1.0)
    for number, picture in enumerate(pictures):
        at = bundle.to_picture(number, ground.reshape(-1, 2)).reshape(deep, wide, 2)
        size = np.array(bundle.sizes[number])
        inside = np.nan_to_num(np.minimum(at, size - 1 - at).min(axis=2) / size.min(), nan=-1.0)
        spread = 0.4 * grain / _pixel_mm(bundle, number)
        soft = cv2.GaussianBlur(picture, (0, 0), max(spread, 0.4))
        laid = cv2.remap(
            soft, *np.moveaxis(np.nan_to_num(at, nan=-1.0).astype(np.float32), 2, 0), cv2.INTER_LINEAR
        )
        better = (inside > 0.004) & (inside > best)
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


def metal_in(plan: Plan, bundle: Bundle) -> NDArray[np.bool_]:
    """Which cells of the plan view are metal.

    Raises
    ------
    NotSeen
        Metal and what is round it look alike, or the sheet leaves the pictures.
    """
    cv2 = opencv()
    papers, ring = _papers(plan, bundle)
    shades = cv2.cvtColor(plan.colour, cv2.COLOR_RGB2LAB)
    metal = shades[ring & plan.seen].astype(np.float64)
    middle = np.median(metal, axis=0)
    # By the median, so that rust beside a page does not make all that is dark look like metal.
    spread = np.clip(1.48 * np.median(np.abs(metal - middle), axis=0), (5.0, 1.5, 1.5), (12.0, 4.0, 4.0))
    shades[papers] = middle.astype(np.uint8)
    far = (((shades - middle) / spread) ** 2).sum(axis=2) > 16.0
    shares, ground = _ground(shades, far, plan)
    labels = np.where(far & (shares > OUTSIDE_SHARE), cv2.GC_PR_BGD, cv2.GC_PR_FGD).astype(np.uint8)
    labels[~plan.seen] = cv2.GC_BGD
    labels[ring | papers] = cv2.GC_FGD
    if (labels[plan.seen] == cv2.GC_PR_BGD).mean() < 0.005:
        raise NotSeen(
            "No edge of the metal is seen: all of the pictures looks like the metal round the marks.",
            "Put something dark or coloured under the sheet, or take the picture from farther off.",
        )
    cv2.setRNGSeed(1)
    cv2.grabCut(shades, labels, None, np.zeros((1, 65)), np.zeros((1, 65)), 4, cv2.GC_INIT_WITH_MASK)
    found = ((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)).astype(np.uint8)
    across = 2 * max(1, round(THIN_MM / 2.0 / plan.grain)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    opened = cv2.morphologyEx(found, cv2.MORPH_OPEN, disc)
    # Corners that the disc could not reach are given back.
    found = cv2.bitwise_and(found, cv2.dilate(opened, np.ones((5, 5), np.uint8)))
    sheet = _one_piece(found, papers, plan)
    return _without_rust(sheet, shades, shares, (float(middle[0]), ground), plan)


SHADE = 8
"""Levels of a colour that are taken as one."""

OUTSIDE_SHARE = 0.0008
"""Of what is seen round the sheet, that a colour has to be for an opening to show it."""


def _ground(shades: Picture, far: NDArray[np.bool_], plan: Plan) -> tuple[Array, float]:
    """How usual each cell's colour is round the sheet, as a share, and how bright it is there mostly."""
    cv2 = opencv()
    # Metal in shadow is dark too: what lies behind an edge, seen from the border, is not round the sheet.
    soft = cv2.GaussianBlur(shades[..., 0], (0, 0), 1.0)
    lines = cv2.dilate(cv2.Canny(soft, 15, 45), np.ones((3, 3), np.uint8)) > 0
    lines &= cv2.dilate((~plan.seen).astype(np.uint8), np.ones((11, 11), np.uint8)) == 0
    _, pieces = cv2.connectedComponents((far & plan.seen & ~lines).astype(np.uint8), connectivity=4)
    border = cv2.dilate((~plan.seen).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    border[[0, -1]], border[:, [0, -1]] = True, True
    reaching = np.unique(pieces[border])
    outside = np.isin(pieces, reaching[reaching > 0])
    level = shades.astype(np.int32) // SHADE
    counts = np.zeros((32, 32, 32), np.float64)
    np.add.at(counts, tuple(level[outside].T), 1.0)
    # A colour's neighbours count too: the same floor is a little lighter elsewhere.
    for axis in range(3):
        counts = counts + np.roll(counts, 1, axis) + np.roll(counts, -1, axis)
    shares = counts / max(float(outside.sum()), 1.0)
    bright = float(np.median(shades[outside][:, 0])) if outside.any() else 0.0
    return np.asarray(shares[tuple(np.moveaxis(level, 2, 0))]), bright


GROUND_SHARE = 0.02
"""Half an opening's cells at least show a colour that is as usual as this round the sheet."""

RUST_SHARE = 0.6
"""Rust is not as dark: at most so far from the metal toward what lies under it."""


def _without_rust(
    sheet: NDArray[np.bool_], shades: Picture, shares: Array, bright: tuple[float, float], plan: Plan
) -> NDArray[np.bool_]:
    """The metal with spots of rust and dirt that looked like openings; ``bright`` is of metal and ground."""
    cv2 = opencv()
    count, spots, facts, middles = cv2.connectedComponentsWithStats((~sheet).astype(np.uint8), connectivity=4)
    whole = sheet.copy()
    border = set(np.unique(np.concatenate((spots[0], spots[-1], spots[:, 0], spots[:, -1]))).tolist())
    for spot in range(1, count):
        x, y, wide, high, cells = facts[spot].tolist()
        if spot in border:
            continue
        part = np.s_[y : y + high, x : x + wide]
        inside = spots[part] == spot
        if np.median(shares[part][inside]) > GROUND_SHARE:
            continue
        dark = (bright[0] - float(np.median(shades[part][inside][:, 0]))) / max(bright[0] - bright[1], 1.0)
        if dark > RUST_SHARE and cells * plan.grain**2 > LEAST_OPENING_MM2:
            raise NotSeen(
                "A spot is neither like the metal nor like what lies round the sheet"
                f"{_beside(middles[spot], plan)}.",
                "Wipe it clean or take away what lies there; have the same ground under the whole sheet.",
            )
        whole[part] |= inside
    return whole


def _beside(cell: Array, plan: Plan) -> str:
    """Where a cell lies in the plan view, in words."""
    deep, wide = plan.seen.shape
    across = ("left", "middle", "right")[min(2, int(3 * cell[0] / wide))]
    up = ("lower", "middle", "upper")[min(2, int(3 * cell[1] / deep))]
    return f", in the {up} {across} of what is seen" if (up, across) != ("middle", "middle") else ", amid it"


def _papers(plan: Plan, bundle: Bundle) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Cells under pages, and strips of metal round them."""
    cv2 = opencv()
    papers = np.zeros(plan.seen.shape, np.uint8)
    for page in bundle.pages:
        corners = plan.to_cells(bundle.paper(page, reach_of(page)))
        cv2.fillConvexPoly(papers, np.round(corners).astype(np.int32), 1)

    def grown(by: float) -> NDArray[np.bool_]:
        across = 2 * max(1, round(by / plan.grain)) + 1
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
        return np.asarray(cv2.dilate(papers, disc) > 0)

    under = grown(3.0)
    return under, grown(CLEAR_MM) & ~under


def _one_piece(found: NDArray[np.uint8], papers: NDArray[np.bool_], plan: Plan) -> NDArray[np.bool_]:
    cv2 = opencv()
    _, pieces = cv2.connectedComponents(found, connectivity=4)
    under = np.unique(pieces[papers & (found > 0)])
    under = under[under > 0]
    if len(under) != 1:
        raise NotSeen(
            "The metal between the pages of marks is not seen as one piece.",
            "Take the picture without glare and hard shadow, and with all pages on one sheet.",
        )
    sheet = pieces == under[0]
    beyond = cv2.dilate((~plan.seen).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    beyond[[0, 1, -2, -1]] = True
    beyond[:, [0, 1, -2, -1]] = True
    if (sheet & beyond).any():
        raise NotSeen("The sheet is not whole in the pictures: it goes on beyond their border.",
                      "Take it from farther off, or take one more picture that overlaps.")  # fmt: skip
    return np.asarray(sheet)


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


def sharpen(rough: Array, greys: Sequence[Picture], bundle: Bundle, thickness: float, grain: float) -> Ring:
    """A rough ring as the pictures see it: once widely, then closely round what was found."""
    along = smoothed(rough, 2.0)
    ring = _looked(rough, along, greys, bundle, thickness, 2.2 * grain + 1.0)
    good = np.where(ring.sure[:, None], ring.points, rough)
    # A spike is an edge of rust or of a slat: back to the neighbours' line before the close look.
    good, _ = _without_spikes(good, along, ROUNDED_CELLS * grain)
    close = smoothed(good, 2.0)
    ring = _looked(good, close, greys, bundle, thickness, 0.8 * grain + 1.0)
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
    points: Array, along: Array, greys: Sequence[Picture], bundle: Bundle, thickness: float, half_mm: float
) -> Ring:
    outward = _outward(along)
    count = len(points)
    cost, second = np.full(count, np.inf), np.full((count, 2), np.nan)
    best, sure = points.copy(), np.zeros(count, bool)
    picture, wall, pixel = np.zeros(count, np.intp), np.zeros(count), np.ones(count)
    for number, grey in enumerate(greys):
        found, clear, mm = _in_picture(points, outward, grey, bundle, number, half_mm)
        camera = bundle.camera_at(number)
        aside = (outward * (camera[:2] - points)).sum(axis=1) / camera[2]
        lip = thickness * np.maximum(aside, 0.0)
        price = np.where(clear, mm + lip, np.inf)
        better = price < cost
        second[better & sure] = best[better & sure]
        second[~better & clear] = found[~better & clear]
        best[better], cost[better], sure[better] = found[better], price[better], True
        picture[better], wall[better], pixel[better] = number, lip[better], mm[better]
    apart = np.abs(((second - best) * outward).sum(axis=1))
    return Ring(best, sure, picture, wall, pixel, apart)


def _in_picture(
    points: Array, outward: Array, grey: Picture, bundle: Bundle, number: int, half_mm: float
) -> tuple[Array, NDArray[np.bool_], Array]:
    """Where one picture has the edge, where it is clear, and what a pixel is there (mm)."""
    at = bundle.to_picture(number, points)
    ahead = bundle.to_picture(number, points + outward)
    across = ahead - at
    ratio = np.hypot(*across.T)
    size = np.array(bundle.sizes[number])
    with np.errstate(invalid="ignore", divide="ignore"):
        mm = 1.0 / ratio
        inside = (np.minimum(at, size - 1 - at).min(axis=1) > 4.0 + half_mm * ratio) & (ratio > 0.0)
    found, clear = points.copy(), np.zeros(len(points), bool)
    if not inside.any():
        return found, clear, np.where(inside, mm, np.inf)
    half = float(np.clip(half_mm * np.median(ratio[inside]), 2.5, 40.0))
    unit = across[inside] / ratio[inside, None]
    offsets, sharp = edge_offsets(grey, at[inside], unit, half, first=FIRST_SHARE)
    pixels = at[inside] + offsets[:, None] * unit
    found[inside] = bundle.to_plane(number, pixels)
    rows = np.clip(np.round(pixels - 2.0 * unit).astype(int), 0, size - 1)
    glare = grey[rows[:, 1], rows[:, 0]] >= WHITE
    clear[inside] = sharp & ~glare
    return found, clear, mm
