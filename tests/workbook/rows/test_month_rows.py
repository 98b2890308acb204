"""Purchases, scrap tickets, rack counts and earlier cuts: good rows as values, bad cells by address."""

import datetime
from collections.abc import Callable
from typing import Any

import pytest

from sheetplan.model import Weight
from sheetplan.trade.units import KG_PER_POUND, Units
from sheetplan.workbook.reading.cells import CellFault, day_of
from sheetplan.workbook.reading.job import read_job, read_month
from sheetplan.workbook.reading.month import MonthRead, month_of
from sheetplan.workbook.tables import ErrorValue, NotComputed
from tests.nasty.books.plain import address, plain_rows, tables_of

Rows = dict[str, list[dict[str, Any]]]

PURCHASE = {
    "Date": datetime.datetime(2026, 11, 5), "Material": "mild steel", "Thickness": "10 ga", "Width": 48,
    "Length": 96, "Sheets": 4, "Noted weight": 720, "Paid": 446.4,
}  # fmt: skip
TICKET = {"Date": "2026-11-27", "Ticket": "T-1", "Weight": 500, "Paid": "45.00", "Material": "mild steel"}
COUNT = {
    "End of": "2026-10", "Material": "mild steel", "Thickness": ".1345", "Width": 48, "Length": 96,
    "Sheets": 3,
}  # fmt: skip
EARLIER = {
    "Month": "2026-09-30", "Material": "mild steel", "Thickness": "10 ga", "Taken": 1000, "Good parts": 800,
    "Kerf": 20, "Bad parts": 10, "Kept": 50, "Metal cost": 620, "Kept value": 31,
}  # fmt: skip


def book(**pages: list[dict[str, Any]]) -> Rows:
    names = {
        "purchases": "Purchases",
        "scrap": "Scrap log",
        "counts": "Rack count",
        "earlier": "Earlier cuts",
    }
    return {**plain_rows(), **{names[name]: rows for name, rows in pages.items()}}


def read(rows: Rows) -> MonthRead:
    _, month, _ = read_month(tables_of(rows))
    assert month is not None
    return month


def test_a_delivery_is_weighed_by_size_and_keeps_its_note() -> None:
    (bought,) = read(book(purchases=[PURCHASE])).rows.purchases
    assert (bought.date, bought.gauge, bought.cost) == ("2026-11-05", "mild steel 10 ga", 446.4)
    # Source: Manufacturers' Standard Gauge, 10 ga is 5.625 lb/ft2 by its statutory 41.82 lb/ft2 an inch;
    # at a density of 490 lb/ft3 (AISC Manual) it is 5.49, 2.4 per cent less.
    assert bought.weight / KG_PER_POUND == pytest.approx(4 * 32 * 0.1345 * 490 / 12, rel=2e-3)
    assert bought.noted == pytest.approx(720 * KG_PER_POUND)
    assert bought.noted / bought.weight == pytest.approx(41.82 / (490 / 12), rel=3e-3)


def test_without_a_size_the_note_is_the_weight() -> None:
    row = {**PURCHASE, "Width": None, "Length": None}
    (bought,) = read(book(purchases=[row])).rows.purchases
    assert (bought.weight, bought.noted) == (pytest.approx(720 * KG_PER_POUND), None)


def test_tickets_of_a_metal_a_gauge_and_a_mixed_bin() -> None:
    rows = [
        TICKET,
        {**TICKET, "Ticket": "T-2", "Thickness": "10 gauge"},
        {**TICKET, "Ticket": 3, "Material": None},
    ]
    tickets = read(book(scrap=rows)).rows.tickets
    assert [(t.gauge, t.metal, t.number) for t in tickets] == [
        ("", "mild steel", "T-1"), ("mild steel 10 ga", "mild steel", "T-2"), ("", "", "3"),
    ]  # fmt: skip
    assert tickets[0].weight == pytest.approx(500 * KG_PER_POUND)
    assert tickets[0].paid == 45.0


def test_a_ticket_written_twice_counts_once() -> None:
    found = read(book(scrap=[TICKET, dict(TICKET), {**TICKET, "Weight": 501}]))
    assert len(found.rows.tickets) == 2
    (problem,) = found.problems
    assert (problem.cell, problem.weight) == (address("Scrap log", "Ticket", 1), Weight.LEFT_OUT)


