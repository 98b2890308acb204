"""One plan, many pages: Plan, Buy, Made, files, tickets and what LibreOffice draws say the same numbers."""

import csv
import io
import re
import subprocess
from pathlib import Path
from typing import Any

import openpyxl
import pypdf
import pytest

from sheetplan.app.plan import PlanOutcome
from sheetplan.cli.printing import print_plan
from sheetplan.model.plan import against_cheapest
from sheetplan.money.cents import cent
from sheetplan.trade.units import Units
from tests.workbook.rendering import converted, needs_libreoffice

PRINTED = 0.005 + 1e-9
"""Printed rows of money add up to the printed total, which is half a cent at most from the exact one."""

CENT = 1e-6
"""Amounts are the same to the cent when they are the same to a ten-thousandth of one."""


def units_of(planned: PlanOutcome) -> Units:
    assert planned.plan is not None
    return planned.plan.job.settings.units


def totals_of(planned: PlanOutcome) -> dict[str, Any]:
    assert planned.record is not None
    return dict(planned.record["totals"])


def table(planned: PlanOutcome, page: str, name: str) -> list[dict[str, Any]]:
    sheet = openpyxl.load_workbook(planned.book, data_only=True)[page]
    heads, *rows = [[cell.value for cell in row] for row in sheet[sheet.tables[name].ref]]
    return [dict(zip(heads, row, strict=True)) for row in rows]


def column(rows: list[dict[str, Any]], heading: str) -> float:
    return sum(row[heading] or 0.0 for row in rows)


def file_text(planned: PlanOutcome, name: str) -> str:
    assert planned.drawings is not None
    reader = pypdf.PdfReader(io.BytesIO((planned.drawings / name).read_bytes()))
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


def test_plan_page_and_record(planned: PlanOutcome) -> None:
    rows, totals, weight = table(planned, "Plan", "PlanGauges"), totals_of(planned), units_of(planned).weight
    assert column(rows, "Metal cost") == pytest.approx(totals["metal_cost"], abs=PRINTED)
    assert column(rows, "Cutting cost") == pytest.approx(totals["cutting_cost"], abs=PRINTED)
    assert column(rows, f"Sheet weight, {weight}") == pytest.approx(totals["sheet_weight"], abs=CENT)
    parts = sum(column(rows, f"{name}, {weight}") for name in ("Part weight", "Waste weight", "Kept weight"))
    assert parts == pytest.approx(totals["sheet_weight"], abs=CENT)
    sheets = table(planned, "Plan", "PlanSheets")
    lifted = sum(row["Sheets"] * row[f"Weight each, {weight}"] for row in sheets)
    assert lifted == pytest.approx(totals["sheet_weight"], abs=CENT)


def test_how_sure_it_is_that_nothing_is_cheaper(
    planned: PlanOutcome, capsys: pytest.CaptureFixture[str]
) -> None:
    """Page, record and command line use the same words for every gauge and for all of them."""
    assert planned.record is not None
    heading = "Against the cheapest"
    said = [one["against_cheapest"] for one in (*planned.record["groups"], planned.record["totals"])]
    assert [row[heading] for row in table(planned, "Plan", "PlanGauges")] == said[:-1]
    sheet = openpyxl.load_workbook(planned.book, data_only=True)["Plan"]
    [total] = [[cell.value for cell in row] for row in sheet.iter_rows() if row[0].value == "Total"]
    assert said[-1] in total
    print_plan(planned, 1.0)
    lines = capsys.readouterr().out.splitlines()
    first = next(number for number, line in enumerate(lines) if line.endswith(heading.split()[-1])) + 1
    assert all(line.endswith(words) for line, words in zip(lines[first:], said, strict=False))
    for one in (*planned.record["groups"], planned.record["totals"]):
        assert against_cheapest(one["within"]) == one["against_cheapest"]


