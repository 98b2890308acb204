"""Sheets of reference marks: how they are laid out, the PDF of them, and finding them in a picture.

Terms
-----
page
    One sheet of paper with six marks, by its number; each number is printed once, so that a picture tells
    which page it sees.
plane
    The upper face of the metal, mm; a page's own plane has its zero amid its six marks, x to the right and
    y up as the page is read.

Choices
-------
The marks are of the family tag36h11 (E. Olson, AprilTag: a robust and flexible visual fiducial system, ICRA
2011), as OpenCV has it: far apart from one another, so that texture of metal is not taken for one. Corners
are where lines along a mark's sides meet: a corner itself is blurred, its sides are not.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SIDE_MM = 60.0
"""A mark's side on a page of the usual kind."""

BAR_MM = 200.0
"""The bar to check the print with: also 7 7/8 in, to 0.03 mm."""

SMALL = 0.6
"""The share of the usual size that marks of small pages have, for small sheets and narrow places."""

FIRST_SMALL, LAST_PAGE = 61, 96
"""Pages from here on are small; the last that the family has marks for."""

A_PAGE = 6
"""Marks on a page."""

MODULES = 8
"""Squares along a mark's side, its black border counted."""

_ACROSS, _DOWN = 63.0, 77.0

_REACH = (108.0, -172.0, 125.0)
_SMALL_REACH = (65.0, -75.0, 75.0)
"""Half the width of the paper, its lower and its upper end, in its own plane: Letter and A4 together."""


class NotSeen(Exception):
    """What a picture cannot tell: one sentence, and what to do."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what, self.remedy = what, remedy


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark in a picture: its page, which of the six, and its corners in pixels, shape (4, 2)."""

    page: int
    number: int
    corners: Array


def opencv() -> Any:
    """OpenCV, which only pictures need."""
    try:
        import cv2
    except ImportError as error:
        raise NotSeen(
            "Pictures need OpenCV, which is not installed here.",
            "Install it with: pip install 'sheetplan[picture]'",
        ) from error
    return cv2


def scale_of(page: int) -> float:
    """How large a page's marks are against the usual ones."""
    return SMALL if page >= FIRST_SMALL else 1.0


def reach_of(page: int) -> Array:
    """The corners of the paper in its own plane, mm, shape (4, 2)."""
    half, low, high = _SMALL_REACH if page >= FIRST_SMALL else _REACH
    return np.array([(-half, low), (half, low), (half, high), (-half, high)])


def corners_of(page: int, number: int) -> Array:
    """A mark's corners in its page's plane, mm, shape (4, 2): upper left first, clockwise as it is read."""
    row, column = divmod(number, 2)
    x, y, half = (2 * column - 1) * _ACROSS, (1 - row) * _DOWN, SIDE_MM / 2.0
    around = np.array([(-half, half), (half, half), (half, -half), (-half, -half)])
    return np.asarray(scale_of(page) * (around + np.array((x, y))))


def family() -> Any:
    """OpenCV's dictionary of the marks."""
    cv2 = opencv()
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


def page_numbers(first: int, count: int, *, small: bool) -> range | None:
    """The numbers of so many pages from the ``first`` of its kind on; None where there are not so many."""
    start = first + (FIRST_SMALL - 1 if small else 0)
    numbers = range(start, start + count)
    return numbers if numbers.stop - 1 <= (LAST_PAGE if small else FIRST_SMALL - 1) else None


def marks_pdf(pages: Sequence[int], *, letter: bool) -> bytes:
    """The pages to print, each on a sheet of its own.

    Parameters
    ----------
    pages : sequence of int
        Their numbers, 1 to 96.
    letter : bool
        On Letter paper; else on A4.
    """
    from reportlab.pdfgen.canvas import Canvas

    from sheetplan.pages.paper.paper import A4, LETTER, use_faces

    use_faces()
    paper, marks = LETTER if letter else A4, family()
    written = io.BytesIO()
    canvas = Canvas(written, pagesize=(paper.width, paper.height), invariant=1)
    canvas.setCreator("sheetplan marks")
    canvas.setTitle("Reference marks")
    for page in pages:
        _draw_page(canvas, page, marks, paper.width, paper.height)
        canvas.showPage()
    canvas.save()
    return written.getvalue()


_POINTS = 72.0 / 25.4
_TOP_MM = 18.0
"""From the paper's upper end to the upper side of the upper marks."""


