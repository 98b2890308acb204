"""The shipped books: built from the rows beside them, whole, readable, and alive in LibreOffice."""

from __future__ import annotations

import importlib.util
import io
import math
from collections import Counter, defaultdict
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from sheetplan.app.new import DEMO_DRAWINGS, template_path
from sheetplan.app.new import demo_drawings as shipped_drawings
from sheetplan.drawings.quick import QuickRow, quick_outline
from sheetplan.drawings.shape_table import ShapeWord
from sheetplan.model import Weight
from sheetplan.pages.book.problems import problems_page
from sheetplan.pages.values import OWNED_PAGES
from sheetplan.planning.grouping import make_groups
from sheetplan.shapes import area, is_rectangle, size
from sheetplan.trade.units import Units, weight_kg
from sheetplan.workbook.columns import ALL_PAGES, CUTTING, PARTS, SETTINGS, START_PAGE, STOCK
from sheetplan.workbook.package.guard import fingerprint, judge
from sheetplan.workbook.reading.book import read_tables, seen_in
from sheetplan.workbook.reading.job import read_job
from sheetplan.workbook.schema import MESSAGE, SETTING_ROWS, Holds, InputPage
from sheetplan.workbook.template.build import build_book, demo_rows
from sheetplan.workbook.template.formulas import FIRST_ROW, HEAD_ROW
from sheetplan.workbook.template.page import printed_widths
from sheetplan.workbook.writing.closed import put_pages
from sheetplan.workbook.writing.print_setup import print_setup
from tests.demo import demo_drawings, demo_job
from tests.workbook.books import shipped
from tests.workbook.recalculating import recalculated
from tests.workbook.rendering import needs_libreoffice

pytestmark = pytest.mark.filterwarnings("ignore:.*:UserWarning:openpyxl")

ROOT = Path(__file__).parents[2]
BOOKS = [(demo, units) for demo in (False, True) for units in Units]

each_book = pytest.mark.parametrize(("demo", "units"), BOOKS, ids=lambda value: str(value))
each_unit = pytest.mark.parametrize("units", Units)


