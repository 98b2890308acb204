"""The page Buy: what to order, from whom, for which orders."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sheetplan.model import Plan, SheetCount
from sheetplan.pages.book.buy import buy_page
from sheetplan.pages.values import Link
from sheetplan.trade.units import KG_PER_POUND


def test_a_line_with_its_money_and_weight(inch_plan: Plan) -> None:
    table = buy_page(inch_plan).tables[0]
    row = dict(zip([column.heading for column in table.columns], table.rows[0], strict=True))
    assert (row["Supplier"], row["Gauge"], row["Size"]) == ("Quay Metals", "mild steel 10 ga", "48 x 96 in")
    assert (row["Sheets"], row["Price each"], row["To pay"]) == (5, 92.5, 462.5)
    assert (row["Order multiple"], row["For stock"]) == (5, 4)
    assert row["First due"] == "2026-11-12"
    assert row["For orders"] == "H-2041, H-2042"  # H-2043 is made if it fits, and causes no buying
    # Manufacturers' Standard Gauge: 10 gauge is 5.625 lb/ft2 (15 U.S.C. 206 and 41.82 lb/ft2 per inch),
    # so a 32 ft2 sheet weighs 180 lb; the book's density of 7850 kg/m3 is 2.4 per cent below that table's.
    assert row["Weight"] == pytest.approx(5 * 180.0 * KG_PER_POUND, rel=0.03)


def test_the_truck_is_the_sum_of_the_lines(inch_plan: Plan) -> None:
    bought = tuple(
        replace(gp, sheets=tuple(SheetCount(c.sheet, 7, 0, 7) for c in gp.sheets)) for gp in inch_plan.groups
    )
    lines, totals = buy_page(replace(inch_plan, groups=bought)).tables
    assert totals.rows == (
        (
            "Quay Metals", "2026-11-12", 14,
            pytest.approx(sum(row[5] for row in lines.rows)), 7 * 92.5 + 7 * 210.0,
        ),
    )  # fmt: skip
    assert lines.total is not None
    assert lines.total[4:8] == (14, pytest.approx(totals.rows[0][3]), None, 7 * 92.5 + 7 * 210.0)


def test_nothing_to_buy_is_said(inch_plan: Plan) -> None:
    sheet = inch_plan.groups[0].sheets[0].sheet
    enough = replace(inch_plan.groups[0], sheets=(SheetCount(sheet, 2, 2, 0),))
    page = buy_page(replace(inch_plan, groups=(enough, inch_plan.groups[1])))
    assert page.tables[0].rows == ()
    assert page.tables[0].total is None
    assert page.lines[0].startswith("Nothing to buy")


def test_a_sheet_without_a_price_is_listed_and_said(inch_plan: Plan) -> None:
    sheet = replace(inch_plan.groups[0].sheets[0].sheet, price=0.0, supplier="")
    priceless = replace(inch_plan.groups[0], sheets=(SheetCount(sheet, 2, 1, 1),))
    page = buy_page(replace(inch_plan, groups=(priceless, inch_plan.groups[1])))
    assert page.tables[0].rows[0][0] == "not said"
    assert page.tables[0].rows[0][6:8] == (None, None)
    assert "no price" in "\n".join(page.lines)


def test_lifting_off_the_truck(inch_plan: Plan) -> None:
    def lifted(limit: float) -> tuple[object, ...]:
        settings = replace(inch_plan.job.settings, lift_limit=limit)
        page = buy_page(replace(inch_plan, job=replace(inch_plan.job, settings=settings)))
        row = dict(zip([c.heading for c in page.tables[0].columns], page.tables[0].rows[0], strict=True))
        assert row["Weight each"] == pytest.approx(row["Weight"] / row["Sheets"])
        return row["At once"], row["Lifts"], any("over the lift limit" in line for line in page.lines)

    # Five sheets of 79.7 kg.
    assert lifted(170.0) == (2, 3, False)
    assert lifted(60.0) == (0, None, True)
    assert any(note.startswith("Heavy sheets") for note in buy_page(inch_plan).notes)


def test_the_files_of_the_list_are_links(inch_plan: Plan) -> None:
    page = buy_page(inch_plan, files={"layouts/plan-KRTM/buy-list.csv": "for another program"})
    assert page.tables[-1].rows == (
        (Link("buy-list.csv", "layouts/plan-KRTM/buy-list.csv"), "for another program"),
    )


def test_metal_on_order_that_no_order_wants_any_more_is_told(inch_plan: Plan) -> None:
    """Four are coming, the plan takes one of them beside what lies there."""
    first = inch_plan.groups[0]
    sheet = replace(first.sheets[0].sheet, on_hand=5, on_order=4)
    taken = replace(first, sheets=(SheetCount(sheet, 2, 2, 0),))
    stock = tuple(sheet if one.name == sheet.name else one for one in inch_plan.job.stock)
    plan = replace(inch_plan, job=replace(inch_plan.job, stock=stock), groups=(taken, *inch_plan.groups[1:]))
    lines = buy_page(plan).lines
    assert f"On order already, used by this plan and not listed: 1 of {sheet.name}." in lines
    assert f"On order and not needed by this plan: 3 of {sheet.name}." in lines
    assert not any("not needed" in line for line in buy_page(inch_plan).lines)
