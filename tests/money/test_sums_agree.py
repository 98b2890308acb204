"""Ten seeded books: Plan, Made, Buy, Quotes, the customer's page, CSV and JSON say the same, to the cent."""

import csv
import datetime
import io
import re
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pypdf
import pytest

from sheetplan.app.kept_quotes import quotes_json
from sheetplan.app.plan import PlanOutcome
from sheetplan.app.quote_plans import Month, answered, counted_work, planned_with, priced
from sheetplan.cli.printing import print_plan
from sheetplan.model import Layout, Order, Plan
from sheetplan.model.job import QuoteLine
from sheetplan.money.cents import cent
from sheetplan.money.figures import plan_figures
from sheetplan.money.quoting import Quoted
from sheetplan.pages.book.buy import buy_page
from sheetplan.pages.book.made import made_page
from sheetplan.pages.book.plan import plan_page
from sheetplan.pages.book.quoted import quoted_page
from sheetplan.pages.paper.quote import quote_pdf
from sheetplan.pages.paper.shop_files import buy_csv
from sheetplan.pages.plan_json import plan_json
from sheetplan.pages.values import Cell, ResultPage
from tests.hard.quotes_add_up import OPTIONS, TODAY, small_book
from tests.money.bookmaking import SHEET, grid, plan_of

TABLE = tuple[dict[str, Any], ...]


def rows_of(page: ResultPage, name: str) -> tuple[TABLE, dict[str, Any]]:
    """The rows of a table of a page and its total, by heading."""
    found = next(table for table in page.tables if table.name == name)
    heads = [column.heading for column in found.columns]

    def named(cells: Sequence[Cell]) -> dict[str, Any]:
        return dict(zip(heads, cells, strict=True))

    return tuple(map(named, found.rows)), named(found.total) if found.total else {}


def cents(amount: Any) -> int:
    """An amount as it is printed, in cents."""
    return round(cent(float(amount or 0.0)) * 100)


def column(rows: TABLE, heading: str) -> int:
    """What the printed cells of a column add up to, in cents."""
    return sum(cents(row[heading]) for row in rows)


@pytest.fixture(scope="module", params=range(1, 11))
def plan(request: pytest.FixtureRequest) -> Plan:
    job = small_book(request.param)
    empty = Plan(replace(job, orders=()), ())
    return planned_with(empty, empty.job, job.orders, OPTIONS)


def test_the_plans_pages_and_files(plan: Plan) -> None:
    figures = plan_figures(plan)
    told = plan_json(plan, figures)["totals"]
    rows, total = rows_of(plan_page(plan, figures, today=TODAY), "PlanGauges")
    for heading, key in (("Metal cost", "metal_cost"), ("Cutting cost", "cutting_cost")):
        assert column(rows, heading) == cents(total[heading]) == cents(told[key]), heading
    made, _ = rows_of(made_page(plan, figures), "PartCosts")
    assert column(made, "Cost of all") == cents(told["cost"] - told["kept_value"])
    bought, sum_bought = rows_of(buy_page(plan), "BuyList")
    suppliers, _ = rows_of(buy_page(plan), "BuyTotals")
    written = [line["To pay USD"] for line in csv.DictReader(io.StringIO(buy_csv(plan)))]
    to_pay = cents(told["to_pay"])
    assert column(bought, "To pay") == column(suppliers, "To pay") == to_pay == sum(map(cents, written))
    assert cents(sum_bought.get("To pay")) == to_pay


def test_what_made_says_of_the_whole_is_what_its_tables_add_up_to(plan: Plan) -> None:
    figures = plan_figures(plan)
    page = made_page(plan, figures)
    lines, _ = rows_of(page, "MadeList")
    parts, _ = rows_of(page, "PartCosts")
    (said,) = [note for note in page.notes if note.startswith("Together in")]
    amounts = [cents(one.replace(",", "")) for one in re.findall(r"\d[\d,]*\.\d\d", said)]
    ordered, beyond, kept, whole = amounts
    assert column(lines, "Cost") == ordered
    assert column(parts, "Cost of all") == ordered + beyond
    assert ordered + beyond + kept == whole == cents(plan_json(plan, figures)["totals"]["cost"])


