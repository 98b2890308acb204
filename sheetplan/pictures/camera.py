"""From where pictures were taken, through what lens, and how the pages of marks lie on the metal.

Terms
-----
lens
    Focal length (pixels), middle, and the three terms of radial distortion k1, k2, k3 of D. C. Brown,
    Close-range camera calibration, Photogrammetric Engineering 37 (1971).
state
    One vector of all that is unknown: lenses, then pictures, then pages but the first, whose plane is the
    plane of all.

All is solved at once by least squares (bundle adjustment: B. Triggs et al., Bundle adjustment, a modern
synthesis, 2000; steps after Levenberg and Marquardt), with weak beliefs about lenses, so that a picture taken
straight from above, which tells nothing of its focal length, has an answer all the same. States that fit
about as well are kept (`Bundle.others`, drawn near by `OPEN_STEP`): how far the answer can be wrong is read
off them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sheetplan.pictures.marks import Array, Mark, NotSeen, corners_of, opencv

LENS, PICTURE, PAGE = 6, 7, 3
"""Numbers in the state for each: focal length, middle, k1 to k3; turn, place, own focus; place and turn."""

FOCAL = 0.75
"""Of the longer side of a picture: what telephones' main cameras are near; no source, common practice."""

_BELIEF_LENS = np.array((0.25, 0.01, 0.01, 0.15, 0.1, 0.05))
_BELIEF_FOCUS = 0.004

SHARP_PX = 0.05
"""No corner is believed to be found better than this."""

FIT_PX = 1.2
"""Corners that stray further than this after all was solved, at 4,000 pixels across, do not fit together."""


ODD = 5.0
"""Times the usual stray, from where on a corner counts as odd."""

ALONE_SHARE = 0.2
"""Of half a mark's diagonal: how far corners of a page's only mark may lie from where its place has them.

Lens and tilt are known roughly only when pages are laid first; a pattern in rust that reads as a mark is
rarely as large as one.
"""


@dataclass(frozen=True, slots=True)
class Seen:
    """A picture's size (pixels across and down) and the marks in it."""

    size: tuple[int, int]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Bundle:
    """The answer: the state, states that fit about as well, and what they are about.

    ``stray`` is how far the corners stray from it, pixels, root mean square.
    """

    sizes: tuple[tuple[int, int], ...]
    lens_of: tuple[int, ...]
    pages: tuple[int, ...]
    state: Array
    others: Array
    stray: float

    def _lens(self, picture: int, state: Array) -> tuple[float, Array, Array]:
        lens = state[LENS * self.lens_of[picture] :][:LENS]
        own = state[LENS * (max(self.lens_of) + 1) + PICTURE * picture :][:PICTURE]
        size = np.array(self.sizes[picture], dtype=np.float64)
        return float(max(size) * FOCAL * np.exp(lens[0] + own[6])), _middle(size, lens), lens[3:6]

    def pose(self, picture: int, state: Array | None = None) -> tuple[Array, Array]:
        """Turn, as a matrix, and place of the plane before the camera."""
        state = self.state if state is None else state
        own = state[LENS * (max(self.lens_of) + 1) + PICTURE * picture :][:PICTURE]
        return _matrix(own[:3]), own[3:6]

    def camera_at(self, picture: int) -> Array:
        """Where the camera stood over the plane, mm, shape (3,)."""
        turn, at = self.pose(picture)
        return np.asarray(-turn.T @ at)

    def to_picture(self, picture: int, points: Array) -> Array:
        """Pixels of points in the plane; those behind the camera give NaN."""
        focal, middle, bends = self._lens(picture, self.state)
        turn, at = self.pose(picture)
        seen = points @ turn[:, :2].T + at
        with np.errstate(divide="ignore", invalid="ignore"):
            flat = np.where(seen[:, 2:] > 1.0, seen[:, :2] / seen[:, 2:], np.nan)
            # Far outside of the picture the distortion folds back: nothing is seen there.
            flat = np.where((flat**2).sum(axis=1, keepdims=True) < 4.0, flat, np.nan)
        return np.asarray(focal * _bent(flat, bends) + middle)

    def to_plane(self, picture: int, pixels: Array, state: Array | None = None) -> Array:
        """Points of the plane that pixels see, mm."""
        state = self.state if state is None else state
        focal, middle, bends = self._lens(picture, state)
        turn, at = self.pose(picture, state)
        flat = _unbent((pixels - middle) / focal, bends)
        rays = np.column_stack((flat, np.ones(len(flat)))) @ turn
        start = -turn.T @ at
        return np.asarray((start - rays * (start[2] / rays[:, 2])[:, None])[:, :2])

    def page_at(self, page: int) -> tuple[Array, float]:
        """Where a page's zero lies in the plane, and how it is turned (radians)."""
        number = self.pages.index(page)
        place = _page_places(self.state, len(self.pages))[number]
        return place[:2], float(place[2])

    def paper(self, page: int, local: Array) -> Array:
        """Points of a page in the plane."""
        at, turn = self.page_at(page)
        return np.asarray(local @ _flat_turn(turn).T + at)


