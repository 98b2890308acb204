"""The page Quotes, row by row; and what prices of sheets stand on."""

from typing import Any

import pytest

from sheetplan.model import Material
from sheetplan.trade.thickness import Thickness
from sheetplan.trade.units import KG_PER_POUND, Units
from sheetplan.workbook.reading.cells import CellFault, mark_up_of
from sheetplan.workbook.reading.metals import priced_amount, read_materials
from sheetplan.workbook.reading.orders import quantities_of, read_quotes
from sheetplan.workbook.schema import PricePer
from sheetplan.workbook.tables import RawCell, RawRow, RawTable
from tests.nasty.books.plain import tables_of
from tests.workbook.test_reading import job_of, plain_rows

ITEMS = {"cleat set": "Cleat set"}


def table(**cells: object) -> RawTable:
    row = RawRow(5, {name.replace("_", " "): RawCell(value, f"{chr(65 + place)}5")  # type: ignore[arg-type]
                     for place, (name, value) in enumerate(cells.items())})
    return RawTable("Quotes", 4, ("Quote", "Item", "Quantity"), (row,))


@pytest.mark.parametrize(("said", "meant"), [
    (7, (7,)), ("1, 10, 50", (1, 10, 50)), ("1; 10; 50", (1, 10, 50)), ("1 and 10", (1, 10)), ("10 10", None),
    ("1/10", (1, 10)), ("10; 10", (10,)), ("0", (0,)), ("1,000", None), ("some", None), ("", None),
])  # fmt: skip
def test_quantities(said: object, meant: tuple[int, ...] | None) -> None:
    if meant is None:
        with pytest.raises(ValueError):  # noqa: PT011  # the readers' own kinds of fault
            quantities_of(said)  # type: ignore[arg-type]
    else:
        assert quantities_of(said) == meant  # type: ignore[arg-type]


@pytest.mark.parametrize(("said", "meant"), [(0.25, 0.25), ("25%", 0.25), (40, 0.4), ("150 %", 1.5)])
def test_mark_ups(said: object, meant: float) -> None:
    assert mark_up_of(said) == pytest.approx(meant)  # type: ignore[arg-type]


def test_a_mark_up_that_may_be_two_things_is_refused() -> None:
    with pytest.raises(CellFault):
        mark_up_of(2)


def test_a_row_names_its_item_as_its_page_does() -> None:
    read = read_quotes(table(Quote="Q-1", Item="CLEAT set", Quantity="5; 1", Price_by="this month"),
                       Units.INCH, ITEMS)  # fmt: skip
    line = read.rows[0].value
    assert (line.item, line.quantities, line.by_month, line.mark_up) == ("Cleat set", (1, 5), True, None)


@pytest.mark.parametrize(("cells", "heading"), [
    ({"Quote": "Q-1", "Item": "claet set", "Quantity": 1}, "B5"),
    ({"Quote": "Q-1", "Item": None, "Quantity": 1}, "B5"),
    ({"Quote": "Q-1", "Item": "cleat set", "Quantity": "few"}, "C5"),
    ({"Quote": "Q-1", "Item": "cleat set", "Quantity": 1, "Drawing": "a.dxf"}, "B5"),
])  # fmt: skip
def test_a_wrong_cell_is_named_and_its_row_left_out(cells: dict[str, object], heading: str) -> None:
    read = read_quotes(table(**cells), Units.INCH, ITEMS)
    assert not read.rows
    assert [problem.cell for problem in read.problems] == [heading]


def test_a_price_by_weight_takes_the_weight_that_is_billed() -> None:
    steel, gauge = Material("mild steel", "carbon steel", 7850.0), Thickness(3.4163, "10 ga")
    area = 48 * 96 * 25.4**2
    billed = priced_amount(PricePer.POUND, area, steel, gauge, Units.INCH, 180 * KG_PER_POUND)
    assert billed == pytest.approx(180)
    assert priced_amount(PricePer.POUND, area, steel, gauge, Units.INCH) < 177


def test_the_sheets_of_a_book_are_priced_by_the_weight_that_its_row_says() -> None:
    """4 x 8 ft of 10 ga at 0.62 a pound; by its real weight it would come 2.4 per cent cheaper."""
    def price(**cells: Any) -> float:
        rows = plain_rows()
        rows["Stock"][0] |= {"Price": 0.62, "Price per": "lb", **cells}
        return job_of(rows).stock[0].price

    # Source: 15 U.S.C. 206, 10 gauge weighs 90 oz a square foot.
    published = price(**{"Billed weight": "published"})
    assert published == pytest.approx(0.62 * 90 / 16 * 32)
    assert price(**{"Billed weight": "real"}) == price() == pytest.approx(published / 1.024, rel=2e-3)
    assert price(**{"Billed weight": "181.5"}) == pytest.approx(0.62 * 181.5)


# A pound is 0.45359237 kg exactly (NIST SP 811, appendix B).
@pytest.mark.parametrize(("units", "density", "kg"), [("in", 0.2836, 0.45359237), ("mm", 7850, 1.0)])
def test_the_scrap_price_is_for_the_weight_of_the_book(units: str, density: float, kg: float) -> None:
    rows = plain_rows()
    rows["Settings"] = [{"Setting": "Units", "Value": units}]
    rows["Materials"] = [{**row, "Density": density} for row in rows["Materials"]]
    rows["Materials"][0] |= {"Scrap price": "0.08"}
    table = tables_of(rows).tables["Materials"]
    steel, other = (one.value for one in read_materials(table, Units(units)).rows)
    assert steel.scrap_price == pytest.approx(0.08 / kg)
    assert other.scrap_price == 0.0, "empty counts nothing"
