"""True shapes at scale: 20 outline types on 48 x 96 in sheets, and a kit of 460 pieces.

The shapes are our own: brackets, gussets, rings, angles, slotted tabs, flanges, in several sizes.
"""

import time
from collections.abc import Sequence

import psutil
import rectpack
import shapely

from sheetplan.checking import check_layout
from sheetplan.model import (
    CuttingRule,
    Group,
    Layout,
    Material,
    Outline,
    Part,
    Placement,
    SheetSize,
    rectangle,
)
from sheetplan.packing import Blank, Item
from sheetplan.packing.outlines import OutlinePacker, Pattern
from sheetplan.shapes import area
from sheetplan.trade.units import Units
from tests.bench.options import Options
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
BLANK = Blank(rectangle(LENGTH, WIDTH).outer, (), MARGIN, GAP)

PIECES = (300, 1000, 3000, 6000)
FIRST_BAR_SECONDS = 10.0
KIT_SECONDS = (2.0, 60.0)
KITS = 20
PASSES_A_SECOND = 150
"""More than a machine does, so that the clock ends the run; half of them, at most, are orders."""
MOST_PASSES = 4000


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


def solve_pieces(instance: str, options: Options) -> dict[str, object]:
    parts = twenty_types()
    total = int(instance.split()[0])
    items = [Item(p, total // len(parts), area(p.outline)) for p in parts]
    OutlinePacker(parts[:2]).fill(BLANK, [Item(parts[0], 2, 1.0)], seed=1, effort=60)
    begun = time.monotonic()
    patterns = OutlinePacker(parts).fill_sheets(BLANK, items, seed=options.seed)
    first = time.monotonic() - begun
    row: dict[str, object] = {
        "instance": instance,
        "first s": first,
        "pieces/s": total / first,
        "sheets": sheets_of(patterns),
        "layouts": len(patterns),
        "yield %": 100.0 * sum(i.available * i.value for i in items) / (sheets_of(patterns) * LENGTH * WIDTH),
    }
    if options.seconds:
        end = time.monotonic() + options.seconds
        patterns = OutlinePacker(parts).fill_sheets(
            BLANK, items, seed=options.seed, effort=MOST_PASSES, stop=lambda: time.monotonic() > end
        )
        row[f"sheets {options.seconds:g} s"] = sheets_of(patterns)
    row["faults"] = len(judged(parts, items, patterns))
    row["MB"] = psutil.Process().memory_info().rss / 2**20
    return row


def solve_kit(instance: str, options: Options) -> dict[str, object]:
    parts = tuple(part(name, outline) for name, outline in KIT_OUTLINES.items())
    items = [Item(p, KITS * KIT_PIECES[p.name], area(p.outline)) for p in parts]
    OutlinePacker(parts[:2]).fill(BLANK, [Item(parts[0], 2, 1.0)], seed=1, effort=60)
    seconds = float(instance.split()[1])
    end = time.monotonic() + seconds
    packer = OutlinePacker(parts)
    patterns = packer.fill_sheets(
        BLANK,
        items,
        seed=options.seed,
        effort=int(PASSES_A_SECOND * seconds),
        stop=lambda: time.monotonic() > end,
    )
    spent = time.monotonic() - end + seconds
    boxes = boxes_with_holes(parts)
    used = share_of_last(parts, patterns[-1].placements)
    return {
        "instance": instance,
        "pieces": sum(item.available for item in items),
        "sheets": sheets_of(patterns),
        "sheets and share": sheets_of(patterns) - 1 + used,
        "box sheets": boxes[0],
        "boxes and share": boxes[1],
        "metal in sheets": sum(i.available * i.value for i in items) / (LENGTH * WIDTH),
        "seconds": spent,
        "faults": len(judged(parts, items, patterns)),
        "MB": psutil.Process().memory_info().rss / 2**20,
    }


def sheets_of(patterns: Sequence[Pattern]) -> int:
    return sum(pattern.repeats for pattern in patterns)


def share_of_last(parts: Sequence[Part], placements: Sequence[Placement]) -> float:
    by_name = {p.name: p for p in parts}
    return max(lying(by_name, p).bounds[2] for p in placements) / LENGTH


def judged(parts: Sequence[Part], items: Sequence[Item], patterns: Sequence[Pattern]) -> list[str]:
    """Faults that the independent check finds, and counts that do not match."""
    found: list[str] = []
    made: dict[str, int] = {}
    sheet = SheetSize("48 x 96", "mild steel", PLATE, LENGTH, WIDTH)
    rule = CuttingRule("mild steel", PLATE, 0.0, GAP, MARGIN)
    group = Group("mild steel 3 mm", Material("mild steel", "", 7850.0), PLATE, rule, (), (sheet,), ())
    by_name = {p.name: p for p in parts}
    for number, pattern in enumerate(patterns):
        layout = Layout(f"L{number + 1}", sheet, pattern.placements, pattern.repeats)
        found += [fault.what for fault in check_layout(layout, group, by_name, Units.INCH).faults]
        for placement in pattern.placements:
            made[placement.part] = made.get(placement.part, 0) + pattern.repeats
    return found + [i.part.name for i in items if made.get(i.part.name, 0) != i.available]


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
