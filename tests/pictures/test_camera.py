"""Lens and plane against what others publish, and pictures worked out against cameras that are known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

cv2 = pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from sheetplan.pictures.camera import Bundle, Seen, _bent, _unbent, solve  # noqa: E402
from sheetplan.pictures.marks import Mark, NotSeen, corners_of, find_marks  # noqa: E402
from tests.pictures.scenes import Camera, Scene, make_scene  # noqa: E402

Array = Any


def seen_by(camera: Camera, points: Array) -> Array:
    """Pixels of points of the sheet, by the test's own arithmetic."""
    at = (np.column_stack((points, np.zeros(len(points)))) - camera.at) @ camera.turn.T
    flat = at[:, :2] / at[:, 2:]
    s = (flat**2).sum(axis=1, keepdims=True)
    k1, k2, k3 = camera.bends
    return flat * (1 + s * (k1 + s * (k2 + s * k3))) * camera.focal + camera.middle


def marks_of(scene: Scene, *, stray: float = 0.05) -> list[Seen]:
    """What each camera sees of the pages, with corners a little off."""
    chance, pictures = np.random.default_rng(3), []
    for camera in scene.cameras:
        marks = []
        for page, x, y, turn in scene.pages:
            c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
            for number in range(6):
                pixels = seen_by(camera, corners_of(page, number) @ np.array(((c, s), (-s, c))) + (x, y))
                if (pixels > 5).all() and (pixels < np.array(camera.size) - 5).all():
                    marks.append(Mark(page, number, pixels + chance.normal(0, stray, pixels.shape)))
        pictures.append(Seen(camera.size, tuple(marks)))
    return pictures


def plane_of(scene: Scene, bundle: Bundle, points: Array) -> Array:
    """Points of the sheet in the plane of the page that comes first."""
    [(x, y, turn)] = [(x, y, t) for page, x, y, t in scene.pages if page == bundle.pages[0]]
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return (points - (x, y)) @ np.array(((c, -s), (s, c)))


@pytest.mark.parametrize("seed", [1, 5, 7])
def test_a_large_sheet_in_two_pictures_is_worked_out_to_half_a_millimetre(seed: int) -> None:
    scene = make_scene(seed, megapixels=12, size=(2500.0, 1250.0), pictures=2)
    bundle = solve(marks_of(scene))
    corners = np.array(scene.truth.exterior.coords)
    for number, camera in enumerate(scene.cameras):
        pixels = seen_by(camera, corners)
        inside = ((pixels > 0) & (pixels < camera.size)).all(axis=1)
        off = bundle.to_plane(number, pixels[inside]) - plane_of(scene, bundle, corners[inside])
        assert np.hypot(*off.T).max() < 0.5


