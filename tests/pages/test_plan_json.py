"""The plan as plain values: complete, finite, in the book's units, every field described."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from sheetplan.model import Plan
from sheetplan.money.figures import plan_figures
from sheetplan.pages import plan_json as module
from sheetplan.pages.plan_json import plan_json
from sheetplan.trade.units import KG_PER_POUND, MM_PER_INCH

DUST = 1e-8
"""Nine decimals are kept, so two values that differ by less are one."""


def record_of(plan: Plan) -> dict[str, Any]:
    return plan_json(plan, plan_figures(plan))


def fields(value: Any, named_by_user: bool = False) -> Iterator[str]:
    """Every key of the record, except where the keys are names of parts."""
    if isinstance(value, list):
        for item in value:
            yield from fields(item)
    elif isinstance(value, dict):
        for key, item in value.items():
            if not named_by_user:
                yield key
            yield from fields(item, key in {"parts", "short", "missing", "spare"})


def numbers(value: Any) -> Iterator[float]:
    if isinstance(value, list):
        for item in value:
            yield from numbers(item)
    elif isinstance(value, dict):
        for item in value.values():
            yield from numbers(item)
    elif isinstance(value, float):
        yield value


def test_it_survives_a_strict_reader(inch_plan: Plan, mm_plan: Plan) -> None:
    for plan in (inch_plan, mm_plan):
        record = record_of(plan)
        assert json.loads(json.dumps(record, allow_nan=False)) == record


def test_every_field_is_described(inch_plan: Plan) -> None:
    described = module.__doc__ or ""
    for field in set(fields(record_of(inch_plan))):
        # A heading of the description, or a name in double quotes of the markup.
        assert f"``{field}``" in described or f"\n{field}\n" in described, field


def test_numbers_are_finite_and_free_of_dust(inch_plan: Plan) -> None:
    for value in numbers(record_of(inch_plan)):
        assert math.isfinite(value)
        assert value == round(value, 9)


def test_a_number_that_is_not_finite_is_refused(inch_plan: Plan) -> None:
    broken = replace(inch_plan.groups[0], cost=math.nan)
    with pytest.raises(ValueError, match="nan"):
        record_of(replace(inch_plan, groups=(broken, inch_plan.groups[1])))


def test_boxes_lie_where_the_placements_put_the_parts(inch_plan: Plan) -> None:
    record = record_of(inch_plan)
    for group in record["groups"]:
        for layout in group["layouts"]:
            for placed in layout["placements"]:
                left, bottom, right, top = placed["box"]
                part = record["parts"][placed["part"]]
                # All parts of this month lie unturned, so the box is the part's own, moved.
                assert (left, bottom) == pytest.approx((placed["x"], placed["y"]), abs=DUST)
                assert right - left == pytest.approx(part["length"], abs=DUST)
                assert top - bottom == pytest.approx(part["width"], abs=DUST)
                assert 0.0 <= left < right <= layout["length"] + DUST
                assert 0.0 <= bottom < top <= layout["width"] + DUST


def test_a_turned_part_has_its_box_where_it_lies(inch_plan: Plan) -> None:
    group = inch_plan.groups[0]
    layout = group.layouts[0]
    turned = replace(layout.placements[0], x=10 * MM_PER_INCH, y=20 * MM_PER_INCH, turn=90.0)
    changed = replace(group, layouts=(replace(layout, placements=(turned,)),))
    record = record_of(replace(inch_plan, groups=(changed,)))
    # CB-101 is 12 x 6 in; a quarter turn about (0, 0) puts it into x from -6 to 0, y from 0 to 12.
    assert record["groups"][0]["layouts"][0]["placements"][0]["box"] == [4.0, 20.0, 10.0, 32.0]


def test_units_of_the_book(inch_plan: Plan, mm_plan: Plan) -> None:
    inch, mm = record_of(inch_plan), record_of(mm_plan)
    assert (inch["units"]["length"], inch["units"]["weight"]) == ("in", "lb")
    assert (mm["units"]["length"], mm["units"]["weight"]) == ("mm", "kg")
    assert mm["totals"]["cut_length"] == pytest.approx(inch["totals"]["cut_length"] * MM_PER_INCH)
    assert mm["totals"]["sheet_weight"] == pytest.approx(inch["totals"]["sheet_weight"] * KG_PER_POUND)
    assert mm["totals"]["cost"] == inch["totals"]["cost"]
    assert mm["totals"]["hours"] == inch["totals"]["hours"]


def test_counts_agree_with_the_placements(inch_plan: Plan) -> None:
    record = record_of(inch_plan)
    pieces = sum(
        layout["repeats"] * len(layout["placements"])
        for group in record["groups"]
        for layout in group["layouts"]
    )
    assert record["totals"]["pieces"] == pieces
    for group in record["groups"]:
        assert sum(sheet["used"] for sheet in group["sheets"]) == sum(
            layout["repeats"] for layout in group["layouts"] if layout["remnant"] is None
        )


def test_orders_and_problems_are_in_it(inch_plan: Plan) -> None:
    record = record_of(inch_plan)
    assert [order["short"] for order in record["orders"]] == [0, 0, 2, 0]
    assert record["orders"][2]["missing"] == {"BK-300 gusset, left hand": 2}
    assert record["problems"][0]["cell"] == "E12"
    assert record["groups"][0]["within"] == pytest.approx(185 / 180 - 1, abs=DUST)
    assert record["groups"][1]["bound"] is None


def test_the_cutting_order_names_every_layout_once(inch_plan: Plan) -> None:
    record = record_of(inch_plan)
    order = record["cutting_order"]
    tags = [layout["tag"] for group in record["groups"] for layout in group["layouts"]]
    assert sorted(turn["layout"] for turn in order) == sorted(tags)
    assert all(turn["due"] is None or len(turn["due"]) == len("2026-11-20") for turn in order)
    assert [turn["on_hand"] > 0 for turn in order] == sorted(
        (turn["on_hand"] > 0 for turn in order), reverse=True
    )