def test_a_count_is_of_the_gauge_that_the_plan_names_and_worth_its_price() -> None:
    rows = [COUNT, {**COUNT, "Width": 24, "Length": 48, "Sheets": None, "Tag": "R-9"}, {**COUNT, "Value": 5}]
    held = read(book(counts=rows)).rows.counts["2026-10"]
    assert {one.gauge for one in held} == {"mild steel 10 ga"}
    job, _ = read_job(tables_of(plain_rows()))
    assert job is not None
    price = next(s.price for s in job.stock if s.thickness.text == "10 ga" and s.length == 96 * 25.4)
    assert held[0].value == pytest.approx(3 * price)
    assert held[1].weight == pytest.approx(held[0].weight / 3 / 4)
    assert held[1].value == pytest.approx(0.6 * price / 4, rel=0.05), "a remnant"
    assert held[2].value == 5.0


def test_earlier_cuts_are_cuts() -> None:
    (cut,) = read(book(earlier=[EARLIER])).rows.earlier
    assert (cut.date, cut.gauge, cut.metal_cost, cut.kept_value) == (
        "2026-09-01",
        "mild steel 10 ga",
        620,
        31,
    )
    assert cut.split.skeleton == pytest.approx(120 * KG_PER_POUND)


BAD: list[tuple[str, dict[str, Any], str, Any, str]] = [
    ("Purchases", PURCHASE, "Date", "soon", "is not a date"),
    ("Purchases", PURCHASE, "Date", None, "Date is empty"),
    ("Purchases", PURCHASE, "Material", "mild stel", "is not on the page Materials"),
    ("Purchases", PURCHASE, "Thickness", "thick", "Thickness"),
    ("Purchases", PURCHASE, "Width", None, "Width is empty"),
    ("Purchases", PURCHASE, "Sheets", 2.5, "whole number"),
    ("Purchases", PURCHASE, "Paid", "later", "is not a bare amount"),
    ("Purchases", PURCHASE, "Noted weight", -4, "negative"),
    ("Scrap log", TICKET, "Weight", ErrorValue("#REF!"), "shows #REF!"),
    ("Scrap log", TICKET, "Weight", None, "Weight is empty"),
    ("Scrap log", {**TICKET, "Material": None, "Thickness": "10 ga"}, "Material", None, "Material is empty"),
    ("Scrap log", TICKET, "Material", "brass", "is not on the page Materials"),
    ("Rack count", COUNT, "End of", "last month", "is not a month"),
    ("Rack count", COUNT, "Length", 0, "is 0"),
    ("Rack count", COUNT, "Value", NotComputed(), "is not stored"),
    ("Earlier cuts", EARLIER, "Taken", 700, "more together"),
    ("Earlier cuts", EARLIER, "Good parts", None, "Good parts is empty"),
]


@pytest.mark.parametrize(("page", "good", "heading", "value", "said"), BAD)
def test_a_bad_cell_is_named_and_its_row_left_out(
    page: str, good: dict[str, Any], heading: str, value: Any, said: str
) -> None:
    bad = {**good, heading: value}
    rows = {**plain_rows(), page: [good, bad] if good.get(heading) else [bad]}
    _, month, problems = read_month(tables_of(rows))
    assert month is not None
    (problem,) = [p for p in problems if p.page == page]
    assert problem.cell == address(page, heading, len(rows[page]) - 1)
    assert said in problem.what
    assert problem.weight is Weight.LEFT_OUT
    found = month.rows
    held = [*found.purchases, *found.tickets, *found.earlier, *(h for c in found.counts.values() for h in c)]
    assert len(held) == len(rows[page]) - 1


def test_a_row_without_size_and_weight_says_so() -> None:
    row = {**PURCHASE, "Width": None, "Length": None, "Noted weight": None}
    (problem,) = read(book(purchases=[row])).problems
    assert "neither a size nor a noted weight" in problem.what


def test_a_plan_is_not_stopped_and_is_told() -> None:
    job, problems = read_job(tables_of(book(purchases=[{**PURCHASE, "Date": "soon"}])))
    assert job is not None
    assert [(p.page, p.weight) for p in problems] == [("Purchases", Weight.LEFT_OUT)]