def test_what_is_kept_is_what_lacks_of_the_whole() -> None:
    """At prices of tenths of a cent the odd cents fall to lines, spare pieces and remnants in every way."""
    sheet = replace(SHEET, price=100.0, on_hand=0)
    layout = Layout("L1", sheet, tuple(grid("plate", 3, 2, (320.0, 220.0))), 3)
    bare = plan_of([layout], stock=(sheet,), orders=[Order("H-1", "plate", 7), Order("H-2", "plate", 4)])
    for price in (100.0 + n / 1000 for n in range(0, 60, 7)):
        dear = replace(sheet, price=price)
        layouts = tuple(replace(one, sheet=dear) for one in bare.groups[0].layouts)
        counts = (replace(bare.groups[0].sheets[0], sheet=dear),)
        one = replace(bare, groups=(replace(bare.groups[0], layouts=layouts, sheets=counts),))
        test_what_made_says_of_the_whole_is_what_its_tables_add_up_to(one)


def test_what_is_printed_to_pay_for_a_gauge_is_what_its_lines_of_buy_add_up_to(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Two sizes of one gauge and one of another, 100.446 each: 301.34, of which the first two make 200.90."""
    sizes = [replace(SHEET, name=name, on_hand=0, price=100.446) for name in "ABC"]
    layouts = [Layout(f"L{one.name}", one, tuple(grid("plate", 1, 1, (0.0, 0.0)))) for one in sizes]
    first, other = (plan_of(layouts[some], stock=sizes[some]).groups[0] for some in (slice(2), slice(2, 3)))
    plan = replace(plan_of([]), groups=(first, replace(other, group=replace(other.group, label="thick"))))
    record = plan_json(plan, plan_figures(plan))
    outcome = SimpleNamespace(plan=plan, record=record, mark="ABCD", book="a.xlsx", drawings="a")
    print_plan(cast(PlanOutcome, outcome), 1.0)
    out = capsys.readouterr().out
    last = [line.split("  ")[0] + " " + re.findall(r"\d[\d,]*\.\d\d", line)[-1]
            for line in out.splitlines() if re.search(r"\d\.\d\d", line)]  # fmt: skip
    bought, _ = rows_of(buy_page(plan), "BuyList")
    assert [row["To pay"] for row in bought] == [100.45, 100.45, 100.44]
    assert last == ["mild steel 1/4 in 200.90", "thick 100.44", "Total 301.34"]


def test_a_quote_on_its_page_the_customers_page_and_json(plan: Plan) -> None:
    month = Month.of(plan, {}, TODAY)
    line = QuoteLine("Q-1", "set", (3,), mark_up=0.25)
    found = answered(line, 3, month, plan.job, counted_work(OPTIONS, 0.2), 0.5)
    one = Quoted(line, TODAY.isoformat(), "USD", (priced(line, found, month, OPTIONS),))
    page = quoted_page((one,), (one,), today=TODAY, settings=plan.job.settings)
    (told,) = quotes_json((one,), plan.job.settings.units)["quotes"][0]["answers"]
    (price,), _ = rows_of(page, "QuotePrices")
    assert cents(price["Price each"]) * 3 == cents(price["Price"]) == cents(told["price"])
    assert (cents(price["Cost alone"]), cents(price["Adds this month"])) == (
        cents(told["alone"]["total"]), cents(told["added"]["total"]),
    )  # fmt: skip
    costs, _ = rows_of(page, "QuoteCosts")
    for row, key in zip(costs, ("alone", "added"), strict=True):
        parts = ("Metal", "Machine", "Consumables", "Hands", "Scrap back")
        assert sum(cents(row[part]) for part in parts) == cents(row["Cost"]) == cents(told[key]["total"])
        for heading, name in (("Metal", "metal"), ("To pay", "to_pay"), ("Back to the rack", "kept")):
            assert cents(row[heading]) == cents(told[key][name]), heading
    assert costs[0]["Metal"] == costs[0]["To pay"], "alone, the metal is the bill, in print as well"
    pdf = pypdf.PdfReader(io.BytesIO(quote_pdf(one, plan.job.settings)))
    words = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    assert f"{told['price_each']:,.2f}" in words
    assert f"{told['price']:,.2f}" in words


def test_hours_in_words_and_in_cells_are_of_one_minute() -> None:
    """A cell cuts off what is under a minute, a text rounds it: 10 h 36.7 min is 10 h 37 min in both."""
    from sheetplan.pages.values import Kind
    from sheetplan.trade.units import Units
    from sheetplan.workbook.style import HOURS_A_DAY, shown

    hours = 10 + 36.7 / 60
    said = datetime.timedelta(days=shown(hours, Kind.HOURS, Units.INCH))
    assert HOURS_A_DAY * said.total_seconds() / 86400 == pytest.approx(10 + 37 / 60)