def test_buy_page_file_and_print(planned: PlanOutcome) -> None:
    rows, totals, weight = table(planned, "Buy", "BuyList"), totals_of(planned), units_of(planned).weight
    assert column(rows, "To pay") == pytest.approx(totals["to_pay"], abs=PRINTED)
    assert column(rows, "Sheets") == totals["sheets_to_buy"]
    suppliers = table(planned, "Buy", "BuyTotals")
    for heading in ("To pay", f"Weight, {weight}"):
        assert column(suppliers, heading) == pytest.approx(column(rows, heading), abs=CENT)
    assert planned.drawings is not None
    text = (planned.drawings / "buy-list.csv").read_text(encoding="utf-8-sig")
    assert planned.plan is not None
    currency = planned.plan.job.settings.currency
    written = [line[f"To pay {currency}"] for line in csv.DictReader(io.StringIO(text))]
    assert all(len(amount.partition(".")[2]) == 2 for amount in written)
    assert sum(map(float, written)) == pytest.approx(totals["to_pay"], abs=PRINTED)
    printed = file_text(planned, "to-order.pdf")
    for supplier in suppliers:
        kilos, amount = supplier[f"Weight, {weight}"], supplier["To pay"]
        assert f"{kilos:,.1f} {weight} to load, {amount:,.2f} {currency}" in printed


def test_made_page(planned: PlanOutcome) -> None:
    totals = totals_of(planned)
    lines, parts = table(planned, "Made", "MadeList"), table(planned, "Made", "PartCosts")
    net = totals["cost"] - totals["kept_value"]
    assert column(parts, "Cost of all") == pytest.approx(net, abs=PRINTED)
    spares = {row["Part"]: row["Pieces"] or 0 for row in table(planned, "Made", "SpareList") if row["Part"]}
    each = {row["Part"]: row["Cost each"] for row in parts}
    beyond = sum(pieces * each[part] for part, pieces in spares.items())
    of_one = PRINTED * sum(spares.values())
    assert column(lines, "Cost") + beyond == pytest.approx(net, abs=2 * PRINTED + of_one)
    assert column(parts, "Pieces") == totals["pieces"]


def test_every_sum_is_the_same_to_the_cent(planned: PlanOutcome) -> None:
    """What stands in the cells, as it is printed, adds up to the total of the record as it is printed."""
    def cents(amount: Any) -> int:
        return round(cent(float(amount or 0.0)) * 100)

    def printed(page: str, name: str, heading: str) -> int:
        return sum(cents(row[heading]) for row in table(planned, page, name))

    totals = totals_of(planned)
    assert printed("Plan", "PlanGauges", "Metal cost") == cents(totals["metal_cost"])
    assert printed("Plan", "PlanGauges", "Cutting cost") == cents(totals["cutting_cost"])
    assert printed("Made", "PartCosts", "Cost of all") == cents(totals["cost"] - totals["kept_value"])
    for name in ("BuyList", "BuyTotals"):
        assert printed("Buy", name, "To pay") == cents(totals["to_pay"])


def test_tickets(planned: PlanOutcome) -> None:
    """Every ticket's weight, as printed, times how often it is cut: the plan's metal, to the rounding."""
    units = units_of(planned)
    text = file_text(planned, "tickets.pdf")
    each = [float(said.replace(",", "")) for said in re.findall(rf"([\d,.]+) {units.weight} each", text)]
    assert planned.record is not None
    known = {layout["tag"]: layout for group in planned.record["groups"] for layout in group["layouts"]}
    codes = re.findall(rf"Drawing {planned.mark}-(L\d+)_", text)
    layouts = [known[tag] for tag in codes]
    assert len(each) == len(layouts) == len({*codes}) == len(known)
    printed = sum(weight * layout["repeats"] for weight, layout in zip(each, layouts, strict=True))
    rounding = 0.05 * sum(layout["repeats"] for layout in layouts)
    assert printed == pytest.approx(totals_of(planned)["sheet_weight"], abs=rounding)


@needs_libreoffice
def test_what_libreoffice_draws(planned: PlanOutcome, tmp_path: Path) -> None:
    """The printed pages show the totals to the cent and to a tenth of a pound or kilogram."""
    pdf = converted(planned.book, "pdf", tmp_path / "pdf")
    drawn = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    totals = totals_of(planned)
    total_rows = [line for line in drawn.splitlines() if line.strip().startswith("Total")]
    plan_row = next(line for line in total_rows if f"{totals['metal_cost']:,.2f}" in line)
    for value in (totals["sheet_weight"], totals["part_weight"]):
        assert f"{value:,.1f}" in plan_row
    assert f"{totals['cutting_cost']:,.2f}" in plan_row
    assert any(f"{totals['to_pay']:,.2f}" in line for line in total_rows)
    assert f"the plan costs {totals['cost']:,.2f}." in " ".join(drawn.split())