def test_a_month_does_not_need_orders() -> None:
    rows = book(purchases=[PURCHASE])
    del rows["Orders"]
    settings, month, problems = read_month(tables_of(rows))
    assert settings is not None
    assert month is not None
    assert len(month.rows.purchases) == 1
    assert problems == ()
    assert month.missing == ("Scrap log", "Rack count", "Earlier cuts")


def test_numbers_as_text_with_a_decimal_comma() -> None:
    rows = book(
        purchases=[
            {**PURCHASE, "Noted weight": "326,6", "Paid": "446,40", "Width": "1250", "Length": "2500"}
        ],
        scrap=[{**TICKET, "Weight": "226,75", "Paid": "45,5"}],
    )
    rows["Settings"] = [{"Setting": "Units", "Value": "mm"}]
    rows["Materials"] = [{**row, "Density": 7850} for row in rows["Materials"]]
    found = read(rows)
    assert found.problems == ()
    (bought,), (ticket,) = found.rows.purchases, found.rows.tickets
    assert (bought.noted, bought.cost) == (326.6, 446.4)
    assert (ticket.weight, ticket.paid) == (226.75, 45.5)


@pytest.mark.parametrize(
    ("value", "month"),
    [
        (datetime.datetime(2026, 2, 28), "2026-02"),
        ("2026-12", "2026-12"),
        ("2026-12-31", "2026-12"),
        (46351, "2026-11"),
    ],
)
def test_months(value: Any, month: str) -> None:
    assert month_of(value) == month


@pytest.mark.parametrize(
    ("read_cell", "value"), [(day_of, "2026-02-30"), (day_of, "5.11."), (month_of, "2026-13")]
)
def test_no_date(read_cell: Callable[[Any], str], value: str) -> None:
    with pytest.raises(CellFault):
        read_cell(value)


@pytest.mark.parametrize("units", Units)
def test_weights_are_in_the_books_unit(units: Units) -> None:
    rows = book(scrap=[TICKET])
    rows["Settings"] = [{"Setting": "Units", "Value": units.value}]
    rows["Materials"] = [
        {**row, "Density": 0.2836 if units is Units.INCH else 7850} for row in rows["Materials"]
    ]
    (ticket,) = read(rows).rows.tickets
    assert ticket.weight == pytest.approx(500 * (KG_PER_POUND if units is Units.INCH else 1.0))


@pytest.mark.parametrize(("tag", "length", "gone"), [("r-1", 30, 5 * 12), ("R-1", 29, 0), (None, 30, 0)])
def test_a_counted_remnant_is_weighed_without_its_missing_corner(
    tag: str | None, length: float, gone: float
) -> None:
    count = {"End of": "2026-10-31", "Material": "mild steel", "Thickness": "10 ga", "Width": 20,
             "Length": length, "Tag": tag}  # fmt: skip
    rows = book(counts=[count])
    corner = {"Missing width": 5, "Missing length": 12, "Missing corner": "upper right", "State": "used up"}
    rows["Remnants"][0].update(corner)
    (held,) = read(rows).rows.counts["2026-10"]
    area = 20 * length - gone
    assert held.weight / KG_PER_POUND == pytest.approx(area * 0.1345 * 0.2836, rel=1e-3)
    # The one size of the gauge on sale is 48 x 96 in for 110; a remnant counts at 60 per cent.
    assert held.value == pytest.approx((0.6 if tag else 1.0) * area * 110 / (48 * 96))


def test_a_counted_remnant_is_worth_what_its_own_row_says() -> None:
    remnant = {"Tag": "R-9", "Material": "mild steel", "Thickness": "10 ga", "Width": 30, "Length": 40,
               "Value": 49.46}  # fmt: skip
    counted = {**COUNT, "Width": 30, "Length": 40, "Sheets": 1, "Tag": "R-9"}

    def value(row: dict[str, Any], count: dict[str, Any]) -> float:
        (held,) = read({**book(counts=[count]), "Remnants": [row]}).rows.counts["2026-10"]
        return held.value

    assert value(remnant, counted) == 49.46
    # By its weight alone it would be another amount: as it is where the row says none, or another size.
    by_weight = value({**remnant, "Value": None}, counted)
    assert by_weight != pytest.approx(49.46, abs=1.0)
    assert value({**remnant, "Width": 20}, counted) == pytest.approx(by_weight)
    assert value(remnant, {**counted, "Value": 12.0}) == 12.0
