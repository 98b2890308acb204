"""Order books for tests, and a plain reading of what a plan does on its sheets."""

import random
from collections import Counter

from sheetplan.model import (
    CuttingRule,
    Grain,
    GroupPlan,
    Job,
    Layout,
    Material,
    Order,
    Part,
    Placement,
    Remnant,
    Settings,
    SheetSize,
    rectangle,
)  # fmt: skip
from sheetplan.trade.thickness import Thickness

INCH = 25.4

PLAIN = Settings(on_hand_share=1.0, remnant_share=0.0)
"""Metal on hand counts as much as bought metal, what goes back for nothing: sums of prices, as in papers."""
TEN_GAUGE = Thickness(3.4163, "10 ga")
STEEL = Material("Carbon steel", "carbon steel", 7850.0)


def rule(gap: float = 0.25 * INCH, margin: float = 0.5 * INCH) -> CuttingRule:
    return CuttingRule(STEEL.name, TEN_GAUGE, 0.06 * INCH, gap, margin)


def part(name: str, length: float, width: float, **more: object) -> Part:
    return Part(name, STEEL.name, TEN_GAUGE, rectangle(length, width), **more)


def sheet(name: str, length: float, width: float, **more: object) -> SheetSize:
    return SheetSize(name, STEEL.name, TEN_GAUGE, length, width, **more)


def remnant(tag: str, length: float, width: float, **more: object) -> Remnant:
    return Remnant(tag, STEEL.name, TEN_GAUGE, rectangle(length, width).outer, **more)


def job(
    parts: list[Part], orders: list[Order], stock: list[SheetSize], remnants: list[Remnant] | None = None,
    *, cutting: CuttingRule | None = None, settings: Settings | None = None,
) -> Job:  # fmt: skip
    return Job(
        settings or PLAIN, {STEEL.name: STEEL}, (cutting or rule(),), {p.name: p for p in parts}, {},
        tuple(orders), tuple(stock), tuple(remnants or ()),
    )  # fmt: skip


def seeded_book(seed: int, types: int = 20, pieces: int = 150, sizes: int = 3) -> Job:
    """A shop-like book: plates from 3 to 40 inches in eighths, quantities spread widely, some with grain."""
    chance = random.Random(seed)

    def eighths(low: float, high: float) -> float:
        return chance.randint(int(low * 8), int(high * 8)) / 8 * INCH

    grains = (Grain.NONE, Grain.NONE, Grain.NONE, Grain.LENGTH, Grain.WIDTH)
    parts = [part(f"P{i}", eighths(3, 40), eighths(3, 24), grain=chance.choice(grains)) for i in range(types)]
    weights = [chance.lognormvariate(0, 1) for _ in parts]
    counts = [max(1, round(pieces * w / sum(weights))) for w in weights]
    asked = enumerate(zip(parts, counts, strict=True))
    orders = [Order(f"O{i}", p.name, n, line=i + 2) for i, (p, n) in asked]
    stock = [
        sheet("48 x 96", 96 * INCH, 48 * INCH, on_hand=2, price=125.0),
        sheet("60 x 120", 120 * INCH, 60 * INCH, price=190.0),
        sheet("48 x 120", 120 * INCH, 48 * INCH, price=160.0, multiple=2),
    ]
    return job(parts, orders, stock[:sizes])


def boxes(layout: Layout, parts: dict[str, Part]) -> list[tuple[str, float, float, float, float]]:
    """Part and left, bottom, right, top of each placed rectangle (quarter turns only)."""
    return [(p.part, *_box(p, parts[p.part])) for p in layout.placements]


def _box(placement: Placement, made: Part) -> tuple[float, float, float, float]:
    xs, ys = (list(v) for v in zip(*((x, y) for x, y, _ in made.outline.outer.vertices), strict=True))
    for _ in range(round(placement.turn / 90) % 4):
        xs, ys = [-y for y in ys], xs
    return placement.x + min(xs), placement.y + min(ys), placement.x + max(xs), placement.y + max(ys)


def faults(layout: Layout, book: Job, tolerance: float = 1e-6) -> list[str]:
    """What breaks gap, margin or grain on a full sheet of rectangles, worked out anew."""
    cutting = book.rules[0]
    placed = boxes(layout, dict(book.parts))
    length = max(x for x, _, _ in _edge(layout)) - cutting.margin + tolerance
    width = max(y for _, y, _ in _edge(layout)) - cutting.margin + tolerance
    low = cutting.margin - tolerance
    found = [
        f"{name} leaves the sheet" for name, x0, y0, x1, y1 in placed
        if x0 < low or y0 < low or x1 > length or y1 > width
    ]  # fmt: skip
    for i, (a, ax0, ay0, ax1, ay1) in enumerate(placed):
        for b, bx0, by0, bx1, by1 in placed[:i]:
            apart = max(bx0 - ax1, ax0 - bx1, by0 - ay1, ay0 - by1)
            if apart < cutting.gap - tolerance:
                found.append(f"{a} and {b} are {apart} apart")
    return found


def _edge(layout: Layout) -> tuple[tuple[float, float, float], ...]:
    if isinstance(layout.sheet, Remnant):
        return layout.sheet.edge.vertices
    return rectangle(layout.sheet.length, layout.sheet.width).outer.vertices


def made(plan: GroupPlan) -> Counter[str]:
    count: Counter[str] = Counter()
    for layout in plan.layouts:
        for placement in layout.placements:
            count[placement.part] += layout.repeats
    return count