def test_the_plane_is_mapped_as_heckbert_maps_a_square() -> None:
    """P. Heckbert, Fundamentals of Texture Mapping and Image Warping, 1989, 2.2.3: square to quadrilateral.

    The formulas stand here from memory.
    """
    scene = make_scene(2, megapixels=12, size=(1000.0, 700.0), pictures=1)
    bundle = solve(marks_of(scene, stray=0.0))
    state = bundle.state.copy()
    state[3:6] = 0.0  # without distortion the plane is seen by a homography
    straight = Bundle(bundle.sizes, bundle.lens_of, bundle.pages, state, bundle.others, bundle.stray)
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]) * 400.0
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = straight.to_picture(0, square)
    dx1, dx2, sx = x1 - x2, x3 - x2, x0 - x1 + x2 - x3
    dy1, dy2, sy = y1 - y2, y3 - y2, y0 - y1 + y2 - y3
    g = (sx * dy2 - dx2 * sy) / (dx1 * dy2 - dx2 * dy1)
    h = (dx1 * sy - sx * dy1) / (dx1 * dy2 - dx2 * dy1)
    u, v = np.random.default_rng(1).uniform(-0.5, 1.5, (2, 50))
    w = g * u + h * v + 1.0
    expected = np.column_stack((
        ((x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0) / w,
        ((y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0) / w,
    ))  # fmt: skip
    assert straight.to_picture(0, 400.0 * np.column_stack((u, v))) == pytest.approx(expected, abs=1e-6)


def test_the_lens_bends_as_opencv_has_it() -> None:
    """Reference library: OpenCV's projectPoints, with k1, k2, no tangential terms, k3."""
    flat = np.random.default_rng(2).uniform(-0.6, 0.6, (200, 2))
    bends = np.array((0.09, -0.05, 0.02))
    solid = np.column_stack((flat, np.ones(len(flat))))
    theirs, _ = cv2.projectPoints(
        solid, np.zeros(3), np.zeros(3), np.eye(3), np.array((0.09, -0.05, 0, 0, 0.02))
    )
    assert _bent(flat, bends) == pytest.approx(theirs.reshape(-1, 2), abs=1e-9)
    assert _unbent(_bent(flat, bends), bends) == pytest.approx(flat, abs=1e-9)


def test_a_page_that_was_moved_between_pictures_is_told() -> None:
    scene = make_scene(1, megapixels=12, size=(2500.0, 1250.0), pictures=2)
    first, second = marks_of(scene)
    page = next(mark.page for mark in second.marks if mark.page in {one.page for one in first.marks})
    moved = tuple(Mark(m.page, m.number, m.corners + 40.0 * (m.page == page)) for m in second.marks)
    with pytest.raises(NotSeen, match="do not fit together"):
        solve([first, Seen(second.size, moved)])


def test_pictures_that_share_no_page_are_told() -> None:
    scene = make_scene(1, megapixels=12, size=(2500.0, 1250.0), pictures=2)
    first, second = marks_of(scene)
    shared = {mark.page for mark in first.marks}
    apart = tuple(mark for mark in second.marks if mark.page not in shared)
    with pytest.raises(NotSeen, match="shares no page of marks"):
        solve([first, Seen(second.size, apart)])


def test_a_page_that_shows_one_mark_only_is_laid_with_the_others() -> None:
    scene = make_scene(1, megapixels=12, size=(2500.0, 1250.0), pictures=2)
    first, second = marks_of(scene)
    page = next(mark.page for mark in second.marks if mark.page not in {one.page for one in first.marks})
    covered = tuple(mark for mark in second.marks if mark.page != page or mark.number == 0)
    bundle = solve([first, Seen(second.size, covered)])
    [(x, y, turn)] = [(x, y, t) for one, x, y, t in scene.pages if one == page]
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    local = corners_of(page, 5)
    truth = plane_of(scene, bundle, local @ np.array(((c, s), (-s, c))) + (x, y))
    assert np.hypot(*(bundle.paper(page, local) - truth).T).max() < 2.0


def test_the_only_mark_of_a_page_has_to_be_as_large_as_the_others() -> None:
    """It lies on something else than the sheet, or is none of ours."""
    scene = make_scene(1, megapixels=12, size=(2500.0, 1250.0), pictures=2)
    first, second = marks_of(scene)
    page = next(mark.page for mark in second.marks if mark.page not in {one.page for one in first.marks})
    [one] = [mark for mark in second.marks if (mark.page, mark.number) == (page, 0)]
    middle = one.corners.mean(axis=0)
    smaller = Mark(page, 0, middle + 0.6 * (one.corners - middle))
    others = tuple(mark for mark in second.marks if mark.page != page)
    with pytest.raises(NotSeen, match=f"Page {page} shows one mark only"):
        solve([first, Seen(second.size, (*others, smaller))])


def test_marks_are_found_to_a_tenth_of_a_pixel() -> None:
    """A page drawn at a known place, seen straight, found again."""
    from tests.pictures.scenes import Painted

    scene = make_scene(3, megapixels=2, size=(600.0, 400.0), pictures=1, harsh=False)
    grey = cv2.cvtColor(Painted(scene).photograph(0), cv2.COLOR_RGB2GRAY)
    off = []
    for mark in find_marks(grey):
        [(x, y, turn)] = [(x, y, t) for page, x, y, t in scene.pages if page == mark.page]
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        corners = corners_of(mark.page, mark.number) @ np.array(((c, s), (-s, c))) + (x, y)
        off.append(np.hypot(*(mark.corners - seen_by(scene.cameras[0], corners)).T))
    assert len(off) >= 6
    assert np.median(off) < 0.1
