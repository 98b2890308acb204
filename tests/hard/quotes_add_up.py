"""Seeded small order books: what their orders add to an empty month is what the month costs.

    python -m tests.hard.quotes_add_up --count 50
"""

from __future__ import annotations

import argparse
import datetime
import random
from dataclasses import replace

from sheetplan.app.quote_plans import Month, planned_with
from sheetplan.model import Job, Kit, Order, Plan, Settings, rectangle
from sheetplan.money.figures import plan_figures
from sheetplan.money.quoting import CUTTING, QuoteCost, added_cost, whole_cost
from sheetplan.planning import RunOptions
from tests.money.bookmaking import RULE, SHEET, STEEL, parts

TODAY = datetime.date(2026, 11, 30)
OPTIONS = RunOptions(0.2, 1)
AMOUNTS = ("metal", "machine", "consumables", "hands", "scrap", "kept", "to_pay", "machine_minutes", "total")


def small_book(seed: int) -> Job:
    """A book of three parts and a kit, on sheets partly on hand, with hands and scrap that cost something."""
    chance = random.Random(seed)
    book = parts(**{
        name: rectangle(chance.uniform(60.0, 700.0), chance.uniform(40.0, 500.0)) for name in ("a", "b", "c")
    })  # fmt: skip
    kits = {"set": Kit("set", {"a": chance.randint(1, 3), "b": chance.randint(1, 4)})}
    orders = tuple(
        Order(f"H-{number}", chance.choice(("a", "b", "c", "set")), chance.randint(1, 25))
        for number in range(chance.randint(1, 4))
    )
    sheet = replace(SHEET, on_hand=chance.randint(0, 3), multiple=chance.randint(1, 3),
                    price=round(chance.uniform(80.0, 400.0), 2))  # fmt: skip
    settings = Settings(load_minutes=3.0, unload_minutes=chance.uniform(0.0, 9.0), clean_minutes=1.0,
                        hand_hour=45.0)  # fmt: skip
    metal = replace(STEEL, scrap_price=0.1)
    return Job(settings, {metal.name: metal}, (RULE,), book, kits, orders, (sheet,))


def faults_of(seed: int) -> list[str]:
    """What does not add up in one book: all orders at once, and one after another."""
    job = small_book(seed)
    empty = Plan(replace(job, orders=()), ())
    nothing = whole_cost(empty, plan_figures(empty))
    whole = planned_with(empty, empty.job, job.orders, OPTIONS)
    cost = whole_cost(whole, plan_figures(whole))
    found = _differ("all at once", added_cost(nothing, cost), cost)
    figures = plan_figures(whole).total.money
    if abs(cost.total + cost.scrap - figures.net) > 1e-6:
        found.append(f"the cost {cost.total + cost.scrap} is not the plan's own {figures.net}")
    plan, last, steps = empty, nothing, []
    for order in job.orders:
        plan = planned_with(plan, plan.job, (order,), OPTIONS)
        now = whole_cost(plan, plan_figures(plan))
        steps.append(added_cost(last, now))
        last = now
    for name in AMOUNTS:
        lucky = name in ("metal", "total")
        if name in CUTTING and any(one.left_out for one in steps):
            continue  # what spare pieces no longer take is held against the total
        spared = name == "total"
        together = sum(
            getattr(one, name) - (one.saved if lucky else 0.0) - (one.left_out if spared else 0.0)
            for one in steps
        )
        if abs(together - getattr(last, name)) > 1e-6:
            found.append(f"one by one: {name} adds up to {together}, the plan has {getattr(last, name)}")
    month = Month.of(plan, {}, TODAY)
    if planned_with(month.plan, plan.job, (), OPTIONS) is not plan:
        found.append("a quote of nothing makes another plan")
    return found


def _differ(what: str, one: QuoteCost, other: QuoteCost) -> list[str]:
    pairs = ((name, getattr(one, name), getattr(other, name)) for name in AMOUNTS)
    return [f"{what}: {name} {a} against {b}" for name, a, b in pairs if abs(a - b) > 1e-6]


def main() -> None:
    """Try so many books."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=50)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    bad = 0
    for seed in range(given.seed, given.seed + given.count):
        for fault in faults_of(seed):
            bad += 1
            print(f"seed {seed}: {fault}")
    print(f"{given.count} books, {bad} faults")
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
