"""What is metal in a plan view that is drawn here cell by cell: a sheet over a dark floor, a page on it."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

cv2 = pytest.importorskip("cv2", reason="OpenCV is not installed: pip install 'sheetplan[picture]'")

from sheetplan.pictures import metal  # noqa: E402
from sheetplan.pictures.metal import Mask, Metal, loops_round  # noqa: E402
from sheetplan.pictures.outline import Plan  # noqa: E402

HIGH, WIDE = 240, 320
FACE, FLOOR, WALL, RUST = (150, 150, 152), (60, 52, 44), (22, 21, 20), (135, 107, 90)
PAGE = np.s_[80:140, 50:100]
HOLE = np.s_[90:130, 200:240]


def sheet() -> np.ndarray:
    """A sheet of 260 by 180 cells with an opening of 40 by 40 and some noise."""
    picture = np.empty((HIGH, WIDE, 3), np.float32)
    picture[:] = FLOOR
    picture[30:210, 30:290] = FACE
    picture[HOLE] = FLOOR
    return picture


def plan_of(picture: np.ndarray) -> Plan:
    """As a camera sees it: edges are soft over a cell or so, and there is noise."""
    picture = picture.copy()
    picture[PAGE] = 235.0
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.7)
    soft += np.random.default_rng(1).normal(0.0, 1.0, soft.shape)
    return Plan(np.clip(soft, 0, 255).astype(np.uint8), np.ones((HIGH, WIDE), bool), 0.0, 0.0, 1.0)


def read(picture: np.ndarray, monkeypatch: pytest.MonkeyPatch) -> Metal:
    def papers(plan: Plan, _: object) -> tuple[Mask, Mask]:
        there = np.zeros((HIGH, WIDE), bool)
        there[PAGE] = True
        under = metal._grown(there, 3.0, plan)
        return under, metal._grown(there, 12.0, plan) & ~under

    monkeypatch.setattr(metal, "_papers", papers)
    return metal.metal_in(plan_of(picture), None)  # type: ignore[arg-type]


def near(found: Mask, wanted: Mask, cells: int = 2) -> bool:
    """Whether two masks differ only within so many cells of an edge."""
    edge = cv2.morphologyEx(wanted.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    beside = cv2.dilate(edge, np.ones((2 * cells + 1, 2 * cells + 1), np.uint8)) > 0
    return bool(((found != wanted) & ~beside).sum() == 0)


def there_is() -> Mask:
    metal_there = np.zeros((HIGH, WIDE), bool)
    metal_there[30:210, 30:290] = True
    metal_there[HOLE] = False
    return metal_there


def test_a_sheet_with_an_opening_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    found = read(sheet(), monkeypatch)
    assert near(found.there, there_is())
    assert not found.hidden.any()


def test_a_cut_wall_darker_than_the_floor_is_no_metal(monkeypatch: pytest.MonkeyPatch) -> None:
    """By colour alone it was taken for metal in shadow, and the opening for smaller than it is."""
    picture = sheet()
    picture[90:98, 200:240] = WALL
    picture[90:130, 200:206] = WALL
    assert near(read(picture, monkeypatch).there, there_is())


def test_a_grey_wall_between_metal_and_floor_is_no_metal(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = sheet()
    picture[90:100, 200:240] = (66, 64, 62)
    assert near(read(picture, monkeypatch).there, there_is())


def test_metal_in_a_shadow_as_dark_as_the_floor_is_metal(monkeypatch: pytest.MonkeyPatch) -> None:
    picture, shadow = sheet(), np.zeros((HIGH, WIDE), np.float32)
    shadow[:, 130:180] = 1.0
    picture *= (1.0 - 0.55 * cv2.GaussianBlur(shadow, (0, 0), 6.0))[..., None]
    found = read(picture, monkeypatch)
    assert near(found.there, there_is())


def test_a_slat_as_bright_as_the_metal_along_its_edge_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    """Brightness does not tell them apart: 0.30 R + 0.59 G + 0.11 B (ITU-R BT.601) is 150 of both."""
    picture = sheet()
    slat = np.array((168.0, 148.0, 111.0))
    assert slat @ (0.299, 0.587, 0.114) == pytest.approx(150.0, abs=1.0)
    picture[:, 290:295] = slat
    found = read(picture, monkeypatch)
    assert near(found.there & ~found.hidden, there_is(), 3)


def test_a_slat_across_a_small_opening_hides_no_part_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = sheet()
    picture[50:58, 200:216] = FLOOR
    picture[50:58, 206:211] = (120.0, 102.0, 84.0)
    hidden = loops_round(read(picture, monkeypatch).hidden, plan_of(picture))
    region = shapely.union_all([shapely.Polygon(loop) for loop in hidden])
    assert region.buffer(1.5).contains(shapely.box(199.5, 49.5, 215.5, 57.5))


def test_glare_hides_what_lies_in_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small opening in the midst of it is seen no better than metal."""
    picture = sheet()
    picture[160:176, 150:166] = FLOOR
    y, x = np.indices((HIGH, WIDE))
    picture += 260.0 * np.exp(-((((x - 158.0) ** 2 + (y - 168.0) ** 2) / 30.0**2) ** 2))[..., None]
    found = read(picture, monkeypatch)
    assert found.hidden[158:178, 148:168].all()
    assert not found.hidden[:, :110].any()


def test_glare_in_one_picture_is_no_glare_where_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not read(np.minimum(sheet() + 60.0, 235.0), monkeypatch).hidden.any()


@pytest.mark.parametrize("where", [np.s_[160:176, 150:174], np.s_[160:176, 30:46], np.s_[130:146, 200:224]])
def test_rust_with_a_sharp_border_is_metal_but_hidden(
    where: tuple[slice, slice], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Amid the metal, at its edge, and at an opening."""
    picture = sheet()
    picture[where] = RUST
    found = read(picture, monkeypatch)
    assert near(found.there, there_is(), 3)
    inner = tuple(slice(one.start + 3, one.stop - 3) for one in where)
    assert found.hidden[inner].mean() > 0.9


def test_an_opening_with_a_gap_in_its_edge_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """One side runs softly into the metal over 30 mm, as nothing but an unsharp picture does."""
    picture = sheet()
    fade = np.linspace(0.0, 1.0, 40)[None, :, None]
    picture[HOLE] = np.array(FLOOR) * (1.0 - fade) + np.array(FACE) * fade
    with pytest.raises(metal.NotSeen, match="dark amid the metal"):
        read(picture, monkeypatch)


def test_loops_lie_round_what_is_hidden() -> None:
    cells = np.zeros((HIGH, WIDE), bool)
    cells[100:110, 50:80] = True
    plan = Plan(np.zeros((HIGH, WIDE, 3), np.uint8), ~cells | cells, 10.0, -20.0, 2.0)
    [loop] = loops_round(cells, plan)
    assert loop.min(axis=0) == pytest.approx((10.0 + 2.0 * 48, -20.0 + 2.0 * 98))
    assert loop.max(axis=0) == pytest.approx((10.0 + 2.0 * 81, -20.0 + 2.0 * 111))
