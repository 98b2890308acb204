"""True shapes at scale: 20 outline types on 48 x 96 in sheets, and a kit of 460 pieces, on one core.

The shapes are our own: brackets, gussets, rings, angles, slotted tabs, flanges, in several sizes.
"""

import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

import psutil
import rectpack
import shapely

from sheetplan.checking import check_plan
from sheetplan.model import (
    CuttingRule,
    Job,
    Layout,
    Material,
    Order,
    Outline,
    Part,
    Placement,
    Plan,
    Settings,
    SheetSize,
)
from sheetplan.planning import RunOptions, never, plan_job, quiet
from sheetplan.planning.gauge_work import BEGINNING, FIRST_EPOCHS, begin_gauge, looks_for
from sheetplan.planning.grouping import make_groups
from sheetplan.planning.readying import make_kernels_ready
from sheetplan.shapes import area
from tests.bench.options import Options
from tests.bench.plain_settings import plain_settings
from tests.packing.outlines.shop import (
    INCH,
    KIT_OUTLINES,
    KIT_PIECES,
    PLATE,
    circle,
    loop,
    lying,
    part,
    polygon,
    ring,
)

LENGTH, WIDTH, MARGIN, GAP = 96 * INCH, 48 * INCH, 0.5 * INCH, 0.25 * INCH
STEEL = "mild steel"

PIECES = (300, 1000, 3000, 6000)
FIRST_BAR_SECONDS = 10.0
LATER_SECONDS = 2.0
FIRST_SECONDS = FIRST_EPOCHS[0] * BEGINNING
"""What a run gives the first plans."""

KIT_SECONDS = (2.0, 60.0)
KITS = 20


def twenty_types() -> tuple[Part, ...]:
    """The kit's shapes in two or three sizes, and a few plates."""
    outlines: dict[str, Outline] = dict(KIT_OUTLINES)
    for k, leg in enumerate((5.0, 8.0, 18.0)):
        outlines[f"gusset {leg:g}"] = Outline(loop((0, 0), (leg, 0), (leg, 1), (1, leg), (0, leg)))
        outlines[f"angle {leg:g}"] = Outline(
            loop((0, 0), (leg, 0), (leg, 1.5 + k / 2), (2, 1.5 + k / 2), (2, leg * 0.7), (0, leg * 0.7))
        )
        outlines[f"flange {leg:g}"] = ring(leg / 2, leg / 6)
    outlines["base plate"] = Outline(loop((0, 0), (10, 0), (10, 8), (0, 8)), (circle(5, 4, 1.5),))
    outlines["end plate"] = Outline(loop((0, 0), (7, 0), (9, 3), (9, 6), (0, 6)))
    outlines["wedge"] = Outline(loop((0, 0), (15, 0), (15, 2), (0, 5)))
    assert len(outlines) == 20
    return tuple(part(name, outline) for name, outline in outlines.items())


def instances(options: Options) -> Sequence[str]:
    return [*(f"{pieces} pieces" for pieces in PIECES), *(f"kit {seconds:g} s" for seconds in KIT_SECONDS)]


def solve(instance: str, options: Options) -> dict[str, object]:
    return solve_kit(instance, options) if instance.startswith("kit") else solve_pieces(instance, options)


def book(parts: Sequence[Part], counts: Mapping[str, int]) -> Job:
    """A book of one gauge on sheets of price 1, so that sheets are counted."""
    sheet = SheetSize("48 x 96", STEEL, PLATE, LENGTH, WIDTH, price=1.0)
    return Job(
        plain_settings(),
        {STEEL: Material(STEEL, "carbon steel", 7850.0)},
        (CuttingRule(STEEL, PLATE, 0.0, GAP, MARGIN),),
        {p.name: p for p in parts},
        {},
        tuple(Order(name, name, count) for name, count in counts.items()),
        (sheet,),
    )


