"""Which cells of the plan view are metal of the sheet.

Terms
-----
sharp edge
    Where colour changes within a cell or two, as at a cut. A shadow's border, glare and most rust change over
    several mm, and are none.
reached
    Cells that are joined to the strips round the pages of marks, which lie on metal, with no sharp edge
    between: they are the same face, however it is lit.
hidden
    What may be metal or not: in glare, or a spot that is like neither metal nor what lies under it.

Choices
-------
What is taken for metal has to be reached: colour alone takes a dark cut wall for shaded metal, and shaded
metal for the floor. Edges are thin ridges of the gradient (J. Canny, A computational approach to edge
detection, IEEE Transactions on Pattern Analysis and Machine Intelligence 8, 1986) of the picture less its own
soft copy. A gap in an edge lets nothing through that is narrower than the thinnest strip that is read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.pictures.camera import Bundle
from sheetplan.pictures.marks import Array, NotSeen, opencv, reach_of
from sheetplan.pictures.outline import CLEAR_MM, LEAST_OPENING_MM2, THIN_MM, WHITE, Picture, Plan

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Metal:
    """Cells that are metal, and those of them that may be none."""

    there: Mask
    hidden: Mask


def metal_in(plan: Plan, bundle: Bundle) -> Metal:
    """Which cells of the plan view are metal.

    Raises
    ------
    NotSeen
        Metal and what is round it look alike, or the sheet leaves the pictures.
    """
    cv2 = opencv()
    papers, strips = _papers(plan, bundle)
    shades = cv2.cvtColor(plan.colour, cv2.COLOR_RGB2LAB)
    edges = sharp_edges(shades, plan.grain) & ~papers
    white = _white(plan, papers)
    sheet = _reached(edges, white, (papers, strips), shades, plan)
    _refuse_beyond(sheet, plan)
    found = _judged(sheet, edges, white, shades, plan)
    _refuse_leaks(sheet & ~papers & ~strips, edges, shades[..., 0], plan)
    return found


SOFT_MM = 3.0
"""What changes over more than this is no cut edge; a cell or two at least, as cells themselves are soft."""

FINE_CELLS = 0.8
"""Noise is smoothed over so much before slopes are taken."""

SLOPES = (2.5, 1.2, 1.2)
"""Of lightness and the two of colour (Lab, eight bits, a cell): smaller ones are texture of the metal."""

CERTAIN = 2.0
"""An edge has to be so many times as strong somewhere."""


def sharp_edges(shades: Picture, grain: float) -> Mask:
    """Ridges where colour (Lab) changes within a cell or two, one cell wide."""
    cv2 = opencv()
    fine = cv2.GaussianBlur(shades.astype(np.float32), (0, 0), FINE_CELLS)
    soft = cv2.GaussianBlur(fine, (0, 0), max(SOFT_MM / grain, 2.0 * FINE_CELLS))
    best = np.zeros(shades.shape[:2], np.float32)
    ways = np.zeros((2, *best.shape), np.float32)
    for channel, least in enumerate(SLOPES):
        steep, slow = _slopes(fine[..., channel]), _slopes(soft[..., channel])
        length = np.hypot(*steep) + 1e-6
        # Beside an edge the difference points the other way: no second edge stands there.
        sharp = (steep * (steep - slow)).sum(axis=0) / length
        strength = np.clip(sharp, 0.0, length) / least
        better = strength > best
        best[better] = strength[better]
        ways[:, better] = (steep * (strength / length))[:, better]
    whole = np.clip(256.0 * ways, -32000, 32000).astype(np.int16)
    found = cv2.Canny(whole[0], whole[1], 256.0, 256.0 * CERTAIN, L2gradient=True)
    return np.asarray(found > 0)


def _slopes(level: Array) -> Array:
    """Across and down, a cell."""
    cv2 = opencv()
    ways = ((1, 0), (0, 1))
    return np.array([cv2.Sobel(level, cv2.CV_32F, *way, ksize=1, scale=0.5) for way in ways])


def _reached(edges: Mask, white: Mask, pages: tuple[Mask, Mask], shades: Picture, plan: Plan) -> Mask:
    """Metal joined to the strips round the ``pages`` by ways that are nowhere too thin."""
    cv2 = opencv()
    papers, strips = pages
    free = (~edges & ~white & plan.seen).astype(np.uint8)
    half = max(THIN_MM / 2.0 / plan.grain, 1.0)
    # Pages lie on metal, but something may lie over them: no way goes across.
    deep = cv2.distanceTransform(free & ~papers, cv2.DIST_L2, 5)
    core = (deep > half) | (strips & (deep > 1.0))
    sheet = _face(core, strips, shades).astype(np.uint8)
    # Back to the edges and into corners that the disc could not reach; corner to corner a ridge has gaps.
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    for _ in range(math.ceil(1.5 * half) + 2):
        sheet = cv2.dilate(sheet, cross) & free
    sheet |= papers.astype(np.uint8)
    # The edge runs along its ridge.
    sheet |= cv2.dilate(sheet, cross) & edges
    return np.asarray(sheet > 0)


ONE_PIECE = 0.5
"""Of the strips round all pages, what is joined at least."""

LIKE = (30.0, 4.0, 4.0)
"""A strip that is cut off by rust is as near to the others' colour (Lab, eight bits)."""


