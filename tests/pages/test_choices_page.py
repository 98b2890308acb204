"""The page Choices: each way to plan a gauge with its figures, and the mark of a pick."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sheetplan.model import Plan, SheetCount
from sheetplan.model.plan import Choice
from sheetplan.money.comparison import choice_figures
from sheetplan.money.figures import plan_figures
from sheetplan.pages.book.choices import choices_page, why
from sheetplan.pages.plan_json import plan_json
from sheetplan.pages.values import Cell
from sheetplan.planning.picking import with_picked
from sheetplan.trade.units import Units
from sheetplan.workbook.style import BAND_FILL
from sheetplan.workbook.writing.grid import grid_of, look_of


def with_choice(plan: Plan) -> Plan:
    """The thin gauge also cut from three sheets, two of them emptier, of which five are bought."""
    thin = plan.groups[0]
    (layout,) = thin.layouts
    half = replace(layout, tag="L2", placements=layout.placements[:17], repeats=1)
    rest = replace(layout, tag="L3", placements=layout.placements[17:], repeats=1)
    layouts = (replace(layout, repeats=1), half, rest)
    count = SheetCount(thin.sheets[0].sheet, 3, 1, 5)
    other = replace(thin, layouts=layouts, sheets=(count,), cost=277.5, bound=None)
    choices = (Choice("largest remnant", "", other),)
    return replace(plan, groups=(replace(thin, choices=choices), plan.groups[1]))


def rows(plan: Plan) -> list[dict[str, Cell]]:
    (table,) = choices_page(plan, mark="KRTM").tables
    heads = [column.heading for column in table.columns]
    return [dict(zip(heads, row, strict=True)) for row in table.rows]


def test_each_way_with_its_figures(inch_plan: Plan) -> None:
    plan = with_choice(inch_plan)
    used, other, thick = rows(plan)
    assert [row["Choice"] for row in (used, other, thick)] == ["C1", "C2", "C3"]
    assert [row["In use"] for row in (used, other, thick)] == ["yes", None, "yes"]
    assert {row["Plan"] for row in (used, other, thick)} == {"KRTM"}
    figures = ("To pay", "Metal cost", "Sheets", "Layouts")
    assert [used[heading] for heading in figures] == [462.5, 185.0, 2, 1]
    assert [other[heading] for heading in figures] == [462.5, 277.5, 3, 3]
    assert other["Sheets by size"] == "3 of 48 x 96 in"
    changes = ("± To pay", "± Metal cost", "± Sheets", "± Layouts")
    assert [other[heading] for heading in changes] == [0.0, 92.5, 1, 2]
    assert other["± Largest remnant"] == pytest.approx(room(other) - room(used), rel=1e-3)
    assert {used[heading] for heading in (*changes, "± Largest remnant")} == {None}
    assert (thick["Sheets"], thick["Sheets by size"]) == (2, "1 of 48 x 96 in\nremnant R-017")


def room(row: dict[str, Cell]) -> float:
    """Area of the remnant that a row names, mm2."""
    if row["Largest remnant"] is None:
        return 0.0
    width, _, length = str(row["Largest remnant"]).removesuffix(" in").partition(" x ")
    return float(width) * float(length) * 25.4**2


def test_a_change_bears_its_sign_and_the_plan_in_use_stands_out(inch_plan: Plan) -> None:
    """Bold tells it on a grey print as well; every other gauge is banded."""
    grid = grid_of(choices_page(with_choice(inch_plan), mark="KRTM"), Units.INCH)
    head = grid.tables[0].head_row
    looks = {(cell.row - head, cell.column): look_of(cell, Units.INCH) for cell in grid.cells}
    assert [looks[row, 3].bold for row in (1, 2, 3)] == [True, False, False]
    assert [looks[row, 3].fill for row in (1, 2, 3)] == [None, None, BAND_FILL]
    assert looks[2, 6].number_format == "+#,##0.00;-#,##0.00;0"
    assert looks[2, 7].number_format == "+#,##0;-#,##0;0"
    assert grid.paper.across == 1


def test_without_another_plan_no_difference_is_shown(inch_plan: Plan) -> None:
    (table,) = choices_page(inch_plan).tables
    assert {column.heading.startswith("±") for column in table.columns if column.hidden} == {True}
    assert sum(column.hidden for column in table.columns) == 5
    assert table.strong == frozenset()
    assert [row["± Sheets"] for row in rows(with_choice(inch_plan))] == [None, 1, None]


def test_why_is_said_of_each(inch_plan: Plan) -> None:
    """Best at nothing, another plan says what it gains, the one in use what it was sought for."""
    used, other, thick = rows(with_choice(inch_plan))
    assert str(used["Why choose it"]).startswith("least metal cost")
    assert str(other["Why choose it"])
    assert thick["Why choose it"] == "least cost"
    (first, second), _ = choice_figures(with_choice(inch_plan))
    assert why(replace(second, best_at=()), first) == "a larger remnant"
    assert why(replace(first, best_at=(), way=replace(first.way, in_use=False)), second).startswith(
        "92.50 less in metal, 1.60 less in cutting, 1 sheet fewer, 2 layouts fewer"
    )


def test_what_a_way_is_best_at_is_what_its_figures_say(inch_plan: Plan) -> None:
    (used, other), (thick,) = choice_figures(with_choice(inch_plan))
    assert "least metal cost" in used.best_at
    assert "fewest sheets" in used.best_at
    assert "fewest layouts" in used.best_at
    # The same bill is nobody's advantage, and a gauge without a choice has nothing to be best at.
    assert "least to pay" not in used.best_at + other.best_at
    assert thick.best_at == ()
    assert ("largest remnant" in other.best_at) is (other.kept_area > used.kept_area)


def test_only_what_is_proven_is_called_the_cheapest_possible(inch_plan: Plan) -> None:
    """The fixture's plan of 185.00 stands over a bound of 180."""
    plan = with_choice(inch_plan)
    thin = plan.groups[0]
    met = replace(plan, groups=(replace(thin, bound=thin.cost), plan.groups[1]))
    (used, other), _ = choice_figures(met)
    assert "cheapest possible" in used.best_at
    assert "least metal cost" not in used.best_at
    assert "cheapest possible" not in other.best_at
    (used, _), _ = choice_figures(plan)
    assert "cheapest possible" not in used.best_at