def solve_pieces(instance: str, options: Options) -> dict[str, object]:
    """The first plan, which a run has however little time it is given, and the one after some seconds."""
    parts = twenty_types()
    total = int(instance.split()[0])
    job = book(parts, {p.name: total // len(parts) for p in parts})
    seconds = options.seconds or LATER_SECONDS
    make_kernels_ready(shapes=True, report=quiet)
    (group,) = make_groups(job)[0]
    begun = time.monotonic()
    work = begin_gauge(group, job.parts, job.settings, options.seed, looks_for(FIRST_SECONDS), never)
    first = time.monotonic() - begun
    assert work.best is not None
    before = round(sum(work.best.picks.values()))
    plan = plan_job(job, RunOptions(seconds, options.seed))
    layouts = [layout for planned in plan.groups for layout in planned.layouts]
    sheets = sheets_of(layouts)
    metal = sum(total // len(parts) * area(p.outline) for p in parts)
    return {
        "instance": instance,
        "first s": first,
        "pieces/s": total / first,
        "first sheets": before,
        f"sheets {seconds:g} s": sheets,
        "layouts": len(layouts),
        "yield %": 100.0 * metal / (sheets * LENGTH * WIDTH),
        "faults": len(judged(plan)),
        "MB": psutil.Process().memory_info().rss / 2**20,
    }


def solve_kit(instance: str, options: Options) -> dict[str, object]:
    parts = tuple(part(name, outline) for name, outline in KIT_OUTLINES.items())
    counts = {p.name: KITS * KIT_PIECES[p.name] for p in parts}
    seconds = options.seconds or float(instance.split()[1])
    make_kernels_ready(shapes=True, report=quiet)
    begun = time.monotonic()
    # The last sheet is judged by the length that is used, so what goes back to the rack has to count.
    job = replace(book(parts, counts), settings=Settings(on_hand_share=1.0))
    plan = plan_job(job, RunOptions(seconds, options.seed))
    spent = time.monotonic() - begun
    layouts = [layout for group in plan.groups for layout in group.layouts]
    boxes = boxes_with_holes(parts)
    used = min(used_share(parts, layout.placements) for layout in layouts)
    return {
        "instance": instance,
        "pieces": sum(counts.values()),
        "sheets": sheets_of(layouts),
        "sheets and share": sheets_of(layouts) - 1 + used,
        "box sheets": boxes[0],
        "boxes and share": boxes[1],
        "metal in sheets": sum(counts[p.name] * area(p.outline) for p in parts) / (LENGTH * WIDTH),
        "seconds": spent,
        "faults": len(judged(plan)),
        "MB": psutil.Process().memory_info().rss / 2**20,
    }


def sheets_of(layouts: Sequence[Layout]) -> int:
    return sum(layout.repeats for layout in layouts)


def used_share(parts: Sequence[Part], placements: Sequence[Placement]) -> float:
    """Share of the sheet's length up to the far end of the parts: the margin before them counts."""
    by_name = {p.name: p for p in parts}
    return max(lying(by_name, p).bounds[2] for p in placements) / LENGTH


def judged(plan: Plan) -> list[str]:
    """Faults that the independent check finds, and counts that do not match."""
    made = Counter[str]()
    for group in plan.groups:
        for layout in group.layouts:
            for placement in layout.placements:
                made[placement.part] += layout.repeats
    wanted = {order.item: order.quantity for order in plan.job.orders}
    wrong = [name for name in wanted if made[name] != wanted[name]]
    return [*(str(fault) for fault in check_plan(plan)), *wrong]


def boxes_with_holes(parts: Sequence[Part]) -> tuple[int, float]:
    """Sheets for least-area turned boxes, by the best of rectpack's packers.

    Boxes that fit into the square inside a round hole are credited to the holes first.
    """
    boxes = []
    for p in parts:
        turned = polygon(p.outline).minimum_rotated_rectangle
        corners = list(turned.exterior.coords)
        sides = sorted(shapely.Point(corners[k]).distance(shapely.Point(corners[k + 1])) for k in (0, 1))
        boxes += [(sides[1] + GAP, sides[0] + GAP)] * (KITS * KIT_PIECES[p.name])
    # The ring's hole is 13 in across: the square in it takes the largest small boxes that fit.
    hole = 13 * INCH / 2**0.5 - GAP
    in_holes = fill_holes(boxes, hole, KITS * KIT_PIECES["ring"])
    best: tuple[int, float] = (10**6, 1e6)
    for algorithm in (rectpack.MaxRectsBssf, rectpack.MaxRectsBl, rectpack.MaxRectsBaf, rectpack.SkylineMwfl):
        packer = rectpack.newPacker(pack_algo=algorithm, rotation=True)
        for length, width in in_holes:
            packer.add_rect(round(length * 1000 + 1), round(width * 1000 + 1))
        size = (round((LENGTH - 2 * MARGIN + GAP) * 1000), round((WIDTH - 2 * MARGIN + GAP) * 1000))
        packer.add_bin(*size, count=100)
        packer.pack()
        if len(packer.rect_list()) < len(in_holes):
            continue
        last = max(rect.x + rect.width for rect in packer[len(packer) - 1]) / size[0]
        best = min(best, (len(packer), len(packer) - 1 + last), key=lambda b: b[1])
    return best


def fill_holes(boxes: Sequence[tuple[float, float]], side: float, holes: int) -> list[tuple[float, float]]:
    """The boxes that are left when each hole has taken what its square holds."""
    left = sorted(boxes, key=lambda b: -b[0] * b[1])
    small = [b for b in left if b[0] <= side + GAP and b[1] <= side + GAP]
    packer = rectpack.newPacker(rotation=True)
    for number, (length, width) in enumerate(small):
        packer.add_rect(round(length * 1000 + 1), round(width * 1000 + 1), rid=number)
    packer.add_bin(round((side + GAP) * 1000), round((side + GAP) * 1000), count=holes)
    packer.pack()
    taken = [small[rect[5]] for rect in packer.rect_list()]
    for box in taken:
        left.remove(box)
    return left


def summary(rows: Sequence[dict[str, object]], options: Options) -> Sequence[str]:
    counted = [row for row in rows if "first s" in row]
    if not counted:
        return []
    worst = max(float(str(row["first s"])) for row in counted)
    return [f"slowest first plan {worst:.2f} s (bar {FIRST_BAR_SECONDS:g} s for {PIECES[-1]} pieces)"]
