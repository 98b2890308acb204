"""Files that a plan prints: what to order as CSV and as pages, and the whole set."""

from __future__ import annotations

import csv
import datetime
import io
from dataclasses import replace

import pytest

from sheetplan.model import Plan, SheetCount
from sheetplan.pages.book.buy import buy_page
from sheetplan.pages.paper.lists import order_list_pdf
from sheetplan.pages.paper.shop_files import buy_csv
from tests.pages.drawn import printed_files
from tests.pages.pdf_reading import pages_of, touching, words

TODAY = datetime.date(2026, 11, 3)


def named(plan: Plan, supplier: str) -> Plan:
    """The plan buying its first gauge's sheets from a supplier of this name."""
    count = plan.groups[0].sheets[0]
    group = replace(plan.groups[0], sheets=(replace(count, sheet=replace(count.sheet, supplier=supplier)),))
    return replace(plan, groups=(group, plan.groups[1]))


def test_the_csv_is_read_back_with_the_numbers_of_the_page(inch_plan: Plan, mm_plan: Plan) -> None:
    for plan in (inch_plan, mm_plan):
        units = plan.job.settings.units
        (row,) = csv.DictReader(io.StringIO(buy_csv(plan)))
        page = buy_page(plan).tables[0].rows[0]
        assert (row["Supplier"], row["Gauge"], row["Sheet"]) == page[:3]
        assert (int(row["Sheets"]), float(row["To pay USD"])) == (page[4], page[7])
        assert float(row[f"Weight {units.weight}"]) * units.weight_kg == pytest.approx(page[5], rel=1e-5)
        assert (row["Price each USD"], row["To pay USD"]) == ("92.50", "462.50")
        assert float(row[f"Width {units.value}"]) * units.length_mm == pytest.approx(1219.2)
        assert row[f"Length {units.value}"] == {"in": "96", "mm": "2438.4"}[units.value]
        assert row["First due"] == page[10]


@pytest.mark.parametrize("supplier", ["=HYPERLINK(1)", "+Metals", "-Metals", "@Metals"])
def test_text_never_becomes_a_formula(inch_plan: Plan, supplier: str) -> None:
    (row,) = csv.DictReader(io.StringIO(buy_csv(named(inch_plan, supplier))))
    assert row["Supplier"] == f"'{supplier}"


def test_commas_and_quotes_survive(inch_plan: Plan) -> None:
    (row,) = csv.DictReader(io.StringIO(buy_csv(named(inch_plan, 'Quay, "North" & Sons'))))
    assert row["Supplier"] == 'Quay, "North" & Sons'


def test_a_page_for_each_supplier(inch_plan: Plan) -> None:
    bought = tuple(
        replace(gp, sheets=tuple(SheetCount(replace(c.sheet, supplier=name), 3, 0, 3) for c in gp.sheets))
        for gp, name in zip(inch_plan.groups, ("Quay Metals", ""), strict=True)
    )
    data = order_list_pdf(replace(inch_plan, groups=bought), today=TODAY, mark="KRTM")
    assert data is not None
    pages = pages_of(data)
    texts = [" ".join(page.extract_text().split()) for page in pages]
    assert "To order: Quay Metals 3 sheets, 527.3 lb to load, 277.50 USD" in texts[0]
    assert "To order: supplier not said" in texts[1]
    assert "Size in Sheet Sheets Weight lb Each USD Total USD At once First due Order by" in texts[0]
    assert all(touching(words(page)) == [] for page in pages)


def test_the_set_of_files(inch_plan: Plan) -> None:
    files = printed_files(inch_plan, TODAY)
    assert set(files) == {"tickets.pdf", "picking-list.pdf", "labels.pdf", "to-order.pdf", "buy-list.csv"}
    assert all(data.startswith(b"%PDF") for name, data in files.items() if name.endswith(".pdf"))


def test_a_plan_that_makes_and_buys_nothing_prints_nothing(inch_plan: Plan) -> None:
    empty = replace(inch_plan, groups=tuple(replace(gp, layouts=(), sheets=()) for gp in inch_plan.groups))
    assert printed_files(empty, TODAY) == {}
