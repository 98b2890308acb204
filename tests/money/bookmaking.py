"""A small order book with plans laid by hand, for the tests of money."""

from __future__ import annotations

from collections.abc import Sequence

from sheetplan.model import (
    CuttingRule,
    Group,
    GroupPlan,
    Job,
    Kit,
    Layout,
    Loop,
    Material,
    Need,
    Order,
    Outline,
    Part,
    Placement,
    Plan,
    Remnant,
    Settings,
    SheetCount,
    SheetSize,
    rectangle,
)
from sheetplan.money.layout_figures import LayoutFigures
from sheetplan.money.month import Cut
from sheetplan.trade.thickness import Thickness

INCH = 25.4
STEEL = Material("mild steel", "carbon steel", 7850.0)
QUARTER = Thickness(6.35, "1/4 in")
RULE = CuttingRule(
    "mild steel", QUARTER, kerf=2.0, gap=10.0, margin=10.0, least_hole=5.0, feed=2000.0,
    pierce_seconds=1.0, pierce_cost=0.05, hour_cost=90.0,
)  # fmt: skip
SHEET = SheetSize(
    "4x8", "mild steel", QUARTER, 96 * INCH, 48 * INCH, on_hand=1, price=320.0, supplier="Quay Metals"
)


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def ring(outer: float, inner: float) -> Outline:
    return Outline(circle(outer, outer, outer), (circle(outer, outer, inner),))


def parts(**outlines: Outline) -> dict[str, Part]:
    return {name: Part(name, "mild steel", QUARTER, outline) for name, outline in outlines.items()}


PARTS = parts(
    plate=rectangle(300.0, 200.0),
    washer=ring(40.0, 15.0),
    bar=rectangle(600.0, 50.0),
    disc=Outline(circle(50, 50, 50)),
)


def needs(orders: Sequence[Order], kits: dict[str, Kit]) -> tuple[Need, ...]:
    found = []
    for index, order in enumerate(orders):
        kit = kits.get(order.item)
        for part, each in (kit.parts if kit else {order.item: 1}).items():
            found.append(Need(index, part, kit.name if kit else "", each * order.quantity, order.must))
    return tuple(found)


def plan_of(
    layouts: Sequence[Layout], *, orders: Sequence[Order] = (), kits: dict[str, Kit] | None = None,
    rule: CuttingRule = RULE, stock: Sequence[SheetSize] = (SHEET,), settings: Settings | None = None,
    book: dict[str, Part] | None = None,
) -> Plan:  # fmt: skip
    """A plan of one gauge; sheets are counted from the layouts, the rack first."""
    kits = kits or {}
    job = Job(
        settings or Settings(), {STEEL.name: STEEL}, (rule,), book or PARTS, kits, tuple(orders), tuple(stock)
    )
    remnants = tuple(layout.sheet for layout in layouts if isinstance(layout.sheet, Remnant))
    group = Group("mild steel 1/4 in", STEEL, QUARTER, rule, needs(orders, kits), tuple(stock), remnants)
    counts = []
    for sheet in stock:
        used = sum(layout.repeats for layout in layouts if layout.sheet == sheet)
        from_rack = min(used, sheet.on_hand)
        lots = -(-(used - from_rack) // sheet.multiple)
        if used:
            counts.append(SheetCount(sheet, used, from_rack, lots * sheet.multiple))
    cost = sum(
        layout.repeats * (layout.sheet.value if isinstance(layout.sheet, Remnant) else layout.sheet.price)
        for layout in layouts
    )
    return Plan(job, (GroupPlan(group, tuple(layouts), tuple(counts), {}, cost),))


def grid(part: str, columns: int, rows: int, pitch: tuple[float, float]) -> list[Placement]:
    """Rows and columns of a part from (10, 10) on."""
    return [
        Placement(part, 10.0 + i * pitch[0], 10.0 + j * pitch[1])
        for i in range(columns)
        for j in range(rows)
    ]


def cut_of(figures: LayoutFigures, gauge: str, date: str, repeats: int, bad_weight: float = 0.0) -> Cut:
    """What the log keeps of a layout cut so many times, of which so many kg of parts came out bad."""
    return Cut(
        date, gauge, figures.split.times(repeats).rejecting(bad_weight),
        figures.metal_cost * repeats, figures.kept_value * repeats,
    )  # fmt: skip