def solve(pictures: Sequence[Seen], *, seed: int = 1) -> Bundle:
    """Work the pictures out together.

    Raises
    ------
    NotSeen
        They do not hang together by pages that they share, or do not fit together.
    """
    problem = _Problem(pictures)
    state = problem.first_state()
    state, stray, root = problem.best(state)
    chance = np.random.default_rng(seed)
    # Corners on one page stray together where paper is not flat or the lens has more terms: fewer count.
    others = state + 1.5 * OPEN_STEP * chance.standard_normal((SAMPLES, len(state))) @ root
    return Bundle(problem.sizes, problem.lens_of, problem.pages, state, others, stray)


SAMPLES = 60

OPEN_STEP = 0.02
"""Other states are drawn so much nearer than they can be, where all is straight; what is read off is too."""


class _Problem:
    """All corners that were seen, as arrays, and what they say of a state."""

    def __init__(self, pictures: Sequence[Seen]) -> None:
        self.sizes = tuple(picture.size for picture in pictures)
        lenses = tuple(dict.fromkeys(self.sizes))
        self.lens_of = tuple(lenses.index(size) for size in self.sizes)
        self.lenses = len(lenses)
        counts: dict[int, int] = {}
        for picture in pictures:
            for mark in picture.marks:
                counts[mark.page] = counts.get(mark.page, 0) + 1
        self.pages = tuple(sorted(counts, key=lambda page: (-counts[page], page)))
        rows = [(i, self.pages.index(m.page), corners_of(m.page, m.number), m.corners)
                for i, picture in enumerate(pictures) for m in picture.marks]  # fmt: skip
        self.picture = np.repeat([row[0] for row in rows], 4)
        self.page = np.repeat([row[1] for row in rows], 4)
        self.local = np.concatenate([row[2] for row in rows])
        self.pixels = np.concatenate([row[3] for row in rows])
        self.at_pictures = LENS * self.lenses
        self.count = self.at_pictures + PICTURE * len(self.sizes) + PAGE * (len(self.pages) - 1)

    def first_state(self) -> Array:
        """Picture by picture from the first page on, each by the pages that are known by then."""
        cv2 = opencv()
        state = np.zeros(self.count)
        places: dict[int, Array] = {0: np.zeros(3)}
        waiting = set(range(len(self.sizes)))
        while waiting:
            ready = [
                (sum(((self.picture == i) & (self.page == p)).sum() for p in places), i) for i in waiting
            ]
            known, picture = max(ready, key=lambda one: (one[0], -one[1]))
            if known < 8:
                raise NotSeen(
                    f"Picture {picture + 1} shares no page of marks with the others, or too little of one.",
                    "Take pictures that overlap by one whole page of marks at least, better by two.",
                )
            waiting.remove(picture)
            own = state[self.at_pictures + PICTURE * picture :][:PICTURE]
            rows = np.flatnonzero((self.picture == picture) & np.isin(self.page, list(places)))
            plane = np.concatenate([_laid(self.local[i : i + 1], places[self.page[i]]) for i in rows])
            solid = np.column_stack((plane, np.zeros(len(plane))))
            lens = self._usual_lens(picture)
            _, turn, at = cv2.solvePnP(solid, self.pixels[rows], lens, None, flags=cv2.SOLVEPNP_IPPE)
            own[:3], own[3:6] = turn.ravel(), at.ravel()
            self._place_pages(picture, places, own, least=8)
        for picture in range(len(self.sizes)):
            own = state[self.at_pictures + PICTURE * picture :][:PICTURE]
            self._place_pages(picture, places, own, least=4)
        for number in range(1, len(self.pages)):
            if number not in places:
                raise NotSeen(
                    f"Page {self.pages[number]} shows one mark only, and that has not the size that it "
                    "has beside the other pages.",
                    "Lay it flat on the sheet and uncover it, or take it away; then take all pictures again.",
                )
            state[self.count - PAGE * (len(self.pages) - number) :][:PAGE] = places[number]
        return state

    def _usual_lens(self, picture: int) -> Array:
        """What is taken for a picture's lens at first, as OpenCV writes it."""
        wide, high = self.sizes[picture]
        focal = max(wide, high) * FOCAL
        return np.array([[focal, 0, wide / 2 - 0.5], [0, focal, high / 2 - 0.5], [0, 0, 1]])

    def _place_pages(self, picture: int, places: dict[int, Array], own: Array, *, least: int) -> None:
        """Lay pages of which a picture shows ``least`` corners or more; one mark alone has to fit well."""
        lens, turn, at = self._usual_lens(picture), _matrix(own[:3]), own[3:6]
        start = -turn.T @ at
        for page in range(len(self.pages)):
            rows = (self.picture == picture) & (self.page == page)
            if page in places or rows.sum() < least:
                continue
            flat = (self.pixels[rows] - lens[:2, 2]) / lens[0, 0]
            rays = np.column_stack((flat, np.ones(len(flat)))) @ turn
            on = (start - rays * (start[2] / rays[:, 2])[:, None])[:, :2]
            local = self.local[rows]
            a, b = local - local.mean(axis=0), on - on.mean(axis=0)
            angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
            off = float(np.hypot(*(_laid(a, np.array((0.0, 0.0, angle))) - b).T).max())
            if rows.sum() >= 8 or off < ALONE_SHARE * float(np.hypot(*a.T).max()):
                places[page] = np.array((*(on.mean(axis=0) - _flat_turn(angle) @ local.mean(axis=0)), angle))

    def strays(self, state: Array) -> Array:
        """How far each corner lies from where the state has it, pixels, shape (n, 2)."""
        places = _page_places(state, len(self.pages))[self.page]
        cos, sin = np.cos(places[:, 2]), np.sin(places[:, 2])
        x = cos * self.local[:, 0] - sin * self.local[:, 1] + places[:, 0]
        y = sin * self.local[:, 0] + cos * self.local[:, 1] + places[:, 1]
        own = state[self.at_pictures :][: PICTURE * len(self.sizes)].reshape(-1, PICTURE)
        turns = np.array([_matrix(one[:3]) for one in own])[self.picture]
        seen = turns[:, :, 0] * x[:, None] + turns[:, :, 1] * y[:, None] + own[self.picture, 3:6]
        flat = seen[:, :2] / np.maximum(seen[:, 2:], 1.0)
        lenses = state[: self.at_pictures].reshape(-1, LENS)
        lens_of = np.array(self.lens_of)
        sizes = np.array(self.sizes, dtype=np.float64)
        focal = sizes.max(axis=1) * FOCAL * np.exp(lenses[lens_of, 0] + own[:, 6])
        middles = np.array([_middle(s, lenses[one]) for s, one in zip(sizes, self.lens_of, strict=True)])
        bends = lenses[lens_of, 3:6][self.picture]
        return np.asarray(
            focal[self.picture, None] * _bent(flat, bends) + middles[self.picture] - self.pixels
        )

    def beliefs(self, state: Array) -> Array:
        """How far lenses are from what they usually are, in parts of what they usually differ by."""
        lenses = state[: self.at_pictures].reshape(-1, LENS) / _BELIEF_LENS
        own = state[self.at_pictures :][: PICTURE * len(self.sizes)].reshape(-1, PICTURE)
        return np.concatenate((lenses.ravel(), own[:, 6] / _BELIEF_FOCUS))

    def best(self, state: Array) -> tuple[Array, float, Array]:
        """The state of least squares, how far corners stray, and a root of what is left open."""
        # From coarse to fine: a first state may be far off, and is not to be taken for odd corners then.
        for sharp in (30.0, 3.0, 0.5):
            state = self._descend(state, sharp)
        for _ in range(2):
            lengths = np.hypot(*self.strays(state).T)
            sharp = max(SHARP_PX, 0.85 * float(np.median(lengths)))
            state = self._descend(state, sharp)
        lengths = np.hypot(*self.strays(state).T)
        # A mark that is partly hidden has odd corners: they are few, and tell nothing of the rest.
        usual = lengths[lengths <= ODD * np.median(lengths)]
        stray = float(np.sqrt((usual**2).mean()))
        across = max(max(size) for size in self.sizes)
        worst = self._worst(lengths)
        if np.median(lengths[self.page == worst]) > FIT_PX * max(across / 4000.0, 0.5):
            raise NotSeen(
                f"The marks do not fit together; page {self.pages[worst]} is furthest off. It does not lie "
                "flat, was moved between two pictures, or a number was printed twice.",
                "Lay all pages flat, move nothing, and take all pictures again.",
            )
        # What strays more than corners alone would tells of paper and lens: believed to that measure.
        sharp = max(sharp, stray / np.sqrt(2.0))
        slopes, _ = self._slopes(state, sharp)
        values, vectors = np.linalg.eigh(slopes.T @ slopes)
        root = (vectors / np.sqrt(np.maximum(values, 1e-12))).T
        return state, stray, root

    def _worst(self, lengths: Array) -> int:
        strays = [float(np.median(lengths[self.page == page])) for page in range(len(self.pages))]
        return int(np.argmax(strays))

    def _weighed(self, state: Array, sharp: float) -> Array:
        strays = self.strays(state) / sharp
        lengths = np.hypot(*strays.T)
        # After Huber: a corner that is far off pulls no harder than one at three times the usual.
        strays *= np.sqrt(np.minimum(1.0, 3.0 / np.maximum(lengths, 1e-9)))[:, None]
        return np.concatenate((strays.ravel(), self.beliefs(state)))

    def _slopes(self, state: Array, sharp: float) -> tuple[Array, Array]:
        here = self._weighed(state, sharp)
        slopes = np.empty((len(here), self.count))
        for i in range(self.count):
            step = 1e-6 * max(1.0, abs(float(state[i])))
            moved = state.copy()
            moved[i] += step
            slopes[:, i] = (self._weighed(moved, sharp) - here) / step
        return slopes, here

    def _descend(self, state: Array, sharp: float) -> Array:
        damp = 1e-3
        for _ in range(40):
            slopes, here = self._slopes(state, sharp)
            square = slopes.T @ slopes
            cost = float(here @ here)
            for _ in range(8):
                damped = square + damp * np.diag(np.diag(square))
                step = np.linalg.lstsq(damped, -slopes.T @ here, rcond=None)[0]
                after = self._weighed(state + step, sharp)
                if float(after @ after) < cost:
                    break
                damp *= 8.0
            else:
                return state
            state, damp = state + step, max(damp / 5.0, 1e-9)
            if cost - float(after @ after) < 1e-6 * cost:
                return state
        return state


