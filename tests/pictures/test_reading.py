"""Sheets read from drawn pictures: right within what is claimed, or refused with a sentence."""

from __future__ import annotations

import io
import time
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from PIL import Image

pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from sheetplan.pictures import NotSeen, Reading, read_pictures
from sheetplan.shapes import to_polygon
from tests.hard.pictures import against_truth, asked_of, photographed
from tests.pictures.scenes import Scene, make_scene

Files = list[tuple[str, bytes]]


@pytest.fixture(scope="module")
def scene() -> Scene:
    return make_scene(4, megapixels=2, size=(900.0, 640.0), pictures=1, cut_outs=4, harsh=False)


@pytest.fixture(scope="module")
def files(scene: Scene) -> Files:
    return photographed(scene)


@pytest.fixture(scope="module")
def reading(scene: Scene, files: Files) -> Reading:
    return read_pictures(files, asked_of(scene, 4))


def all_told(scene: Scene, reading: Reading) -> bool:
    """Whether each opening is read, or lies in what is said to be hidden, but for the claimed error."""
    told = shapely.union_all([to_polygon(loop, 0.05) for loop in (*reading.cuts, *reading.hidden)])
    return bool(told.buffer(reading.claimed).contains(shapely.MultiPolygon(
        [shapely.Polygon(ring) for ring in scene.truth.interiors])))  # fmt: skip


def test_a_sheet_is_read_within_what_is_claimed(scene: Scene, reading: Reading) -> None:
    real, lost, outside = against_truth(scene, reading)
    assert len(reading.cuts) >= 3
    assert all_told(scene, reading)
    assert real <= reading.claimed < 6.0
    assert (outside, lost < 0.1) == (0.0, True)


def test_two_pictures_of_a_longer_sheet_are_joined() -> None:
    scene = make_scene(3, megapixels=3, size=(1600.0, 800.0), pictures=2, cut_outs=3, harsh=False)
    reading = read_pictures(photographed(scene), asked_of(scene, 3))
    real, _, outside = against_truth(scene, reading)
    assert real <= reading.claimed
    assert outside == 0.0


def test_the_same_pictures_are_read_the_same(scene: Scene, files: Files, reading: Reading) -> None:
    again = read_pictures(files, asked_of(scene, 4))
    assert (again.edge, again.cuts, again.claimed) == (reading.edge, reading.cuts, reading.claimed)


def refused(files: Files, scene: Scene, **more: Any) -> str:
    """What is said of pictures that cannot be used; within the time that is promised for it."""
    begun = time.process_time()
    with pytest.raises(NotSeen) as told:
        read_pictures(files, replace(asked_of(scene, 4), **more))
    assert time.process_time() - begun < 10.0
    assert told.value.remedy.endswith((".", "'"))
    return told.value.what


def saved(picture: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    written = io.BytesIO()
    picture.save(written, kind, **more)
    return written.getvalue()


def test_what_is_not_a_picture_is_told(scene: Scene) -> None:
    assert "is not a picture" in refused([("a.jpg", b"no picture")], scene)
    assert "is not a picture" in refused([("a.jpg", b"")], scene)


def test_a_picture_that_is_cut_off_is_told(scene: Scene, files: Files) -> None:
    name, data = files[0]
    assert "damaged or cut off" in refused([(name, data[: len(data) // 2])], scene)


def test_a_hundred_megapixels_are_refused_before_they_are_read(scene: Scene) -> None:
    huge = saved(Image.new("L", (12_500, 8_000), 90), "PNG")
    assert "has 100 megapixels" in refused([("huge.png", huge)], scene)


def test_a_picture_without_marks_is_told(scene: Scene) -> None:
    assert "No reference mark is seen" in refused(
        [("a.jpg", saved(Image.new("RGB", (1600, 1200), "grey")))], scene
    )


def test_a_mirrored_picture_is_told(scene: Scene, files: Files) -> None:
    flipped = Image.open(io.BytesIO(files[0][1])).transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    assert "mirrored" in refused([("a.jpg", saved(flipped, quality=92))], scene)


def test_marks_of_another_print_scale_are_told_unless_the_bar_says_so(scene: Scene, files: Files) -> None:
    """The same picture, of a sheet whose sides by tape are all four per cent longer."""
    asked = asked_of(scene, 4)
    longer = tuple(1.04 * side for side in asked.size)
    assert "printed at 104.0 per cent" in refused(files, scene, size=longer)
    reading = read_pictures(files, replace(asked, size=longer, bar=208.0))
    assert reading.print_share == pytest.approx(1.0, abs=0.002)


def test_another_sheet_than_the_row_says_is_told(scene: Scene, files: Files) -> None:
    length, width = asked_of(scene, 4).size
    assert "its row says" in refused(files, scene, size=(length, width + 60.0))
    assert "on its side" in refused(files, scene, size=(width, length))


def test_a_picture_turned_by_its_exif_is_read_as_the_upright_one(
    scene: Scene, files: Files, reading: Reading
) -> None:
    """EXIF orientation 6: turned by a quarter to be looked at (JEITA CP-3451, 4.6.4 A; from memory)."""
    lying = Image.open(io.BytesIO(files[0][1])).transpose(Image.Transpose.ROTATE_90)
    exif = Image.Exif()
    exif[0x0112] = 6
    turned = read_pictures([("a.png", saved(lying, "PNG", exif=exif))], asked_of(scene, 4))
    assert (turned.edge, turned.cuts, turned.claimed) == (reading.edge, reading.cuts, reading.claimed)


@pytest.mark.parametrize(("orientation", "back"), [(3, "ROTATE_180"), (6, "ROTATE_90"), (8, "ROTATE_270")])
def test_a_turned_picture_that_was_saved_again_is_read_within_what_is_claimed(
    scene: Scene, files: Files, reading: Reading, orientation: int, back: str
) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    lying = Image.open(io.BytesIO(files[0][1])).transpose(Image.Transpose[back])
    turned = read_pictures([("a.jpg", saved(lying, quality=96, exif=exif))], asked_of(scene, 4))
    real, _, outside = against_truth(scene, turned)
    assert len(turned.cuts) == len(reading.cuts)
    assert (real <= turned.claimed, outside) == (True, 0.0)


def test_what_lies_in_glare_is_taken_out(scene: Scene) -> None:
    """An edge runs into it and out of it; and an opening, all of which it hides, is no metal."""
    x, y = scene.truth.interiors[0].centroid.coords[0]
    bright = replace(scene, glare=((x, y, 80.0), (scene.size[0] / 2.0, 0.0, 50.0)))
    reading = read_pictures(photographed(bright), asked_of(scene, 4))
    real, lost, outside = against_truth(bright, reading)
    assert all_told(scene, reading)
    assert (real <= reading.claimed, outside) == (True, 0.0)
    assert max(to_polygon(loop, 0.05).area for loop in reading.hidden) > 100.0**2
    assert lost < 0.25


def test_a_point_by_tape_far_from_any_edge_is_told(scene: Scene, files: Files) -> None:
    assert "by tape" in refused(files, scene, points=((length_of(scene) / 2.0, 60.0),))


def length_of(scene: Scene) -> float:
    return float(np.ceil(scene.size[0]))
