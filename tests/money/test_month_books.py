"""A month put together from deliveries, tickets, counts and cuts."""

import pytest

from sheetplan.money.layout_figures import MetalSplit
from sheetplan.money.month import (
    Cut,
    Held,
    MonthRows,
    Purchase,
    ScrapTicket,
    by_metal,
    month_balance,
    month_before,
    month_book,
    months_known,
)

CUTS = (
    Cut("2026-11-04", "steel 10 ga", MetalSplit(500.0, 400.0, 10.0, 0.0), 900.0, 0.0),
    Cut("2026-11-05", "steel 1/4 in", MetalSplit(300.0, 240.0, 6.0, 30.0), 600.0, 60.0),
    Cut("2026-10-05", "steel 10 ga", MetalSplit(100.0, 70.0, 2.0, 0.0), 180.0, 0.0),
)
ROWS = MonthRows(
    purchases=(
        Purchase("2026-11-02", "steel 10 ga", 450.0, 810.0, noted=460.8),
        Purchase("2026-11-02", "steel 1/4 in", 270.0, 540.0),
    ),
    tickets=(
        ScrapTicket("2026-11-27", 100.0, 9.0, metal="steel"),
        ScrapTicket("2026-11-27", 24.0, 2.0, "steel 1/4 in", "steel"),
        ScrapTicket("2026-11-28", 6.0, 1.0),
    ),
    counts={
        "2026-10": (Held("steel 10 ga", 100.0, 180.0),),
        "2026-11": (Held("steel 10 ga", 50.0, 90.0), Held("steel 1/4 in", 0.0, 0.0)),
    },
    metal_of={"steel 10 ga": "steel", "steel 1/4 in": "steel"},
)  # fmt: skip


def test_months() -> None:
    assert month_before("2026-01") == "2025-12"
    assert months_known(ROWS, CUTS) == ("2026-10", "2026-11")


def test_a_month_by_gauge_and_by_metal_is_one_month() -> None:
    book = month_book("2026-11", ROWS, CUTS)
    gauges, metals = month_balance(book), month_balance(by_metal(book, ROWS.metal_of))
    assert [line.gauge for line in gauges.lines] == ["steel 1/4 in", "steel 10 ga"]
    assert [line.gauge for line in metals.lines] == ["steel"]
    (steel,) = metals.lines
    # 100 held + 720 bought - 50 left; the cuts took 500 and 300 less 30 kept.
    assert steel.used_up == pytest.approx(770.0)
    assert steel.not_recorded == pytest.approx(0.0)
    assert (steel.weighed, metals.total.weighed) == (124.0, 130.0)
    assert [line.weighed for line in gauges.lines] == [24.0, 0.0]
    for name in ("used_up", "not_recorded", "cost_used_up", "net_cost", "weighed"):
        assert getattr(gauges.total, name) == pytest.approx(getattr(metals.total, name))
    assert steel.noted_more == pytest.approx(10.8)


def test_without_both_counts_the_cuts_stand_for_the_rack() -> None:
    october = month_balance(month_book("2026-10", ROWS, CUTS)).total
    assert not october.counted
    assert (october.used_up, october.not_recorded, october.cost_not_recorded) == (100.0, 0.0, 0.0)
    assert october.cost_used_up == pytest.approx(180.0)
    assert october.scale_waste_share is None, "nothing was weighed, which is not the same as no waste"