def _draw_page(canvas: Any, page: int, marks: Any, width: float, height: float) -> None:
    from sheetplan.pages.paper.paper import BOLD_FACE, PLAIN_FACE

    cv2 = opencv()
    canvas.saveState()
    canvas.translate(width / 2.0, height - (_TOP_MM + _DOWN + SIDE_MM / 2.0) * _POINTS)
    canvas.scale(_POINTS, _POINTS)
    for number in range(A_PAGE):
        bits = cv2.aruco.generateImageMarker(marks, (page - 1) * A_PAGE + number, MODULES, borderBits=1)
        _draw_mark(canvas, corners_of(page, number), bits)
    small = page >= FIRST_SMALL
    _draw_bar(canvas, _SMALL_REACH[0] + 14.0 if small else 0.0)
    if small:
        half, low, high = _SMALL_REACH
        canvas.setDash(2.0, 2.0)
        canvas.setLineWidth(0.2)
        canvas.rect(-half, low, 2.0 * half, high - low)
        canvas.setDash()
    canvas.setFont(BOLD_FACE, 5.0)
    canvas.drawCentredString(0.0, 69.0 if small else 114.0, f"{page}")
    canvas.setFont(PLAIN_FACE, 3.2)
    for line, said in enumerate(_words(small=small)):
        canvas.drawCentredString(0.0, -114.0 - 4.4 * line, said)
    canvas.restoreState()


def _words(*, small: bool) -> list[str]:
    said = [
        "Print at 100 per cent, not fitted to the page. The bar is 200 mm, or 7 7/8 in.: measure it.",
        "Lay it flat on the metal, all of it on one sheet of metal, printed side up; no number twice.",
        "Keep it clear of every edge and opening by 15 mm (5/8 in.) or more; fold and cover nothing.",
    ]
    return [said[0], "Cut it out along the dashed line.", *said[1:]] if small else said


def _draw_mark(canvas: Any, corners: Array, bits: NDArray[np.uint8]) -> None:
    """Black as a whole, then its white squares: no hair lines between black ones."""
    left, bottom = corners[:, 0].min(), corners[:, 1].min()
    step = (corners[:, 0].max() - left) / MODULES
    canvas.setFillGray(0.0)
    canvas.rect(left, bottom, MODULES * step, MODULES * step, stroke=0, fill=1)
    canvas.setFillGray(1.0)
    for row, column in zip(*np.nonzero(bits), strict=True):
        canvas.rect(left + column * step, bottom + (MODULES - 1 - row) * step, step, step, stroke=0, fill=1)
    canvas.setFillGray(0.0)


def _draw_bar(canvas: Any, x: float) -> None:
    half = BAR_MM / 2.0
    canvas.setLineWidth(0.2)
    canvas.line(x, -half, x, half)
    for end in (-half, half):
        canvas.line(x - 8.0, end, x + 8.0, end)
    for tick in range(1, 20):
        canvas.line(x - 1.5, -half + 10.0 * tick, x + 1.5, -half + 10.0 * tick)


def find_marks(grey: NDArray[np.uint8]) -> list[Mark]:
    """All marks in a picture, their corners to a small part of a pixel.

    Raises
    ------
    NotSeen
        There is none, or the picture is mirrored.
    """
    found = _detected(grey)
    if not found:
        if _detected(np.ascontiguousarray(grey[:, ::-1])):
            raise NotSeen("The picture is mirrored: its marks can only be read in a looking-glass.",
                          "Take it as the camera made it, not flipped.")  # fmt: skip
        raise NotSeen(
            "No reference mark is seen in it.",
            "Print them with `sheetplan rack markers`, lay them on the sheet, and take another picture.",
        )
    numbers = [mark.page * A_PAGE + mark.number for mark in found]
    twice = {mark.page for mark in found if numbers.count(mark.page * A_PAGE + mark.number) > 1}
    if twice:
        raise NotSeen(f"Page {min(twice)} of the marks lies there twice, or it is seen in a mirror as well.",
                      "Print each number once; take one of the two away.")  # fmt: skip
    return found


def _detected(grey: NDArray[np.uint8]) -> list[Mark]:
    cv2 = opencv()
    asked = cv2.aruco.DetectorParameters()
    asked.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    asked.minMarkerPerimeterRate = 0.01
    found, numbers, _ = cv2.aruco.ArucoDetector(family(), asked).detectMarkers(grey)
    marks = []
    for corners, number in zip(found, () if numbers is None else numbers.ravel().tolist(), strict=True):
        page, of_page = number // A_PAGE + 1, number % A_PAGE
        sharp = _sharpened(grey, corners.reshape(4, 2).astype(np.float64))
        if page <= LAST_PAGE and sharp is not None:
            marks.append(Mark(page, of_page, sharp))
    return marks


ALONG = 24
"""Places along a mark's side where its edge is looked for."""


