"""Pictures of partly used sheets that are drawn here, with the truth known exactly.

Everything is in the sheet's own frame: mm, zero at its lower left corner, z upward from its upper face. A
picture is painted from below: floor, slats, the sheet's wall in slices of its thickness, its face, the pages
of marks; then shadow, glare, blur and noise. The camera's arithmetic is written anew here and shares nothing
with the reader's.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import cv2
import numpy as np
import shapely
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.path import Path as Lines
from matplotlib.transforms import Affine2D
from numpy.typing import NDArray
from PIL import Image
from shapely import affinity

from sheetplan.pictures.marks import FIRST_SMALL, corners_of, family

Array = NDArray[Any]

PAPER = {False: (-105.0, -172.0, 105.0, 125.0), True: (-65.0, -75.0, 65.0, 75.0)}
"""A4, and a small page that was cut out, in the page's plane."""


@dataclass(frozen=True)
class Camera:
    """A camera over the sheet: pixels, focal length and middle in pixels, distortion, turn and place."""

    size: tuple[int, int]
    focal: float
    middle: tuple[float, float]
    bends: tuple[float, float, float]
    turn: Array
    at: Array

    @cached_property
    def _rays(self) -> Array:
        """Where every eighth pixel looks, in the sheet's frame."""
        wide, high = self.size
        u, v = np.meshgrid(np.arange(0, wide + 8, 8), np.arange(0, high + 8, 8))
        bent = np.stack(((u - self.middle[0]) / self.focal, (v - self.middle[1]) / self.focal), axis=-1)
        flat = bent.copy()
        for _ in range(30):
            s = (flat**2).sum(axis=-1, keepdims=True)
            flat = bent / (1 + s * (self.bends[0] + s * (self.bends[1] + s * self.bends[2])))
        return np.concatenate((flat, np.ones_like(flat[..., :1])), axis=-1) @ self.turn

    def ground(self, z: float) -> tuple[Array, Array]:
        """Where each pixel sees the plane at a height: x and y, each of the picture's shape."""
        wide, high = self.size
        step, rays = 8, self._rays
        share = (z - self.at[2]) / rays[..., 2]
        grid = (self.at[:2] + share[..., None] * rays[..., :2]).astype(np.float32)
        fine_u, fine_v = np.meshgrid(
            np.arange(wide, dtype=np.float32) / step, np.arange(high, dtype=np.float32) / step
        )
        return (
            cv2.remap(np.ascontiguousarray(grid[..., 0]), fine_u, fine_v, cv2.INTER_LINEAR),
            cv2.remap(np.ascontiguousarray(grid[..., 1]), fine_u, fine_v, cv2.INTER_LINEAR),
        )


@dataclass(frozen=True)
class Scene:
    """A sheet with its truth, what lies on it, and how it is photographed."""

    truth: Any
    size: tuple[float, float]
    thickness: float
    pages: tuple[tuple[int, float, float, float], ...]
    cameras: tuple[Camera, ...]
    look: int
    print_scale: float = 1.0
    hidden: tuple[tuple[float, float, float], ...] = ()
    shadow: Any = None
    shadow_depth: float = 0.6
    shadow_soft: float = 10.0
    glare: tuple[tuple[float, float, float], ...] = ()
    blur: float = 0.7
    noise: float = 2.5
    cover: tuple[Any, ...] = field(default=())


def look_at(
    centre: tuple[float, float], away: float, tilt: float, swing: float, roll: float
) -> tuple[Array, Array]:
    """Turn and place of a camera ``away`` mm from a point of the sheet; tilted it stands toward -y."""
    t, s, r = np.radians((tilt, swing, roll))
    at = np.array((centre[0], centre[1], 0.0)) + away * np.array(
        (math.sin(t) * math.sin(s), -math.sin(t) * math.cos(s), math.cos(t))
    )
    forward = np.array((centre[0], centre[1], 0.0)) - at
    forward /= np.linalg.norm(forward)
    up = np.array((-math.sin(r), math.cos(r), 0.0))
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    return np.stack((right, np.cross(forward, right), forward)), at