def _face(core: Mask, strips: Mask, shades: Picture) -> Mask:
    """Pieces that hold strips round the pages: the largest, and those of its colour."""
    cv2 = opencv()
    _, pieces = cv2.connectedComponents(core.astype(np.uint8), connectivity=4)
    shares = np.bincount(pieces[strips], minlength=pieces.max() + 1)
    shares[0] = 0
    if shares.max() < ONE_PIECE * shares.sum():
        raise NotSeen(
            "The metal between the pages of marks is not seen as one piece.",
            "Take the picture without glare and hard shadow, and with all pages on one sheet.",
        )
    usual = np.median(shades[strips & (pieces == shares.argmax())], axis=0)
    tones = {i: np.median(shades[strips & (pieces == i)], axis=0) for i in np.flatnonzero(shares)}
    return np.isin(pieces, [i for i, tone in tones.items() if (np.abs(tone - usual) < LIKE).all()])


def _refuse_beyond(sheet: Mask, plan: Plan) -> None:
    cv2 = opencv()
    if (plan.seen & ~sheet).sum() < 0.005 * plan.seen.sum():
        raise NotSeen(
            "No edge of the metal is seen: all of the pictures looks like the metal round the marks.",
            "Put something dark or coloured under the sheet, or take the picture from farther off.",
        )
    beyond = cv2.dilate((~plan.seen).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    beyond[[0, 1, -2, -1]] = True
    beyond[:, [0, 1, -2, -1]] = True
    if (sheet & beyond).any():
        raise NotSeen("The sheet is not whole in the pictures: it goes on beyond their border.",
                      "Take it from farther off, or take one more picture that overlaps.")  # fmt: skip


SHADE = 8
"""Levels of a colour that are taken as one."""

GROUND_SHARE = 0.02
"""A colour that is as usual as this round the sheet is one of the ground's."""


def _ground(shades: Picture, outside: Mask) -> Array:
    """How usual each cell's colour is round the sheet, as a share."""
    level = shades.astype(np.int32) // SHADE
    counts = np.zeros((32, 32, 32), np.float64)
    np.add.at(counts, tuple(level[outside].T), 1.0)
    # A colour's neighbours count too: the same floor is a little lighter elsewhere.
    for axis in range(3):
        counts = counts + np.roll(counts, 1, axis) + np.roll(counts, -1, axis)
    shares = counts / max(float(outside.sum()), 1.0)
    return np.asarray(shares[tuple(np.moveaxis(level, 2, 0))])


DARK_SHARE = 0.6
"""Rust and dirt are not as dark: at most so far from the metal beside toward what lies under it."""

OPEN_SHARE = 0.25
"""An opening shows the ground or a dark wall in so much of it at least: the rest may be a slat."""

ACROSS_CELLS = 4
"""From one side of a sharp edge to the other."""

FLAT = 5.0
"""Levels of lightness: on dark metal, less is not seen for certain."""

SAME = (12.0, 3.0, 3.0)
"""What is as near to the colour of the metal beside it (Lab, eight bits) is hardly an opening."""

SLAT_SHARE = 0.5
"""Of what bounds a slat in an opening, less is metal: its ends. Rust at an edge has more metal beside it."""


BIT_MM2 = 20.0
"""Of what is dark: it may be all that is seen of an opening beside a slat, and is hidden."""


def _judged(sheet: Mask, edges: Mask, white: Mask, shades: Picture, plan: Plan) -> Metal:
    """The metal with spots of rust and glare in it and at its edge, which may be openings all the same."""
    rest = plan.seen & ~sheet
    odd = _odd(sheet, edges, rest & ~edges & ~white, shades, plan) | (white & ~sheet)
    odd |= _around(odd, 3) & edges & rest
    under = _large(rest & ~odd, 4, plan)
    # An opening that a slat crosses may show small parts only.
    odd |= _large(rest, 4, plan) & ~under
    cv2 = opencv()
    there = (~under & plan.seen).astype(np.uint8)
    across = 2 * max(1, round(THIN_MM / 2.0 / plan.grain)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    opened = cv2.morphologyEx(there, cv2.MORPH_OPEN, disc) > 0
    # Stubs of slats go; corners that the disc could not reach are given back.
    kept = (there > 0) & _around(opened, 3)
    bits = _large(rest & ~odd & ~under, 4, plan, BIT_MM2).astype(np.uint8)
    hidden = _large(odd, 8, plan) | (cv2.morphologyEx(bits, cv2.MORPH_CLOSE, disc) > 0)
    # What goes may be a narrow strip of metal all the same.
    return Metal(kept, hidden | _large((there > 0) & ~kept, 8, plan, BIT_MM2))


def _odd(sheet: Mask, edges: Mask, rest: Mask, shades: Picture, plan: Plan) -> Mask:
    """Of the ``rest`` beside the sheet, pieces that are hardly what lies under it."""
    cv2 = opencv()
    count, pieces, facts, _ = cv2.connectedComponentsWithStats(rest.astype(np.uint8), connectivity=4)
    border = _around(~plan.seen, 3)
    border[[0, -1]], border[:, [0, -1]] = True, True
    outer = np.unique(pieces[border])
    outside = np.isin(pieces, outer[outer > 0])
    shares = _ground(shades, outside)
    light = shades[..., 0]
    levels = float(np.median(light[sheet])), float(np.median(light[outside])) if outside.any() else 0.0
    reach = 2 * ACROSS_CELLS
    odd = np.zeros_like(sheet)
    for piece in range(1, count):
        x, y, wide, high, _ = facts[piece].tolist()
        part = np.s_[max(y - reach, 0) : y + high + reach, max(x - reach, 0) : x + wide + reach]
        inside = pieces[part] == piece
        if not _open(inside, (sheet[part], edges[part]), shades[part], shares[part], levels):
            odd[part] |= inside
    return odd


def _refuse_leaks(sheet: Mask, edges: Mask, light: NDArray[np.uint8], plan: Plan) -> None:
    """An opening whose edge has a wide gap was reached: beside its edge it is too dark for metal."""
    cv2 = opencv()
    calm = cv2.medianBlur(light, 5)
    across = 2 * ACROSS_CELLS + 1
    beside = cv2.dilate(calm, np.ones((across, across), np.uint8)).astype(np.float64)
    bright, ground = float(np.median(light[sheet])), float(np.median(light[plan.seen & ~sheet]))
    dark = beside - calm > DARK_SHARE * (beside - ground * beside / max(bright, 1.0)) + FLAT
    # The ridge itself is as dark as half the step.
    if _large(dark & sheet & _around(edges, across) & ~_around(edges, 3), 8, plan).any():
        raise NotSeen(
            "Something dark amid the metal has no edge on one side: an opening partly unseen, or dirt.",
            "Wipe it clean, or take a sharper picture in even light; have something else under the sheet.",
        )


def _large(cells: Mask, ways: int, plan: Plan, least: float = LEAST_OPENING_MM2) -> Mask:
    """Cells in groups that are as large as an opening."""
    cv2 = opencv()
    _, groups, facts, _ = cv2.connectedComponentsWithStats(cells.astype(np.uint8), connectivity=ways)
    # Half of the ridge round them is theirs.
    _, _, wide, high, area = facts.T
    large = (area + wide + high) * plan.grain**2 >= least
    large[0] = False
    return np.asarray(large[groups])


def _open(
    inside: Mask, seen: tuple[Mask, Mask], shades: Picture, shares: Array, levels: tuple[float, float]
) -> bool:
    """Whether a piece beside the metal is what lies under it.

    ``seen`` are sheet and edges there, ``levels`` the metal's and the ground's lightness.
    """
    sheet, edges = seen
    beside = sheet & ~edges & _around(inside, 2 * ACROSS_CELLS + 1)
    if not beside.any():
        return True
    face = np.median(shades[beside], axis=0)
    lit = float(face[0])
    # Shadow lies on the metal and on the ground alike.
    under = min(levels[1] * lit / levels[0], 0.9 * lit)
    dark = (lit - shades[inside][:, 0]) / (lit - under)
    usual = (shares[inside] > GROUND_SHARE) & (dark > 1.0 - DARK_SHARE)
    if ((dark > DARK_SHARE) | usual).mean() > OPEN_SHARE:
        return True
    if (np.abs(np.median(shades[inside], axis=0) - face) < SAME).all():
        return False
    around = _around(inside, 5) & ~inside & ~edges
    return bool(around.any() and sheet[around].mean() < SLAT_SHARE)


def _white(plan: Plan, papers: Mask) -> Mask:
    """Cells in glare large enough to hide an opening, and what they enclose."""
    cv2 = opencv()
    white = ((plan.colour.min(axis=2) >= WHITE) & plan.seen & ~papers).astype(np.uint8)
    across = 2 * max(1, round(THIN_MM / 2.0 / plan.grain)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    white = cv2.morphologyEx(white, cv2.MORPH_CLOSE, disc)
    found, _ = cv2.findContours(white, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    hidden = np.zeros_like(white)
    for one in found:
        if cv2.contourArea(one) * plan.grain**2 > LEAST_OPENING_MM2:
            cv2.drawContours(hidden, [one], -1, 1, cv2.FILLED)
    return np.asarray(cv2.dilate(hidden, disc) > 0)


def loops_round(cells: Mask, plan: Plan) -> list[Array]:
    """Loops in the plane that lie round groups of cells, a cell or two off."""
    cv2 = opencv()
    wide = cv2.dilate(cells.astype(np.uint8), np.ones((5, 5), np.uint8))
    found, _ = cv2.findContours(wide, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    around = (cv2.approxPolyDP(one, 1.0, closed=True).reshape(-1, 2).astype(np.float64) for one in found)
    return [plan.to_plane(one) for one in around if len(one) >= 3]


def _around(cells: Mask, across: int) -> Mask:
    """Cells and those in a square of so many cells round them."""
    return np.asarray(opencv().dilate(cells.astype(np.uint8), np.ones((across, across), np.uint8)) > 0)


def _grown(cells: Mask, by: float, plan: Plan) -> Mask:
    """Cells and all within ``by`` (mm) of them."""
    cv2 = opencv()
    across = 2 * max(1, round(by / plan.grain)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    return np.asarray(cv2.dilate(cells.astype(np.uint8), disc) > 0)


def _papers(plan: Plan, bundle: Bundle) -> tuple[Mask, Mask]:
    """Cells under pages, and strips of metal round them."""
    cv2 = opencv()
    papers = np.zeros(plan.seen.shape, np.uint8)
    for page in bundle.pages:
        corners = plan.to_cells(bundle.paper(page, reach_of(page)))
        cv2.fillConvexPoly(papers, np.round(corners).astype(np.int32), 1)
    under = _grown(papers > 0, 3.0, plan)
    return under, _grown(papers > 0, CLEAR_MM, plan) & ~under