def test_a_pick_is_marked_where_it_is_in_use(inch_plan: Plan) -> None:
    plan = with_choice(inch_plan)
    assert [row["Pick"] for row in rows(plan)] == [None, None, None]
    used, other, _ = rows(with_picked(plan, ["C2"]))
    assert (used["In use"], used["Pick"], other["In use"], other["Pick"]) == (None, None, "yes", "x")
    assert "Picked by you: mild steel 10 ga." in choices_page(with_picked(plan, ["C2"])).lines


def test_gauges_without_another_way_are_named(inch_plan: Plan) -> None:
    lines = choices_page(with_choice(inch_plan)).lines
    assert 'No other plan was found that is better at anything that matters for mild steel 1/4".' in lines


def test_the_record_says_the_same(inch_plan: Plan, mm_plan: Plan) -> None:
    for base in (inch_plan, mm_plan):
        plan = with_picked(with_choice(base), ["C2"])
        record = plan_json(plan, plan_figures(plan))
        choices = [one for group in record["groups"] for one in group["choices"]]
        page = rows(plan)
        assert [one["choice"] for one in choices] == [row["Choice"] for row in page]
        assert [one["to_pay"] for one in choices] == pytest.approx([row["To pay"] for row in page])
        assert [one["layout_count"] for one in choices] == [row["Layouts"] for row in page]
        assert [(one["in_use"], one["picked"]) for one in choices] == [
            (False, False), (True, True), (True, False),
        ]  # fmt: skip


def test_a_choice_that_leaves_pieces_out_says_so(inch_plan: Plan) -> None:
    plan = with_choice(inch_plan)
    thin = plan.groups[0]
    choice = thin.choices[0]
    less = replace(choice, plan=replace(choice.plan, layouts=choice.plan.layouts[:2]))
    short = replace(plan, groups=(replace(thin, choices=(less,)), *plan.groups[1:]))
    assert "not made" not in str(rows(plan)[1]["Why choose it"])
    assert "not made" in str(rows(short)[1]["Why choose it"])
