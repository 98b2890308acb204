import random
from collections import Counter

import pytest
import shapely

from sheetplan.model import Job, Outline
from sheetplan.shapes import area, to_polygon
from tests.bench.messy_kit import box_job
from tests.bench.messy_parts import (
    GAUGES,
    MAKERS,
    MOST_CORNERS,
    PIECES,
    TYPES,
    Points,
    arcs_through,
    messy_job,
    outline_of,
)
from tests.packing.outlines.shop import polygon


def asked(job: Job) -> Counter[str]:
    wanted: Counter[str] = Counter()
    for order in job.orders:
        kit = job.kits.get(order.item)
        for name, count in (kit.parts if kit else {order.item: 1}).items():
            wanted[name] += count * order.quantity
    return wanted


def corners(outline: Outline) -> int:
    return max(len(loop.vertices) for loop in (outline.outer, *outline.holes))


@pytest.mark.parametrize(("types", "pieces", "gauges"), [(TYPES, PIECES, 6), (9, 40, 2)])
def test_a_kit_has_what_was_asked_of_it(types: int, pieces: int, gauges: int) -> None:
    job = messy_job(4, types, pieces, gauges)
    assert job == messy_job(4, types, pieces, gauges)
    assert job != messy_job(5, types, pieces, gauges)
    wanted = asked(job)
    assert (len(job.parts), len(wanted), wanted.total()) == (types, types, pieces)
    assert {p.thickness for p in job.parts.values()} == {g.thickness for g in GAUGES[:gauges]}
    assert {p.thickness for p in job.parts.values()} == {s.thickness for s in job.stock}


def test_outlines_are_many_cornered_and_sound() -> None:
    parts = messy_job(1).parts.values()
    most = [corners(part.outline) for part in parts]
    assert MOST_CORNERS / 2 < max(most) <= MOST_CORNERS
    assert sum(count >= 100 for count in most) > TYPES / 3
    for part in parts:
        true = polygon(part.outline)
        assert true.is_valid, part.name
        assert true.bounds[:2] == pytest.approx((0.0, 0.0), abs=1e-3)
        # Two ways to a polygon, which share no code, agree on the metal.
        assert to_polygon(part.outline, 0.01).area == pytest.approx(true.area, rel=1e-3)
        assert area(part.outline) == pytest.approx(true.area, rel=1e-4)


@pytest.mark.parametrize("kind", MAKERS)
def test_every_kind_comes_out_of_every_seed(kind: str) -> None:
    for seed in range(30):
        outline = outline_of(kind, 1.0, random.Random(seed))
        true = polygon(outline)
        assert true.is_valid, (kind, seed)
        assert len(true.interiors) == len(outline.holes)


def test_arcs_run_near_the_points_that_they_skip() -> None:
    even: Points = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]
    between: Points = [(1.0, -0.2), (2.1, 1.0), (1.0, 1.9), (0.0, 1.0)]
    loop = arcs_through([point for pair in zip(even, between, strict=True) for point in pair])
    assert [(x, y) for x, y, _ in loop.vertices] == even
    bulging = to_polygon(loop, 1e-4)
    for x, y in between:
        assert bulging.exterior.distance(shapely.Point(x, y)) < 1e-3


def test_boxes_hold_their_outlines() -> None:
    job = messy_job(2, 8, 60, 1)
    for name, part in box_job(job).parts.items():
        assert polygon(part.outline).buffer(1e-3).covers(polygon(job.parts[name].outline))