def _sharpened(grey: NDArray[np.uint8], corners: Array) -> Array | None:
    """The corners as where lines along the sides meet; None where a side is not clear."""
    sides = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = end - start
        length = float(np.hypot(*along))
        if length < 2.0 * MODULES:
            return None
        outward = np.array((along[1], -along[0])) / length
        shares = np.linspace(0.12, 0.88, ALONG)[:, None]
        half = float(np.clip(0.45 * length / MODULES, 1.5, 12.0))
        places = start + shares * along
        offsets, clear = edge_offsets(grey, places, np.broadcast_to(outward, places.shape), half, rising=True)
        kept = clear & (np.abs(offsets - np.median(offsets[clear] if clear.any() else offsets)) < 1.0)
        if kept.sum() < ALONG // 2:
            return None
        points = places[kept] + offsets[kept, None] * outward
        middle = points.mean(axis=0)
        direction = np.linalg.svd(points - middle)[2][0]
        sides.append((middle, direction))
    met = [_meet(sides[i - 1], sides[i]) for i in range(4)]
    return np.array(met) if np.abs(np.array(met) - corners).max() < 3.0 + 0.05 * length else None


def _meet(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array:
    (p, u), (q, v) = one, other
    share = np.linalg.solve(np.column_stack((u, -v)), q - p)[0]
    return np.asarray(p + share * u)


STEP = 0.25
"""Pixels between two samples across an edge."""

CLEAR = 8.0
"""Levels of grey, of 255, that an edge has to rise by at least."""


FLAT = 8.0
"""Levels a pixel: a colour that nowhere changes faster has no edge, but by noise."""


def edge_offsets(
    grey: NDArray[np.uint8],
    places: Array,
    across: Array,
    half: float,
    *,
    rising: bool | None = None,
    first: float = 1.0,
) -> tuple[Array, NDArray[np.bool_]]:
    """How far from each place, along its direction, the edge lies, and where that is clear.

    Parameters
    ----------
    grey : array
        The picture, grey or in colours.
    places, across : array, shape (n, 2)
        Pixels, and directions of length one.
    half : float
        How far to look either way, pixels.
    rising : bool, optional
        Only edges that become brighter along the direction; by default either.
    first : float
        The first edge of at least this share of the steepest is taken: where a sheet's wall is seen, its
        upper rim comes before its lower one. 1 is the steepest.
    """
    steps = np.arange(-half, half + STEP / 2.0, STEP)
    at = places[:, None, :] + steps[None, :, None] * across[:, None, :]
    channels = [grey] if grey.ndim == 2 else [grey[..., i] for i in range(grey.shape[2])]
    slopes = np.array([_slopes(channel, at) for channel in channels])
    if rising:
        slopes = np.maximum(slopes, 0.0)
    best, slope = _steepest(slopes, first)
    window = np.abs(np.arange(len(steps))[None, :] - best[:, None]) * STEP <= 1.25
    same = np.sign(slope) == np.sign(np.take_along_axis(slope, best[:, None], 1))
    weight = np.where(window & same, np.abs(slope), 0.0) + 1e-12
    offsets = (weight * steps).sum(axis=1) / weight.sum(axis=1)
    rise = weight.sum(axis=1) * STEP
    inside = (best > 1) & (best < len(steps) - 2)
    return offsets, inside & (rise >= CLEAR)


def _steepest(slopes: Array, first: float) -> tuple[NDArray[np.intp], Array]:
    """At which step each row's edge lies, and the row's slopes in the colour that is steepest there.

    ``slopes`` is of shape (colours, rows, steps); ``first`` is as in `edge_offsets`.
    """
    steep = np.abs(slopes)
    tops = steep.max(axis=2, keepdims=True)
    # Of each colour by its own steepest: a slat may be as bright as the metal above it.
    strength = (steep / np.maximum(tops, FLAT)).max(axis=0)
    best = steep.max(axis=0).argmax(axis=1)
    if first < 1.0:
        peak = np.zeros(strength.shape, bool)
        inner = strength[:, 1:-1]
        peak[:, 1:-1] = (inner >= strength[:, :-2]) & (inner > strength[:, 2:])
        enough = peak & (strength >= first)
        best = np.where(enough.any(axis=1), enough.argmax(axis=1), best)
    rows = np.arange(len(best))
    return best, slopes[steep[:, rows, best].argmax(axis=0), rows]


def _slopes(channel: NDArray[np.uint8], at: Array) -> Array:
    """Of brightness, a pixel, at places in rows of ``STEP``; noise smoothed along the row."""
    cv2 = opencv()
    level = cv2.remap(channel, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32),
                      cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float64)  # fmt: skip
    level = cv2.GaussianBlur(level, (4 * int(0.7 / STEP) + 5, 1), 0.7 / STEP, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(np.gradient(level, STEP, axis=1))
