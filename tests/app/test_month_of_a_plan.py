"""Plan, cut, and balance the month: the cut log says what the plan said."""

import datetime
from pathlib import Path

import openpyxl
import pytest

from sheetplan.app.month import MonthOutcome, MonthRack, month_of
from sheetplan.app.new import new_book
from sheetplan.app.plan import PlanOutcome
from sheetplan.app.rack.cut import record_cuts
from sheetplan.app.rack.cut_asked import CutAsked
from sheetplan.model import Plan
from sheetplan.money.figures import PlanFigures, plan_figures
from sheetplan.planning import quiet
from sheetplan.trade.units import Units
from sheetplan.workbook.reading.book import read_tables
from tests.app.cut_book import copied

CUT_ON = datetime.date(2027, 1, 12)
"""After the demo's quarter, so that nothing but this plan counts in its month."""

CENT, GRAM = 0.0051, 1e-3
"""A value written into the book is rounded to the cent, and a sum of a few of them with it."""

Months = tuple[PlanOutcome, PlanFigures, MonthOutcome]


@pytest.fixture(scope="module")
def cut_through(planned: PlanOutcome, tmp_path_factory: pytest.TempPathFactory) -> Months:
    """The planned demo book, every layout recorded as cut, the month balanced."""
    book = copied(planned.book, tmp_path_factory.mktemp("january") / "shop")
    assert planned.plan is not None
    layouts = [layout for group in planned.plan.groups for layout in group.layouts]
    record_cuts(book, [CutAsked(layout.tag) for layout in layouts], today=CUT_ON)
    return planned, plan_figures(planned.plan), month_of(book, "2027-01", report=quiet)


def test_every_cut_is_what_the_plan_said(cut_through: Months) -> None:
    planned, figures, month = cut_through
    rack = MonthRack(month.book, read_tables(month.book))
    assert rack.problems == ()
    cuts = rack.cuts
    assert isinstance(planned.plan, Plan)
    said = [group.layouts[layout.tag] for group, plan in zip(figures.groups, planned.plan.groups, strict=True)
            for layout in plan.layouts]  # fmt: skip
    assert len(cuts) == len(said)
    for cut, layout in zip(cuts, said, strict=True):
        whole = layout.split.times(layout.repeats)
        assert cut.split.taken == pytest.approx(whole.taken, abs=GRAM)
        assert cut.split.parts == pytest.approx(whole.parts, abs=GRAM)
        assert cut.metal_cost == pytest.approx(layout.metal_cost * layout.repeats, abs=CENT)
        rounding = CENT * layout.repeats * (1 + len(layout.left.drop_outs))
        assert cut.kept_value == pytest.approx(layout.kept_value * layout.repeats, abs=rounding)
        assert cut.split.kept == pytest.approx(whole.kept, abs=GRAM)
        assert cut.split.kerf == pytest.approx(whole.kerf, abs=GRAM)
        assert cut.split.skeleton == pytest.approx(whole.skeleton, abs=GRAM)


def test_the_month_is_the_sum_of_the_plan(cut_through: Months) -> None:
    _, figures, month = cut_through
    assert month.gauges is not None
    assert month.metals is not None
    by_label = {group.label: group for group in figures.groups}
    assert [line.gauge for line in month.gauges.lines] == sorted(by_label)
    for line in month.gauges.lines:
        group = by_label[line.gauge]
        assert line.split.parts == pytest.approx(group.part_weight, abs=GRAM)
        assert line.good_cost == pytest.approx(group.money.metal - group.money.kept, abs=CENT * 9)
    for balance in (month.gauges, month.metals):
        total = balance.total
        assert not total.counted
        assert total.split.taken == pytest.approx(figures.total.sheet_weight, abs=GRAM)
        assert total.split.parts == pytest.approx(figures.total.part_weight, abs=GRAM)
        assert total.good_cost + total.bad_cost == pytest.approx(total.cost_used_up)


def test_the_page_says_what_is_missing(cut_through: Months) -> None:
    book = openpyxl.load_workbook(cut_through[2].book)
    lines = " ".join(str(cell.value) for cell in book["Month"]["A"] if cell.value)
    assert "not counted at both ends of 2027-01" in lines
    assert "No cuts" not in lines


def test_a_damaged_step_is_told_and_nothing_else_is_lost(tmp_path: Path) -> None:
    book = tmp_path / "harbour.xlsx"
    new_book(book, demo=True, units=Units.INCH)
    steps = tmp_path / "rack" / "steps"
    steps.mkdir(parents=True)
    (steps / "000001.json").write_text("{}")
    outcome = month_of(book, "2026-11", report=quiet)
    assert [problem.page for problem in outcome.problems] == ["Cut log"]
    assert outcome.metals is not None
    assert outcome.metals.total.split.parts > 0