def _page_places(state: Array, pages: int) -> Array:
    return np.concatenate((np.zeros(PAGE), state[len(state) - PAGE * (pages - 1) :])).reshape(-1, PAGE)


def _laid(local: Array, place: Array) -> Array:
    return np.asarray(local @ _flat_turn(float(place[2])).T + place[:2])


def _flat_turn(angle: float) -> Array:
    return np.array(((np.cos(angle), -np.sin(angle)), (np.sin(angle), np.cos(angle))))


def _middle(size: Array, lens: Array) -> Array:
    """In pixels, whose middles are whole numbers."""
    return np.asarray(size / 2.0 - 0.5 + lens[1:3] * size.max())


def _matrix(turn: Array) -> Array:
    """The matrix of a turn about a line (O. Rodrigues, 1840)."""
    angle = float(np.sqrt(turn @ turn))
    if angle < 1e-12:
        return np.eye(3)
    x, y, z = turn / angle
    cross = np.array(((0.0, -z, y), (z, 0.0, -x), (-y, x, 0.0)))
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross)


def _bent(flat: Array, bends: Array) -> Array:
    square = (flat**2).sum(axis=-1)
    k1, k2, k3 = np.moveaxis(bends, -1, 0)
    return np.asarray(flat * (1.0 + square * (k1 + square * (k2 + square * k3)))[..., None])


def _unbent(bent: Array, bends: NDArray[np.float64]) -> Array:
    """Newton's steps on the distance from the middle."""
    k1, k2, k3 = bends
    far = np.sqrt((bent**2).sum(axis=1))
    r = far.copy()
    for _ in range(12):
        s = r * r
        value = r * (1.0 + s * (k1 + s * (k2 + s * k3))) - far
        slope = 1.0 + s * (3.0 * k1 + s * (5.0 * k2 + s * 7.0 * k3))
        r = r - value / np.where(np.abs(slope) < 0.1, 0.1, slope)
    return bent * np.where(far > 1e-12, r / np.maximum(far, 1e-12), 1.0)[:, None]
