"""The page Made: every order line with what it gets."""

from dataclasses import replace

import pytest

from sheetplan.model import OrderProgress, OrderState, Plan
from sheetplan.money.cents import cent
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.made import made_page
from sheetplan.pages.values import Cell, ResultTable
from sheetplan.rack.credits import pieces_of
from sheetplan.shapes import area
from sheetplan.trade.units import weight_kg

CENT = 0.01
"""What rounding to the cent may take from an amount or add to it."""


def column(table: ResultTable, *headings: str) -> list[tuple[Cell, ...]]:
    """Some columns of a table, row by row."""
    heads = [one.heading for one in table.columns]
    return [tuple(row[heads.index(heading)] for heading in headings) for row in table.rows]


def test_each_line_with_its_count_and_what_it_waits_for(inch_plan: Plan) -> None:
    page = made_page(inch_plan, plan_figures(inch_plan))
    table = page.tables[0]
    assert [column.heading for column in table.columns[:4]] == ["Order", "Item", "Due", "Must"]
    assert column(table, "Asked", "Made", "Short") == [
        (8, 8, None), (6, 6, None), (4, 2, 2), (3, 3, None),
    ]  # fmt: skip
    # Nothing is cut: columns that would be empty, and bars of dots, are not there.
    hidden = {one.heading for one in table.columns if one.hidden}
    assert hidden == {"Cut", "Cut good", "Bad", "From finished", "Finished"}
    widest = max(len(one.columns) for one in page.tables[1:])
    assert not any(one.hidden for one in table.columns[:widest])  # what another table needs too
    assert "Finished" not in table.caption
    assert column(table, "Note")[2][0] == 'Still needs 2 x BK-300 gusset, left hand (mild steel 1/4")'
    assert page.lines == (
        "Must be made: 3 of 3 lines complete.",
        "Made if it fits: 0 of 1 line complete; the others are short, see the column Short.",
    )


def test_spare_pieces_have_a_table_of_their_own(inch_plan: Plan) -> None:
    tables = made_page(inch_plan, plan_figures(inch_plan)).tables
    assert (tables[2].rows, tables[2].caption) == ((), "Made beyond what the orders ask for: nothing")
    layouts = tuple(replace(layout, repeats=3) for layout in inch_plan.groups[0].layouts)
    more = replace(inch_plan, groups=(replace(inch_plan.groups[0], layouts=layouts), inch_plan.groups[1]))
    assert made_page(more, plan_figures(more)).tables[2].rows == (
        ("CB-101", "mild steel 10 ga", 4),
        ("CB-102", "mild steel 10 ga", 22),
        ("FP-7", "mild steel 10 ga", 2),
        ("LR-210", "mild steel 10 ga", 6),
    )


def test_lines_cost_what_the_plan_costs_less_the_remnants_kept(inch_plan: Plan) -> None:
    figures = plan_figures(inch_plan)
    lines, kits, *_ = made_page(inch_plan, figures).tables
    costs = [row[0] for row in column(lines, "Cost")]
    assert sum(costs) == pytest.approx(figures.total.money.net, abs=CENT)  # type: ignore[arg-type]
    assert [row[0] for row in kits.rows] == ["cleat set", "ladder rail", "fender plate"]
    assert kits.rows[0][2] + kits.rows[0][3] == pytest.approx(kits.rows[0][4])  # type: ignore[operator]
    # Every line of cleat sets is complete, so a kit costs an eighth of the line.
    assert kits.rows[0][4] == pytest.approx(costs[0] / 8, abs=CENT)  # type: ignore[operator]


def test_parts_cost_each_what_they_cost_together(inch_plan: Plan) -> None:
    figures = plan_figures(inch_plan)
    page = made_page(inch_plan, figures)
    parts = page.tables[3]
    heads = [column.heading for column in parts.columns]
    rows = [dict(zip(heads, row, strict=True)) for row in parts.rows]
    assert round(sum(row["Cost of all"] for row in rows), 2) == cent(figures.total.money.net)
    for row in rows:
        assert round(row["Metal each"] + row["Cutting each"], 2) == row["Cost each"]
        # Of one it is printed to the cent, so that of many it may be off by half a cent each.
        assert row["Cost of all"] == pytest.approx(row["Cost each"] * row["Pieces"], abs=CENT * row["Pieces"])
        part = inch_plan.job.parts[row["Part"]]
        gauge = next(gp.group for gp in inch_plan.groups if gp.group.label == row["Gauge"])
        weight = weight_kg(area(part.outline), gauge.thickness.mm, gauge.material.density)
        assert row["Weight each"] == pytest.approx(weight), "holes and corners are taken off"
    assert page.notes[-1].endswith(f"the plan costs {figures.total.money.total:,.2f}.")


def test_what_is_cut_is_told_of_the_lines_that_are_not_cancelled(inch_plan: Plan) -> None:
    job = inch_plan.job
    first, second, *rest = job.orders
    gone = replace(second, state=OrderState.CANCELLED)
    done = [OrderProgress(one, pieces_of(one, job.kits)) for one in (first, gone)]
    orders = tuple(one.order for one in done) + tuple(rest)
    progress = (*done, *(OrderProgress(order) for order in rest))
    plan = replace(inch_plan, job=replace(job, orders=orders, progress=progress))
    pieces = sum(sum(pieces_of(order, job.kits).values()) for order in (first, *rest))
    said = f"Cut so far: 1 of {1 + len(rest)} lines, {sum(done[0].cut.values())} of {pieces} pieces."
    page = made_page(plan, plan_figures(plan))
    assert said in page.lines
    assert [row[0] for row in column(page.tables[0], "Finished")] == ["■" * 10, "■" * 10, None, None]
    assert "Finished shows how much of them is cut" in page.tables[0].caption
