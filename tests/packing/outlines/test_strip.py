import shapely

from sheetplan.packing.outlines.field import Field
from sheetplan.packing.outlines.laid import placements_of
from sheetplan.packing.outlines.poses import View
from sheetplan.packing.outlines.setup import make_setup
from sheetplan.packing.outlines.solids import part_shapes
from tests.bench.strip_search import Strip, StripSearch, first_strip
from tests.packing.outlines.shop import kit_parts, least_clearance, lying

WIDTH, GAP, STEP = 900.0, 6.0, 12.0
COUNTS = [2, 3, 1, 2, 2, 4, 2, 2]


def never() -> bool:
    return False


def searched(work: int) -> tuple[StripSearch, Strip, float]:
    setup = make_setup(part_shapes(kit_parts(), STEP), GAP, View(), STEP)
    search = StripSearch(setup, first_strip(setup, COUNTS, WIDTH), WIDTH, 1)
    start = search.best.length
    return search, search.run(work, never), start


def test_the_search_shortens_and_keeps_the_gap() -> None:
    search, best, start = searched(150_000_000)
    assert best.length < 0.97 * start
    placements = placements_of(search._setup, Field(best.length, WIDTH, (0.0, 0.0), View()), best.laid)
    assert len(placements) == sum(COUNTS)
    shapes = [lying({p.name: p for p in kit_parts()}, placement) for placement in placements]
    assert least_clearance(shapes, [], 2.0 * GAP) >= GAP - 1e-3
    left, bottom, right, top = shapely.union_all(shapes).bounds
    assert left >= -1e-3
    assert bottom >= -1e-3
    assert top <= WIDTH + 1e-3
    assert right <= best.length + 1e-3


def test_the_same_work_gives_the_same_length() -> None:
    assert searched(30_000_000)[1].length == searched(30_000_000)[1].length


def test_stopping_at_once_leaves_a_valid_layout() -> None:
    search, _, start = searched(0)
    assert search.run(10**9, lambda: True).length <= start
