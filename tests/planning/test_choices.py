from functools import cache

from sheetplan.model import GroupPlan, Order, Plan, Settings
from sheetplan.planning import RunOptions, plan_job
from tests.planning.books import INCH, faults, job, made, part, seeded_book, sheet


@cache
def planned() -> Plan:
    book = seeded_book(5, types=12, pieces=80)
    return plan_job(book, RunOptions(2.0, clock=lambda: 0.0))


def bill(plan: GroupPlan) -> float:
    return sum(count.to_buy * count.sheet.price for count in plan.sheets)


def sheets(plan: GroupPlan) -> int:
    return sum(layout.repeats for layout in plan.layouts)


BETTER = {
    "least cost": lambda plan: plan.cost,
    "least to pay": bill,
    "fewest sheets": sheets,
    "fewest layouts": lambda plan: len(plan.layouts),
    "least waste": lambda plan: sum(x.repeats * x.sheet.length * x.sheet.width for x in plan.layouts),
}


def test_a_choice_makes_everything_and_is_better_at_its_aim() -> None:
    plan = planned()
    (group,) = plan.groups
    assert 1 <= len(group.choices) <= 3
    for choice in group.choices:
        assert made(choice.plan) == made(group)
        assert not [fault for layout in choice.plan.layouts for fault in faults(layout, plan.job)]
        if choice.name in BETTER:
            assert BETTER[choice.name](choice.plan) < BETTER[choice.name](group)
        assert choice.sentence.startswith("Against the plan: ")


def test_metal_on_hand_is_used_first_where_that_costs_little_more() -> None:
    stock = [sheet("Bought", 96 * INCH, 48 * INCH, price=100.0),
             sheet("On hand", 96 * INCH, 49 * INCH, on_hand=4, price=101.0)]  # fmt: skip
    plates = [part("Plate", 47 * INCH, 23 * INCH)]
    book = job(plates, [Order("O", "Plate", 12)], stock, settings=Settings())
    plan = plan_job(book, RunOptions(0.5, clock=lambda: 0.0))
    (count,) = plan.groups[0].sheets
    assert (count.sheet.name, count.from_rack, count.to_buy) == ("On hand", 3, 0)
    assert plan.groups[0].measure < 0.86 * plan.groups[0].cost, "on hand counts at 85 per cent"
