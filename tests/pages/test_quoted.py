"""The page Quoted and the customer's page: steps of the price, wrong rows, late days, until when it holds."""

import datetime
import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pypdf
import pytest

from sheetplan.model import Problem, Settings, Weight
from sheetplan.model.job import QuoteLine
from sheetplan.money.quoting import Priced, QuoteCost, Quoted
from sheetplan.pages.book.quoted import CHART, Findings, quote_notes, quoted_page
from sheetplan.pages.paper.quote import quote_pdf
from sheetplan.pages.values import ChartKind, Kind, ResultPage
from sheetplan.trade.units import Units
from sheetplan.workbook.writing.print_setup import column_widths, print_setup

DAY = datetime.date(2026, 11, 24)
WRONG = Problem(
    "Quotes", 7, "B7", "claet set is neither a kit nor a part.", "Correct the name.", Weight.LEFT_OUT
)


def given(name: str, prices: dict[int, float], **line: Any) -> Quoted:
    """A quote whose price each is as said, without a mark-up."""
    answers = tuple(
        Priced(quantity, *[QuoteCost(metal=each * quantity, sheets=1 + quantity // 20)] * 2)
        for quantity, each in prices.items()
    )
    return Quoted(QuoteLine(name, "stand", tuple(prices), **line), DAY.isoformat(), "USD", answers)


def page(*quotes: Quoted, wrong: Sequence[Problem] = ()) -> ResultPage:
    return quoted_page(quotes, quotes, today=DAY, settings=Settings(), found=Findings(wrong))


def steps(shown: ResultPage) -> list[dict[str, Any]]:
    """The rows behind the chart, by heading."""
    table = next(one for one in shown.tables if one.name == "QuoteSteps")
    assert table.chart == CHART
    return [dict(zip([one.heading for one in table.columns], row, strict=True)) for row in table.rows]


def test_the_steps_of_a_cheap_quote_stand_as_high_as_those_of_a_dear_one() -> None:
    rows = steps(page(given("Q-1", {1: 2.0, 10: 1.0, 20: 1.5}), given("Q-2", {1: 2000.0, 10: 1000.0})))
    labels = ["Q-1: 1", "Q-1: 10", "Q-1: 20", "Q-2: 1", "Q-2: 10"]
    assert [row["Quote and quantity"] for row in rows] == labels
    charted = [[row[heading] for heading in CHART.series] for row in rows]
    assert charted == [[1.0, 1.0], [0.5, 0.5], [0.75, 0.75], [1.0, 1.0], [0.5, 0.5]]
    assert [row["Price each, alone"] for row in rows] == [2.0, 1.0, 1.5, 2000.0, 1000.0]
    assert [row["Sheets, alone"] for row in rows] == [1, 1, 2, 1, 1], "where another sheet begins"


def test_the_chart_is_of_the_shares_and_of_quotes_with_steps_alone() -> None:
    shown = page(given("Q-1", {4: 3.0}), given("Q-2", {0: 0.0, 1: 5.0, 3: 4.0}))
    assert [row["Quote and quantity"] for row in steps(shown)] == ["Q-2: 1", "Q-2: 3"]
    table = next(one for one in shown.tables if one.name == "QuoteSteps")
    kinds = {one.heading: one.kind for one in table.columns}
    assert CHART.kind is ChartKind.COLUMNS
    assert {kinds[heading] for heading in CHART.series} == {Kind.SHARE}
    assert not [one for one in page(given("Q-1", {4: 3.0})).tables if one.name == "QuoteSteps"]


def test_what_cannot_be_made_is_no_step() -> None:
    one = given("Q-1", {1: 4.0, 2: 3.0, 3: 2.0})
    first = replace(one.answers[0], short_alone={"plate": 1})
    rows = steps(page(replace(one, answers=(first, *one.answers[1:]))))
    assert [row[CHART.series[0]] for row in rows] == [None, 1.0, pytest.approx(2 / 3)]
    assert [row[CHART.series[1]] for row in rows] == pytest.approx([4 / 3, 1.0, 2 / 3]), "one base for both"


def test_a_wrong_row_is_told_with_its_cell_also_where_nothing_is_quoted() -> None:
    for shown in (page(given("Q-1", {1: 4.0}), wrong=[WRONG]), page(wrong=[WRONG])):
        (said,) = [line for line in shown.lines if line.startswith("Quotes!B7: ")]
        assert WRONG.what in said
        assert WRONG.remedy in said
    assert not [line for line in page(given("Q-1", {1: 4.0})).lines if "put right" in line]


def test_a_day_that_cannot_be_met_is_said_with_both_days() -> None:
    one = given("Q-1", {1: 4.0}, wanted="2026-11-27")
    late = replace(one, answers=(replace(one.answers[0], finish="2026-12-01"),))
    (said,) = quote_notes([late])
    assert said == "Q-1, 1 of stand: Too late: it can be cut by 2026-12-01, and is wanted on 2026-11-27."
    assert said in page(late).lines
    in_time = replace(one, answers=(replace(one.answers[0], finish="2026-11-27"),))
    assert list(quote_notes([in_time])) == []


def test_a_price_by_luck_of_the_search_is_said_to_be_none_for_a_customer() -> None:
    one = given("Q-1", {24: 2.77})
    lucky = replace(one.answers[0], by_month=True, added=replace(one.answers[0].added, saved=22.78))
    (said,) = quote_notes([replace(one, answers=(lucky,))])
    assert "costs 22.78 less than in the plan without" in said
    assert said.endswith("There is no page for the customer until then.")
    tables = {table.name: table for table in page(replace(one, answers=(lucky,))).tables}
    heads = [column.heading for column in tables["QuotePrices"].columns]
    row = dict(zip(heads, tables["QuotePrices"].rows[0], strict=True))
    assert (row["Price each"], row["Adds this month"]) == (None, None), "what is not known is no figure"
    assert [row[1] for row in tables["QuoteCosts"].rows] == ["alone"]
    two = given("Q-1", {24: 2.77, 30: 2.5})
    (first, second) = steps(page(replace(two, answers=(lucky, two.answers[1]))))
    assert (first["Sheets, alone"], first["Sheets, this month"]) == (2, None)
    assert second["Sheets, this month"] == 2
    (alone,) = quote_notes([replace(one, answers=(replace(lucky, by_month=False),))])
    assert "page for the customer" not in alone, "its price stands on what it costs alone"
    assert list(quote_notes([replace(one, answers=(lucky,), ordered="2026-11-24", ordered_quantity=1)])) == []


def test_what_became_an_order_is_told_in_the_run_that_makes_it_one() -> None:
    one = replace(given("Q-1", {1: 4.0}), ordered=DAY.isoformat(), ordered_quantity=1)
    later = quoted_page([one], [one], today=DAY, settings=Settings())
    now = quoted_page([one], [one], today=DAY, settings=Settings(), ordered=("Q-1",))
    assert [any("Plan again" in line for line in shown.lines) for shown in (now, later)] == [True, False]


@pytest.mark.parametrize("units", Units)
def test_the_page_prints_on_one_sheet_across(units: Units) -> None:
    quotes = [given("Q-101", {1: 524.83, 10: 1060.28, 50: 9870.55}, customer="harbour office, north pier")]
    shown = quoted_page(quotes, quotes, today=DAY, settings=Settings(units=units))
    assert print_setup(column_widths(shown, units), units).across == 1


def words(one: Quoted) -> str:
    """What stands on the customer's page."""
    pdf = pypdf.PdfReader(io.BytesIO(quote_pdf(one, Settings(shop_name="Quay works"))))
    assert len(pdf.pages) == 1
    return " ".join(pdf.pages[0].extract_text().split())


def test_the_customers_page_names_the_drawing_and_the_last_day_of_its_prices() -> None:
    one = replace(
        given("Q-7", {2: 9.5}, drawing="drawings/winch_guard.dxf", customer="slipway"),
        described='aluminium 5052 1/8"', holds_until="2026-12-24",
    )  # fmt: skip
    said = words(one)
    assert 'Item: winch_guard, aluminium 5052 1/8"' in said
    assert "drawings" not in said
    assert ".dxf" not in said
    assert "Prices hold until: 2026-12-24" in said
    assert "9.50" in said
    assert "19.00" in said
    assert "hold until" not in words(replace(one, holds_until=""))


def test_the_customers_page_says_from_when_days_count_and_that_a_wish_is_past_or_too_early() -> None:
    one = replace(given("Q-1", {1: 4.0, 10: 3.0}, wanted="2026-11-26"), counts_from="2026-11-25")
    first, last = one.answers
    in_time, late = replace(first, finish="2026-11-26"), replace(last, finish="2026-11-27")
    said = words(replace(one, answers=(in_time, late)))
    assert "as the work lies today, if it is ordered before cutting begins on 2026-11-25." in said
    assert "Wanted by 2026-11-26: 10 cannot be cut by then." in said
    said = words(replace(one, answers=(replace(in_time, finish="2026-11-27"), late)))
    assert "Wanted by 2026-11-26: it cannot be cut by then." in said
    assert "cannot" not in words(replace(one, answers=(in_time, replace(late, finish="2026-11-26"))))
    past = given("Q-1", {1: 4.0}, wanted="2026-11-02")
    assert "Wanted by 2026-11-02: that day is past." in words(past)


def test_a_month_without_orders_is_not_told_as_a_plan_that_was_made() -> None:
    one = given("Q-1", {1: 4.0})
    for no_orders, start in ((True, "The page Orders has nothing to cut"), (False, "No plan of the present")):
        found = Findings(no_orders=no_orders)
        shown = quoted_page([one], [one], today=DAY, settings=Settings(), found=found)
        assert [line for line in shown.lines if line.startswith(start)]


def test_the_page_says_how_long_prices_hold_or_that_nothing_says_so() -> None:
    one = given("Q-1", {1: 4.0})
    said = page(replace(one, holds_until="2026-12-24")).lines
    assert "The customers' pages say that the prices hold until 2026-12-24." in said
    assert any("do not say how long" in line for line in page(one).lines)
