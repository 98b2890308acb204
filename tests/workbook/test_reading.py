"""Every kind of bad content gives its own problem at its own cell, and no plan where that would mislead."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sheetplan.model import Corner, Grain, Job, Problem, Weight
from sheetplan.trade.units import Units
from sheetplan.workbook.columns import INPUT_PAGES
from sheetplan.workbook.reading.job import MOST_PIECES, read_job
from sheetplan.workbook.reading.metals import KG_M3_PER_LB_IN3
from sheetplan.workbook.tables import BookTables, ErrorValue, NotComputed, RawTable
from tests.nasty.books.plain import Rows, address, plain_rows, tables_of
from tests.nasty.books.plain import page as input_page


def read(rows: Rows) -> tuple[Job | None, tuple[Problem, ...]]:
    return read_job(tables_of(rows))


def job_of(rows: Rows) -> Job:
    job, problems = read(rows)
    assert job is not None, problems
    return job


def test_the_plain_book_is_read_without_a_problem() -> None:
    job, problems = read(plain_rows())
    assert problems == ()
    assert job is not None
    assert job.settings.units is Units.INCH
    assert job.settings.seed == 3
    assert job.kits["cleat set"].parts == {"CB-100": 1, "CB-101": 2}
    assert [(o.item, o.quantity, o.must, o.line) for o in job.orders] == [
        ("cleat set", 5, True, 5), ("SP-704", 7, False, 6),
    ]  # fmt: skip
    assert job.parts["CB-101"].outline.outer.vertices[2][:2] == pytest.approx((12 * 25.4, 4.5 * 25.4))
    assert job.remnants[0].datum is Corner.LOWER_LEFT


@dataclass(frozen=True)
class Case:
    """A change to one cell of the plain book, and the finding that it must give."""

    name: str
    page: str
    row: int
    heading: str
    value: Any
    says: str
    weight: Weight = Weight.LEFT_OUT
    at: str = ""
    """Heading of the cell that is blamed, where it is another."""
    stops: bool = True


CASES = (
    Case("text in a number cell", "Parts", 0, "Width", "twelve", "cannot be read as a length"),
    Case("zero size", "Parts", 0, "Width", 0, "is 0"),
    Case("negative size", "Parts", 0, "Length", -3, "negative"),
    Case("size in the other unit", "Parts", 0, "Length", 2500, "metres"),
    Case("size of next to nothing", "Parts", 0, "Length", 0.001, "less than 1 mm"),
    Case("half-filled row", "Parts", 0, "Thickness", None, "Thickness is empty"),
    Case("error in a cell", "Parts", 0, "Length", ErrorValue("#N/A"), "#N/A"),
    Case("error in a name", "Parts", 0, "Part", ErrorValue("#REF!"), "#REF!"),
    Case("formula without a result", "Parts", 0, "Length", NotComputed(), "not stored"),
    Case("fraction that became a date", "Parts", 0, "Width", datetime.datetime(2026, 3, 8), "into a date"),
    Case("thickness that became a date", "Parts", 0, "Thickness", datetime.date(2026, 3, 16), "into a date"),
    Case("unknown word in a thickness", "Parts", 0, "Thickness", "10 gx", "gx"),
    Case("gauge of no table", "Parts", 0, "Thickness", "99 ga", "99 ga"),
    Case("unknown turn", "Parts", 0, "Turns", "sideways", "sideways"),
    Case("unknown grain", "Parts", 0, "Grain", "diagonal", "diagonal"),
    Case("negative spare", "Parts", 0, "Spare", -1, "negative"),
    Case("neither yes nor no", "Parts", 0, "Mark", "perhaps", "neither"),
    Case("unknown metal", "Parts", 0, "Material", "mild stel", "not on the page Materials"),
    Case("name that became a date", "Parts", 0, "Part", datetime.datetime(2026, 10, 12), "date"),
    Case("part larger than every sheet", "Parts", 0, "Length", 100, "fits on no sheet", Weight.STOPS),
    Case("gauge without a sheet", "Parts", 0, "Thickness", "16 ga", "no usable sheet", Weight.STOPS),
    Case("unknown part in a kit", "Kits", 0, "Part", "CB-999", "not on the page Parts"),
    Case("kit in a kit", "Kits", 0, "Part", "cleat set", "is a kit"),
    Case("none of a part in a kit", "Kits", 0, "Quantity", 0, "is 0"),
    Case("part of a part in a kit", "Kits", 0, "Quantity", 1.5, "not a whole number"),
    Case("kit's name missing", "Kits", 1, "Kit", None, "Kit is empty", Weight.STOPS),
    Case("unknown item", "Orders", 0, "Item", "cleat sett", "Did you mean cleat set", Weight.STOPS),
    Case("order for nothing", "Orders", 0, "Quantity", 0, "asks for none", Weight.LEFT_OUT, stops=False),
    Case("negative order", "Orders", 0, "Quantity", -4, "negative", Weight.STOPS),
    Case("order without a quantity", "Orders", 0, "Quantity", None, "Quantity is empty", Weight.STOPS),
    Case("order in words", "Orders", 0, "Quantity", "a dozen", "not a number", Weight.STOPS),
    Case("absurd order", "Orders", 0, "Quantity", 5_000_000, "more than", Weight.STOPS),
    Case("order without a name", "Orders", 0, "Order", None, "Order is empty", Weight.STOPS),
    Case("unknown word for must", "Orders", 0, "Must", "soon", "soon", Weight.STOPS),
    Case("unknown item that need not be made", "Orders", 1, "Item", "SP-999", "neither on", stops=False),
    Case("negative sheet", "Stock", 0, "Width", -48, "negative", stops=False),
    Case("sheet in words", "Stock", 0, "Length", "long", "cannot be read", stops=False),
    Case("half a sheet on hand", "Stock", 0, "On hand", 0.5, "not a whole number", stops=False),
    Case("order multiple of nothing", "Stock", 0, "Order multiple", 0, "is 0", stops=False),
    Case("price in words", "Stock", 0, "Price", "ask", "not a bare amount", stops=False),
    Case("price for what", "Stock", 0, "Price per", "bundle", "bundle", stops=False),
    Case("remnant in words", "Remnants", 0, "Width", "wide", "cannot be read", stops=False),
    Case("remnant in no state", "Remnants", 0, "State", "somewhere", "somewhere", stops=False),
    Case("remnant's corner", "Remnants", 0, "Datum corner", "middle", "middle", stops=False),
    Case("gap less than the kerf", "Cutting", 0, "Gap", 0.01, "less than the kerf", Weight.STOPS),
    Case("gap in the other unit", "Cutting", 0, "Gap", 13, "330 mm", Weight.STOPS),
    Case("negative margin", "Cutting", 0, "Margin", -1, "negative", Weight.STOPS),
    Case("no kerf", "Cutting", 0, "Kerf", None, "Kerf is empty", Weight.STOPS),
    Case("no feed at all", "Cutting", 0, "Feed", 0, "is 0", Weight.STOPS),
    Case("unknown gauge system", "Materials", 0, "Gauge system", "imperial", "imperial"),
    Case("density of no metal", "Materials", 0, "Density", 7850, "density of no metal"),
    Case("negative density", "Materials", 0, "Density", -0.3, "negative"),
    Case("unknown units", "Settings", 0, "Value", "furlong", "furlong", Weight.STOPS),
    Case("no units", "Settings", 0, "Value", None, "which units", Weight.STOPS),
    Case("seed in words", "Settings", 1, "Value", "lucky", "lucky", Weight.STOPS),
    Case("unknown setting", "Settings", 1, "Setting", "Sead", "Did you mean Seed", Weight.NOTE, stops=False),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_one_bad_cell(case: Case) -> None:
    rows = plain_rows()
    rows[case.page][case.row][case.heading] = case.value
    job, problems = read(rows)
    blamed = address(case.page, case.at or case.heading, case.row)
    found = [p for p in problems if p.cell == blamed and p.page == case.page]
    assert found, problems
    assert any(case.says in f"{p.what} {p.remedy}" for p in found), found
    assert found[0].weight is case.weight
    assert found[0].row == case.row + 5
    assert (job is None) == case.stops


def test_all_bad_cells_are_found_in_one_pass() -> None:
    rows = plain_rows()
    wanted = set()
    for page, row, heading, value in (
        ("Parts", 0, "Width", "x"), ("Parts", 0, "Length", "y"), ("Parts", 1, "Thickness", "z"),
        ("Stock", 1, "Width", -1), ("Orders", 1, "Quantity", "many"), ("Materials", 1, "Density", "heavy"),
        ("Cutting", 0, "Gap", "wide"), ("Kits", 1, "Quantity", "few"), ("Remnants", 0, "Value", "much"),
        ("Settings", 1, "Value", "odd"),
    ):  # fmt: skip
        rows[page][row][heading] = value
        wanted.add((page, address(page, heading, row)))
    _, problems = read(rows)
    assert wanted <= {(p.page, p.cell) for p in problems}


def test_problems_come_page_by_page_and_row_by_row() -> None:
    rows = plain_rows()
    rows["Orders"][0]["Quantity"] = "x"
    rows["Parts"][2]["Width"] = "x"
    rows["Parts"][0]["Width"] = "x"
    places = [(p.page, p.row) for p in read(rows)[1]]
    names = [page.name for page in INPUT_PAGES]
    assert places == sorted(places, key=lambda place: (names.index(place[0]), place[1] or 0))


@pytest.mark.parametrize("name", [page.name for page in INPUT_PAGES])
def test_a_missing_page_is_named_once(name: str) -> None:
    rows = plain_rows()
    del rows[name]
    job, problems = read(rows)
    told = [p for p in problems if p.page == name]
    assert len(told) == 1
    assert name in told[0].what
    if name == "Remnants":
        assert job is not None
        assert told[0].weight is Weight.NOTE
    else:
        assert job is None
    if name not in ("Kits", "Remnants"):
        assert [p for p in problems if p.page != name] == [], "no other page is blamed for what is missing"


def test_a_book_without_kits_takes_orders_for_parts() -> None:
    rows = plain_rows()
    del rows["Kits"]
    rows["Orders"][0]["Item"] = "CB-100"
    assert job_of(rows).kits == {}


def without_column(table: RawTable, heading: str) -> RawTable:
    rows = tuple(
        type(row)(row.number, {name: cell for name, cell in row.cells.items() if name != heading})
        for row in table.rows
    )
    return RawTable(table.page, table.heading_row, tuple(h for h in table.headings if h != heading), rows)


@pytest.mark.parametrize(
    ("name", "heading"),
    [(page.name, column.heading) for page in INPUT_PAGES for column in page.columns],
)
def test_a_missing_column(name: str, heading: str) -> None:
    tables = dict(tables_of(plain_rows()).tables)
    tables[name] = without_column(tables[name], heading)
    job, problems = read_job(BookTables(tables))
    column = input_page(name).column(heading)
    told = [p for p in problems if f"column {heading} is missing" in p.what]
    if column.required:
        assert [p.page for p in told] == [name]
        assert job is None
    else:
        assert told == []


def test_a_heading_that_stands_twice_is_refused() -> None:
    tables = dict(tables_of(plain_rows()).tables)
    parts = tables["Parts"]
    tables["Parts"] = RawTable(parts.page, parts.heading_row, (*parts.headings, " width "), parts.rows)
    job, problems = read_job(BookTables(tables))
    assert job is None
    assert any("Width stands over 2 columns" in p.what for p in problems)


def test_duplicate_parts_with_other_values_stop_their_orders() -> None:
    rows = plain_rows()
    rows["Parts"].append({**rows["Parts"][0], "Part": " cb-100 ", "Width": 7})
    job, problems = read(rows)
    assert job is None
    assert any(p.page == "Parts" and p.row == 8 and "row 5 already" in p.what for p in problems)
    assert any(p.page == "Orders" and p.row == 5 and p.weight is Weight.STOPS for p in problems)


def test_a_row_that_cannot_be_read_claims_its_name() -> None:
    rows = plain_rows()
    rows["Parts"].append({**rows["Parts"][0], "Width": 7})
    rows["Parts"][0]["Thickness"] = "10 gauage"
    job, problems = read(rows)
    assert job is None, "the order is not made from the other row"
    parts = [(p.row, p.weight) for p in problems if p.page == "Parts"]
    assert parts == [(5, Weight.LEFT_OUT), (8, Weight.LEFT_OUT)]
    assert any("stands on row 5 too" in p.what for p in problems if p.page == "Parts")
    [stopping] = [p for p in problems if p.page == "Orders"]
    assert (stopping.row, stopping.weight) == (5, Weight.STOPS)
    assert "row 5 of the page" in stopping.what


@pytest.mark.parametrize("faulty", [0, 1])
@pytest.mark.parametrize(("page", "name"), [("Stock", "Sheet"), ("Remnants", "Tag")])
def test_sheets_and_tags_that_cannot_be_read_claim_their_names(page: str, name: str, faulty: int) -> None:
    rows = plain_rows()
    taken = rows[page][0][name]
    rows[page].insert(1, {**rows[page][0], "Length": 50})
    rows[page][faulty]["Width"] = "?"
    job, problems = read(rows)
    assert job is not None
    assert taken not in [sheet.name for sheet in job.stock] + [remnant.tag for remnant in job.remnants]
    told = [p for p in problems if p.page == page]
    assert {p.row for p in told if p.weight is Weight.LEFT_OUT} == {5, 6}
    assert any(f"{name} {taken} stands on row {5 + faulty} too" in p.what for p in told)


@pytest.mark.parametrize(("cells", "heading", "says"), [
    ({"Shape": "ring", "Width": 12, "Length": 12, "Inside": 13}, "Inside",
     "The inside of 13 does not fit in a ring of 12 in."),
    ({"Shape": "ring", "Width": 12, "Length": 12}, "Inside", "needs its inside diameter"),
    ({"Corner": "radius half"}, "Corner", "`half` cannot be read"),
    ({"Corner": "r 4"}, "Corner", "A corner of 4 does not fit a plate of 6 x 10 in."),
    ({"Holes": "four"}, "Holes", "is not understood here"),
    ({"Holes": "4 x big at 1"}, "Holes", "`big` cannot be read"),
    ({"Holes": "4 x 2 at 1/2"}, "Holes", "reaches the edge"),
    ({"Inside": 2}, "Inside", "takes nothing in the column Inside"),
])  # fmt: skip
def test_a_shape_blames_its_own_cell_in_the_books_unit(
    cells: dict[str, Any], heading: str, says: str
) -> None:
    rows = plain_rows()
    rows["Parts"][0].update(cells)
    told = [p for p in read(rows)[1] if p.page == "Parts"]
    assert [p.cell for p in told] == [address("Parts", heading, 0)]
    assert says in told[0].what


def test_a_name_is_guessed_though_its_own_rows_have_a_problem() -> None:
    rows = plain_rows()
    rows["Kits"][0]["Kit"] = rows["Kits"][1]["Kit"] = "HK-1"
    rows["Kits"][0]["Quantity"] = "few"
    rows["Orders"][0]["Item"] = "HK1"
    [told] = [p for p in read(rows)[1] if p.page == "Orders"]
    assert "Did you mean HK-1?" in told.remedy


def test_a_row_entered_twice_is_only_a_note() -> None:
    rows = plain_rows()
    rows["Parts"].append(dict(rows["Parts"][0]))
    job, problems = read(rows)
    assert job is not None
    assert [(p.page, p.row, p.weight) for p in problems] == [("Parts", 8, Weight.NOTE)]


def test_duplicate_sheets_and_tags_are_left_out() -> None:
    rows = plain_rows()
    rows["Stock"].append({**rows["Stock"][1], "Width": 60})
    rows["Remnants"].append({**rows["Remnants"][0], "Width": 10})
    job = job_of(rows)
    assert [sheet.name for sheet in job.stock] == ["MS-4x8"]
    assert job.remnants == ()


def test_a_second_rule_for_one_gauge_stops_the_plan_however_it_is_written() -> None:
    rows = plain_rows()
    rows["Cutting"].append({**rows["Cutting"][0], "Thickness": "0.1345 in", "Gap": 0.5})
    job, problems = read(rows)
    assert job is None
    assert "row 5 already, with other values" in problems[0].what


def test_an_order_whose_part_is_broken_stops_unless_it_need_not_be_made() -> None:
    rows = plain_rows()
    rows["Parts"][2]["Width"] = "?"
    job, problems = read(rows)
    assert job is not None, "the order for SP-704 is made only if it fits"
    assert [o.item for o in job.orders] == ["cleat set"]
    rows["Orders"][1]["Must"] = "must"
    job, problems = read(rows)
    assert job is None
    stopping = [p for p in problems if p.weight is Weight.STOPS]
    assert [(p.page, p.cell) for p in stopping] == [("Orders", "B6")]
    assert "row 7 of the page Parts" in stopping[0].what


def test_a_gauge_without_a_cutting_rule_stops() -> None:
    rows = plain_rows()
    del rows["Cutting"][0]
    job, problems = read(rows)
    assert job is None
    assert "no row for mild steel 10 ga, which CB-100, CB-101 need" in problems[0].what


@pytest.mark.parametrize(("heading", "value"), [("Kerf", 12), ("Margin", "?")])
def test_a_rule_with_a_mistake_counts_as_being_there(heading: str, value: object) -> None:
    rows = plain_rows()
    rows["Cutting"][0][heading] = value
    rows["Parts"][0]["Length"] = 200
    job, problems = read(rows)
    assert job is None
    assert [(p.page, p.row) for p in problems] == [("Cutting", 5), ("Parts", 5)]
    assert not [p for p in problems if "There is no row" in p.what]
    # Without the rule nobody knows the margin, so the whole sheet is spoken of.
    assert "the largest is 48 x 96 in." in problems[1].what


@pytest.mark.parametrize(("heading", "value"), [("Price", "215 each"), ("Width", "?"), ("Sheet", "MS-4x8")])
def test_parts_may_wait_for_a_sheet_whose_row_has_a_mistake(heading: str, value: object) -> None:
    rows = plain_rows()
    large = {**rows["Stock"][0], "Sheet": "MS-5x12", "Width": 60, "Length": 144}
    rows["Stock"] += [{**rows["Stock"][0], "Sheet": "MS-4x8 too"}, large]
    rows["Parts"][0]["Length"] = 120
    assert read(rows)[1] == ()
    large[heading] = value
    job, problems = read(rows)
    assert job is None, "CB-100 has to be made"
    assert not [p for p in problems if "fits on no sheet" in p.what]
    [stopping] = [p for p in problems if p.weight is Weight.STOPS]
    assert stopping.page == "Stock"
    assert "CB-100 needs a larger sheet of mild steel 10 ga than the others are" in stopping.what
    assert "right first" in stopping.remedy


@pytest.mark.parametrize("page", ["Stock", "Remnants"])
def test_a_row_with_a_mistake_is_not_blamed_where_its_sheet_is_too_small_as_well(page: str) -> None:
    rows = plain_rows()
    rows["Stock"].append({**rows["Stock"][0], "Sheet": "MS-4x8 too"})
    rows["Remnants"].append({**rows["Remnants"][0], "Tag": "R-2"})
    rows["Parts"][0]["Length"] = 200
    rows[page][0]["Price" if page == "Stock" else "Value"] = "ask"
    _, problems = read(rows)
    assert [(p.page, p.row) for p in problems if p.weight is Weight.STOPS] == [("Parts", 5)]
    assert [p for p in problems if "fits on no sheet" in p.what]


def test_the_largest_sheet_is_named_though_its_row_has_a_mistake() -> None:
    rows = plain_rows()
    rows["Stock"].append({**rows["Stock"][0], "Sheet": "MS-5x12", "Width": 60, "Length": 144, "Price": "ask"})
    rows["Parts"][0]["Length"] = 200
    [stopping] = [p for p in read(rows)[1] if p.weight is Weight.STOPS]
    assert "the largest leaves 59 x 143 in within its margin" in stopping.what


def test_the_only_sheet_of_a_gauge_is_named_where_its_row_has_a_mistake() -> None:
    rows = plain_rows()
    rows["Remnants"] = []
    rows["Stock"][0]["Price"] = "ask"
    job, problems = read(rows)
    assert job is None
    [stopping] = [p for p in problems if p.weight is Weight.STOPS]
    assert (stopping.page, stopping.row) == ("Stock", 5)
    assert "no other has a sheet of mild steel 10 ga, which CB-100, CB-101 need" in stopping.what


def test_a_remnant_alone_is_stock_enough() -> None:
    rows = plain_rows()
    del rows["Stock"][0]
    assert len(job_of(rows).stock) == 1


def test_a_part_that_fits_only_turned_is_no_problem() -> None:
    rows = plain_rows()
    rows["Parts"][0].update(Width=60, Length=10)
    assert read(rows)[1] == ()


def test_a_part_that_would_fit_turned_is_told_so() -> None:
    rows = plain_rows()
    rows["Parts"][0].update(Width=90, Length=40, Turns="as drawn")
    job, problems = read(rows)
    assert job is None
    assert "turned by a quarter" in problems[0].remedy


def test_a_part_that_is_not_ordered_may_be_too_large() -> None:
    rows = plain_rows()
    rows["Parts"].append({**rows["Parts"][0], "Part": "BIG", "Length": 200})
    job, problems = read(rows)
    assert job is not None
    assert [p.weight for p in problems] == [Weight.NOTE]


def test_grain_that_no_turn_allows() -> None:
    rows = plain_rows()
    rows["Parts"][0].update(Turns="half turn only", Grain="along width")
    assert any(p.cell == address("Parts", "Grain", 0) for p in read(rows)[1])
    rows["Parts"][0]["Turns"] = "any quarter turn"
    assert job_of(rows).parts["CB-100"].grain is Grain.WIDTH


def test_close_but_different_thicknesses_are_a_note_with_both_places() -> None:
    rows = plain_rows()
    rows["Parts"].append({**rows["Parts"][0], "Part": "CB-9", "Thickness": "0.130"})
    job, problems = read(rows)
    assert job is not None
    assert [(p.page, p.row, p.weight) for p in problems] == [("Parts", 8, Weight.NOTE)]
    assert "0.13 in is close to 10 ga (row 5 of the page Parts)" in problems[0].what


def test_a_sheet_without_a_price_beside_priced_ones_is_left_out() -> None:
    rows = plain_rows()
    rows["Stock"].append({**rows["Stock"][0], "Sheet": "free", "Price": None, "Length": 120})
    job, problems = read(rows)
    assert job is not None
    assert "free" not in {sheet.name for sheet in job.stock}
    assert [(p.row, p.weight) for p in problems] == [(7, Weight.LEFT_OUT)]


def test_no_orders_at_all() -> None:
    rows = plain_rows()
    rows["Orders"] = []
    job, problems = read(rows)
    assert job is not None  # a delivery can be taken in, a plan cannot be made
    assert [(p.what, p.weight) for p in problems] == [("There are no orders.", Weight.STOPS)]


def test_more_pieces_than_are_planned_at_a_time() -> None:
    rows = plain_rows()
    rows["Orders"][0]["Quantity"] = MOST_PIECES // 3 + 1
    job, problems = read(rows)
    assert job is None
    assert problems[0].cell == address("Orders", "Quantity", 0)


@pytest.mark.parametrize(("side", "count", "planned"), [
    (0.25, 40_000, True), (0.25, 55_000, False), (6, 70_000, True), (6, 199_000, False),
])  # fmt: skip
def test_a_plan_that_would_not_fit_into_memory_is_refused_before_the_search(
    side: float, count: int, planned: bool
) -> None:
    rows = plain_rows()
    rows["Parts"][2] |= {"Width": side, "Length": side}
    rows["Orders"][1] |= {"Quantity": str(count), "Must": "must"}
    job, problems = read(rows)
    assert (job is not None) == planned
    if not planned:
        [found] = problems
        assert (found.cell, found.weight) == (address("Orders", "Quantity", 1), Weight.STOPS)
        assert "GB of memory" in found.what


def test_the_same_thing_ordered_twice_counts_twice_with_a_note() -> None:
    rows = plain_rows()
    rows["Orders"].append(dict(rows["Orders"][0]))
    job, problems = read(rows)
    assert job is not None
    assert len(job.orders) == 3
    assert [p.weight for p in problems] == [Weight.NOTE]


def test_a_part_twice_in_a_kit_adds_up_with_a_note() -> None:
    rows = plain_rows()
    rows["Kits"].append({"Kit": "CLEAT SET", "Part": "cb-100", "Quantity": 3})
    job, problems = read(rows)
    assert job is not None
    assert job.kits["cleat set"].parts == {"CB-100": 4, "CB-101": 2}
    assert [p.weight for p in problems] == [Weight.NOTE]


def test_a_kit_with_the_name_of_a_part_is_a_note() -> None:
    rows = plain_rows()
    rows["Parts"].append({**rows["Parts"][0], "Part": "cleat set"})
    job, problems = read(rows)
    assert job is not None
    assert [(p.page, p.weight) for p in problems] == [("Kits", Weight.NOTE)]


def test_remnants_that_may_not_be_used_are_not_judged() -> None:
    rows = plain_rows()
    rows["Remnants"] += [
        {"Tag": "R-2", "State": "used up", "Width": "gone"},
        {"Tag": "R-1", "State": "leave alone"},
    ]
    job, problems = read(rows)
    assert problems == ()
    assert job is not None
    assert [remnant.tag for remnant in job.remnants] == ["R-1"]


def test_prices_come_to_one_sheet() -> None:
    rows = plain_rows()
    # Common practice, no source: a sheet of 48 x 96 in has 32 square feet.
    rows["Stock"][0].update({"Price": 2.0, "Price per": "area"})
    rows["Stock"][1].update({"Price": "3.00", "Price per": "weight"})
    steel, aluminium = job_of(rows).stock
    assert steel.price == pytest.approx(64.0)
    assert aluminium.price == pytest.approx(3.0 * 48 * 96 * 0.125 * 0.0968)


POUNDS = 48 * 96 * 0.1345 * 0.2836


@pytest.mark.parametrize(
    ("word", "amount"),
    [  # the area of a sheet of 4 x 8 ft in both systems, its weight at 0.1345 in
        ("kg", POUNDS * 0.45359237), ("EUR/kg", POUNDS * 0.45359237),
        ("lb", POUNDS), ("lbs", POUNDS), ("per lb", POUNDS),
        ("m2", 1.2192 * 2.4384), ("m²", 1.2192 * 2.4384), ("ft2", 32.0), ("sq ft", 32.0), ("each", 1.0),
    ],
)  # fmt: skip
def test_a_price_is_for_what_people_write(word: str, amount: float) -> None:
    rows = plain_rows()
    sheet = {"Width": 48, "Length": 96, "Thickness": "10 ga"}
    rows["Stock"][0].update({"Price": 2.0, "Price per": word, **sheet})
    assert job_of(rows).stock[0].price == pytest.approx(2.0 * amount, rel=1e-3)


@pytest.mark.parametrize(
    ("currency", "text"),
    [("EUR", "1,15 EUR"), ("EUR", "1.15€"), ("€", "EUR 1,15"), ("USD", "$1.15"), ("GBP", "£ 1.15"),
     ("CHF", "1.15 CHF"), ("EUR", "1,15 Euro")],
)  # fmt: skip
def test_an_amount_may_bear_the_books_own_currency(currency: str, text: str) -> None:
    rows = plain_rows()
    rows["Settings"].append({"Setting": "Currency", "Value": currency})
    rows["Stock"][0].update({"Price": text, "Price per": "sheet"})
    assert job_of(rows).stock[0].price == pytest.approx(1.15)


def test_an_amount_in_another_currency_is_asked_about() -> None:
    rows = plain_rows()
    rows["Settings"].append({"Setting": "Currency", "Value": "EUR"})
    rows["Stock"][0].update({"Price": "1.15 USD"})
    _, problems = read(rows)
    assert any("`1.15 USD` is not a bare amount" in problem.what for problem in problems)


def test_density_in_pounds_per_cubic_inch() -> None:
    # Source: NIST SP 811 (2008), appendix B.8, pound per cubic inch to kg per cubic metre: 2.767 990 E+04.
    assert pytest.approx(2.767990e4, rel=1e-6) == KG_M3_PER_LB_IN3
    assert job_of(plain_rows()).materials["mild steel"].density == pytest.approx(7850, rel=1e-3)


def test_a_book_in_millimetres() -> None:
    rows = plain_rows()
    rows["Settings"][0]["Value"] = "MM"
    rows["Materials"] = [{"Material": "mild steel", "Gauge system": "none", "Density": 7850}]
    rows["Cutting"] = [
        {"Material": "mild steel", "Thickness": 3, "Kerf": 1.5, "Gap": 6, "Margin": 10, "Feed": 3000}
    ]
    rows["Parts"] = [
        {"Part": "A", "Material": "mild steel", "Thickness": "3 mm", "Width": 100, "Length": '12"'}
    ]
    rows["Kits"] = []
    rows["Orders"] = [{"Order": "1", "Item": "A", "Quantity": 2}]
    rows["Stock"] = [
        {"Sheet": "S", "Material": "mild steel", "Thickness": "3.0mm", "Width": 1250, "Length": 2500,
         "Price": 1.2, "Price per": "weight"}
    ]  # fmt: skip
    rows["Remnants"] = []
    job = job_of(rows)
    assert job.parts["A"].outline.outer.vertices[2][:2] == pytest.approx((304.8, 100))
    assert job.rules[0].feed == pytest.approx(3000)
    # 1.25 m x 2.5 m x 3 mm x 7850 kg/m3 = 73.59375 kg
    assert job.stock[0].price == pytest.approx(1.2 * 73.59375)


cell = st.one_of(
    st.none(), st.integers(-5, 5000), st.floats(allow_nan=True, allow_infinity=True),
    st.sampled_from(["", " ", "10 ga", "1/8", '3/16"', "6 mm", "12 1/2", "must", "if it fits", "mild steel",
                     "CB-100", "cleat set", "in", "mm", "as drawn", "along width", "used up", "weight"]),
    st.text(max_size=8), st.booleans(), st.datetimes(), st.just(ErrorValue("#VALUE!")),
    st.just(NotComputed()),
)  # fmt: skip


@given(data=st.data())
@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_table_raises(data: st.DataObject) -> None:
    """Cells of the plain book are replaced at random; what comes out is whole or explained."""
    rows = plain_rows()
    for _ in range(data.draw(st.integers(1, 6))):
        page = data.draw(st.sampled_from(INPUT_PAGES))
        line = data.draw(st.integers(0, len(rows[page.name])))
        if line == len(rows[page.name]):
            rows[page.name].append({})
        heading = data.draw(st.sampled_from([column.heading for column in page.columns]))
        rows[page.name][line][heading] = data.draw(cell)
    job, problems = read(rows)
    for problem in problems:
        assert problem.what.endswith((".", "?"))
        assert problem.remedy.endswith(".")
    assert (job is None) == any(problem.weight is Weight.STOPS for problem in problems)
    if job is not None:
        known = {*job.parts, *job.kits}
        assert all(order.item in known and order.quantity > 0 for order in job.orders)
        assert all(set(kit.parts) <= set(job.parts) for kit in job.kits.values())
        things = (*job.parts.values(), *job.stock, *job.rules, *job.remnants)
        assert all(thing.material in job.materials for thing in things)


def test_letters_that_no_typeface_holds_are_told_before_they_are_boxes_on_paper() -> None:
    rows = plain_rows()
    rows["Orders"][0]["Order"] = "H-\U000F0000"  # for private use: no face of a system has it
    job, problems = read(rows)
    assert job is not None
    [note] = problems
    assert note.weight is Weight.NOTE
    assert "these letters are boxes: \U000F0000, in H-\U000F0000." in note.what
