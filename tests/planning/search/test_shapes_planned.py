"""True shapes through the whole planning path: into holes, beside old cuts, in one process or two."""

from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import replace
from functools import cache
from itertools import chain, repeat
from multiprocessing import get_context

import pytest
import shapely

from sheetplan.checking import check_plan
from sheetplan.model import (
    CuttingRule,
    Job,
    Material,
    Order,
    Outline,
    Part,
    Placement,
    Plan,
    Remnant,
    SheetSize,
    rectangle,
)
from sheetplan.planning import RunOptions, plan_job
from tests.packing.outlines.shop import INCH, PLATE, filled, loop, lying, ring
from tests.planning.books import PLAIN, made

STEEL = "mild steel"
GAP, MARGIN = 0.25 * INCH, 0.38 * INCH
RULE = CuttingRule(STEEL, PLATE, 0.06 * INCH, GAP, MARGIN)
WITHIN = 1.6 * GAP
"""Parts lie on a lattice, so that a part that is tucked in may stand off by a little more than the gap."""


def job(
    outlines: dict[str, Outline], counts: dict[str, int], stock: tuple[SheetSize, ...],
    remnants: tuple[Remnant, ...] = (),
) -> Job:  # fmt: skip
    parts = {name: Part(name, STEEL, PLATE, outline) for name, outline in outlines.items()}
    orders = tuple(Order(f"H-{name}", name, count) for name, count in counts.items())
    metals = {STEEL: Material(STEEL, "", 7850.0)}
    return Job(PLAIN, metals, (RULE,), parts, {}, orders, stock, remnants)


def planned(one: Job, *, executor: Executor | None = None, seconds: float = 1.0, seed: int = 1) -> Plan:
    """Planned until the work is done: the clock stands still, and before the deadline by far."""
    clock = chain([0.0], repeat(-1e6)).__next__
    return plan_job(one, RunOptions(seconds, seed, executor=executor, clock=clock))


@cache
def rings() -> Plan:
    """Two rings with a hole of 10 in fill a sheet of 48 x 24 in; what else is asked for needs their holes."""
    sheet = SheetSize("48 x 24", STEEL, PLATE, 48 * INCH, 24 * INCH, price=100.0)
    outlines = {
        "Ring": ring(11.4, 5.0),
        "Gusset": Outline(loop((0, 0), (5, 0), (5, 0.5), (0.5, 5), (0, 5))),
        "Disc": Outline(ring(2, 1).outer),
        "Tab": rectangle(2.5 * INCH, 1.5 * INCH),
    }
    return planned(job(outlines, {"Ring": 2, "Gusset": 2, "Disc": 2, "Tab": 4}, (sheet,)))


@cache
def used_sheet() -> Plan:
    """A half-used sheet, its cut-out a jagged bay with a bulge, and no other metal; brackets to fill it."""
    bay = loop(
        (0, 0),
        (14, 0),
        (17, 6),
        (24, 8, -0.4),
        (27, 15),
        (20, 18),
        (22, 24),
        (30, 27),
        (26, 36),
        (12, 40),
        (0, 40),
    )  # fmt: skip
    edge = rectangle(60 * INCH, 40 * INCH).outer
    remnant = Remnant("R-018", STEEL, PLATE, edge, (bay,))
    outlines = {
        "Bracket": Outline(loop((0, 0), (9, 0), (9, 2), (2, 2), (2, 7), (0, 7))),
        "Gusset": Outline(loop((0, 0), (7, 0), (0, 7))),
        "Tab": rectangle(3 * INCH, 2 * INCH),
    }
    return planned(job(outlines, {"Bracket": 18, "Gusset": 11, "Tab": 12}, (), (remnant,)), seconds=2.0)


def shapes_of(plan: Plan) -> list[tuple[Placement, shapely.Polygon]]:
    (group,) = plan.groups
    return [(one, lying(plan.job.parts, one)) for layout in group.layouts for one in layout.placements]


def test_parts_lie_in_the_hole_of_a_ring() -> None:
    plan = rings()
    assert check_plan(plan) == ()
    assert made(plan.groups[0]) == {"Ring": 2, "Gusset": 2, "Disc": 2, "Tab": 4}
    holes = [shapely.Polygon(shape.interiors[0]) for one, shape in shapes_of(plan) if one.part == "Ring"]
    inside = [one.part for one, shape in shapes_of(plan) if any(hole.contains(shape) for hole in holes)]
    assert len(holes) == 2
    assert len(inside) >= 4
    assert plan.groups[0].note == "Packing by outline instead of by box saved 1 sheet, 100.00."


def test_parts_are_tucked_beside_old_cuts() -> None:
    plan = used_sheet()
    assert check_plan(plan) == ()
    (group,) = plan.groups
    assert group.short == {}
    assert group.note == "Packing by outline makes pieces for which packing by box finds no metal."
    (layout,) = group.layouts
    assert isinstance(layout.sheet, Remnant)
    bay = filled(layout.sheet.cuts[0])
    shapes = [shape for _, shape in shapes_of(plan)]
    near = [shape for shape in shapes if bay.distance(shape) < WITHIN]
    assert min(bay.distance(shape) for shape in shapes) >= GAP - 0.001
    assert len(near) >= 4
    hollows = bay.convex_hull.difference(bay)
    assert sum(hollows.contains(shape.centroid) for shape in shapes) >= 2


def month() -> Job:
    """Two gauges of true shapes and one of plates, on sheets of two sizes."""
    other = replace(RULE, thickness=replace(PLATE, mm=6.0, text="6 mm"))
    thick = other.thickness
    outlines = {
        "Ring": ring(5, 3.5),
        "Gusset": Outline(loop((0, 0), (9, 0), (0, 9))),
        "Plate": rectangle(200.0, 120.0),
    }
    first = job(outlines, {"Ring": 9, "Gusset": 22, "Plate": 15}, ())
    more = {
        f"{name} 6": replace(part, name=f"{name} 6", thickness=thick) for name, part in first.parts.items()
    }
    orders = (*first.orders, *(Order(f"H-{name}", name, 12) for name in more))
    stock = tuple(
        SheetSize(f"{width} {one.mm}", STEEL, one, 1500.0, width, price=width / 10.0, on_hand=1)
        for one in (PLATE, thick) for width in (600.0, 1000.0)
    )  # fmt: skip
    return replace(first, rules=(RULE, other), parts={**first.parts, **more}, orders=orders, stock=stock)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_the_same_seed_gives_the_same_plan_here_and_in_other_processes(seed: int) -> None:
    """One helper does what this process does; two do twice the work, and the same each time."""
    alone = planned(month(), seconds=0.5, seed=seed)
    assert check_plan(alone) == ()
    assert any(one.note.startswith("Packing by outline instead of by box saved") for one in alone.groups)
    assert planned(month(), seconds=0.5, seed=seed).groups == alone.groups
    with ProcessPoolExecutor(1, get_context("spawn")) as executor:
        assert planned(month(), seconds=0.5, seed=seed, executor=executor).groups == alone.groups
    with ProcessPoolExecutor(2, get_context("spawn")) as executor:
        first = planned(month(), seconds=0.5, seed=seed, executor=executor)
        assert planned(month(), seconds=0.5, seed=seed, executor=executor).groups == first.groups
