"""A small month of the harbour workshop, planned by hand: two gauges, a remnant, a short order."""

from __future__ import annotations

import pytest

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
    Problem,
    Remnant,
    Settings,
    SheetCount,
    SheetSize,
    Weight,
    rectangle,
)
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import Units

INCH = 25.4
TEN = Thickness(3.416, "10 ga")
QUARTER = Thickness(6.35, '1/4"')


def circle(x: float, y: float, radius: float) -> Loop:
    return Loop(((x - radius, y, 1.0), (x + radius, y, 1.0)))


def ring(outer: float, inner: float) -> Outline:
    return Outline(circle(outer, outer, outer), (circle(outer, outer, inner),))


def rows(
    part: str,
    count: int,
    start: tuple[float, float],
    step: tuple[float, float],
    across: int,
    turn: float = 0.0,
) -> list[Placement]:
    """So many of a part in a grid, ``across`` to the row, lengths in inches."""
    return [
        Placement(
            part,
            (start[0] + step[0] * (i % across)) * INCH,
            (start[1] + step[1] * (i // across)) * INCH,
            turn,
        )
        for i in range(count)
    ]


def parts() -> dict[str, Part]:
    boxes = {
        "CB-101": (12.0, 6.0, TEN),
        "CB-102": (4.0, 3.0, TEN),
        "LR-210": (30.0, 2.0, TEN),
        "FP-7": (1.0, 0.75, TEN),
        "BK-300 gusset, left hand": (10.0, 10.0, QUARTER),
    }
    made = {
        name: Part(name, "mild steel", thickness, rectangle(length * INCH, width * INCH))
        for name, (length, width, thickness) in boxes.items()
    }
    made["RG-9"] = Part("RG-9", "mild steel", QUARTER, ring(7 * INCH, 5 * INCH))
    made["WS-1"] = Part("WS-1", "mild steel", QUARTER, ring(1.5 * INCH, 0.5 * INCH))
    return made


def job(units: Units = Units.INCH) -> Job:
    rules = tuple(
        CuttingRule(
            "mild steel",
            thickness,
            1.5,
            6.35,
            6.35,
            feed=2500.0,
            pierce_seconds=0.5,
            pierce_cost=0.04,
            hour_cost=95.0,
        )
        for thickness in (TEN, QUARTER)
    )
    return Job(
        settings=Settings(units=units),
        materials={"mild steel": Material("mild steel", "carbon steel", 7850.0)},
        rules=rules,
        parts=parts(),
        kits={
            "cleat set": Kit("cleat set", {"CB-101": 1, "CB-102": 4, "RG-9": 1}),
            "ladder rail": Kit("ladder rail", {"LR-210": 2, "CB-102": 2, "WS-1": 2}),
            "fender plate": Kit("fender plate", {"FP-7": 1, "BK-300 gusset, left hand": 1}),
        },
        orders=(
            Order("H-2041", "cleat set", 8, due="2026-11-20", line=5),
            Order("H-2042", "ladder rail", 6, due="2026-11-12", line=6),
            Order("H-2043", "fender plate", 4, must=False, line=7),
            Order("H-2044", "WS-1", 3, line=8),
        ),
        stock=(
            SheetSize(
                "MS10-4x8", "mild steel", TEN, 96 * INCH, 48 * INCH, 1, 92.5, None, 5, "Quay Metals", "A2"
            ),
            SheetSize(
                "MS25-4x8", "mild steel", QUARTER, 96 * INCH, 48 * INCH, 2, 210.0, None, 1, "Quay Metals"
            ),
        ),
        remnants=(remnant(),),
    )


def remnant() -> Remnant:
    edge = Loop(
        tuple((x * INCH, y * INCH, 0.0) for x, y in ((0, 0), (40, 0), (40, 24), (28, 24), (28, 48), (0, 48)))
    )
    cuts = (circle(34 * INCH, 6 * INCH, 5 * INCH), rectangle(10 * INCH, 6 * INCH).outer)
    return Remnant("R-017", "mild steel", QUARTER, edge, cuts, rack_place="R1", value=40.0)


def plan_of(job: Job) -> Plan:
    thin = Layout(
        "L1",
        job.stock[0],
        tuple(
            rows("CB-101", 4, (0.25, 0.25), (12.25, 6.25), 4)
            + rows("CB-102", 22, (0.25, 6.5), (4.25, 3.25), 11)
            + rows("LR-210", 6, (0.25, 13.0), (30.25, 2.25), 3)
            + rows("FP-7", 2, (0.25, 18.0), (1.25, 1.0), 2)
        ),
        2,
    )
    thick = Layout(
        "L2",
        job.remnants[0],
        tuple(
            rows("RG-9", 2, (0.25, 6.5), (14.25, 0.0), 2)
            + rows("WS-1", 2, (5.75, 12.0), (14.25, 0.0), 2)
            + rows("BK-300 gusset, left hand", 2, (0.25, 21.0), (10.25, 0.0), 2)
            + rows("WS-1", 13, (0.25, 32.0), (3.25, 3.25), 6)
        ),
    )
    spare_sheet = Layout("L3", job.stock[1], tuple(rows("RG-9", 6, (0.25, 0.25), (14.25, 14.25), 6)))
    needs = {
        "10 ga": ("CB-101", "CB-102", "LR-210", "FP-7"),
        '1/4"': ("RG-9", "WS-1", "BK-300 gusset, left hand"),
    }
    groups = {
        text: Group(
            f"mild steel {text}",
            job.materials["mild steel"],
            rule.thickness,
            rule,
            tuple(
                Need(
                    index,
                    part,
                    order.item if order.item in job.kits else "",
                    order.quantity * each,
                    order.must,
                )
                for index, order in enumerate(job.orders)
                for part, each in (
                    job.kits[order.item].parts if order.item in job.kits else {order.item: 1}
                ).items()
                if part in needs[text]
            ),
            (sheet,),
            remnants,
        )
        for text, rule, sheet, remnants in (
            ("10 ga", job.rules[0], job.stock[0], ()),
            ('1/4"', job.rules[1], job.stock[1], job.remnants),
        )
    }
    return Plan(
        job,
        (
            GroupPlan(groups["10 ga"], (thin,), (SheetCount(job.stock[0], 2, 1, 5),), {}, 185.0, bound=180.0),
            GroupPlan(
                groups['1/4"'], (thick, spare_sheet), (SheetCount(job.stock[1], 1, 1, 0),), {}, 250.0
            ),
        ),
        problems=(
            Problem("Parts", 12, "E12", "The width is 0.", "Write a width above 0.", Weight.LEFT_OUT),
            Problem("Stock", None, None, "No price is given.", "Fill the column Price.", Weight.NOTE),
        ),
    )


@pytest.fixture
def inch_plan() -> Plan:
    return plan_of(job())


@pytest.fixture
def mm_plan() -> Plan:
    return plan_of(job(Units.MM))