def coverage(shape: Any, box: tuple[float, float, float, float], grain: float) -> Array:
    """How much of each square of a raster a shape covers, 0 to 1; row 0 is the lowest y."""
    wide, high = (math.ceil((box[2] - box[0]) / grain), math.ceil((box[3] - box[1]) / grain))
    painter = RendererAgg(wide, high, 72)
    pen = painter.new_gc()
    pen.set_linewidth(0.0)
    pen.set_antialiased(True)
    pen.set_snap(False)
    place = Affine2D().translate(-box[0], -box[1]).scale(1.0 / grain)
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        part = shapely.geometry.polygon.orient(part)
        paths = [Lines(np.asarray(ring.coords), closed=True) for ring in (part.exterior, *part.interiors)]
        painter.draw_path(pen, Lines.make_compound_path(*paths), place, (1.0, 1.0, 1.0, 1.0))
    # Agg's first row is the top: turned so that row 0 is the lowest y.
    return np.asarray(painter.buffer_rgba())[::-1, :, 3].astype(np.float32) / 255.0


def _cloud(chance: Any, shape: tuple[int, int], sizes: tuple[float, ...]) -> Array:
    """Noise of several sizes (in cells), about within -1 to 1."""
    total = np.zeros(shape, np.float32)
    for size in sizes:
        small = (max(2, int(shape[0] / size) + 2), max(2, int(shape[1] / size) + 2))
        grains = chance.standard_normal(small).astype(np.float32)
        total += cv2.resize(grains, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return total / math.sqrt(len(sizes))


class _Layer:
    """A picture on a plane: colours and how solid it is, sampled by place."""

    def __init__(
        self, colour: Array, solid: Array | None, box: tuple[float, float, float, float], grain: float
    ):
        self.colour, self.solid, self.box, self.grain = colour, solid, box, grain

    def onto(self, picture: Array, x: Array, y: Array) -> Array:
        u = (x - self.box[0]) / self.grain - 0.5
        v = (y - self.box[1]) / self.grain - 0.5
        if self.solid is None:
            return cv2.remap(self.colour, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
        alpha = cv2.remap(self.solid, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=0)
        if self.colour.ndim == 1:
            colour = np.broadcast_to(self.colour, picture.shape)
        else:
            colour = cv2.remap(self.colour, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        return picture + alpha[..., None] * (colour - picture)


class Painted:
    """A scene's layers, made once and photographed by each of its cameras."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        chance = np.random.default_rng(scene.look)
        length, width = scene.size
        pixel = min(_pixel_mm(camera) for camera in scene.cameras)
        grain = float(np.clip(0.7 * pixel, 0.3, 1.2))
        box = (-6.0, -6.0, length + 6.0, width + 6.0)
        solid = np.ascontiguousarray(coverage(scene.truth, box, grain))
        self.face = _Layer(_metal(chance, solid.shape, grain), solid, box, grain)
        dark = chance.uniform(25, 90)
        self.wall = np.array((dark, dark * 0.95, dark * 0.9), np.float32)
        wide = (-900.0, -900.0, length + 900.0, width + 900.0)
        self.floor = _Layer(_floor(chance, wide), None, wide, 4.0)
        self.slats = self._slats(chance, wide, max(grain, 0.6))
        self.pages = [self._page(*page, min(grain, 0.4)) for page in scene.pages]

    def _slats(self, chance: Any, wide: tuple[float, float, float, float], grain: float) -> _Layer:
        pitch, thick, start = chance.uniform(70, 140), chance.uniform(3, 6), chance.uniform(0, 100)
        tone = chance.uniform(60, 120)
        near = (-150.0, -150.0, wide[2] - 750.0, wide[3] - 750.0)
        bars = [
            shapely.box(x, near[1], x + thick, near[3]) for x in np.arange(near[0] + start, near[2], pitch)
        ]
        colour = np.array((tone, tone * 0.85, tone * 0.7), np.float32)
        return _Layer(
            colour, np.ascontiguousarray(coverage(shapely.MultiPolygon(bars), near, grain)), near, grain
        )

    def _page(self, page: int, x: float, y: float, turn: float, grain: float) -> tuple[_Layer, float]:
        box = PAPER[page >= FIRST_SMALL]
        scale = self.scene.print_scale
        shape = (math.ceil((box[3] - box[1]) / grain), math.ceil((box[2] - box[0]) / grain))
        ink = np.full((*shape, 3), 235.0, np.float32)
        black = []
        for number in range(6):
            corners = corners_of(page, number) * scale
            bits = cv2.aruco.generateImageMarker(family(), (page - 1) * 6 + number, 8, borderBits=1)
            left, top = corners[0]
            step = (corners[1, 0] - left) / 8
            for row, column in zip(*np.nonzero(bits == 0), strict=True):
                black.append(shapely.box(left + column * step, top - (row + 1) * step,
                                         left + (column + 1) * step, top - row * step))  # fmt: skip
        inked = coverage(shapely.union_all(black), box, grain)[: shape[0], : shape[1], None]
        ink = ink * (1 - inked) + 28.0 * inked
        for centre_x, centre_y, radius in self.scene.hidden:
            spot = shapely.Point(centre_x - x, centre_y - y).buffer(radius)
            spot = affinity.rotate(spot, -turn, origin=(0, 0))
            over = coverage(spot, box, grain)[: shape[0], : shape[1], None]
            ink = ink * (1 - over) + np.array((60.0, 70.0, 90.0), np.float32) * over
        return _Layer(ink.astype(np.float32), np.ones(shape, np.float32), box, grain), math.radians(turn)

    def photograph(self, number: int) -> Array:
        """One camera's picture, RGB bytes."""
        scene, camera = self.scene, self.scene.cameras[number]
        chance = np.random.default_rng((scene.look, number))
        x, y = camera.ground(-600.0)
        picture = self.floor.onto(np.zeros((*x.shape, 3), np.float32), x, y)
        picture = self.slats.onto(picture, *camera.ground(-scene.thickness))
        wall = _Layer(self.wall, self.face.solid, self.face.box, self.face.grain)
        for z in np.linspace(-scene.thickness, 0.0, 3, endpoint=False):
            picture = wall.onto(picture, *camera.ground(float(z)))
        x, y = camera.ground(0.0)
        picture = self.face.onto(picture, x, y)
        for (layer, turn), (_, px, py, _) in zip(self.pages, scene.pages, strict=True):
            cos, sin = math.cos(turn), math.sin(turn)
            picture = layer.onto(picture, cos * (x - px) + sin * (y - py), -sin * (x - px) + cos * (y - py))
        picture = self._light(picture, x, y, camera)
        picture = cv2.GaussianBlur(picture, (0, 0), scene.blur)
        picture += scene.noise * chance.standard_normal(picture.shape, np.float32)
        return np.clip(picture + 0.5, 0, 255).astype(np.uint8)

    def _light(self, picture: Array, x: Array, y: Array, camera: Camera) -> Array:
        scene = self.scene
        length, width = scene.size
        box, grain = (-300.0, -300.0, length + 300.0, width + 300.0), 4.0
        if scene.shadow is not None:
            depth = coverage(scene.shadow, box, grain)
            depth = cv2.GaussianBlur(depth, (0, 0), max(0.3, scene.shadow_soft / grain))
            u, v = (x - box[0]) / grain - 0.5, (y - box[1]) / grain - 0.5
            dark = cv2.remap(depth, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            picture = picture * (1.0 - (1.0 - scene.shadow_depth) * dark)[..., None]
        for gx, gy, radius in scene.glare:
            bright = np.exp(-((((x - gx) ** 2 + (y - gy) ** 2) / radius**2) ** 2))
            picture = picture + 260.0 * bright[..., None]
        for cover in scene.cover:
            hidden = _Layer(np.array((90.0, 60.0, 50.0), np.float32), coverage(cover, box, 1.0), box, 1.0)
            picture = hidden.onto(picture, x, y)
        fall = ((np.indices(x.shape, np.float32)[0] / x.shape[0] - 0.5) ** 2)[..., None]
        return picture * (1.0 - 0.3 * fall)


def _metal(chance: Any, shape: tuple[int, int], grain: float) -> Array:
    """Mill scale in clouds and streaks, and rust in spots."""
    tone = chance.uniform(120, 175)
    tint = np.array((1.0, chance.uniform(0.98, 1.02), chance.uniform(0.98, 1.06)), np.float32)
    small = (max(8, int(shape[0] * grain / 2)), max(8, int(shape[1] * grain / 2)))
    value = tone + chance.uniform(2, 7) * _cloud(chance, small, (150, 40, 8, 2))
    streaks = cv2.resize(chance.standard_normal((small[0], 4)).astype(np.float32), (small[1], small[0]))
    value = value + chance.uniform(0, 4) * streaks
    colour = value[..., None] * tint
    rust = np.clip(_cloud(chance, small, (60, 20, 6)) - chance.uniform(0.8, 2.2), 0, 0.6)[..., None]
    colour = colour * (1 - rust) + rust * np.array((125.0, 78.0, 48.0), np.float32)
    return cv2.resize(colour.astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)


def _floor(chance: Any, wide: tuple[float, float, float, float]) -> Array:
    shape = (int((wide[3] - wide[1]) / 4), int((wide[2] - wide[0]) / 4))
    tone = chance.uniform(25, 85)
    tint = np.array((1.0, chance.uniform(0.85, 1.0), chance.uniform(0.7, 1.0)), np.float32)
    return ((tone + 0.12 * tone * _cloud(chance, shape, (60, 15, 4)))[..., None] * tint).astype(np.float32)


def _pixel_mm(camera: Camera) -> float:
    return float(camera.at[2] / camera.focal)


def jpeg(picture: Array, quality: int = 93, **more: Any) -> bytes:
    """As a telephone keeps it."""
    written = io.BytesIO()
    Image.fromarray(picture).save(written, "JPEG", quality=quality, **more)
    return written.getvalue()


MEGA = 1_000_000


def make_scene(
    seed: int, *, megapixels: float = 3.0, size: tuple[float, float] | None = None,
    pictures: int | None = None,
    cut_outs: int | None = None, harsh: bool = True,
) -> Scene:  # fmt: skip
    """A scene by its seed; what is not said is by chance. Harsh ones have shadow, glare, hidden marks."""
    chance = np.random.default_rng((seed, 77))
    if size is None:
        length = float(np.exp(chance.uniform(np.log(300), np.log(3000))))
        size = (length, float(np.clip(length * chance.uniform(0.4, 1.0), 300, 1500)))
        size = (max(size), min(size))
    size = (round(size[0], 1), round(size[1], 1))
    count = pictures or _pictures(chance, size)
    pages, taken = _lay_pages(chance, size, count)
    edge = _edge(chance, size, taken)
    wanted = int(chance.integers(0, 13)) if cut_outs is None else cut_outs
    truth = _with_cut_outs(chance, edge, taken, wanted)
    cameras = _cameras(chance, size, count, megapixels)
    thickness = float(chance.choice((1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0)))
    scene = Scene(truth, size, thickness, pages, cameras, seed,
                  blur=float(chance.uniform(0.5, 1.1)), noise=float(chance.uniform(1.0, 4.0)))  # fmt: skip
    return _harsh(chance, scene) if harsh else scene


def _pictures(chance: Any, size: tuple[float, float]) -> int:
    fewest = 1 if size[0] < 1300 else 2 if size[0] < 2600 else 3
    return int(min(4, fewest + chance.integers(0, 2)))


def _harsh(chance: Any, scene: Scene) -> Scene:
    length, width = scene.size
    if chance.random() < 0.4:
        x, y = chance.uniform(0, length), chance.uniform(0, width)
        band = shapely.box(-2 * length, -width * chance.uniform(0.1, 0.3), 2 * length, width * 0.2)
        shadow = affinity.translate(affinity.rotate(band, chance.uniform(0, 180)), x, y)
        scene = replace(scene, shadow=shadow, shadow_depth=float(chance.uniform(0.5, 0.85)),
                        shadow_soft=float(chance.uniform(3, 40)))  # fmt: skip
    if chance.random() < 0.35:
        spots = []
        for page, x, y, _ in scene.pages:
            if chance.random() < 0.5:
                reach = 0.6 if page >= FIRST_SMALL else 1.0
                spots.append((x + chance.uniform(-60, 60) * reach, y + chance.uniform(-60, 60) * reach,
                              chance.uniform(12, 40) * reach))  # fmt: skip
        scene = replace(scene, hidden=tuple(spots))
    if chance.random() < 0.1:
        scene = replace(scene, glare=((chance.uniform(0, length), chance.uniform(0, width),
                                       chance.uniform(60, 200)),))  # fmt: skip
    if chance.random() < 0.08:
        side = chance.uniform(0, length)
        scene = replace(scene, cover=(shapely.box(side, -80, side + chance.uniform(60, 200), 60),))
    return scene


def _lay_pages(chance: Any, size: tuple[float, float], count: int) -> tuple[tuple[Any, ...], Any]:
    """Pages near the corners and where pictures meet, clear of the edge."""
    length, width = size
    small = width < 620
    box = PAPER[small]
    clear = 25.0 if not small else 18.0
    columns = max(2, count + 1) if length > 700 or small else 2
    rows = 2 if width > 2 * (box[2] - box[0]) + 4 * clear else 1
    pages, shapes, taken = [], [], shapely.Polygon()
    first = FIRST_SMALL if small else 1
    for column in range(columns):
        for row in range(rows):
            for _ in range(60):
                turn = float(chance.choice((0, 90, 180, 270)) + chance.uniform(-6, 6))
                paper = affinity.rotate(shapely.box(*box), turn, origin=(0, 0))
                left, low, right, high = paper.bounds
                fx = column / (columns - 1)
                fy = row / max(1, rows - 1) if rows > 1 else chance.uniform(0.2, 0.8)
                x = clear - left + fx * (length - 2 * clear - (right - left)) + chance.normal(0, 4)
                y = clear - low + fy * (width - 2 * clear - (high - low)) + chance.normal(0, 4)
                laid = affinity.translate(paper, x, y)
                inside = laid.within(shapely.box(16, 16, length - 16, width - 16))
                if inside and not laid.intersects(taken):
                    pages.append((first + len(pages), float(x), float(y), turn))
                    shapes.append(laid)
                    taken = shapely.union_all([shape.buffer(16) for shape in shapes])
                    break
    return tuple(pages), taken


def _edge(chance: Any, size: tuple[float, float], taken: Any) -> Any:
    """A rectangle, often with a slanted end, a notch or a round bite; its size round all stays."""
    length, width = size
    sheet = shapely.box(0, 0, length, width)
    for kind in chance.choice(("none", "slant", "notch", "bite"), 2, replace=False):
        side = min(length, width)
        match kind:
            case "slant":
                start, end = length - chance.uniform(0.08, 0.3) * side, width * chance.uniform(0.2, 0.6)
                cut = shapely.Polygon([(start, width + 1), (length + 1, width + 1), (length + 1, end)])
            case "notch":
                x, wide = chance.uniform(0.3, 0.6) * length, chance.uniform(0.06, 0.2) * side
                cut = shapely.box(x, width - chance.uniform(0.05, 0.2) * side, x + wide, width + 1)
            case "bite":
                r = chance.uniform(0.06, 0.16) * side
                x, y = chance.uniform(0.35, 0.65) * length, width + r * chance.uniform(-0.3, 0.3)
                cut = shapely.Point(x, y).buffer(r, 64)
            case _:
                continue
        left = sheet - cut
        whole = left.geom_type == "Polygon" and not left.interiors
        if whole and not cut.intersects(taken) and np.allclose(left.bounds, (0, 0, length, width)):
            sheet = left
    return sheet


def _with_cut_outs(chance: Any, sheet: Any, taken: Any, wanted: int) -> Any:
    side = math.sqrt(sheet.area)
    for _ in range(30 * wanted):
        if len(sheet.interiors) >= wanted:
            break
        s = max(16.0, side * float(np.exp(chance.uniform(np.log(0.03), np.log(0.22)))))
        x = chance.uniform(0, sheet.bounds[2])
        y = chance.uniform(0, sheet.bounds[3])
        kind = chance.integers(0, 5)
        if kind == 0:
            hole = shapely.Point(x, y).buffer(s / 2, 64)
        elif kind == 1:
            hole = shapely.box(x, y, x + s, y + s * chance.uniform(0.4, 1.5))
        elif kind == 2:
            hole = shapely.LineString([(x, y), (x + s, y)]).buffer(
                max(8.0, s * chance.uniform(0.15, 0.4)), 64
            )
        elif kind == 3:
            hole = shapely.box(x, y, x + s, y + s) - shapely.box(x + s * 0.45, y + s * 0.4, x + s, y + s)
        else:
            hole = shapely.Polygon([(x, y), (x + s, y + 0.1 * s), (x + 0.4 * s, y + 0.9 * s)])
        if chance.random() < 0.5:
            hole = affinity.rotate(hole, float(chance.uniform(0, 180)))
        if hole.buffer(15).within(sheet) and not hole.intersects(taken):
            sheet = sheet - hole
    return sheet


def _cameras(chance: Any, size: tuple[float, float], count: int, megapixels: float) -> tuple[Camera, ...]:
    length, width = size
    high = int(math.sqrt(megapixels * MEGA * 0.75) / 8) * 8
    wide = high * 4 // 3
    focal = wide * chance.uniform(0.68, 0.8)
    middle = (
        wide / 2 - 0.5 + chance.normal(0, 0.004) * wide,
        high / 2 - 0.5 + chance.normal(0, 0.004) * wide,
    )
    bends = (
        float(chance.uniform(-0.08, 0.1)),
        float(chance.uniform(-0.06, 0.06)),
        float(chance.uniform(-0.02, 0.02)),
    )
    cameras = []
    page = 0.0 if count == 1 else 330.0 if width >= 620 else 200.0
    for i in range(count):
        span = min(length, length / count + page)
        low = 0.0 if i == 0 else min(length - span, max(0.0, (i + 0.5) * length / count - span / 2))
        centre = (
            low + span / 2 if i < count - 1 else length - span / 2,
            width / 2 + chance.normal(0, 0.01 * width),
        )
        tilt, roll = float(chance.uniform(3, 28)), float(chance.normal(0, 3))
        swing = float(chance.normal(0, 15))
        away = 1.0 * max(span * focal / wide, width * focal / high)
        for _ in range(60):
            turn, at = look_at(centre, away, tilt, swing, roll)
            camera = Camera((wide, high), focal, middle, bends, turn, at)
            corners = np.array(
                [(centre[0] + a * span / 2, width / 2 + b * width / 2) for a in (-1, 1) for b in (-1, 1)]
            )
            if _inside(camera, corners):
                break
            away *= 1.03
        cameras.append(replace(camera, focal=focal * float(np.exp(chance.normal(0, 0.002)))))
    return tuple(cameras)


def _inside(camera: Camera, corners: Array) -> bool:
    seen = (np.column_stack((corners, np.zeros(len(corners)))) - camera.at) @ camera.turn.T
    flat = seen[:, :2] / seen[:, 2:]
    s = (flat**2).sum(axis=1, keepdims=True)
    bent = flat * (1 + s * (camera.bends[0] + s * (camera.bends[1] + s * camera.bends[2])))
    pixels = bent * camera.focal + camera.middle
    edge = 0.02 * camera.size[0]
    return bool((pixels > edge).all() and (pixels < np.array(camera.size) - edge).all())