def script(name: str) -> Any:
    spec = importlib.util.spec_from_file_location(name, ROOT / "workbook_template" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def build(demo: bool, units: Units) -> bytes:
    data: bytes = script("build").build(demo, units)
    return data


def described(book: Any) -> dict[str, Any]:
    """All that a person or a formula could notice of a book, as plain values."""
    return {
        "names": sorted((name, value.attr_text) for name, value in book.defined_names.items()),
        **{sheet.title: sheet_described(sheet) for sheet in book.worksheets},
    }


def sheet_described(sheet: Worksheet) -> dict[str, Any]:
    cells = {
        cell.coordinate: (
            str(getattr(cell.value, "text", cell.value)), cell.number_format, cell.fill.fgColor.rgb,
            cell.font.b, cell.comment.text if cell.comment else None,
        )
        for row in sheet.iter_rows() for cell in row
    }  # fmt: skip
    rules = sorted((str(v.sqref), v.type, v.formula1) for v in sheet.data_validations.dataValidation)
    widths = {key: dimension.width for key, dimension in sheet.column_dimensions.items()}
    tables = {table.name: table.ref for table in sheet.tables.values()}
    return {"cells": cells, "rules": rules, "widths": widths, "tables": tables}


@each_book
def test_the_shipped_books_are_what_the_script_builds(demo: bool, units: Units) -> None:
    built = openpyxl.load_workbook(io.BytesIO(build(demo, units)))
    assert described(openpyxl.load_workbook(template_path(demo=demo, units=units))) == described(built)


@each_unit
def test_the_shipped_drawings_are_what_the_script_draws(units: Units) -> None:
    drawn = script("draw_demo").drawings(units)
    assert shipped_drawings(units) == {f"{DEMO_DRAWINGS[units]}/{name}": data for name, data in drawn.items()}


@each_unit
def test_every_drawing_that_the_demo_ships_is_some_parts_outline(units: Units) -> None:
    assert {ask.path for ask in demo_drawings(units)} == set(shipped_drawings(units))
    for ask, report in demo_drawings(units).items():
        assert report.good, ask
        assert report.findings == (), ask
        assert len(report.parts) == 1, ask


@each_unit
def test_the_demo_has_parts_of_many_outlines(units: Units) -> None:
    """What a harbour workshop cuts: rings and flanges with room inside, gussets, angles, drawn parts."""
    parts = demo_job(units).parts.values()
    plain = [part for part in parts if is_rectangle(part.outline) and not part.outline.holes]
    narrow = [part for part in parts if area(part.outline) < 0.75 * math.prod(size(part.outline))]
    assert len(parts) / 4 < len(plain) < len(parts) / 2
    assert len(narrow) >= len(parts) / 3


def test_the_same_rows_give_the_same_bytes() -> None:
    assert build(True, Units.MM) == build(True, Units.MM)


@each_book
def test_the_books_are_sound_packages_with_all_pages_in_order(demo: bool, units: Units) -> None:
    assert judge(template_path(demo=demo, units=units)) is None
    names = shipped(demo, units).sheetnames
    known = [START_PAGE, *(page.name for page in ALL_PAGES), *OWNED_PAGES, "Gauges", "Shapes", "Lists"]
    assert sorted(names) == sorted(known)
    # What comes out first, then what is filled each month, what stays, and the month's end.
    parts = [("Start", "Plan"), ("Problems", "Orders"), ("Record", "Finished parts"), ("Stock log", "Parts"),
             ("Cutting", "Purchases"), ("Earlier cuts", "Month"), ("Month", "Gauges")]  # fmt: skip
    assert all(names.index(after) == names.index(before) + 1 for before, after in parts)


@each_book
def test_tabs_show_what_is_filled_when(demo: bool, units: Units) -> None:
    tints = {sheet.title: sheet.sheet_properties.tabColor for sheet in shipped(demo, units)}
    told = {name: tint.rgb[-6:] if tint else "" for name, tint in tints.items()}
    kinds = ("Plan", "Orders", "Parts", "Purchases")
    assert len({told[name] for name in kinds}) == len(kinds)
    assert told["Month"] == told["Purchases"] == told["Rack count"]
    assert told["Problems"] == told["Cut log"] == told["Plan"]


@each_book
def test_every_page_is_reached_from_start(demo: bool, units: Units) -> None:
    book = shipped(demo, units)
    found = [cell.hyperlink for row in book[START_PAGE].iter_rows() for cell in row if cell.hyperlink]
    links = {link.location.rpartition("!")[0].strip("'") for link in found}
    assert links == set(book.sheetnames) - {START_PAGE, "Lists"}


@each_unit
def test_the_demo_is_a_month_of_a_shop(units: Units) -> None:
    job = demo_job(units)
    groups, problems = make_groups(job)
    assert problems == ()
    assert len(job.kits) >= 4
    assert len(job.parts) >= 30
    assert len(groups) >= 6
    assert 500 <= sum(need.pieces for group in groups for need in group.needs) <= 1000
    assert sum(len(group.stock) >= 3 for group in groups) >= 3
    assert all(sheet.price > 0 for sheet in job.stock)
    assert any(sheet.on_hand for sheet in job.stock)
    assert len(job.remnants) == 2
    assert any(not order.must for order in job.orders)


@each_unit
def test_the_demo_writes_one_thickness_in_several_ways(units: Units) -> None:
    written = defaultdict(set)
    for row in read_tables(template_path(demo=True, units=units)).tables[PARTS.name].rows:
        written[row.cells["Material"].value].add(row.cells["Thickness"].value)
    groups, _ = make_groups(demo_job(units))
    assert sum(len(ways) for ways in written.values()) >= 2 * len(groups)


@each_unit
def test_an_empty_book_lacks_nothing_but_orders(units: Units) -> None:
    job, problems = read_job(read_tables(template_path(demo=False, units=units)))
    assert job is not None
    assert [(p.page, p.what) for p in problems] == [("Orders", "There are no orders.")]
    assert problems[0].weight is Weight.STOPS


@each_unit
def test_starter_rules_are_marked_as_such(units: Units) -> None:
    rows = read_tables(template_path(demo=False, units=units)).tables[CUTTING.name].rows
    assert len(rows) > 10
    assert {row.cells["From"].value for row in rows} == {"common practice"}


@each_book
@pytest.mark.parametrize("page", ALL_PAGES, ids=lambda page: page.name)
def test_every_page_is_set_up_for_screen_and_paper(demo: bool, units: Units, page: InputPage) -> None:
    sheet = shipped(demo, units)[page.name]
    heads = [cell for cell in sheet[HEAD_ROW + 1][: len(page.headings)]]
    assert [cell.value for cell in heads] == list(page.headings)
    assert all(cell.comment and cell.comment.text for cell in heads)
    assert sheet.freeze_panes == f"B{FIRST_ROW + 1}"
    setup = print_setup(printed_widths(page), units)
    assert sheet.page_setup.orientation == ("landscape" if setup.landscape else "portrait")
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.print_title_rows == f"${HEAD_ROW + 1}:${HEAD_ROW + 1}"
    assert "&P" in sheet.oddFooter.right.text
    assert sheet.page_setup.paperSize == (1 if units is Units.INCH else 9)
    assert list(sheet.tables) == [page.table]
    assert len(sheet.conditional_formatting) == 1


@each_book
@pytest.mark.parametrize("page", ALL_PAGES, ids=lambda page: page.name)
def test_lengths_stand_as_they_were_typed(demo: bool, units: Units, page: InputPage) -> None:
    """No decimals and no signs between thousands are put to 48, 9.5 or 1250."""
    sheet = shipped(demo, units)[page.name]
    places = [number for number, one in enumerate(page.columns, start=1) if one.holds is Holds.LENGTH]
    if page is SETTINGS:
        rows = [n for n, one in enumerate(SETTING_ROWS, start=FIRST_ROW + 1) if one.holds is Holds.LENGTH]
        cells = [sheet.cell(row, 2) for row in rows]
    else:
        cells = [sheet.cell(FIRST_ROW + 1, place) for place in places]
    assert {cell.number_format for cell in cells} <= {"General"}
    assert cells or page.name not in ("Settings", "Cutting", "Parts", "Stock", "Remnants")


@each_book
def test_drop_downs_offer_names_that_exist(demo: bool, units: Units) -> None:
    book = shipped(demo, units)
    for page in ALL_PAGES:
        rules = {str(v.sqref).split(":")[0]: v for v in book[page.name].data_validations.dataValidation}
        for place, column in enumerate(page.columns):
            rule = rules.get(f"{chr(65 + place)}{FIRST_ROW + 1}")
            if column.sources:
                assert rule is not None
                assert rule.formula1.lstrip("=") in book.defined_names
            elif column.choices:
                assert rule is not None
                assert rule.formula1.strip('"').split(",") == list(column.choices)
            elif column.holds in (Holds.COUNT, Holds.MONEY):
                assert rule is not None
                assert rule.type in ("whole", "decimal")


def test_the_demo_names_nobody() -> None:
    """Suppliers are merchants by the compass; the harbour workshop is nobody's."""
    assert {sheet.supplier for sheet in demo_job(Units.INCH).stock} == {"merchant north", "merchant south"}


@needs_libreoffice
@each_unit
def test_live_columns_show_what_libreoffice_works_out(units: Units, tmp_path: Path) -> None:
    path = template_path(demo=True, units=units)
    stored = openpyxl.load_workbook(path, data_only=True)
    anew = recalculated(path, tmp_path)
    compared: Counter[str] = Counter()
    for page in ALL_PAGES:
        for row in stored[page.name].iter_rows(min_row=FIRST_ROW + 1, min_col=len(page.columns) + 1):
            for cell in row:
                other = anew[page.name][cell.coordinate].value
                where = f"{page.name}!{cell.coordinate}"
                if isinstance(cell.value, int | float):
                    assert other == pytest.approx(cell.value, rel=1e-9), where
                else:
                    assert (other or "") == (cell.value or ""), where
                compared[page.name] += cell.value not in (None, "")
    assert compared[PARTS.name] >= 3 * 30
    assert compared[STOCK.name] >= 3 * 15
    for sheet in ("Lists", START_PAGE):
        for row in stored[sheet].iter_rows():
            for cell in row:
                other = anew[sheet][cell.coordinate].value
                assert (other or "") == (cell.value or ""), f"{sheet}!{cell.coordinate}"


@needs_libreoffice
@each_unit
def test_live_columns_read_commas_and_points_as_the_tool_does(units: Units, tmp_path: Path) -> None:
    """Both decimal signs are in use: ISO 80000-1, 7.3.2, allows the comma and the point (from memory)."""
    written = {
        "6,0 mm": 6, "6,5 mm": 6.5, "1,5mm": 1.5, ",5 mm": 0.5, "0,125 mm": 0.125, "12,25 mm": 12.25,
        "6.5 mm": 6.5, "3.175 mm": 3.175, "3,1750 mm": 3.175, "0,25 in": 6.35, ".25\"": 6.35,
        "1,250 mm": "?", "1,250.5 mm": "?", "1.250,5 mm": "?", "1,250,500 mm": "?", "1,2,5 mm": "?",
    }  # fmt: skip
    rows = demo_rows(ROOT / "workbook_template" / f"demo_{units.value}", units)
    for place, text in enumerate(written):
        rows.rows[PARTS.name][place] = dict(rows.of(PARTS)[place]) | {"Thickness": text}  # type: ignore[index]
    book = tmp_path / "commas.xlsx"
    book.write_bytes(build_book(rows, demo=True))
    column = len(PARTS.columns) + 1 + [helper.heading for helper in PARTS.helpers].index("Read as")
    stored, anew = openpyxl.load_workbook(book, data_only=True), recalculated(book, tmp_path)
    for place, (text, mm) in enumerate(written.items(), FIRST_ROW + 1):
        expected = mm if isinstance(mm, str) else pytest.approx(mm / units.length_mm, rel=1e-9)
        shown = [one[PARTS.name].cell(place, column).value for one in (stored, anew)]
        assert shown == [expected, expected], text


@needs_libreoffice
@each_unit
def test_live_weights_of_shapes_are_those_of_their_outlines(units: Units, tmp_path: Path) -> None:
    """Also of shapes that the demo has none of; a strap has slots, and so no live weight."""
    rows = demo_rows(ROOT / "workbook_template" / f"demo_{units.value}", units)
    shapes = [shape for shape in ShapeWord if shape is not ShapeWord.STRAP]
    inside = {ShapeWord.RING: 4, ShapeWord.TRAPEZOID: 4, ShapeWord.ELL: 4}
    for place, shape in enumerate(shapes):
        plain = dict.fromkeys(("Inside", "Corner", "Holes", "Drawing"))
        cells = {"Part": f"SHAPE-{place}", "Shape": shape.value, "Width": 12, "Length": 12}
        cells |= {"Material": "mild steel", "Thickness": "3 mm", "Inside": inside.get(shape)}
        rows.rows[PARTS.name][place] = dict(rows.of(PARTS)[place]) | plain | cells  # type: ignore[index]
    book = tmp_path / "shapes.xlsx"
    book.write_bytes(build_book(rows, demo=True))
    anew = recalculated(book, tmp_path)
    column = len(PARTS.columns) + 1 + [helper.heading for helper in PARTS.helpers].index("Weight each")
    side, density = 12 * units.length_mm, demo_job(units).materials["mild steel"].density
    for place, shape in enumerate(shapes, FIRST_ROW + 1):
        length = inside[shape] * units.length_mm if shape in inside else None
        metal = area(quick_outline(QuickRow(shape, side, side, length), units))
        expected = weight_kg(metal, 3.0, density) / units.weight_kg
        assert anew[PARTS.name].cell(place, column).value == pytest.approx(expected, rel=1e-6), shape


@needs_libreoffice
def test_a_planted_mistake_shows_on_its_row(tmp_path: Path) -> None:
    """A cell that was put right is complained of no more, before the next check; then the other one is."""
    rows = demo_rows(ROOT / "workbook_template" / "demo_in", Units.INCH)
    planted, half_mended, mended = places = (4, 5, 6)
    for place in places:
        faulty = dict(rows.of(PARTS)[place]) | {"Width": "twelve", "Length": 0}
        rows.rows[PARTS.name][place] = faulty  # type: ignore[index]
    book = tmp_path / "planted.xlsx"
    book.write_bytes(build_book(rows, demo=True))
    seen = fingerprint(book)
    job, problems = read_job(read_tables(book), demo_drawings(Units.INCH))
    assert job is None
    put_pages(book, [problems_page(problems, seen_in(read_tables(book)))], Units.INCH, seen)
    plain = openpyxl.load_workbook(book)
    width = [cell.value for cell in plain[PARTS.name][HEAD_ROW + 1]].index("Width") + 1
    for place in (half_mended, mended):
        plain[PARTS.name].cell(FIRST_ROW + 1 + place, width).value = 12
    plain[PARTS.name].cell(FIRST_ROW + 1 + mended, width + 1).value = 15
    plain.save(book)
    anew = recalculated(book, tmp_path / "planted")
    message = chr(64 + len(PARTS.headings))
    assert anew[PARTS.name][f"{message}{HEAD_ROW + 1}"].value == MESSAGE
    shown = {
        row: anew[PARTS.name][f"{message}{row}"].value
        for row in range(FIRST_ROW + 1, FIRST_ROW + 40)
        if anew[PARTS.name][f"{message}{row}"].value
    }
    assert list(shown) == [FIRST_ROW + 1 + planted, FIRST_ROW + 1 + half_mended]
    whole, half = shown.values()
    assert "twelve" in whole
    assert "and 1 more" in whole
    assert "twelve" not in half
    assert "Length" in half
    stops = sum(problem.weight is Weight.STOPS for problem in problems)
    lines = [cell.value for cell in anew[START_PAGE]["B"] if cell.value]
    assert any(f"{stops} problem" in str(line) and "stop" in str(line) for line in lines)
