"""Plans for tests of the pages for the browser: with hostile names, and with very many pieces."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import replace

from sheetplan.model import Group, GroupPlan, Job, Kit, Layout, Need, Part, Placement, Plan, SheetSize
from sheetplan.money.cutting_plan import days_of, timetable
from sheetplan.money.figures import plan_figures
from sheetplan.pages.floor.plan import plan_page_html
from sheetplan.pages.ticket_facts import Issue
from sheetplan.planning.order_book import sheet_counts
from sheetplan.shapes import size
from tests.demo import demo_job

TODAY = datetime.date(2026, 11, 10)
MARK = "KRTM"
BOOK = "harbour.xlsx"


def page_of(plan: Plan, *, mark: str = MARK, book: str = BOOK) -> bytes:
    """The page of a plan as a run writes it."""
    figures = plan_figures(plan)
    days = timetable(plan, days_of(plan, figures, today=TODAY))
    tags = (layout.tag for group in plan.groups for layout in group.layouts)
    drawings = {tag: f"{mark}-{tag}.dxf" for tag in tags}
    return plan_page_html(Issue(plan, figures, TODAY, mark, drawings, days), book)


HOSTILE = (
    '<script>window.ran="name"</script>',
    "</script><img src=x onerror=\"window.ran='image'\">",
    "]]><svg onload=window.ran=1>&lt;b&gt;&amp;",
    "\"' onmouseover=window.ran=2 x='",
    "a\x00b\x07c\x1b[31m\u202egnp.exe\u2028\u2029",
    "javascript:window.ran=3//{{7*7}}${7*7}",
    "\u05e9\u05dc\u05d5\u05dd \u0627\u0644\u0645\u0631\u0633\u0649 (12 ga)",
    ("W" * 119) + "é",
    "</style><style>*{display:none}",
    "--><!--<b>",
    "__proto__",
    "constructor",
)
"""Names that a page could take for its own: markup, script, entities, control characters, both ways."""


def with_names(plan: Plan, named: Callable[[str], str]) -> Plan:
    """The plan with every name of its book replaced, each by one of its own."""
    job = plan.job
    parts = {
        named(one.name): replace(one, name=named(one.name), description=named(f"about {one.name}"))
        for one in job.parts.values()
    }
    kits = {
        named(kit.name): Kit(named(kit.name), {named(part): count for part, count in kit.parts.items()})
        for kit in job.kits.values()
    }
    orders = tuple(replace(one, name=named(one.name), item=named(one.item)) for one in job.orders)
    stock = tuple(_sheet(one, named) for one in job.stock)
    remnants = tuple(replace(one, rack_place=named(one.rack_place)) for one in job.remnants)
    new = replace(job, parts=parts, kits=kits, orders=orders, stock=stock, remnants=remnants)
    sheets = dict(zip((*job.stock, *job.remnants), (*stock, *remnants), strict=True))
    groups = []
    for one in plan.groups:
        group = replace(
            one.group, label=named(one.group.label), stock=tuple(sheets[s] for s in one.group.stock),  # type: ignore[misc]
            remnants=tuple(sheets[s] for s in one.group.remnants),  # type: ignore[misc]
            needs=tuple(
                replace(need, part=named(need.part), kit=named(need.kit) if need.kit else "")
                for need in one.group.needs
            ),
        )
        layouts = tuple(
            replace(
                layout, sheet=sheets[layout.sheet],
                placements=tuple(replace(p, part=named(p.part)) for p in layout.placements),
            )
            for layout in one.layouts
        )
        counts = tuple(replace(count, sheet=sheets[count.sheet]) for count in one.sheets)  # type: ignore[arg-type]
        groups.append(replace(one, group=group, layouts=layouts, sheets=counts))
    return replace(plan, job=new, groups=tuple(groups))


def _sheet(sheet: SheetSize, named: Callable[[str], str]) -> SheetSize:
    return replace(sheet, name=named(sheet.name), rack_place=named(sheet.rack_place))


def hostile_plan(plan: Plan) -> Plan:
    """The plan with hostile names in every field, no two of them alike."""
    given: dict[str, str] = {}

    def named(text: str) -> str:
        if text not in given:
            number = len(given)
            given[text] = f"{HOSTILE[number % len(HOSTILE)]}{number // len(HOSTILE) or ''}"
        return given[text]

    return with_names(plan, named)


def many_pieces(count: int, each: int = 100) -> Plan:
    """A plan of so many pieces, ``each`` to a sheet: the demo's drawn parts in rows on wide sheets."""
    job = demo_job()
    rule = job.rules[0]
    parts = [part for part in job.parts.values() if part.outline.holes]
    pitch = max(max(size(part.outline)) for part in parts) + 10.0
    across = round(each**0.5 * 1.4)
    sheet = SheetSize(
        "WIDE", rule.material, rule.thickness, pitch * across + 20.0, pitch * (each // across + 1) + 20.0,
        10_000, 100.0,
    )  # fmt: skip
    layouts = []
    made: dict[str, int] = {}
    for number, start in enumerate(range(0, count, each), start=1):
        laid = []
        for place in range(min(each, count - start)):
            part = parts[(start + place) % len(parts)]
            made[part.name] = made.get(part.name, 0) + 1
            x, y = 10.0 + place % across * pitch, 10.0 + place // across * pitch
            laid.append(Placement(part.name, x, y))
        layouts.append(Layout(f"L{number}", sheet, tuple(laid)))
    return _plan(job, parts, rule.material, sheet, layouts, made)


def _plan(
    job: Job, parts: list[Part], metal: str, sheet: SheetSize, layouts: list[Layout], made: dict[str, int]
) -> Plan:
    rule = job.rules[0]
    own = {part.name: replace(part, material=metal, thickness=rule.thickness) for part in parts}
    orders = tuple(
        replace(job.orders[0], name=f"H-{number}", item=part, quantity=pieces, due="2026-12-04")
        for number, (part, pieces) in enumerate(made.items(), start=1)
    )
    needs = tuple(Need(i, one.item, "", one.quantity, True) for i, one in enumerate(orders))
    group = Group(metal, job.materials[metal], rule.thickness, rule, needs, (sheet,), ())
    new = replace(job, parts=own, kits={}, orders=orders, stock=(sheet,), remnants=())
    return Plan(new, (GroupPlan(group, tuple(layouts), sheet_counts(group, layouts), {}, 0.0),))
